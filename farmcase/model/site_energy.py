"""Energy of a build by carrier, end use and tariff band, and its highest hour."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmcase.crop.cohort_kernel import MONTHS
from farmcase.energy.tally_kernel import USES, Tally
from farmcase.model.gather import BuildInputs
from farmcase.model.room_inputs import ELECTRICITY
from farmcase.model.shell import enclosed_rooms
from farmcase.model.utilities import (
    HEAT_TREATMENT,
    Treated,
    connected_kw,
    machine_energy,
    machine_kw_by_month,
    vessel_energy,
)

Floats = NDArray[np.float64]


def energy_by_use(
    inputs: BuildInputs, tally: Tally, treated: Treated, prepared: Floats, carriers: list[str]
) -> tuple[Floats, tuple[str, ...]]:
    """All energy used, (G, carriers, end uses, 24), and the names of the end uses."""
    names = enclosed_rooms(inputs.case)
    own = inputs.texts("machines", "end_use")
    end_uses = tuple(dict.fromkeys([*USES, "cold_store", *own, HEAT_TREATMENT]))
    energy = np.zeros((inputs.size, len(carriers), len(end_uses), MONTHS))
    energy += machine_energy(inputs, carriers, end_uses)
    electricity = carriers.index(ELECTRICITY)
    for r, name in enumerate(names):
        for u, use in enumerate(USES):
            carrier = electricity
            if use == "heating":
                carrier = carriers.index(inputs.case.climate[name].heat_carrier)
            if use == "cooling" and inputs.case.rooms[name].kind == "cold_store":
                use = "cold_store"
            energy[:, carrier, end_uses.index(use)] += tally.kwh[:, r, u]
    treatment = vessel_energy(inputs, treated, prepared, carriers)
    energy[:, :, end_uses.index(HEAT_TREATMENT)] += treatment
    return energy, end_uses


def bought_kwh(inputs: BuildInputs, tally: Tally, energy: Floats, carriers: list[str]) -> Floats:
    """What is bought by tariff band; vessels draw evenly over the hours of their month."""
    bands = tally.load_kwh.shape[1]
    bought = np.zeros((inputs.size, len(carriers), max(bands, 1), MONTHS))
    bought[:, :, 0] = energy.sum(2)
    electricity = carriers.index(ELECTRICITY)
    followed = tally.load_kwh.sum(1)
    rest = energy[:, electricity].sum(1) - followed
    share = tally.load_kwh / np.maximum(followed, 1e-12)[:, None]
    bought[:, electricity] = tally.load_kwh - tally.used_kwh + share * rest[:, None]
    return bought


def _rooms_peak(inputs: BuildInputs, tally: Tally, carriers: list[str]) -> Floats:
    """Highest hour of the rooms alone, (G, carriers) [kW]; heaters of other carriers in full."""
    peak = np.zeros((inputs.size, len(carriers)))
    peak[:, carriers.index(ELECTRICITY)] = tally.rooms_peak_kw.max(-1)
    for name in enclosed_rooms(inputs.case):
        carrier = inputs.case.climate[name].heat_carrier
        if carrier != ELECTRICITY:
            peak[:, carriers.index(carrier)] += inputs.value(f"climate.{name}.heat_kw")
    return peak


def peak_kw(inputs: BuildInputs, tally: Tally, carriers: list[str]) -> Floats:
    return _rooms_peak(inputs, tally, carriers) + connected_kw(inputs, carriers).sum(1)


def staggered_kw(inputs: BuildInputs, tally: Tally, carriers: list[str]) -> Floats:
    """Machines at their mean load, and one machine or vessel at a time at full power."""
    rated = connected_kw(inputs, carriers)
    mean = np.stack([machine_kw_by_month(inputs, c).max(-1) for c in carriers], axis=-1)
    one = rated.max(1, initial=0.0)
    return _rooms_peak(inputs, tally, carriers) + np.minimum(mean + one, rated.sum(1))
