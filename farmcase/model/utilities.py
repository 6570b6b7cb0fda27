"""Energy, peak power and water of a build, from rated power and batches."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmcase.crop.cohorts import MONTHS
from farmcase.energy.rated_power import heat_per_unit_kwh, machine_hours
from farmcase.model.gather import BuildInputs
from farmcase.model.rooms import LENGTHS, production_calendar

Floats = NDArray[np.float64]
HEAT_TREATMENT = "heat_treatment"


def _machine_hours(inputs: BuildInputs) -> Floats:
    calendar = production_calendar(inputs)
    duty = np.array(inputs.texts("machines", "duty_by_month")).reshape(-1, 12)[:, calendar]
    return machine_hours(
        inputs.column("machines", "hours_per_day"),
        inputs.column("machines", "duty_share"),
        duty,
        LENGTHS[calendar],
    )


def _machine_kw(inputs: BuildInputs) -> Floats:
    return inputs.column("machines", "rated_kw") * np.array(inputs.texts("machines", "count"))


def _vessel_shares(inputs: BuildInputs) -> Floats:
    """Share of the batches that each vessel takes: by its units a week."""
    units = inputs.column("vessels", "units_per_batch") * inputs.column(
        "vessels", "batches_per_week"
    )
    return units / np.maximum(units.sum(1, keepdims=True), 1e-12)


def energy_by_use(inputs: BuildInputs, prepared: Floats) -> tuple[Floats, tuple[str, ...]]:
    carriers = list(inputs.records("carriers"))
    end_uses = tuple(dict.fromkeys([*inputs.texts("machines", "end_use"), HEAT_TREATMENT]))
    energy = np.zeros((inputs.size, len(carriers), len(end_uses), MONTHS))
    by_machine = _machine_hours(inputs) * _machine_kw(inputs)[:, :, None]
    for i, machine in enumerate(inputs.records("machines").values()):
        place = carriers.index(machine.carrier), end_uses.index(machine.end_use)
        energy[:, place[0], place[1]] += by_machine[:, i]
    heat = heat_per_unit_kwh(
        inputs.column("vessels", "rated_kw"),
        inputs.column("vessels", "hours_per_batch"),
        inputs.column("vessels", "duty_share"),
        inputs.column("vessels", "units_per_batch"),
    )
    per_unit = heat * _vessel_shares(inputs)
    units = prepared.sum(1)
    for i, carrier in enumerate(inputs.texts("vessels", "carrier")):
        place = carriers.index(carrier), end_uses.index(HEAT_TREATMENT)
        energy[:, place[0], place[1]] += per_unit[:, i, None] * units
    return energy, end_uses


def peak_kw(inputs: BuildInputs) -> Floats:
    """Rated power of everything on a carrier at once [kW]."""
    carriers = list(inputs.records("carriers"))
    peak = np.zeros((inputs.size, len(carriers)))
    machines, vessels = _machine_kw(inputs), inputs.column("vessels", "rated_kw")
    for power, section in ((machines, "machines"), (vessels, "vessels")):
        for i, carrier in enumerate(inputs.texts(section, "carrier")):
            peak[:, carriers.index(carrier)] += power[:, i]
    return peak


def water_l(inputs: BuildInputs, prepared: Floats) -> Floats:
    count = np.array(inputs.texts("machines", "count"), float)
    rate = inputs.column("machines", "water_l_per_h") * count
    machines = (_machine_hours(inputs) * rate[:, :, None]).sum(1)
    batch = inputs.column("vessels", "water_l_per_batch") / inputs.column(
        "vessels", "units_per_batch"
    )
    per_unit = (batch * _vessel_shares(inputs)).sum(1)
    return machines + per_unit[:, None] * prepared.sum(1)
