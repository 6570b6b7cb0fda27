"""The bill: energy by carrier, standing charge and capacity charge, and emissions."""

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

    Parameters
    ----------
    energy_kwh : (S, carriers, T)
    price_per_kwh, standing_charge, capacity_charge_per_kw : (S, carriers)
    peak_kw : (S, carriers)
    connected : (carriers, T) 1 in months in which the connection is paid for

    Returns
    -------
    (S, T) money
    """
    fixed = standing_charge + capacity_charge_per_kw * peak_kw
    by_carrier = energy_kwh * price_per_kwh[:, :, None] + fixed[:, :, None] * connected
    return by_carrier.sum(1)
