"""Cohorts: what is started each week, where it stands, when it is picked, lost and cleared.

Batches are started weekly and spread over the days of the week. A batch books its places ahead,
in the spawn run and then in its fruiting room, for as many days as the room's pace asks for; so a
full room is never overbooked, and nothing has to wait. Starts may be part of a unit, and events
that fall within a day are split over two, so that kilograms change smoothly with every input.

Last axis of every result: months since the first starts (a start-up year, a settled year).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import compiled
from farmcase.crop.bookings import book, clock_at, fewest_free, spread, time_at

Floats = NDArray[np.float64]

DAYS = 730
MONTHS = 24
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
_TAIL = 900  # days after the last start, so that every unit is cleared within the arrays
_BINS = 54  # months from the first starts to the end of the tail


class CohortInputs(NamedTuple):
    """What the cohorts need; G groups of inputs, R fruiting rooms, C crops, 12 or 24 months."""

    wanted_per_day: Floats  # (G,) units
    vessel_per_day: Floats  # (G,) units; inf without a vessel
    hours_per_day: Floats  # (G,) h
    hours_per_unit: Floats  # (G,) h
    store_kg: Floats  # (G,) kg; inf without a cold store
    days_held: Floats  # (G,) days
    demand_kg_per_day: Floats  # (G, C, 24) kg
    spawn_places: Floats  # (G,) units; inf without a spawn run
    fruiting_places: Floats  # (G, R) units
    start_share: Floats  # (G, R, C, 12)
    pace: Floats  # (G, R, 12) development days per day
    empty_share: Floats  # (G, R, 12) share of a month without crop
    cleaning_days: Floats  # (G, R)
    kg_per_unit: Floats  # (G, C) planned kilograms per unit started
    spawn_days: Floats  # (G, C)
    first_days: Floats  # (G, C)
    interval_days: Floats  # (G, C)
    clear_days: Floats  # (G, C)
    flushes: NDArray[np.int64]  # (G, C)
    loss_share: Floats  # (G, C)


class Cohorts(NamedTuple):
    """Units by group, crop and month since the first starts; 24 months are run, then all clears.

    The arrays have 54 months, so that starts equal units lost and cleared over the whole of them.
    """

    started: Floats  # (G, C, 54)
    placed: Floats  # (G, C, 54)
    lost: Floats  # (G, C, 54)
    cleared: Floats  # (G, C, 54)
    flushed: Floats  # (G, C, F, 54) units whose flush was picked
    occupied: Floats  # (G, 2, 54) unit-days in the spawn run and in the fruiting rooms
    limit_days: Floats  # (G, 7) days of the settled year on which each limit was the tightest
    room_for: Floats  # (G,) units that the places alone would take in the settled year


def step_cohorts(inputs: CohortInputs, first_month: int) -> Cohorts:
    """Run two years of starts for every group of inputs, and let what was started finish.

    Parameters
    ----------
    inputs : see `CohortInputs`
    first_month : calendar month of the first starts, 0 for January
    """
    groups, _, crops, _ = inputs.start_share.shape
    shape = (groups, crops, _BINS)
    out = Cohorts(
        started=np.zeros(shape),
        placed=np.zeros(shape),
        lost=np.zeros(shape),
        cleared=np.zeros(shape),
        flushed=np.zeros((groups, crops, int(inputs.flushes.max()), _BINS)),
        occupied=np.zeros((groups, 2, _BINS)),
        limit_days=np.zeros((groups, len(LIMITS))),
        room_for=np.zeros(groups),
    )
    calendar, month_of_day = day_calendar(first_month)
    prepared = CohortInputs._make(np.ascontiguousarray(a) for a in inputs)
    _run(prepared, calendar, month_of_day, out)
    return out


def day_calendar(first_month: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Calendar month (0 to 11) and month since the first starts of each day, tail included."""
    lengths = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    order = (first_month + np.arange(_BINS + 6)) % 12
    months = np.repeat(np.arange(_BINS + 6), lengths[order])[: DAYS + _TAIL]
    return order[months].astype(np.int64), np.minimum(months, _BINS - 1).astype(np.int64)


@compiled
def _clocks(inputs, g, calendar):  # each room's development clock, and its places day by day
    rooms = inputs.fruiting_places.shape[1]
    clock = np.zeros((rooms, calendar.size + 1))
    places = np.zeros((rooms, calendar.size))
    for r in range(rooms):
        for day in range(calendar.size):
            month = calendar[day]
            clock[r, day + 1] = clock[r, day] + inputs.pace[g, r, month]
            places[r, day] = inputs.fruiting_places[g, r] * (1.0 - inputs.empty_share[g, r, month])
    return clock, places


@compiled
def _leave(inputs, g, r, c, day, clock):  # when a unit started today frees its place, cleaned
    into = day + inputs.spawn_days[g, c]
    stay = (
        inputs.first_days[g, c]
        + (inputs.flushes[g, c] - 1) * inputs.interval_days[g, c]
        + inputs.clear_days[g, c]
    )
    out = time_at(clock[r], clock_at(clock[r], into) + stay, into)
    return out + inputs.cleaning_days[g, r]


@compiled
def _as_wanted(inputs, g, day, month, clock, units, leave):  # the day's starts, nothing in the way
    everything = inputs.fruiting_places[g].sum()
    for r in range(units.shape[0]):
        part = inputs.fruiting_places[g, r] / everything if everything > 0.0 else 0.0
        for c in range(units.shape[1]):
            units[r, c] = inputs.wanted_per_day[g] * part * inputs.start_share[g, r, c, month]
            leave[r, c] = _leave(inputs, g, r, c, day, clock)


@compiled
def _cap_by_demand(inputs, g, day, month_of_day, units):  # crop by crop, on the day of picking
    for c in range(units.shape[1]):
        asked = units[:, c].sum()
        picked = min(int(day + inputs.spawn_days[g, c] + inputs.first_days[g, c]), DAYS - 1)
        most = inputs.demand_kg_per_day[g, c, month_of_day[picked]] / inputs.kg_per_unit[g, c]
        if asked > most:
            units[:, c] *= most / asked


@compiled
def _room_scale(inputs, g, r, day, places, in_rooms, units, leave, booked):
    # how far the day's starts may go so that the room fills no faster than it empties
    use, good, free = 0.0, 0.0, np.inf
    at = day
    for c in range(units.shape[1]):
        if units[r, c] > 0.0:
            into = day + inputs.spawn_days[g, c]
            placed = units[r, c] * (1.0 - inputs.loss_share[g, c])
            use += placed * (leave[r, c] - into)
            good += placed
            at = max(at, int(into))
            if booked:
                free = min(free, fewest_free(in_rooms[r], places[r], into, leave[r, c]))
    if good <= 0.0:
        return 1.0
    return min(places[r, min(at, places.shape[1] - 1)] / use, free / good)


@compiled
def _whole_farm(inputs, g, day, in_spawn, spawn_room, units):
    # the tightest of vessel, hours, cold store and spawn run, and how far starts may go under it
    total, kilograms, spawn_use, free = units.sum(), 0.0, 0.0, np.inf
    if total <= 0.0:
        return 1.0, WANTED
    for c in range(units.shape[1]):
        kilograms += units[:, c].sum() * inputs.kg_per_unit[g, c]
        spawn_use += units[:, c].sum() * inputs.spawn_days[g, c]
        if inputs.spawn_days[g, c] > 0.0:
            end = day + inputs.spawn_days[g, c]
            free = min(free, fewest_free(in_spawn, spawn_room, float(day), end))
    scale, limit = 1.0, WANTED
    tries = (
        (inputs.vessel_per_day[g] / total, VESSEL),
        (inputs.hours_per_day[g] / max(1e-12, total * inputs.hours_per_unit[g]), HOURS),
        (inputs.store_kg[g] / (kilograms * inputs.days_held[g]), COLD_STORE),
        (inputs.spawn_places[g] / max(1e-12, spawn_use), SPAWN_PLACES),
        (free / total, SPAWN_PLACES),
    )
    for value, name in tries:
        if value < scale * (1.0 - 1e-9):
            scale, limit = value, name
    return scale, limit


@compiled
def _room_for(inputs, g, day, places, in_rooms, units, leave):  # starts that the places would take
    most, spawn_use = 0.0, 0.0
    for r in range(units.shape[0]):
        scale = _room_scale(inputs, g, r, day, places, in_rooms, units, leave, False)
        for c in range(units.shape[1]):
            most += units[r, c] * scale
            spawn_use += units[r, c] * scale * inputs.spawn_days[g, c]
    if spawn_use > inputs.spawn_places[g]:
        return most * inputs.spawn_places[g] / spawn_use
    return most


@compiled
def _record(inputs, g, day, clock, units, leave, in_spawn, in_rooms, month_of_day, out):
    for c in range(units.shape[1]):
        into = day + inputs.spawn_days[g, c]
        for r in range(units.shape[0]):
            if units[r, c] <= 0.0:
                continue
            good = units[r, c] * (1.0 - inputs.loss_share[g, c])
            out.started[g, c, month_of_day[day]] += units[r, c]
            book(in_spawn, float(day), into, units[r, c])
            book(in_rooms[r], into, leave[r, c], good)
            spread(out.lost[g, c], into, units[r, c] - good, month_of_day)
            spread(out.placed[g, c], into, good, month_of_day)
            reached = clock_at(clock[r], into)
            for k in range(inputs.flushes[g, c]):
                age = reached + inputs.first_days[g, c] + k * inputs.interval_days[g, c]
                spread(out.flushed[g, c, k], time_at(clock[r], age, into), good, month_of_day)
            spread(out.cleared[g, c], leave[r, c] - inputs.cleaning_days[g, r], good, month_of_day)


@compiled
def _start_day(inputs, g, day, calendar, month_of_day, clock, places, in_spawn, in_rooms, out):
    units = np.zeros((clock.shape[0], inputs.kg_per_unit.shape[1]))
    leave = np.zeros(units.shape)
    limit = WANTED
    _as_wanted(inputs, g, day, calendar[day], clock, units, leave)
    asked = units.sum()
    if day >= DAYS - 365:
        out.room_for[g] += _room_for(inputs, g, day, places, in_rooms, units, leave)
    _cap_by_demand(inputs, g, day, month_of_day, units)
    if units.sum() < asked * (1.0 - 1e-9):
        limit = DEMAND
    for r in range(units.shape[0]):
        scale = _room_scale(inputs, g, r, day, places, in_rooms, units, leave, True)
        if scale < 1.0 - 1e-9:
            units[r] *= scale
            limit = FRUITING_PLACES
    spawn_room = np.full(in_spawn.size, inputs.spawn_places[g])
    scale, tightest = _whole_farm(inputs, g, day, in_spawn, spawn_room, units)
    units *= scale
    if day >= DAYS - 365:
        out.limit_days[g, tightest if tightest != WANTED else limit] += 1.0
    _record(inputs, g, day, clock, units, leave, in_spawn, in_rooms, month_of_day, out)


@compiled
def _run(inputs, calendar, month_of_day, out):
    for g in range(inputs.wanted_per_day.size):
        clock, places = _clocks(inputs, g, calendar)
        in_spawn = np.zeros(calendar.size)
        in_rooms = np.zeros(places.shape)
        for day in range(DAYS):
            _start_day(
                inputs, g, day, calendar, month_of_day, clock, places, in_spawn, in_rooms, out
            )
        for day in range(calendar.size):
            out.occupied[g, 0, month_of_day[day]] += in_spawn[day]
            out.occupied[g, 1, month_of_day[day]] += in_rooms[:, day].sum()
