"""What a grower does each morning: move what has run through, start as much as there is room for.

Starts follow the pace of the last week, as a grower would: no more a day than the places of a
room divided by the days a unit now stays in it, and fewer when more units are on their way or
placed than there will be room for at that pace.
"""

from __future__ import annotations

import math

from farmcase.compiled import compiled
from farmcase.crop import cohort_kernel as k
from farmcase.crop import fields_kernel as of


@compiled
def standing_units(plan, started, placed, f, c, now_h):
    """Units of a crop for a room: in the spawn run or waiting, placed, and still taking places."""
    before, inside, taken = 0.0, 0.0, 0.0
    for i in range(started.head[f, c], started.number[f, c]):
        before += started.units[f, c, i] * (1.0 - started.moved_share[f, c, i])
    width = k.width_of(plan, c)
    cleaning = plan.cleaning_days[f] * 24.0
    for j in range(placed.head[f, c], placed.number[f, c]):
        units = placed.units[f, c, j]
        cleared = placed.cleared_h[f, c, j]
        inside += units * (1.0 - k.done_share(now_h, cleared, width))
        taken += units * (1.0 - k.done_share(now_h, cleared + cleaning, width))
    return before, inside, taken


@compiled
def ready_share(plan, pace, started, f, c, i):
    """Share of a cohort that has run through; units differ by some days."""
    need = plan.crops[c, of.SPAWN_DAYS]
    if need <= 0.0:
        return 1.0
    half = max(0.02, 0.5 * plan.crops[c, of.SPREAD_DAYS])
    gone = pace.spawn[c, 0] - started.clock[f, c, i]
    return min(1.0, max(0.0, (gone - need + half) / (2.0 * half)))


@compiled
def _waiting(plan, pace, started, f, c):  # good units that are ready but not moved
    good = 0.0
    for i in range(started.head[f, c], started.number[f, c]):
        ready = ready_share(plan, pace, started, f, c, i) - started.moved_share[f, c, i]
        some = started.units[f, c, i] * max(0.0, ready)
        alive = math.exp(-max(0.0, pace.spawn[c, 1] - started.harm[f, c, i]))
        good += some * (1.0 - plan.crops[c, of.LOSS]) * alive
    return good


@compiled
def move_ready(plan, pace, started, placed, counts, f, month, calendar_month, now_h, month_start_h):
    """Move what has run through into its fruiting room, as far as places are free."""
    crops = plan.crops.shape[0]
    taken, waiting = 0.0, 0.0
    for c in range(crops):
        taken += standing_units(plan, started, placed, f, c, now_h)[2]
        waiting += _waiting(plan, pace, started, f, c)
    places = (
        plan.places[f] * plan.usable_share[f, calendar_month] * plan.open_share[f, calendar_month]
    )
    if waiting <= 0.0 or places <= taken:
        return
    scale = min(1.0, (places - taken) / waiting)
    for c in range(crops):
        good = _move_crop(plan, pace, started, counts, f, c, scale, now_h, month_start_h)
        if good > 0.0:
            j = placed.number[f, c]
            placed.units[f, c, j] = good
            placed.clock[f, c, j] = pace.fruiting[f, c, k.PIN]
            placed.good[f, c, j] = pace.fruiting[f, c, k.PIN_GOOD]
            placed.harm[f, c, j] = pace.fruiting[f, c, k.HARM]
            placed.cleared_h[f, c, j] = 1e18
            placed.number[f, c] = j + 1
            counts.placed[c, month] += good


@compiled
def _move_crop(plan, pace, started, counts, f, c, scale, now_h, month_start_h):
    moved = 0.0
    for i in range(started.head[f, c], started.number[f, c]):
        ready = ready_share(plan, pace, started, f, c, i) - started.moved_share[f, c, i]
        if ready <= 0.0:
            continue
        share = ready * scale
        started.moved_share[f, c, i] += share
        units = started.units[f, c, i] * share
        alive = math.exp(-max(0.0, pace.spawn[c, 1] - started.harm[f, c, i]))
        good = units * (1.0 - plan.crops[c, of.LOSS]) * alive
        k.spread(counts.lost[c], now_h, 1.0, units - good, month_start_h)
        moved += good
    while (
        started.head[f, c] < started.number[f, c]
        and started.moved_share[f, c, started.head[f, c]] >= 1.0 - 1e-9
    ):
        # what rounding left of a cohort goes with it
        i = started.head[f, c]
        rest = started.units[f, c, i] * (1.0 - started.moved_share[f, c, i])
        started.moved_share[f, c, i] = 1.0
        moved += rest
        started.head[f, c] += 1
    return moved


@compiled
def follow_pace(plan, pace):
    """The pace of the last week, from the clocks of the day gone by."""
    keep = 1.0 / k.LOOK_BACK_DAYS
    for c in range(plan.crops.shape[0]):
        day = pace.spawn[c, 0] - pace.spawn_yesterday[c]
        pace.spawn_week[c] += keep * (day - pace.spawn_week[c])
        pace.spawn_yesterday[c] = pace.spawn[c, 0]
        for f in range(plan.places.size):
            for stage in range(2):
                clock = pace.fruiting[f, c, 2 * stage]
                day = clock - pace.fruiting_yesterday[f, c, stage]
                pace.fruiting_week[f, c, stage] += keep * (day - pace.fruiting_week[f, c, stage])
                pace.fruiting_yesterday[f, c, stage] = clock


@compiled
def _stay_days(plan, pace, f, c):  # days a unit keeps its place at the pace of the last week
    pin = max(k.LEAST_PACE, pace.fruiting_week[f, c, 0])
    grow = max(k.LEAST_PACE, pace.fruiting_week[f, c, 1])
    days = plan.crops[c, of.CLEAR_DAYS] + plan.cleaning_days[f]
    days += 0.5 * plan.crops[c, of.SPREAD_DAYS] + 0.5  # a place is filled again in the morning
    for stage in range(2 * int(plan.crops[c, of.FLUSHES])):
        days += k.stage_days(plan, c, stage) / (pin if stage % 2 == 0 else grow)
    return days


@compiled
def _spawn_stay_days(plan, pace, c):
    if plan.crops[c, of.SPAWN_DAYS] <= 0.0:
        return 0.0
    return plan.crops[c, of.SPAWN_DAYS] / max(k.LEAST_PACE, pace.spawn_week[c]) + 0.5


@compiled
def _room_scale(plan, pace, f, calendar_month, units):
    # how far the day's starts may go by places alone; units a day that are placed then; units on
    # their way or placed when all is even
    use, good, ahead = 0.0, 0.0, 0.0
    for c in range(units.shape[1]):
        some = units[f, c] * (1.0 - plan.crops[c, of.LOSS])
        use += some * _stay_days(plan, pace, f, c)
        ahead += some * _spawn_stay_days(plan, pace, c)
        good += some
    if use <= 0.0:
        return 1.0, 0.0, 0.0
    places = plan.places[f] * plan.usable_share[f, calendar_month]
    return places / use, places / use * good, places * (1.0 + ahead / use)


@compiled
def _room_share(plan, pace, started, placed, f, calendar_month, units, now_h):
    # the same, and fewer when more is on its way or placed than there will be room for
    scale, per_day, even = _room_scale(plan, pace, f, calendar_month, units)
    have = 0.0
    for c in range(units.shape[1]):
        before, _, taken = standing_units(plan, started, placed, f, c, now_h)
        have += before * (1.0 - plan.crops[c, of.LOSS]) + taken
    over = (have - even) / max(per_day * k.LOOK_BACK_DAYS, 1e-9)
    return scale * min(1.0, max(0.0, 1.0 - over))


@compiled
def _scale_crop(units, c, by):
    for f in range(units.shape[0]):
        units[f, c] *= by


@compiled
def _cap_by_demand(plan, pace, month, units):  # crop by crop, in the month of picking
    capped = False
    for c in range(units.shape[1]):
        asked = units[:, c].sum()
        ahead = _spawn_stay_days(plan, pace, c) + plan.crops[c, of.FIRST_DAYS]
        picked = min(month + ahead / 30.4, k.MONTHS - 1.001)
        first, late = int(picked), picked - int(picked)
        demand = plan.demand_kg_per_day[c]
        most = demand[first] * (1.0 - late) + demand[first + 1] * late
        most /= plan.crops[c, of.KG_PER_UNIT]
        if asked > most * (1.0 + 1e-9):
            _scale_crop(units, c, most / asked)
            capped = True
    return capped


@compiled
def _cap_by_vessel(plan, units):  # only crops whose substrate is treated here wait for it
    treated = 0.0
    for c in range(units.shape[1]):
        treated += units[:, c].sum() * plan.crops[c, of.PREPARED]
    if treated <= plan.farm[k.F_VESSEL] * (1.0 + 1e-9):
        return False
    for c in range(units.shape[1]):
        if plan.crops[c, of.PREPARED] > 0.0:
            _scale_crop(units, c, plan.farm[k.F_VESSEL] / treated)
    return True


@compiled
def _spawn_scale(plan, pace, units, free):  # by the days of the spawn run, and by free places
    use, starting = 0.0, 0.0
    for c in range(units.shape[1]):
        if plan.crops[c, of.SPAWN_DAYS] > 0.0:
            use += units[:, c].sum() * _spawn_stay_days(plan, pace, c)
            starting += units[:, c].sum()
    if starting <= 0.0:
        return 1.0
    return min(1.0, plan.farm[k.F_SPAWN] / use, max(0.0, free) / starting)


@compiled
def _whole_farm(plan, units):  # the tighter of hours and cold store, and how far they allow
    total, kilograms = units.sum(), 0.0
    if total <= 0.0:
        return 1.0, k.WANTED
    for c in range(units.shape[1]):
        kilograms += units[:, c].sum() * plan.crops[c, of.KG_PER_UNIT]
    hours = plan.farm[k.F_HOURS] / max(1e-12, total * plan.farm[k.F_HOURS_PER_UNIT])
    store = plan.farm[k.F_STORE] / (kilograms * plan.farm[k.F_HELD])
    scale, limit = 1.0, k.WANTED
    if hours < scale * (1.0 - 1e-9):
        scale, limit = hours, k.HOURS
    if store < scale * (1.0 - 1e-9):
        scale, limit = store, k.COLD_STORE
    return scale, limit


@compiled
def _room_for(plan, pace, calendar_month, units):  # starts that the places would take
    most, own, use = 0.0, 0.0, 0.0
    for f in range(units.shape[0]):
        scale = _room_scale(plan, pace, f, calendar_month, units)[0]
        for c in range(units.shape[1]):
            if plan.crops[c, of.SPAWN_DAYS] > 0.0:
                own += units[f, c] * scale
                use += units[f, c] * scale * _spawn_stay_days(plan, pace, c)
            else:
                most += units[f, c] * scale
    if use > plan.farm[k.F_SPAWN]:
        own *= plan.farm[k.F_SPAWN] / use
    return most + own


@compiled
def start_day(plan, pace, started, placed, counts, scratch, day, month, calendar_month, in_spawn):
    """Start the day's units, as many as the tightest limit allows."""
    units = scratch.units
    everything = plan.places.sum()
    for f in range(units.shape[0]):
        part = plan.places[f] / everything if everything > 0.0 else 0.0
        for c in range(units.shape[1]):
            share = plan.start_share[f, c, calendar_month] * plan.open_share[f, calendar_month]
            units[f, c] = plan.farm[k.F_WANTED] * part * share
    limit = k.WANTED
    settled = day >= k.DAYS - 365
    if settled:
        counts.room_for[0] += _room_for(plan, pace, calendar_month, units)
    if _cap_by_demand(plan, pace, month, units):
        limit = k.DEMAND
    for f in range(units.shape[0]):
        scale = _room_share(plan, pace, started, placed, f, calendar_month, units, day * 24.0)
        if scale < 1.0 - 1e-9:
            for c in range(units.shape[1]):
                units[f, c] *= scale
            limit = k.FRUITING_PLACES
    if _cap_by_vessel(plan, units):
        limit = k.VESSEL
    scale = _spawn_scale(plan, pace, units, plan.farm[k.F_SPAWN] - in_spawn)
    if scale < 1.0 - 1e-9:
        limit = k.SPAWN_PLACES
        for c in range(units.shape[1]):
            if plan.crops[c, of.SPAWN_DAYS] > 0.0:
                _scale_crop(units, c, scale)
    scale, tightest = _whole_farm(plan, units)
    for c in range(units.shape[1]):
        _scale_crop(units, c, scale)
    if settled:
        counts.limit_days[tightest if tightest != k.WANTED else limit] += 1.0
    for f in range(units.shape[0]):
        for c in range(units.shape[1]):
            if units[f, c] > 0.0:
                i = started.number[f, c]
                started.units[f, c, i] = units[f, c]
                started.clock[f, c, i] = pace.spawn[c, 0]
                started.harm[f, c, i] = pace.spawn[c, 1]
                started.number[f, c] = i + 1
                counts.started[c, month] += units[f, c]
