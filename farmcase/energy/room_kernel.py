"""All rooms of a build, hour by hour for two years, with the crop that stands in them.

The crop moves on by what the rooms were in the hour gone by, and gives off heat, water and CO2 in
the next: one pass, nothing is repeated.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from farmcase.compiled import compiled
from farmcase.crop import cohort_kernel as cohorts
from farmcase.crop import fields_kernel as of
from farmcase.crop import response_kernel as response
from farmcase.crop import start_kernel as starts
from farmcase.energy import control_kernel as control
from farmcase.energy import fields_kernel as at
from farmcase.energy import record_kernel as record
from farmcase.energy.tally_kernel import (
    COLD_STORE,
    FRUITING,
    SETTLED,
    SPAWN_RUN,
    tally_room,
    tally_site,
)


class State(NamedTuple):
    """Where a run stands, so that two years may be run in parts."""

    rooms: np.ndarray  # (R, 4) see at.T_AIR
    units: np.ndarray  # (R, C)
    crop_j_per_k: np.ndarray  # (R,) of what stands in each room
    moved_j: np.ndarray  # (R,) heat carried in since the last hour
    store: np.ndarray  # (2,) stock and what arrives with the next hour [kg]


class Bench(NamedTuple):
    """Room for the numbers of an hour, so that the kernels make no arrays of their own."""

    rows: np.ndarray  # (R, columns of HOUR)
    step: np.ndarray  # see air_kernel.STEP
    fixed: np.ndarray  # see air_kernel.FIXED
    load: np.ndarray  # see fields_kernel.LOAD
    others_w: np.ndarray  # (R,) heat from the rooms next to each


@compiled
def _count(site, plan, started, placed, state, now_h):
    """Units by room and crop this morning; returns those that wait outside the spawn run."""
    state.units[:] = 0.0
    waiting, f = 0.0, 0
    for r in range(site.kinds.size):
        if site.kinds[r] != FRUITING:
            continue
        for c in range(plan.crops.shape[0]):
            before, inside, _ = starts.standing_units(plan, started, placed, f, c, now_h)
            state.units[r, c] = inside
            if plan.crops[c, of.SPAWN_DAYS] <= 0.0:
                waiting += before
                continue
            for q in range(site.kinds.size):
                state.units[q, c] += before * site.spawn_share[q]
        f += 1
    return waiting


@compiled
def _carry(scenario, state, r, crop_j_per_k, source_c):
    """Heat that comes and goes with crop: what is carried out leaves at the room's own warmth."""
    change = crop_j_per_k - state.crop_j_per_k[r]
    own = state.rooms[r, at.T_MASS]
    if change > 0.0:
        whole = scenario.rooms[r, at.MASS] + crop_j_per_k
        state.rooms[r, at.T_MASS] += change * (source_c - own) / whole
        state.moved_j[r] += change * source_c
    else:
        state.moved_j[r] += change * own
    state.crop_j_per_k[r] = crop_j_per_k


@compiled
def _carry_units(site, plan, scenario, state):
    spawn_c, have = 0.0, 0.0
    for r in range(site.kinds.size):
        spawn_c += site.spawn_share[r] * state.rooms[r, at.T_MASS]
        have += site.spawn_share[r]
    for r in range(site.kinds.size):
        if site.kinds[r] == COLD_STORE:
            continue
        heat = 0.0
        for c in range(plan.crops.shape[0]):
            heat += state.units[r, c] * plan.crops[c, of.UNIT_HEAT]
        own = state.rooms[r, at.T_MASS]
        _carry(
            scenario, state, r, heat, spawn_c if have > 0.5 and site.kinds[r] == FRUITING else own
        )


@compiled
def _carry_stock(site, scenario, state, held_days):
    """The hour's harvest goes into the store, and as much leaves as keeps the days held."""
    arriving_c, rooms = 0.0, 0
    for r in range(site.kinds.size):
        if site.kinds[r] == FRUITING:
            arriving_c += state.rooms[r, at.T_AIR]
            rooms += 1
    stock = state.store[0] * (1.0 - min(1.0, 1.0 / (24.0 * held_days))) + state.store[1]
    for r in range(site.kinds.size):
        if site.kinds[r] == COLD_STORE:
            heat = site.constants[at.MUSHROOM_HEAT] * 1000.0 * site.store_share[r]
            left = state.store[0] * (1.0 - min(1.0, 1.0 / (24.0 * held_days)))
            _carry(scenario, state, r, heat * left, 0.0)
            _carry(scenario, state, r, heat * stock, arriving_c / max(1, rooms))
    state.store[0], state.store[1] = stock, 0.0


@compiled
def _load(site, plan, scenario, state, r, load):
    """What stands in a room: its warmth, surface, evaporation and breath."""
    mass_c = state.rooms[r, at.T_MASS]
    load[:] = 0.0
    load[at.L_MASS] = state.crop_j_per_k[r]
    if site.kinds[r] == COLD_STORE:
        kg = state.store[0] * site.store_share[r]
        rate = site.constants[at.STORE_CO2] * 1e-6 / 3600.0
        load[at.L_CO2] = kg * rate * site.constants[at.STORE_Q10] ** (mass_c / 10.0)
        load[at.L_EVAPORATION] = kg * site.constants[at.STORE_EVAPORATION]
        return 0.0
    units = 0.0
    for c in range(plan.crops.shape[0]):
        some, crop = state.units[r, c], plan.crops[c]
        if some <= 0.0:
            continue
        units += some
        load[at.L_SURFACE] += some * crop[of.UNIT_SURFACE]
        which = of.CO2_FRUITING if site.kinds[r] == FRUITING else of.CO2_SPAWN
        if site.kinds[r] == FRUITING:
            load[at.L_EVAPORATION] += some * crop[of.UNIT_EVAPORATION]
        scale = response.respiration_scale(
            mass_c,
            crop[of.CO2_REFERENCE],
            crop[of.CO2_Q10],
            crop[of.GROWTH_BEST],
            crop[of.GROWTH_MOST],
        )
        load[at.L_CO2] += some * crop[which] * scale / 3.6e6
    return units


@compiled
def _crop_hour(site, plan, pace, placed, counts, scratch, state, rows, now_h):
    """The clocks of the crop move on by what the rooms were; what was picked goes to the store."""
    spawn_c = 0.0
    for r in range(site.kinds.size):
        spawn_c += site.spawn_share[r] * state.rooms[r, at.T_MASS]
    cohorts.tick_spawn(plan, pace, spawn_c)
    f = 0
    for r in range(site.kinds.size):
        if site.kinds[r] != FRUITING:
            continue
        for c in range(plan.crops.shape[0]):
            for k in range(5):
                scratch.before[c, k] = pace.fruiting[f, c, k]
        row = rows[r]
        cohorts.tick_fruiting(plan, pace, f, row[at.H_AIR], row[at.H_MASS_END], row[at.H_CO2])
        state.store[1] += cohorts.finish_stages(
            plan, pace, placed, counts, scratch, f, now_h, site.month_start_h
        )
        f += 1


@compiled
def _morning(site, plan, scenario, state, pace, started, placed, counts, scratch, day):
    now_h, month, calendar = day * 24.0, site.month_of_day[day], site.calendar[day]
    if day > 0:
        starts.follow_pace(plan, pace)
    in_spawn = 0.0
    for f in range(plan.places.size):
        for c in range(plan.crops.shape[0]):
            cohorts.drop_gone(plan, placed, f, c, now_h)
            if plan.crops[c, of.SPAWN_DAYS] > 0.0:
                in_spawn += starts.standing_units(plan, started, placed, f, c, now_h)[0]
    starts.start_day(plan, pace, started, placed, counts, scratch, day, month, calendar, in_spawn)
    for f in range(plan.places.size):
        starts.move_ready(
            plan, pace, started, placed, counts, f, month, calendar, now_h, site.month_start_h
        )
    counts.occupied[2, month] += _count(site, plan, started, placed, state, now_h)
    for r in range(site.kinds.size):
        if site.kinds[r] == SPAWN_RUN:
            counts.occupied[0, month] += state.units[r].sum()
        elif site.kinds[r] == FRUITING:
            counts.occupied[1, month] += state.units[r].sum()
    _carry_units(site, plan, scenario, state)


@compiled
def _from_others(scenario, state, others_w):
    """Heat through the walls between rooms, at the temperatures with which the hour began [W]."""
    for r in range(others_w.size):
        others_w[r] = 0.0
        for q in range(others_w.size):
            if scenario.contact_w_per_k[r, q] > 0.0:
                warmer = state.rooms[q, at.T_AIR] - state.rooms[r, at.T_AIR]
                others_w[r] += scenario.contact_w_per_k[r, q] * warmer


@compiled
def _rooms_hour(site, plan, scenario, state, tally, bench, h, hour, month, calendar):
    """An hour of every room; returns the electricity they took [kWh]."""
    electric = 0.0
    _from_others(scenario, state, bench.others_w)
    for r in range(site.kinds.size):
        row = bench.rows[r]
        units = _load(site, plan, scenario, state, r, bench.load)
        control.room_hour(
            scenario.rooms[r],
            site.constants,
            site.outside[h],
            site.sun_w_per_m2[r, h],
            bench.load,
            bench.others_w[r],
            state.rooms[r],
            row,
            bench.step,
            bench.fixed,
            site.steps,
            hour,
            site.open_share[r, calendar] > 0.0,
        )
        row[at.H_MOVED], state.moved_j[r] = state.moved_j[r] / record.KWH, 0.0
        row[at.H_UNITS] = units
        tally_room(site, plan, state, tally, r, row, month, month >= SETTLED)
        electric += row[at.H_FANS] + row[at.H_LIGHTS] + row[at.H_HUMIDIFYING]
        electric += row[at.H_COOLING_INPUT]
        if site.heat_is_electric[r] > 0.0:
            electric += row[at.H_HEATING_INPUT]
    return electric


@compiled
def run_days(
    site,
    plan,
    scenario,
    state,
    pace,
    started,
    placed,
    counts,
    tally,
    scratch,
    bench,
    table,
    from_day,
    to_day,
):
    """Run some days of the two years; `table` (R, H, columns) is filled as far as it reaches."""
    for day in range(from_day, to_day):
        _morning(site, plan, scenario, state, pace, started, placed, counts, scratch, day)
        month, calendar = site.month_of_day[day], site.calendar[day]
        for hour in range(24):
            now = day * 24 + hour
            h = (site.first_hour + now) % 8760
            _carry_stock(site, scenario, state, plan.farm[cohorts.F_HELD])
            electric = _rooms_hour(
                site, plan, scenario, state, tally, bench, h, hour, month, calendar
            )
            if table.shape[1] > now:
                for r in range(bench.rows.shape[0]):
                    for k in range(bench.rows.shape[1]):
                        table[r, now, k] = bench.rows[r, k]
            tally_site(site, scenario, tally, electric, h, month)
            _crop_hour(site, plan, pace, placed, counts, scratch, state, bench.rows, float(now))


@compiled
def still_standing(plan, started, placed, counts, now_h):
    """Units neither lost nor cleared at an hour, by crop."""
    for c in range(plan.crops.shape[0]):
        counts.standing[c] = 0.0
        for f in range(plan.places.size):
            before, inside, _ = starts.standing_units(plan, started, placed, f, c, now_h)
            counts.standing[c] += before + inside
