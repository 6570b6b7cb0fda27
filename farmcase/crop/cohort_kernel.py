"""The cohorts of a farm, hour by hour: batches in the spawn run, flushes, places, what is picked.

A cohort is what is started, or moved into a fruiting room, on one day. All cohorts of a crop in a
room share its air, so that each room keeps one clock for pinning and one for growth; a cohort has
done its part when the clock has moved on by the days it needs. Units of a cohort differ, so it
moves, is picked and leaves over several days, and kilograms change smoothly with every input.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from farmcase.compiled import compiled
from farmcase.crop import fields_kernel as of
from farmcase.crop import response_kernel as response

DAYS = 730
MONTHS = 24
LOOK_BACK_DAYS = 7.0  # the grower goes by the pace of the last week
LEAST_PACE = 0.1  # a room that stands still is planned for as if it were ten times slower
LIMITS = (
    "wanted",
    "vessel",
    "hours",
    "cold_store",
    "demand",
    "spawn_run_places",
    "fruiting_places",
)
WANTED, VESSEL, HOURS, COLD_STORE, DEMAND, SPAWN_PLACES, FRUITING_PLACES = range(len(LIMITS))

# The limits of the whole farm, in the order of the array they stand in.
FARM = (
    "wanted_per_day",
    "vessel_per_day",
    "hours_per_day",
    "hours_per_unit",
    "store_kg",
    "days_held",
    "spawn_places",
)
F_WANTED, F_VESSEL, F_HOURS, F_HOURS_PER_UNIT, F_STORE, F_HELD, F_SPAWN = range(len(FARM))

# The clocks of a crop in a fruiting room, and what a cohort remembers of them.
PIN, PIN_GOOD, GROW, GROW_GOOD, HARM = range(5)


class Plan(NamedTuple):
    """What one farm is told; F fruiting rooms, C crops."""

    farm: np.ndarray  # see FARM
    crops: np.ndarray  # (C, see CROP of fields_kernel)
    places: np.ndarray  # (F,)
    cleaning_days: np.ndarray  # (F,)
    pace_scale: np.ndarray  # (F,)
    start_share: np.ndarray  # (F, C, 12)
    usable_share: np.ndarray  # (F, 12) share of the month's places that may hold crop
    open_share: np.ndarray  # (F, 12) 0 in closed months
    demand_kg_per_day: np.ndarray  # (C, 24)
    flush_kg: np.ndarray  # (C, K) planned kilograms per unit and flush, for store and hours


class Started(NamedTuple):
    """Cohorts in the spawn run, by the fruiting room they are meant for."""

    number: np.ndarray  # (F, C) of cohorts so far
    head: np.ndarray  # (F, C) the first that has not wholly moved
    units: np.ndarray  # (F, C, N)
    moved_share: np.ndarray  # (F, C, N)
    clock: np.ndarray  # (F, C, N) at the start
    harm: np.ndarray  # (F, C, N)


class Placed(NamedTuple):
    """Cohorts in the fruiting rooms."""

    number: np.ndarray  # (F, C) of cohorts so far
    head: np.ndarray  # (F, C) the first that has not wholly gone
    stage: np.ndarray  # (F, C, 2 K) the next cohort to finish each stage
    units: np.ndarray  # (F, C, N)
    clock: np.ndarray  # (F, C, N) at the start of the present stage
    good: np.ndarray  # (F, C, N) its good part
    harm: np.ndarray  # (F, C, N) at placing
    pinned_share: np.ndarray  # (F, C, N) how well the present flush pinned
    survived_share: np.ndarray  # (F, C, N)
    cleared_h: np.ndarray  # (F, C, N) hour from which it is cleared


class Pace(NamedTuple):
    """Clocks in days, and the pace of the last week in days per day."""

    spawn: np.ndarray  # (C, 2) growth and harm
    fruiting: np.ndarray  # (F, C, 5) see PIN to HARM
    spawn_week: np.ndarray  # (C,)
    fruiting_week: np.ndarray  # (F, C, 2) pinning and growth
    spawn_yesterday: np.ndarray  # (C,)
    fruiting_yesterday: np.ndarray  # (F, C, 2)


class Counts(NamedTuple):
    """What is recorded; the last axis is months since the first starts."""

    started: np.ndarray  # (C, 24) units
    placed: np.ndarray  # (C, 24)
    lost: np.ndarray  # (C, 24)
    cleared: np.ndarray  # (C, 24)
    flushed: np.ndarray  # (C, K, 24) units, by how full their flush was
    second: np.ndarray  # (C, K, 24) the part of these grown outside the band
    occupied: np.ndarray  # (3, 24) unit-days: spawn run, fruiting rooms, waiting for a place
    limit_days: np.ndarray  # (7,)
    room_for: np.ndarray  # (1,)
    standing: np.ndarray  # (C,) units neither lost nor cleared at the end


class Scratch(NamedTuple):
    """Room for sums, so that the kernels make no arrays of their own."""

    units: np.ndarray  # (F, C) the day's starts
    before: np.ndarray  # (C, 5) clocks of a room an hour ago
    at: np.ndarray  # (5,) clocks at an event


@compiled
def done_share(now_h, event_h, width_h):
    """Share of a cohort that an event which begins at an hour has reached."""
    return min(1.0, max(0.0, (now_h - event_h) / width_h))


@compiled
def width_of(plan, c):
    """Hours over which the units of a cohort follow one another."""
    return max(1.0, plan.crops[c, of.SPREAD_DAYS] * 24.0)


@compiled
def spread(target, event_h, width_h, amount, month_start_h):
    """Add an amount to the months over which an event is spread; what comes later stays out."""
    for month in range(MONTHS):
        if month_start_h[month + 1] <= event_h:
            continue
        if month_start_h[month] >= event_h + width_h:
            return
        until = done_share(month_start_h[month + 1], event_h, width_h)
        target[month] += amount * (until - done_share(month_start_h[month], event_h, width_h))


@compiled
def stage_days(plan, c, stage):
    """Days on its clock that a stage needs: pinning and growth take turns, flush by flush."""
    k = plan.crops[c]
    if stage % 2 == 0:
        return k[of.PIN_DAYS]
    whole = k[of.FIRST_DAYS] if stage == 1 else k[of.INTERVAL_DAYS]
    return max(0.1, whole - k[of.PIN_DAYS])


@compiled
def tick_spawn(plan, pace, mass_c):
    """An hour of the spawn run at the temperature of its mass."""
    for c in range(plan.crops.shape[0]):
        k = plan.crops[c]
        core = mass_c + k[of.CORE_EXCESS]
        best = response.growth_share(
            k[of.GROWTH_REFERENCE], k[of.GROWTH_LEAST], k[of.GROWTH_BEST], k[of.GROWTH_MOST]
        )
        rate = response.growth_share(core, k[of.GROWTH_LEAST], k[of.GROWTH_BEST], k[of.GROWTH_MOST])
        pace.spawn[c, 0] += rate / max(best, 1e-3) / 24.0
        harm = response.damage_per_day(core, k[of.COLD_DAMAGE], k[of.HEAT_DAMAGE], k[of.DAMAGE])
        pace.spawn[c, 1] += harm / 24.0


@compiled
def tick_fruiting(plan, pace, f, air_c, mass_c, co2_ppm):
    """An hour of a fruiting room: its clocks move on."""
    for c in range(plan.crops.shape[0]):
        k = plan.crops[c]
        clock = pace.fruiting[f, c]
        hour = plan.pace_scale[f] / 24.0
        speed = response.fruiting_pace(air_c, k[of.FRUIT_STOP], k[of.FRUIT_REFERENCE])
        fits = response.within_share(
            air_c, k[of.PIN_LOW], k[of.PIN_HIGH], k[of.PIN_SHOULDER], k[of.PIN_SHOULDER]
        )
        pinning = hour * max(fits, k[of.PIN_SLOWEST] * speed)
        clock[PIN] += pinning
        clock[PIN_GOOD] += pinning * fits
        good = response.within_share(
            air_c, k[of.FRUIT_LOW], k[of.FRUIT_HIGH], k[of.FRUIT_COLD], k[of.FRUIT_HOT]
        ) * response.stale_air_share(co2_ppm, k[of.CO2_LIMIT], k[of.CO2_LOSS])
        clock[GROW] += hour * speed
        clock[GROW_GOOD] += hour * speed * good
        core = max(mass_c, air_c)
        clock[HARM] += (
            response.damage_per_day(core, -1e9, k[of.HEAT_DAMAGE], k[of.DAMAGE])
            + response.damage_per_day(mass_c, k[of.COLD_DAMAGE], 1e9, k[of.DAMAGE])
        ) / 24.0


@compiled
def finish_stages(plan, pace, placed, counts, scratch, f, now_h, month_start_h):
    """Cohorts of a room whose stage ended within the hour; returns kilograms picked in it."""
    picked, at = 0.0, scratch.at
    for c in range(plan.crops.shape[0]):
        after = pace.fruiting[f, c]
        for stage in range(2 * int(plan.crops[c, of.FLUSHES])):
            first = placed.number[f, c] if stage == 0 else placed.stage[f, c, stage - 1]
            done, kind = stage_days(plan, c, stage), 2 * (stage % 2)
            while placed.stage[f, c, stage] < first:
                j = placed.stage[f, c, stage]
                due = placed.clock[f, c, j] + done
                if after[kind] < due:
                    break
                part = _event_clocks(scratch, after, c, kind, due)
                share = max(0.0, (at[kind + 1] - placed.good[f, c, j]) / done)
                if kind == PIN:
                    placed.pinned_share[f, c, j] = share
                else:
                    picked += _pick(
                        plan,
                        placed,
                        counts,
                        f,
                        c,
                        j,
                        stage // 2,
                        share,
                        at,
                        now_h + part,
                        month_start_h,
                    )
                nxt = GROW - kind
                placed.clock[f, c, j], placed.good[f, c, j] = at[nxt], at[nxt + 1]
                placed.stage[f, c, stage] += 1
    return picked


@compiled
def _event_clocks(scratch, after, c, kind, due):
    """The clocks at the moment within the hour when one of them was due; returns that moment."""
    before = scratch.before[c]
    gone = after[kind] - before[kind]
    part = min(1.0, max(0.0, (due - before[kind]) / gone)) if gone > 0.0 else 1.0
    for k in range(5):
        scratch.at[k] = before[k] + part * (after[k] - before[k])
    return part


@compiled
def _pick(plan, placed, counts, f, c, j, flush, grown_share, at, event_h, month_start_h):
    width = width_of(plan, c)
    alive = math.exp(-max(0.0, at[HARM] - placed.harm[f, c, j]))
    full = placed.units[f, c, j] * alive * placed.pinned_share[f, c, j] * grown_share
    spread(counts.flushed[c, flush], event_h, width, full, month_start_h)
    second = full * max(0.0, 1.0 - grown_share)
    spread(counts.second[c, flush], event_h, width, second, month_start_h)
    if flush == int(plan.crops[c, of.FLUSHES]) - 1:
        cleared = event_h + plan.crops[c, of.CLEAR_DAYS] * 24.0
        placed.cleared_h[f, c, j], placed.survived_share[f, c, j] = cleared, alive
        units = placed.units[f, c, j]
        spread(counts.cleared[c], cleared, width, units * alive, month_start_h)
        spread(counts.lost[c], cleared, width, units * (1.0 - alive), month_start_h)
    return full * plan.flush_kg[c, flush]


@compiled
def drop_gone(plan, placed, f, c, now_h):
    """Forget cohorts that have wholly left their places."""
    over = width_of(plan, c) + plan.cleaning_days[f] * 24.0
    while (
        placed.head[f, c] < placed.number[f, c]
        and placed.cleared_h[f, c, placed.head[f, c]] + over <= now_h
    ):
        placed.head[f, c] += 1
