"""Machines at a steady load, and vessels: energy, peak power, water, batches a week."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.crop.cohort_kernel import MONTHS
from farmcase.energy.heat_treatment import Batch, Load, Vessels, follow_batch, heated_vessels
from farmcase.energy.rated_power import machine_hours
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.rooms import LENGTHS, production_calendar, source_of_crops
from farmcase.model.shell import physics

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


def machine_kw_by_month(inputs: BuildInputs, carrier: str) -> Floats:
    """Mean power of all machines on a carrier by month of production, (S or 1, 24) [kW]."""
    mine = np.array([name == carrier for name in inputs.texts("machines", "carrier")], bool)
    energy = _machine_hours(inputs) * _machine_kw(inputs)[:, :, None]
    return energy[:, mine].sum(1) / (LENGTHS[production_calendar(inputs)] * 24)


def machine_energy(inputs: BuildInputs, carriers: list[str], end_uses: tuple[str, ...]) -> Floats:
    """Energy of machines, (S or 1, carriers, end uses, 24) [kWh]."""
    by_machine = _machine_hours(inputs) * _machine_kw(inputs)[:, :, None]
    energy = np.zeros((by_machine.shape[0], len(carriers), len(end_uses), MONTHS))
    for i, machine in enumerate(inputs.records("machines").values()):
        place = carriers.index(machine.carrier), end_uses.index(machine.end_use)
        energy[:, place[0], place[1]] += by_machine[:, i]
    return energy


class Treated(NamedTuple):
    """Vessels of a build; V vessels."""

    batch: Batch  # (S or 1, V) each
    share: Floats  # (S or 1, V) of the units that each vessel treats
    units_per_week: Floats  # (S or 1,) that all can treat; infinite where none is needed


def treat(inputs: BuildInputs) -> Treated:
    """What a batch of each vessel takes, and how many units a week that allows."""
    batch = follow_batch(_load(inputs), _vessels(inputs))
    units = batch.batches_per_week * inputs.column("vessels", "units_per_batch")
    total = units.sum(1)
    is_needed = any(source == "own" for source in source_of_crops(inputs))
    share = units / np.maximum(total, 1e-12)[:, None]
    return Treated(batch, share, total if is_needed else np.full(1, np.inf))


def _load(inputs: BuildInputs) -> Load:
    """What goes into each vessel: the mean of the crops whose substrate is made here."""
    table = physics(inputs.case)
    own = np.array([source == "own" for source in source_of_crops(inputs)], float)
    weight = own / max(own.sum(), 1.0)
    wet = (inputs.by_crop("unit_wet_kg") * weight).sum(1, keepdims=True)
    moist = inputs.by_crop("moisture_share") * inputs.by_crop("unit_wet_kg")
    water = (moist * weight).sum(1, keepdims=True)
    units = inputs.column("vessels", "units_per_batch")
    start = inputs.column("vessels", "start_c")
    return Load(
        dry_kg=(wet - water) * units,
        substrate_water_kg=water * units,
        dry_kj_per_kg_k=np.array([[table["substrate_dry_specific_heat_kj_per_kg_k"]]]),
        bath_l=inputs.column("vessels", "water_l_per_batch"),
        kept_water_share=inputs.column("vessels", "kept_water_share"),
        kept_water_c=np.maximum(start, inputs.column("vessels", "kept_water_c")),
        steam_l=inputs.column("vessels", "steam_l_per_batch"),
        condensate_l=np.zeros((1, 1)),
        start_c=start,
        treat_to_c=inputs.column("vessels", "treat_to_c"),
        heated=heated_vessels(inputs.texts("vessels", "treatment"))[None],
    )


def _vessels(inputs: BuildInputs) -> Vessels:
    handling = inputs.column("vessels", "handling_hours") / 2
    return Vessels(
        rated_kw=inputs.column("vessels", "rated_kw"),
        efficiency_share=inputs.column("vessels", "efficiency_share"),
        loss_kw=inputs.column("vessels", "loss_kw"),
        fill_h=handling,
        hold_h=inputs.column("vessels", "hold_hours"),
        empty_h=handling,
        hours_available_per_week=inputs.column("vessels", "hours_available_per_week"),
        most_batches_per_week=inputs.column("vessels", "batches_per_week"),
    )


def vessel_energy(
    inputs: BuildInputs,
    treated: Treated,
    prepared: Floats,
    carriers: list[str],
) -> Floats:
    """Energy of heat treatment, (S, carriers, 24) [kWh]."""
    per_unit = treated.batch.fuel_kwh / inputs.column("vessels", "units_per_batch") * treated.share
    energy = np.zeros((prepared.shape[0], len(carriers), MONTHS))
    for i, carrier in enumerate(inputs.texts("vessels", "carrier")):
        energy[:, carriers.index(carrier)] += per_unit[:, i, None] * prepared.sum(1)
    return energy


def connected_kw(inputs: BuildInputs, carriers: list[str]) -> Floats:
    """Rated power of each machine and vessel, (S or 1, machines and vessels, carriers) [kW]."""
    machines, vessels = _machine_kw(inputs), inputs.column("vessels", "rated_kw")
    size = max(machines.shape[0], vessels.shape[0])
    rated = np.concatenate([broadcast(machines, size), broadcast(vessels, size)], axis=1)
    names = [*inputs.texts("machines", "carrier"), *inputs.texts("vessels", "carrier")]
    mine = np.array([[name == carrier for carrier in carriers] for name in names], float)
    return rated[:, :, None] * mine.reshape(len(names), len(carriers))


def machine_water_l(inputs: BuildInputs) -> Floats:
    """Water of machines, (S or 1, 24) [L]."""
    count = np.array(inputs.texts("machines", "count"), float)
    rate = inputs.column("machines", "water_l_per_h") * count
    return (_machine_hours(inputs) * rate[:, :, None]).sum(1)


def vessel_water_l(inputs: BuildInputs, treated: Treated, prepared: Floats) -> Floats:
    """New water of the vessels, (S, 24) [L]."""
    batch = treated.batch.water_l / inputs.column("vessels", "units_per_batch")
    return (batch * treated.share).sum(1)[:, None] * prepared.sum(1)
