"""All rooms of a build, hour by hour for two years, with the crop that stands in them.

The crop moves on by what the rooms were in the hour gone by, and gives off heat, water and CO2 in
the next: one pass, nothing is repeated.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from farmcase.compiled import compiled
from farmcase.crop import cohort_kernel as cohorts
from farmcase.crop import response_kernel as response
from farmcase.crop import start_kernel as starts
from farmcase.energy import control_kernel as control

USES = ("fans", "lights", "humidifying", "heating", "cooling")
TALLY = ("humidifier_l", "drained_l", "air_temp_c", "relative_humidity_share", "band_hours")
OTHER, FRUITING, SPAWN_RUN, COLD_STORE = range(4)
SETTLED = 12  # month from which the second year counts


class Site(NamedTuple):
    """What all scenarios of a build share; R rooms."""

    outside: np.ndarray  # (8760, see control.OUTSIDE)
    sun_w_per_m2: np.ndarray  # (R, 8760, 6)
    constants: np.ndarray  # see control.SITE
    kinds: np.ndarray  # (R,)
    spawn_share: np.ndarray  # (R,) share of the spawn-run places that a room has
    store_share: np.ndarray  # (R,) share of the cold store that a room has
    heat_is_electric: np.ndarray  # (R,)
    open_share: np.ndarray  # (R, 12) 0 in closed months
    band: np.ndarray  # (8760,) tariff band of each hour
    solar_kwh_per_kw: np.ndarray  # (P, 8760)
    month_of_day: np.ndarray  # (730,) month since the first starts
    calendar: np.ndarray  # (730,) calendar month
    month_start_h: np.ndarray  # (25,)
    first_hour: int  # of the year, at which production begins
    steps: int


class Scenario(NamedTuple):
    """What one scenario changes."""

    rooms: np.ndarray  # (R, see control.ROOM)
    contact_w_per_k: np.ndarray  # (R, R)
    base_kw: np.ndarray  # (24,) machines at a steady load
    solar_kw: np.ndarray  # (P,)


class Tally(NamedTuple):
    """What the rooms of one scenario leave behind; months since the first starts."""

    kwh: np.ndarray  # (R, 5, 24) see USES; heating is what the heater takes, of its carrier
    by_month: np.ndarray  # (R, 5, 24) see TALLY; temperature and humidity summed over hours
    crop_hours: np.ndarray  # (R, C) hours of the settled year in which a crop stood in the room
    band_hours: np.ndarray  # (R, C) those within its band
    warnings: np.ndarray  # (R, 3) hours over the 8 h and 15 min CO2 limits, with wet cold bridges
    load_kwh: np.ndarray  # (B, 24) electricity taken by rooms and machines
    used_kwh: np.ndarray  # (B, 24) of it, own solar
    sent_kwh: np.ndarray  # (B, 24) own solar that nobody here used
    peak_kw: np.ndarray  # (24,) highest hour
    residual: np.ndarray  # (R, 3) sum of the hours' imbalance: kWh, kg of water, kg of CO2


class State(NamedTuple):
    """Where a run stands, so that two years may be run in parts."""

    rooms: np.ndarray  # (R, 4) see control.T_AIR
    units: np.ndarray  # (R, C)
    crop_j_per_k: np.ndarray  # (R,) of what stands in each room
    moved_j: np.ndarray  # (R,) heat carried in since the last hour
    store: np.ndarray  # (2,) stock and what arrives with the next hour [kg]


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
            if plan.crops[c, cohorts.SPAWN_DAYS] <= 0.0:
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
    own = state.rooms[r, control.T_MASS]
    if change > 0.0:
        whole = scenario.rooms[r, control.MASS] + crop_j_per_k
        state.rooms[r, control.T_MASS] += change * (source_c - own) / whole
        state.moved_j[r] += change * source_c
    else:
        state.moved_j[r] += change * own
    state.crop_j_per_k[r] = crop_j_per_k


@compiled
def _carry_units(site, plan, scenario, state):
    spawn_c, have = 0.0, 0.0
    for r in range(site.kinds.size):
        spawn_c += site.spawn_share[r] * state.rooms[r, control.T_MASS]
        have += site.spawn_share[r]
    for r in range(site.kinds.size):
        if site.kinds[r] == COLD_STORE:
            continue
        heat = 0.0
        for c in range(plan.crops.shape[0]):
            heat += state.units[r, c] * plan.crops[c, cohorts.UNIT_HEAT]
        own = state.rooms[r, control.T_MASS]
        _carry(
            scenario, state, r, heat, spawn_c if have > 0.5 and site.kinds[r] == FRUITING else own
        )


@compiled
def _carry_stock(site, scenario, state, held_days):
    """The hour's harvest goes into the store, and as much leaves as keeps the days held."""
    arriving_c, rooms = 0.0, 0
    for r in range(site.kinds.size):
        if site.kinds[r] == FRUITING:
            arriving_c += state.rooms[r, control.T_AIR]
            rooms += 1
    stock = state.store[0] * (1.0 - min(1.0, 1.0 / (24.0 * held_days))) + state.store[1]
    for r in range(site.kinds.size):
        if site.kinds[r] == COLD_STORE:
            heat = site.constants[control.MUSHROOM_HEAT] * 1000.0 * site.store_share[r]
            left = state.store[0] * (1.0 - min(1.0, 1.0 / (24.0 * held_days)))
            _carry(scenario, state, r, heat * left, 0.0)
            _carry(scenario, state, r, heat * stock, arriving_c / max(1, rooms))
    state.store[0], state.store[1] = stock, 0.0


@compiled
def _load(site, plan, scenario, state, r, load):
    """What stands in a room: its warmth, surface, evaporation and breath."""
    mass_c = state.rooms[r, control.T_MASS]
    load[:] = 0.0
    load[control.L_MASS] = state.crop_j_per_k[r]
    if site.kinds[r] == COLD_STORE:
        kg = state.store[0] * site.store_share[r]
        rate = site.constants[control.STORE_CO2] * 1e-6 / 3600.0
        load[control.L_CO2] = kg * rate * site.constants[control.STORE_Q10] ** (mass_c / 10.0)
        load[control.L_EVAPORATION] = kg * site.constants[control.STORE_EVAPORATION]
        return 0.0
    units = 0.0
    for c in range(plan.crops.shape[0]):
        some, crop = state.units[r, c], plan.crops[c]
        if some <= 0.0:
            continue
        units += some
        load[control.L_SURFACE] += some * crop[cohorts.UNIT_SURFACE]
        which = cohorts.CO2_FRUITING if site.kinds[r] == FRUITING else cohorts.CO2_SPAWN
        if site.kinds[r] == FRUITING:
            load[control.L_EVAPORATION] += some * crop[cohorts.UNIT_EVAPORATION]
        scale = response.respiration_scale(
            mass_c,
            crop[cohorts.CO2_REFERENCE],
            crop[cohorts.CO2_Q10],
            crop[cohorts.GROWTH_BEST],
            crop[cohorts.GROWTH_MOST],
        )
        load[control.L_CO2] += some * crop[which] * scale / 3.6e6
    return units


@compiled
def _tally_room(site, plan, state, tally, r, row, month, settled):
    kwh = tally.kwh[r]
    for use in range(5):
        kwh[use, month] += row[control.H_FANS + use]
    by_month = tally.by_month[r]
    by_month[0, month] += row[control.H_HUMIDIFIER]
    by_month[1, month] += row[control.H_COIL] + row[control.H_CONDENSED]
    by_month[2, month] += row[control.H_AIR]
    by_month[3, month] += row[control.H_HUMIDITY]
    for k, column in enumerate((control.H_HEAT_LEFT, control.H_WATER_LEFT, control.H_CO2_LEFT)):
        tally.residual[r, k] += abs(row[column])
    if settled:
        limits = site.constants
        tally.warnings[r, 0] += row[control.H_CO2] > limits[control.LIMIT_8_H]
        tally.warnings[r, 1] += row[control.H_CO2] > limits[control.LIMIT_15_MIN]
        tally.warnings[r, 2] += row[control.H_WET]
    if site.kinds[r] != FRUITING:
        return
    most, fits_most = 0.0, False
    for c in range(plan.crops.shape[0]):
        crop = plan.crops[c]
        if state.units[r, c] <= 0.0:
            continue
        fits = (
            crop[cohorts.FRUIT_LOW] <= row[control.H_AIR] <= crop[cohorts.FRUIT_HIGH]
            and row[control.H_HUMIDITY] >= crop[cohorts.HUMID_LOW]
        )
        if state.units[r, c] > most:
            most, fits_most = state.units[r, c], fits
        if settled:
            tally.crop_hours[r, c] += 1.0
            tally.band_hours[r, c] += fits
    by_month[4, month] += fits_most


@compiled
def _tally_site(site, scenario, tally, electric_kwh, h, month):
    band = site.band[h]
    load = electric_kwh + scenario.base_kw[month]
    made = 0.0
    for p in range(scenario.solar_kw.size):
        made += scenario.solar_kw[p] * site.solar_kwh_per_kw[p, h]
    used = min(load, made)
    tally.load_kwh[band, month] += load
    tally.used_kwh[band, month] += used
    tally.sent_kwh[band, month] += made - used
    tally.peak_kw[month] = max(tally.peak_kw[month], load - used)


@compiled
def _crop_hour(site, plan, scenario, pace, placed, counts, state, rows, now_h):
    """The clocks of the crop move on by what the rooms were; what was picked goes to the store."""
    spawn_c = 0.0
    for r in range(site.kinds.size):
        spawn_c += site.spawn_share[r] * state.rooms[r, control.T_MASS]
    cohorts.tick_spawn(plan, pace, spawn_c)
    f = 0
    for r in range(site.kinds.size):
        if site.kinds[r] != FRUITING:
            continue
        before = pace.fruiting[f].copy()
        row = rows[r]
        cohorts.tick_fruiting(
            plan, pace, f, row[control.H_AIR], row[control.H_MASS_END], row[control.H_CO2]
        )
        state.store[1] += cohorts.finish_stages(
            plan, pace, placed, counts, f, before, now_h, site.month_start_h
        )
        f += 1


@compiled
def _morning(site, plan, scenario, state, pace, started, placed, counts, day):
    now_h, month, calendar = day * 24.0, site.month_of_day[day], site.calendar[day]
    if day > 0:
        starts.follow_pace(plan, pace)
    in_spawn = 0.0
    for f in range(plan.places.size):
        for c in range(plan.crops.shape[0]):
            starts.drop_gone(plan, placed, f, c, now_h)
            if plan.crops[c, cohorts.SPAWN_DAYS] > 0.0:
                in_spawn += starts.standing_units(plan, started, placed, f, c, now_h)[0]
    starts.start_day(plan, pace, started, counts, day, month, calendar, in_spawn)
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
def run_days(
    site, plan, scenario, state, pace, started, placed, counts, tally, table, from_day, to_day
):
    """Run some days of the two years; `table` (R, H, columns) is filled as far as it reaches."""
    rooms = site.kinds.size
    rows = np.zeros((rooms, len(control.HOUR)))
    step, fixed = np.zeros(21), np.zeros(7)
    load, others = np.zeros(4), np.zeros(rooms)
    for day in range(from_day, to_day):
        _morning(site, plan, scenario, state, pace, started, placed, counts, day)
        month, calendar = site.month_of_day[day], site.calendar[day]
        for hour in range(24):
            now = day * 24 + hour
            h = (site.first_hour + now) % 8760
            electric = 0.0
            _carry_stock(site, scenario, state, plan.farm[cohorts.F_HELD])
            for r in range(rooms):
                others[r] = 0.0
                for q in range(rooms):
                    if scenario.contact_w_per_k[r, q] > 0.0:
                        warmer = state.rooms[q, control.T_AIR] - state.rooms[r, control.T_AIR]
                        others[r] += scenario.contact_w_per_k[r, q] * warmer
            for r in range(rooms):
                units = _load(site, plan, scenario, state, r, load)
                row = rows[r]
                control.room_hour(
                    scenario.rooms[r],
                    site.constants,
                    site.outside[h],
                    site.sun_w_per_m2[r, h],
                    load,
                    others[r],
                    state.rooms[r],
                    row,
                    step,
                    fixed,
                    site.steps,
                    hour,
                    site.open_share[r, calendar] > 0.0,
                )
                row[control.H_MOVED], state.moved_j[r] = state.moved_j[r] / control.KWH, 0.0
                row[control.H_UNITS] = units
                _tally_room(site, plan, state, tally, r, row, month, month >= SETTLED)
                electric += row[control.H_FANS : control.H_COOLING_INPUT + 1].sum()
                if site.heat_is_electric[r] == 0.0:
                    electric -= row[control.H_HEATING_INPUT]
                if table.shape[1] > now:
                    table[r, now] = row
            _tally_site(site, scenario, tally, electric, h, month)
            _crop_hour(site, plan, scenario, pace, placed, counts, state, rows, float(now))


@compiled
def still_standing(plan, started, placed, counts, now_h):
    """Units neither lost nor cleared at an hour, by crop."""
    for c in range(plan.crops.shape[0]):
        counts.standing[c] = 0.0
        for f in range(plan.places.size):
            before, inside, _ = starts.standing_units(plan, started, placed, f, c, now_h)
            counts.standing[c] += before + inside
