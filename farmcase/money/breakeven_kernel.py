"""Break-even of one scenario after the other, compiled; see `money/breakeven`.

A year is as in `breakeven.PricedYear`; results and what is worked in are handed in. Most outlets
are full in every month or empty in every month, and are then passed over.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from farmcase.compiled import compiled

_MOST_LINES = 200  # in the search for a price; halving alone comes to an end after about 60


class Work(NamedTuple):
    """What one scenario is worked out in; outlets O, pools P, months M."""

    order: np.ndarray  # (O,) outlets from best to worst at the prices of the plan
    other: np.ndarray  # (O,) the same at other prices
    price: np.ndarray  # (O, M) less fees, nominal
    handling: np.ndarray  # (O, M) nominal
    margin: np.ndarray  # (O, M) price less handling
    start: np.ndarray  # (O, M) the yield at which outlets before it are full; endless without crop
    full: np.ndarray  # (O, M) the yield at which it is full itself
    before: np.ndarray  # (O, M) kilograms that outlets before it take
    best: np.ndarray  # (O, M) the most that a kilogram may bring there or at worse outlets
    summed: np.ndarray  # (O, 4) lowest start, highest full, worth and kilograms once full
    left: np.ndarray  # (P, M) kilograms left over
    taken: np.ndarray  # (P, M) kilograms that outlets so far take
    last: np.ndarray  # (P, M) the yield at which the last outlet is full
    gap: np.ndarray  # (P, M) the most that a kilogram may bring, from the worst outlet up
    grown: np.ndarray  # (P, M) 1 where there is a crop
    per_kg: np.ndarray  # (P, M) 1 over the kilograms of the plan; 0 without crop
    never: np.ndarray  # (P, M) endless without crop, else 0


@compiled
def order_outlets(year, s, price_scale, order):
    """From the best net price to the worst, ties as in the table; says whether it has changed."""
    price, handling = year.order_price[s], year.order_handling[s]
    changed = False
    for place in range(1, order.size):
        o = order[place]
        net = price[o] * price_scale - handling[o]
        at = place
        while at > 0:
            beside = order[at - 1]
            of_beside = price[beside] * price_scale - handling[beside]
            if not (net > of_beside or (net == of_beside and o < beside)):
                break
            order[at] = beside
            changed = True
            at -= 1
        order[at] = o
    return changed


@compiled
def price_outlets(year, s, work):
    """The order at the prices of the plan, and what a kilogram brings and costs by month."""
    for o in range(work.order.size):
        work.order[o] = o
    order_outlets(year, s, 1.0, work.order)
    levels = year.price_level[min(s, year.price_level.shape[0] - 1)]
    general = year.handling_level[min(s, year.handling_level.shape[0] - 1)]
    single = year.price.shape[2] == 1
    for o in range(work.order.size):
        price, handling, margin = work.price[o], work.handling[o], work.margin[o]
        for m in range(price.size):
            at = 0 if single else m
            price[m] = year.price[s, o, at] * levels[m]
            handling[m] = year.handling[s, o, at] * general[m]
            margin[m] = price[m] - handling[m]


@compiled
def sell(year, s, yield_scale, order, work):
    """Revenue at the prices of the plan, what goes by kilograms costs, and kilograms sold."""
    revenue, cost, sold = 0.0, 0.0, 0.0
    unsold = year.unsold_cost[s]
    for p in range(work.left.shape[0]):
        kilograms, left = year.kilograms[s, p], work.left[p]
        picked = year.picked_cost[s, min(p, year.picked_cost.shape[1] - 1)]
        for m in range(left.size):
            left[m] = kilograms[m] * yield_scale
            cost += left[m] * picked[m]
    limits = year.limit_kg[min(s, year.limit_kg.shape[0] - 1)]
    for o in order:
        left, limit = work.left[year.pool[o]], limits[o]
        price, handling = work.price[o], work.handling[o]
        for m in range(left.size):
            taken = left[m] if left[m] < limit[m] else limit[m]
            left[m] -= taken
            revenue += taken * price[m]
            cost += taken * handling[m]
            sold += taken
    for p in range(work.left.shape[0]):
        left = work.left[p]
        for m in range(left.size):
            cost += left[m] * unsold[m]
    return revenue, cost, sold


@compiled
def sell_years(year, yield_scale, price_scale, work, profit, sold):
    """Profit and kilograms sold of every scenario, with its yields and its prices scaled."""
    for s in range(profit.size):
        price_outlets(year, s, work)
        order_outlets(year, s, price_scale[s], work.order)
        revenue, cost, sold[s] = sell(year, s, yield_scale[s], work.order, work)
        profit[s] = revenue * price_scale[s] - cost - year.fixed[0, s]


@compiled
def price_scale_of(year, s, revenue, cost, fixed, work):
    """The share of the plan's prices at which one scenario makes neither profit nor loss.

    While the order of outlets stays, profit is a straight line in the scale; where another order
    holds it is drawn anew. Scales of loss and profit close in, should lines lead back and forth.
    """
    scale, loss, gain = 1.0, -np.inf, np.inf
    for o in range(work.order.size):
        work.other[o] = work.order[o]
    for _ in range(_MOST_LINES):
        if not revenue > 0.0:
            return np.nan  # nothing is sold: no price can help
        if revenue * scale < cost + fixed:
            loss = max(loss, scale)
        else:
            gain = min(gain, scale)
        scale = (cost + fixed) / revenue
        led_out = not loss <= scale <= gain
        if led_out:
            scale = (loss + gain) / 2
        if not order_outlets(year, s, scale, work.other) and not led_out:
            return scale
        if not loss < scale < gain:
            return gain
        revenue, cost, _ = sell(year, s, 1.0, work.other, work)
    return scale


@compiled
def set_out(year, s, work):
    """Where each outlet is full, and the most that a further kilogram may bring beyond.

    Gives what work by weight costs in all at the yield of the plan.
    """
    picked = 0.0
    unsold = year.unsold_cost[s]
    work.taken[:] = 0.0
    for p in range(work.last.shape[0]):
        kilograms, last, gap = year.kilograms[s, p], work.last[p], work.gap[p]
        grown, per_kg, never = work.grown[p], work.per_kg[p], work.never[p]
        cost = year.picked_cost[s, min(p, year.picked_cost.shape[1] - 1)]
        for m in range(last.size):
            grown[m], per_kg[m], never[m] = 0.0, 0.0, np.inf
            if kilograms[m] > 0.0:
                grown[m], per_kg[m], never[m] = 1.0, 1.0 / kilograms[m], 0.0
            last[m] = never[m]
            gap[m] = -unsold[m]
            picked += kilograms[m] * cost[m]
    for o in work.order:
        _set_out_outlet(year, s, o, work)
    for o in work.order[::-1]:
        gap, margin, best = work.gap[year.pool[o]], work.margin[o], work.best[o]
        for m in range(gap.size):
            gap[m] = gap[m] if gap[m] > margin[m] else margin[m]
            best[m] = gap[m]
    return picked


@compiled
def _set_out_outlet(year, s, o, work):
    p = year.pool[o]
    margin, grown, per_kg, never = work.margin[o], work.grown[p], work.per_kg[p], work.never[p]
    limit = year.limit_kg[min(s, year.limit_kg.shape[0] - 1), o]
    taken, last = work.taken[p], work.last[p]
    start, full, before = work.start[o], work.full[o], work.before[o]
    lowest, highest, worth, sold = np.inf, -np.inf, 0.0, 0.0
    for m in range(taken.size):
        start[m], before[m] = last[m], taken[m]
        lowest = start[m] if start[m] < lowest else lowest
        takes = limit[m] * grown[m]
        taken[m] += takes
        at = taken[m] * per_kg[m]
        highest = at if at > highest else highest
        full[m] = at + never[m]
        last[m] = full[m]
        worth += takes * margin[m]
        sold += takes
    summed = work.summed[o]
    summed[0], summed[1], summed[2], summed[3] = lowest, highest, worth, sold


@compiled
def follow(year, s, at, picked, work):
    """At a yield: profit before fixed costs and kilograms sold; just beyond it how both rise.

    Gives profit, its slope, the steepest that may get, the next bend, kilograms sold, their slope.
    """
    profit, slope, steepest, bend = -picked * at, -picked, -picked, np.inf
    sold, rise = 0.0, 0.0
    for o in work.order:
        if at >= work.summed[o, 1]:
            profit += work.summed[o, 2]
            sold += work.summed[o, 3]
        elif at >= work.summed[o, 0]:
            kilograms = year.kilograms[s, year.pool[o]]
            limit = year.limit_kg[min(s, year.limit_kg.shape[0] - 1), o]
            margin, best, before = work.margin[o], work.best[o], work.before[o]
            start, full = work.start[o], work.full[o]
            for m in range(full.size):
                if at >= full[m]:
                    profit += limit[m] * margin[m]
                    sold += limit[m]
                elif at >= start[m]:
                    takes = kilograms[m] * at - before[m]
                    profit += takes * margin[m]
                    slope += kilograms[m] * margin[m]
                    steepest += kilograms[m] * best[m]
                    bend = min(bend, full[m])
                    sold += takes
                    rise += kilograms[m]
    unsold = year.unsold_cost[s]
    for p in range(work.last.shape[0]):
        kilograms, last, taken = year.kilograms[s, p], work.last[p], work.taken[p]
        for m in range(last.size):
            if at >= last[m]:
                profit -= (kilograms[m] * at - taken[m]) * unsold[m]
                slope -= kilograms[m] * unsold[m]
                steepest -= kilograms[m] * unsold[m]
    return profit, slope, steepest, bend, sold, rise


@compiled
def yield_scale_of(year, s, fixed, most, picked, work):
    """The lowest share of the plan's yield without a loss, and the kilograms sold at it.

    Profit is straight between the yields at which an outlet is full. It starts at none picked and
    moves up, never past the answer: to the next bend, or further where even the best that each
    further kilogram may bring would not have made up for the loss.
    """
    at = 0.0
    while at <= most:
        made, slope, steepest, bend, sold, rise = follow(year, s, at, picked, work)
        profit = made - fixed
        if profit >= 0.0:
            return at, sold
        step = -profit / slope if slope > 0.0 else np.inf
        if at + step <= bend and step < np.inf:
            at += step
            return (at, sold + rise * step) if at <= most else (np.nan, np.nan)
        if not steepest > 0.0 or bend == np.inf:
            break
        at = max(bend, at - profit / steepest)
    return np.nan, np.nan


@compiled
def _at_entered_prices(year, s, work):
    """What is sold at the yield of the plan would bring at the prices as entered."""
    entered = year.entered_price[min(s, year.entered_price.shape[0] - 1)]
    total = 0.0
    for o in range(entered.size):
        kilograms = year.kilograms[s, year.pool[o]]
        limit = year.limit_kg[min(s, year.limit_kg.shape[0] - 1), o]
        sold, before = 0.0, work.before[o]
        for m in range(limit.size):
            sold += min(limit[m], max(0.0, kilograms[m] - before[m]))
        total += sold * entered[o]
    return total


@compiled
def break_evens(year, leaves, most, work, out):
    """Both break-evens of every scenario for each row of `fixed`, (F, S); see `BreakEvens`.

    Where it `leaves` something, `fixed` stands for what the year leaves in all instead, and the
    fixed costs are what the plan makes beyond that.
    """
    yields, sold, prices = out.yield_scale, out.sold_kg, out.price_scale
    for s in range(most.size):
        price_outlets(year, s, work)
        picked = set_out(year, s, work)
        revenue, cost, kilograms = sell(year, s, 1.0, work.order, work)
        out.mean_price[s] = _at_entered_prices(year, s, work) / kilograms if kilograms else np.nan
        for f in range(year.fixed.shape[0]):
            fixed = year.fixed[f, s]
            if leaves:
                fixed = revenue - cost - fixed
            if fixed == fixed:
                yields[f, s], sold[f, s] = yield_scale_of(year, s, fixed, most[s], picked, work)
                prices[f, s] = price_scale_of(year, s, revenue, cost, fixed, work)
            else:
                yields[f, s] = sold[f, s] = prices[f, s] = np.nan
