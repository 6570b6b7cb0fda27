"""Break-even of one scenario after the other, compiled; see `money/breakeven`.

A year of sales is as in `breakeven.SaleYear`, with a row for every scenario. Nothing is made here:
results and what is worked in are handed in.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from farmcase.compiled import compiled

_MOST_LINES = 200  # in the search for a price; halving alone comes to an end after about 60


class Work(NamedTuple):
    """What one scenario is worked out in; outlets O, pools P, months M."""

    order: np.ndarray  # (O,) outlets from best to worst
    taken: np.ndarray  # (P,) of a month: kilograms that the outlets so far take, or what is left
    reached: np.ndarray  # (P,) of a month: the yield at which the outlets so far are full
    full: np.ndarray  # (O, M) the yield at which an outlet is full
    best: np.ndarray  # (O, M) the most that a kilogram may bring there or at worse outlets
    gap: np.ndarray  # (P,) the same while going from the worst to the best


@compiled
def order_outlets(year, s, price_scale, order):
    """From the best net price to the worst, ties as in the table; says whether it has changed."""
    price, handling = year.order_price[s], year.order_handling[s]
    changed = False
    for o in range(order.size):
        net = price[o] * price_scale - handling[o]
        better = 0
        for other in range(order.size):
            beside = price[other] * price_scale - handling[other]
            if beside > net or (beside == net and other < o):
                better += 1
        changed |= order[better] != o
        order[better] = o
    return changed


@compiled
def sell(year, s, yield_scale, order, left):
    """Revenue at the prices of the plan, all costs of the year, and kilograms sold."""
    revenue, cost, sold = 0.0, year.fixed[s], 0.0
    for m in range(year.kilograms.shape[2]):
        for p in range(left.size):
            left[p] = year.kilograms[s, p, m] * yield_scale
            cost += left[p] * year.picked_cost[s, p, m]
        for o in order:
            p = year.pool[o]
            taken = min(left[p], year.limit_kg[s, o, m])
            left[p] -= taken
            revenue += taken * year.price[s, o, m]
            cost += taken * year.handling[s, o, m]
            sold += taken
        for p in range(left.size):
            cost += left[p] * year.unsold_cost[s, m]
    return revenue, cost, sold


@compiled
def sell_years(year, yield_scale, price_scale, work, profit, sold):
    """Profit and kilograms sold of every scenario, with its yields and its prices scaled."""
    for s in range(profit.size):
        order_outlets(year, s, price_scale[s], work.order)
        revenue, cost, sold[s] = sell(year, s, yield_scale[s], work.order, work.taken)
        profit[s] = revenue * price_scale[s] - cost


@compiled
def price_scale_of(year, s, work):
    """The share of the plan's prices at which one scenario makes no profit and no loss.

    While the order of the outlets stays, profit is a straight line in the scale. Where the order
    is another at the scale the line leads to, the line is drawn anew there. Scales known to make a
    loss and a profit close in on the answer, should the lines lead back and forth.
    """
    scale, loss, gain = 1.0, -np.inf, np.inf
    order_outlets(year, s, scale, work.order)
    for _ in range(_MOST_LINES):
        revenue, cost, _ = sell(year, s, 1.0, work.order, work.taken)
        if not revenue > 0.0:
            return np.nan  # nothing is sold: no price can help
        if revenue * scale < cost:
            loss = max(loss, scale)
        else:
            gain = min(gain, scale)
        scale = cost / revenue
        led_out = not loss <= scale <= gain
        if led_out:
            scale = (loss + gain) / 2
        if not order_outlets(year, s, scale, work.order) and not led_out:
            return scale
        if not loss < scale < gain:
            return gain
    return scale


@compiled
def set_out(year, s, work):
    """Where each outlet is full, and the most that a further kilogram may bring beyond."""
    for m in range(year.kilograms.shape[2]):
        work.taken[:] = 0.0
        for o in work.order:
            p = year.pool[o]
            work.taken[p] += year.limit_kg[s, o, m]
            if year.kilograms[s, p, m] > 0.0:
                work.full[o, m] = work.taken[p] / year.kilograms[s, p, m]
        work.gap[:] = -year.unsold_cost[s, m]
        for o in work.order[::-1]:
            p = year.pool[o]
            work.gap[p] = max(work.gap[p], year.price[s, o, m] - year.handling[s, o, m])
            work.best[o, m] = work.gap[p]


@compiled
def follow(year, s, at, work):
    """Profit at a yield; just beyond it the slope, the steepest it may get, and the next bend."""
    profit, slope, steepest, bend = -year.fixed[s], 0.0, 0.0, np.inf
    for m in range(year.kilograms.shape[2]):
        work.taken[:] = 0.0
        work.reached[:] = 0.0
        for o in work.order:
            p = year.pool[o]
            kilograms = year.kilograms[s, p, m]
            if kilograms > 0.0 and at >= work.reached[p]:
                margin = year.price[s, o, m] - year.handling[s, o, m]
                full = work.full[o, m]
                if at >= full:
                    profit += year.limit_kg[s, o, m] * margin
                else:
                    profit += (kilograms * at - work.taken[p]) * margin
                    slope += kilograms * margin
                    steepest += kilograms * work.best[o, m]
                    bend = min(bend, full)
                work.taken[p] += year.limit_kg[s, o, m]
                work.reached[p] = full
        for p in range(work.reached.size):
            kilograms = year.kilograms[s, p, m]
            cost = kilograms * year.picked_cost[s, p, m]
            profit -= cost * at
            if at >= work.reached[p]:
                profit -= (kilograms * at - work.taken[p]) * year.unsold_cost[s, m]
                cost += kilograms * year.unsold_cost[s, m]
            slope -= cost
            steepest -= cost
    return profit, slope, steepest, bend


@compiled
def yield_scale_of(year, s, most, work):
    """The lowest share of the plan's yield at which one scenario makes no loss.

    Profit is straight between the yields at which an outlet is full. It starts at none picked and
    moves up, never past the answer: to the next bend, or further where even the best that each
    further kilogram may bring would not have made up for the loss.
    """
    order_outlets(year, s, 1.0, work.order)
    set_out(year, s, work)
    at = 0.0
    while at <= most:
        profit, slope, steepest, bend = follow(year, s, at, work)
        if profit >= 0.0:
            return at
        if slope > 0.0 and at - profit / slope <= bend:
            at -= profit / slope
            return at if at <= most else np.nan
        if steepest <= 0.0 or bend == np.inf:
            return np.nan
        at = max(bend, at - profit / steepest)
    return np.nan


@compiled
def break_evens(year, most, work, yields, prices):
    """Both break-evens of every scenario; either may be left out by handing over no rows."""
    for s in range(yields.size):
        yields[s] = yield_scale_of(year, s, most[s], work)
    for s in range(prices.size):
        prices[s] = price_scale_of(year, s, work)
