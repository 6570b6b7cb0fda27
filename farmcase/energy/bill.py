"""The bill: energy by carrier and time band, standing and capacity charge, own solar, emissions."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def energy_cost(
    energy_kwh: Floats,
    price_per_kwh: Floats,
    standing_charge: Floats,
    capacity_charge_per_kw: Floats,
    peak_kw: Floats,
    connected: Floats,
) -> Floats:
    """Cost of energy by month at start-month prices, over all carriers.

    The axis of bands may be left out of `energy_kwh` and `price_per_kwh` together, where every
    hour costs the same. A carrier of fewer bands than others has nil energy in those it lacks.

    Parameters
    ----------
    energy_kwh : (S, carriers, bands, T), what is bought
    price_per_kwh : (S, carriers, bands)
    standing_charge : (S, carriers) money a month
    capacity_charge_per_kw : (S, carriers) money a month for each kW of the peak
    peak_kw : (S, carriers)
    connected : (carriers, T) 1 in months in which the connection is paid for

    Returns
    -------
    (S, T) money
    """
    by_hour = energy_kwh * price_per_kwh[..., None]
    used = by_hour.sum(2) if by_hour.ndim == 4 else by_hour
    fixed = standing_charge + capacity_charge_per_kw * peak_kw
    return (used + fixed[:, :, None] * connected).sum(1)


def solar_value(exported_kwh: Floats, export_price_per_kwh: Floats) -> Floats:
    """What exported solar brings by month at start-month prices; what is used lowers the bill.

    Parameters
    ----------
    exported_kwh : (S, T)
    export_price_per_kwh : (S,)

    Returns
    -------
    (S, T) money
    """
    return exported_kwh * export_price_per_kwh[:, None]


def emissions_kg(energy_kwh: Floats, factor_kgco2e_per_kwh: Floats) -> Floats:
    """Emissions of the energy bought [kgCO2e], over all carriers, whatever the hour.

    Parameters
    ----------
    energy_kwh : (S, carriers, T), or with bands (S, carriers, bands, T)
    factor_kgco2e_per_kwh : (S, carriers)

    Returns
    -------
    (S, T)
    """
    bought = energy_kwh.sum(2) if energy_kwh.ndim == 4 else energy_kwh
    return (bought * factor_kgco2e_per_kwh[:, :, None]).sum(1)
