"""The compiled kernel of the cohorts: clocks of development, places booked day by day, starts.

All of it stands in one file, since the cache of compiled code watches only the file of the
outermost function.
"""

from __future__ import annotations

import numpy as np

from farmcase.compiled import compiled

DAYS = 730
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


@compiled
def clock_at(clock, time):
    """Development [days] reached at a time [days], from a daily clock."""
    day = min(int(time), clock.size - 2)
    return clock[day] + (time - day) * (clock[day + 1] - clock[day])


@compiled
def time_at(clock, development, start):
    """First time [days] from `start` on at which a development [days] is reached."""
    day = min(int(start), clock.size - 2)
    while day < clock.size - 2 and clock[day + 1] < development:
        day += 1
    return day + (development - clock[day]) / (clock[day + 1] - clock[day])


@compiled
def spread(target, time, amount, month_of_day):
    """Add an amount to the months of the two days it falls on."""
    day = min(int(time), month_of_day.size - 2)
    late = min(1.0, time - day)
    target[month_of_day[day]] += amount * (1.0 - late)
    target[month_of_day[day + 1]] += amount * late


@compiled
def book(occupied, start, end, units):
    """Take places from start to end [days]; a part of a day counts by its part."""
    for day in range(int(start), min(int(end) + 1, occupied.size)):
        part = min(end, day + 1.0) - max(start, float(day))
        if part > 0.0:
            occupied[day] += units * part


@compiled
def fewest_free(occupied, places, start, end):
    """Fewest places free from start to end [days]; a day counts by the part of it asked for."""
    free = np.inf
    for day in range(int(start), min(int(end) + 1, occupied.size)):
        part = min(end, day + 1.0) - max(start, float(day))
        if part > 0.0:
            free = min(free, (places[day] - occupied[day]) / part)
    return max(0.0, free)


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
def _cap_by_vessel(inputs, g, units):  # only crops whose substrate is treated here wait for it
    treated = 0.0
    for c in range(units.shape[1]):
        treated += units[:, c].sum() * inputs.prepared_here[g, c]
    if treated <= inputs.vessel_per_day[g] * (1.0 + 1e-9):
        return False
    for c in range(units.shape[1]):
        if inputs.prepared_here[g, c] > 0.0:
            units[:, c] *= inputs.vessel_per_day[g] / treated
    return True


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
def _cap_by_spawn_run(inputs, g, day, in_spawn, units):  # only crops that pass through it wait
    use, starting, free = 0.0, 0.0, np.inf
    for c in range(units.shape[1]):
        if inputs.spawn_days[g, c] > 0.0:
            use += units[:, c].sum() * inputs.spawn_days[g, c]
            starting += units[:, c].sum()
            end = day + inputs.spawn_days[g, c]
            room = np.full(in_spawn.size, inputs.spawn_places[g])
            free = min(free, fewest_free(in_spawn, room, float(day), end))
    if starting <= 0.0:
        return False
    scale = min(inputs.spawn_places[g] / use, free / starting)
    if scale >= 1.0 - 1e-9:
        return False
    for c in range(units.shape[1]):
        if inputs.spawn_days[g, c] > 0.0:
            units[:, c] *= scale
    return True


@compiled
def _whole_farm(inputs, g, units):  # the tighter of hours and cold store, and how far they allow
    total, kilograms = units.sum(), 0.0
    if total <= 0.0:
        return 1.0, WANTED
    for c in range(units.shape[1]):
        kilograms += units[:, c].sum() * inputs.kg_per_unit[g, c]
    scale, limit = 1.0, WANTED
    tries = (
        (inputs.hours_per_day[g] / max(1e-12, total * inputs.hours_per_unit[g]), HOURS),
        (inputs.store_kg[g] / (kilograms * inputs.days_held[g]), COLD_STORE),
    )
    for value, name in tries:
        if value < scale * (1.0 - 1e-9):
            scale, limit = value, name
    return scale, limit


@compiled
def _room_for(inputs, g, day, places, in_rooms, units, leave):  # starts that the places would take
    most, own, use = 0.0, 0.0, 0.0
    for r in range(units.shape[0]):
        scale = _room_scale(inputs, g, r, day, places, in_rooms, units, leave, False)
        for c in range(units.shape[1]):
            if inputs.spawn_days[g, c] > 0.0:
                own += units[r, c] * scale
                use += units[r, c] * scale * inputs.spawn_days[g, c]
            else:
                most += units[r, c] * scale
    if use > inputs.spawn_places[g]:
        own *= inputs.spawn_places[g] / use
    return most + own


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
    if _cap_by_vessel(inputs, g, units):
        limit = VESSEL
    if _cap_by_spawn_run(inputs, g, day, in_spawn, units):
        limit = SPAWN_PLACES
    scale, tightest = _whole_farm(inputs, g, units)
    units *= scale
    if day >= DAYS - 365:
        out.limit_days[g, tightest if tightest != WANTED else limit] += 1.0
    _record(inputs, g, day, clock, units, leave, in_spawn, in_rooms, month_of_day, out)


@compiled
def run(inputs, calendar, month_of_day, out):
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
