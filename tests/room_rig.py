"""Rooms built by hand for the tests of the room year: no case, every number in sight.

`Rig` holds what the kernels are told. The defaults are a lined box of 30 m3 and an oyster-like
crop; they are made up and stand for nobody's farm. `closure` adds an hourly table up again from
its columns alone, with constants of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from farmcase.crop.cohort_kernel import DAYS, FARM, Counts, Plan
from farmcase.crop.fields_kernel import CROP
from farmcase.energy.fields_kernel import AIR_KG, HOUR, ROOM, SITE
from farmcase.energy.room_year import HOURS, Run, advance, month_calendar, new_run
from farmcase.energy.tally_kernel import COLD_STORE, FRUITING, SPAWN_RUN, Scenario, Site, Tally
from farmcase.moist_air import humidity_ratio_at, wet_bulb_c

Floats = NDArray[np.float64]
SEA_PA = 101_325.0
HOUR_OF_YEAR = np.arange(8760)

ROOM_NUMBERS: dict[str, float] = dict.fromkeys(ROOM, 0.0) | {
    "air_kg": 36.0,
    "volume_m3": 30.0,
    "loss_w_per_k": 33.0,
    "mass_j_per_k": 4e5,
    "surface_w_per_k": 180.0,
    "leakage_changes_per_h": 0.3,
    "fresh_air_least_m3_per_h": 20.0,
    "fresh_air_most_m3_per_h": 250.0,
    "fan_w_per_m3_per_s": 286.0,
    "mixing_fans_kw": 0.025,
    "lights_kw": 0.1,
    "lights_hours_per_day": 12.0,
    "lights_from_hour": 7.0,
    "co2_most_ppm": 900.0,
    "heat_to_c": 12.0,
    "cool_to_c": 18.0,
    "heat_kw": 3.0,
    "heater_efficiency_share": 1.0,
    "heat_carnot_share": 0.45,
    "cool_carnot_share": 0.42,
    "humidify_to_share": 0.9,
    "humidify_l_per_h": 8.0,
    "humidifier_kwh_per_l": 0.06,
    "humidifier": 1.0,
    "sky_m2": 0.5,
    **{f"sun_{face}_m2": 0.3 for face in ("front", "back", "left", "right", "roof", "floor")},
}
CONSTANTS: dict[str, float] = {
    "co2_outside_ppm": 425.0,
    "heat_pump_condenser_approach_k": 15.0,
    "heat_pump_evaporator_approach_k": 8.0,
    "cooling_evaporator_approach_k": 15.0,
    "cooling_condenser_approach_k": 12.0,
    "heat_pump_least_lift_k": 15.0,
    "defrost_loss_share": 0.12,
    "defrost_low_c": -5.0,
    "defrost_high_c": 5.0,
    "coil_apparatus_drop_k": 10.0,
    "coil_apparatus_least_c": 2.0,
    "lights_heat_to_mass_share": 0.5,
    "pad_effectiveness_share": 0.85,
    "bridge_temperature_factor": 0.5,
    "co2_limit_8_h_ppm": 5000.0,
    "co2_limit_15_min_ppm": 15000.0,
    "store_co2_mg_per_kg_h_at_0_c": 36.0,
    "store_q10": 2.84,
    "mushroom_specific_heat_kj_per_kg_k": 3.99,
    "store_evaporation_per_s": 6e-4,
}
CROP_NUMBERS: dict[str, float] = {
    "spawn_run_days": 16.0,
    "first_flush_days": 10.0,
    "flush_interval_days": 12.0,
    "clear_days": 1.0,
    "flushes_kept": 3.0,
    "loss_share": 0.05,
    "prepared_here": 1.0,
    "planned_kg_per_unit": 2.6,
    "spread_days": 4.0,
    "unit_j_per_k": 33_000.0,
    "unit_surface_w_per_k": 1.5,
    "unit_evaporation_kg_per_s": 1.5e-4,
    "co2_g_per_h_spawn_run": 1.5,
    "co2_g_per_h_fruiting": 1.5,
    "co2_reference_c": 20.0,
    "co2_q10": 2.0,
    "growth_minimum_c": 5.0,
    "growth_optimum_c": 27.0,
    "growth_maximum_c": 36.0,
    "growth_reference_c": 24.0,
    "core_excess_k": 3.0,
    "heat_damage_c": 35.0,
    "cold_damage_c": -2.0,
    "damage_share_per_day": 0.05,
    "pin_low_c": 10.0,
    "pin_high_c": 15.6,
    "pin_days": 4.0,
    "pin_shoulder_k": 4.0,
    "pin_slowest_share": 0.25,
    "fruit_stop_c": 3.0,
    "fruit_reference_c": 13.0,
    "fruit_low_c": 10.0,
    "fruit_high_c": 21.0,
    "fruit_hot_k": 8.0,
    "fruit_cold_k": 8.0,
    "co2_limit_ppm": 1000.0,
    "co2_loss_share_per_1000_ppm": 0.27,
    "fruit_humidity_low_share": 0.85,
}
# A crop that neither breathes nor evaporates, has no harm done to it and bears at one pace
# whatever the room is like: its occupancy is given.
INERT: dict[str, float] = {
    "unit_evaporation_kg_per_s": 0.0,
    "co2_g_per_h_spawn_run": 0.0,
    "co2_g_per_h_fruiting": 0.0,
    "damage_share_per_day": 0.0,
    "pin_low_c": -80.0,
    "pin_high_c": 90.0,
    "fruit_stop_c": -90.0,
    "fruit_reference_c": -89.0,
}
# A room in which nothing happens: it is as warm as the air outside.
BARE_OF_PLANT: dict[str, float] = {
    "mixing_fans_kw": 0.0,
    "lights_kw": 0.0,
    "fan_w_per_m3_per_s": 0.0,
    "humidifier": 0.0,
    "sky_m2": 0.0,
    **{f"sun_{face}_m2": 0.0 for face in ("front", "back", "left", "right", "roof", "floor")},
}
FARM_NUMBERS: dict[str, float] = {
    "wanted_per_day": 50.0 / 7.0,
    "vessel_per_day": np.inf,
    "hours_per_day": np.inf,
    "hours_per_unit": 0.1,
    "store_kg": np.inf,
    "days_held": 2.0,
    "spawn_places": np.inf,
}


class Rig(NamedTuple):
    """What the kernels are told."""

    site: Site
    plan: Plan
    scenario: Scenario


def filled(order: Sequence[str], numbers: dict[str, float], changed: dict[str, float]) -> Floats:
    """Numbers by name in the order of the kernel; a name it does not know is an error."""
    assert not set(changed) - set(order), set(changed) - set(order)
    return np.array([(numbers | changed)[name] for name in order], float)


def a_room(**changed: float) -> Floats:
    """The numbers of a room, see ROOM."""
    return filled(ROOM, ROOM_NUMBERS, changed)


def a_crop(**changed: float) -> Floats:
    """The numbers of a crop, see CROP."""
    return filled(CROP, CROP_NUMBERS, changed)


def outside_air(
    temp_c: ArrayLike,
    humidity_share: float = 0.8,
    ratio: float | None = None,
    pressure_pa: float = SEA_PA,
    sky_deficit_w_per_m2: float = 0.0,
) -> Floats:
    """A year of air outside, see OUTSIDE; a humidity ratio goes before a relative humidity."""
    temp = np.broadcast_to(np.asarray(temp_c, float), 8760)
    held = humidity_ratio_at(temp, humidity_share, pressure_pa)
    wet = held if ratio is None else np.full(8760, ratio)
    rise = humidity_ratio_at(wet_bulb_c(temp, wet, pressure_pa), 1.0, pressure_pa) - wet
    rest = [np.full(8760, x) for x in (pressure_pa, sky_deficit_w_per_m2)]
    return np.ascontiguousarray(np.stack([temp, wet, *rest, rise], axis=1))


def mild_year(mean_c: float = 10.0, season_k: float = 8.0) -> Floats:
    """Temperatures of a made-up year: seasons, days, and weather of its own [°C]."""
    day = HOUR_OF_YEAR / 24
    seasons = -season_k * np.cos(2 * np.pi * (day - 20) / 365)
    days = 3.0 * np.sin(2 * np.pi * (HOUR_OF_YEAR % 24 - 9) / 24)
    return mean_c + seasons + days + 2.0 * np.sin(1.7 * day)


def a_site(
    outside: Floats,
    kinds: Sequence[int],
    steps: int = 4,
    first_month: int = 0,
    sun_w_per_m2: float = 0.0,
    closed_months: Sequence[int] = (),
) -> Site:
    """Surroundings of some rooms, all closed in the same months."""
    months, calendar, begins, first = month_calendar(first_month)
    rooms, of_kind = len(kinds), np.array(kinds, np.int64)
    open_share = np.ones((rooms, 12))
    open_share[:, list(closed_months)] = 0.0
    return Site(
        outside=outside,
        sun_w_per_m2=np.full((rooms, 8760, 6), sun_w_per_m2),
        constants=filled(SITE, CONSTANTS, {}),
        kinds=of_kind,
        spawn_share=_equal(of_kind == SPAWN_RUN),
        store_share=_equal(of_kind == COLD_STORE),
        heat_is_electric=np.ones(rooms),
        open_share=open_share,
        band=np.zeros(8760, np.int64),
        solar_kwh_per_kw=np.zeros((0, 8760)),
        month_of_day=months.astype(np.int64),
        calendar=calendar.astype(np.int64),
        month_start_h=begins,
        first_hour=first,
        steps=steps,
    )


def _equal(chosen: NDArray[np.bool_]) -> Floats:
    return chosen / max(1, chosen.sum())


def _by_month(share: ArrayLike, rooms: int) -> Floats:
    return np.ascontiguousarray(np.broadcast_to(np.asarray(share, float), (rooms, 12)))


def a_plan(
    fruiting: int,
    crops: Sequence[Floats],
    places: float = 144.0,
    cleaning_days: float = 2.0,
    pace_scale: float = 1.0,
    start_share: ArrayLike = 1.0,
    usable_share: ArrayLike = 1.0,
    open_share: ArrayLike = 1.0,
    demand_kg_per_day: float = np.inf,
    **farm: float,
) -> Plan:
    """What the cohorts are told; every fruiting room alike."""
    made = np.array(crops)
    flush = made[:, CROP.index("planned_kg_per_unit")][:, None] * np.array([0.55, 0.3, 0.15])
    share = np.broadcast_to(np.asarray(start_share, float), (fruiting, len(crops), 12))
    return Plan(
        farm=filled(FARM, FARM_NUMBERS, farm),
        crops=made,
        places=np.full(fruiting, places),
        cleaning_days=np.full(fruiting, cleaning_days),
        pace_scale=np.full(fruiting, pace_scale),
        start_share=np.ascontiguousarray(share),
        usable_share=_by_month(usable_share, fruiting),
        open_share=_by_month(open_share, fruiting),
        demand_kg_per_day=np.full((len(crops), 24), demand_kg_per_day),
        flush_kg=flush,
    )


def a_scenario(
    rooms: Sequence[Floats], touching: Sequence[tuple[int, int, float]] = ()
) -> Scenario:
    """Rooms, and pairs of them with the heat that goes through the wall between [W/K]."""
    contact = np.zeros((len(rooms), len(rooms)))
    for a, b, w_per_k in touching:
        contact[a, b] = contact[b, a] = w_per_k
    return Scenario(np.array(rooms), contact, np.zeros(24), np.zeros(0))


def still_rig(
    outside_c: ArrayLike = 13.0,
    crop: dict[str, float] | None = None,
    first_month: int = 0,
    places: float = 1e6,
    **plan: float,
) -> Rig:
    """One fruiting room as warm as outside, its crop bought in ready to fruit unless said."""
    quiet = INERT | {"spawn_run_days": 0.0, "loss_share": 0.0}
    for name in ("pin_low_c", "pin_high_c", "fruit_stop_c", "fruit_reference_c"):
        quiet.pop(name)
    site = a_site(outside_air(outside_c), [FRUITING], 1, first_month)
    made = a_plan(1, [a_crop(**(quiet | (crop or {})))], places, 0.0, **plan)
    return Rig(site, made, a_scenario([a_room(**BARE_OF_PLANT, loss_w_per_k=1e6)]))


def farm_rig(
    steps: int = 4,
    outside: Floats | None = None,
    crop: dict[str, float] | None = None,
    first_month: int = 5,
    places: float = 144.0,
    **room: float,
) -> Rig:
    """Two fruiting rooms, of which the first may be changed, a spawn-run room and a cold store."""
    rooms = [
        a_room(**room),
        a_room(),
        a_room(
            air_kg=24.0, volume_m3=20.0, heating=1.0, heat_to_c=20.0, cool_to_c=26.0,
            co2_most_ppm=5000.0,
        ),
        a_room(
            air_kg=12.0, volume_m3=10.0, heat_to_c=-50.0, cool_to_c=3.0, cool_kw=2.0,
            humidifier=0.0,
        ),
    ]  # fmt: skip
    air = outside_air(mild_year(), 0.83, sky_deficit_w_per_m2=60.0) if outside is None else outside
    site = a_site(air, [FRUITING, FRUITING, SPAWN_RUN, COLD_STORE], steps, first_month, 50.0)
    touching = ((0, 1, 5.0), (0, 2, 4.0), (2, 3, 3.0))
    plan = a_plan(2, [a_crop(**(crop or {}))], places, spawn_places=400.0)
    return Rig(site, plan, a_scenario(rooms, touching))


def ran(rig: Rig, days: int = DAYS) -> Run:
    """The rig after some days."""
    run = new_run(rig.site, rig.plan, rig.scenario)
    advance(rig.site, run, 0, days)
    return run


def outcome(rig: Rig) -> tuple[Counts, Tally]:
    """Counts and tally of both years."""
    run = ran(rig)
    return run.counts, run.tally


def hourly(rig: Rig, days: int = DAYS) -> list[pd.DataFrame]:
    """The hourly table of each room, with the mass of its air as the package gives it."""
    table = np.zeros((rig.site.kinds.size, min(HOURS, days * 24), len(HOUR)))
    advance(rig.site, new_run(rig.site, rig.plan, rig.scenario), 0, days, table)
    frames = []
    for room, rows in zip(rig.scenario.rooms, table, strict=True):
        frames.append(pd.DataFrame(rows, columns=list(HOUR)).assign(air_kg=room[AIR_KG]))
    return frames


class Closure(NamedTuple):
    """What an hourly table does not close by, absolute hours added up, per year."""

    heat_kwh: float
    water_kg: float
    co2_kg: float


# ASHRAE Handbook, Fundamentals, ch. 1 (dry air, vapour), liquid water as in physics.csv. J/(kg K)
DRY_AIR, VAPOUR, VAPOUR_AT_ZERO, LIQUID = 1006.0, 1860.0, 2_501_000.0, 4186.0
CO2_OVER_AIR = 44.0095 / 28.966  # molar masses, g/mol


def enthalpy_j_per_kg(temp_c: pd.Series, ratio: pd.Series) -> pd.Series:
    """Enthalpy of moist air for each kg of dry air."""
    return DRY_AIR * temp_c + ratio * (VAPOUR_AT_ZERO + VAPOUR * temp_c)


def closure(table: pd.DataFrame) -> Closure:
    """Add a table up again from states and flows, none of its residual columns.

    The first hour stands for the state from which the second begins.
    """
    air_kg = table.air_kg
    stored = air_kg * enthalpy_j_per_kg(table.air_temp_end_c, table.humidity_ratio_end)
    stored += table.mass_j_per_k * table.mass_temp_end_c
    come = table.envelope_kwh + table.other_rooms_kwh + table.fresh_air_kwh
    come += table.respiration_kwh + table.machines_kwh + table.heating_kwh
    come += table.humidifier_heat_kwh + table.substrate_water_heat_kwh + table.moved_crop_kwh
    heat = (stored / 3.6e6).diff() - come + table.cooling_kwh + table.condensate_heat_kwh
    wet = table.fresh_water_kg + table.evaporated_kg + table.humidifier_kg
    water = (air_kg * table.humidity_ratio_end).diff() - wet
    water += table.coil_kg + table.condensed_kg
    held = air_kg * table.co2_end_ppm * 1e-6 * CO2_OVER_AIR
    co2 = held.diff() - table.co2_made_kg - table.co2_fresh_kg
    years = len(table) / 8760
    return Closure(*(float(x.iloc[1:].abs().sum() / years) for x in (heat, water, co2)))
