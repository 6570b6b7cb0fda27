"""The sums of sales month by month, compiled: limits, outlets filled, money and its delay.

Arrays come with a row for every scenario, or with one row that stands for all of them. Nothing is
made here: results and rows to work in are handed in, and each scenario is worked out alone, so
that it is the same whatever stands beside it.
"""

from __future__ import annotations

import numpy as np

from farmcase.compiled import compiled

DAYS_PER_MONTH = 365 / 12


@compiled
def limit_outlets(most, season_weeks, build_up, out):
    """What each outlet takes, (S, O, T); see `sales.weekly_limits`."""
    for s in range(out.shape[0]):
        weekly = most[min(s, most.shape[0] - 1)]
        months = build_up[min(s, build_up.shape[0] - 1)]
        for o in range(out.shape[1]):
            row, kilograms, weeks = out[s, o], weekly[o], season_weeks[o]
            for m in range(row.size):
                row[m] = kilograms * weeks[m]
            for m in range(min(row.size, int(np.ceil(months[o])))):
                row[m] *= min(1.0, (m + 1) / months[o])


@compiled
def fill(kilograms, limit, order, pool, sold, left):
    """Outlets one after the other, each from its pool; see `sales.fill_outlets`."""
    for s in range(sold.shape[0]):
        limits = limit[min(s, limit.shape[0] - 1)]
        for p in range(left.shape[1]):
            for m in range(left.shape[2]):
                left[s, p, m] = kilograms[s, p, m]
        first = order[min(s, order.shape[0] - 1)]
        for place in range(first.size):
            outlet = first[place]
            rest, most, out = left[s, pool[outlet]], limits[outlet], sold[s, outlet]
            for m in range(out.size):
                taken = rest[m] if rest[m] < most[m] else most[m]
                out[m] = taken
                rest[m] -= taken


@compiled
def add_received(amount, delay_days, last_gets_all, out):
    """Add what comes in of one outlet's invoices; a part of a month is split over two months."""
    months = amount.size
    delay = delay_days / DAYS_PER_MONTH
    whole = int(np.floor(delay))
    late = delay - whole
    within = max(months - 1 - whole, 0)  # invoices that are in by the last month
    for m in range(within):
        out[m + whole] += amount[m] * (1 - late)
    for m in range(within):
        out[m + whole + 1] += amount[m] * late
    if last_gets_all:
        for m in range(within, months):
            out[months - 1] += amount[m]
    elif within < months and whole < months:
        out[months - 1] += amount[within] * (1 - late)


@compiled
def receive(amount, delay_days, last_gets_all, out):
    """Every outlet by itself, (S, O, T); see `sales.received`."""
    for s in range(out.shape[0]):
        delay = delay_days[min(s, delay_days.shape[0] - 1)]
        for o in range(out.shape[1]):
            out[s, o, :] = 0.0
            add_received(amount[s, o], delay[o], last_gets_all, out[s, o])


@compiled
def sell_months(kilograms, limit, order, pool, terms, trips, levels, rows, out):
    """Fill the outlets and add up kilograms and money, (S, T) each; see `sales.sell`.

    `rows` is worked in: (P, T) what is left in each pool, and (1, T) what an outlet is invoiced.
    """
    left, amount = rows
    for s in range(kilograms.shape[0]):
        most = limit[min(s, limit.shape[0] - 1)]
        first = order[min(s, order.shape[0] - 1)]
        price = terms.price[min(s, terms.price.shape[0] - 1)]
        fee_share = terms.fee_share[min(s, terms.fee_share.shape[0] - 1)]
        packaging = terms.packaging[min(s, terms.packaging.shape[0] - 1)]
        delivery = terms.delivery[min(s, terms.delivery.shape[0] - 1)]
        delay = terms.delay_days[min(s, terms.delay_days.shape[0] - 1)]
        trip = trips[min(s, trips.shape[0] - 1)]
        level = levels[0][min(s, levels[0].shape[0] - 1)]
        general = levels[1][min(s, levels[1].shape[0] - 1)]
        sold, invoiced, fees, received = (
            out.sold_kg[s],
            out.invoiced[s],
            out.fees[s],
            out.received[s],
        )
        packed, delivered, unsold = out.packaging[s], out.delivery[s], out.unsold_kg[s]
        vat, vat_received, to_registered = (
            out.vat_invoiced[s],
            out.vat_received[s],
            out.to_registered[s],
        )
        rate = terms.vat_rate[min(s, terms.vat_rate.shape[0] - 1)]
        registered = terms.registered[min(s, terms.registered.shape[0] - 1)]
        for m in range(level.size):
            sold[m] = invoiced[m] = fees[m] = packed[m] = received[m] = unsold[m] = 0.0
            vat[m] = vat_received[m] = to_registered[m] = 0.0
            delivered[m] = -trip[m]
        for p in range(left.shape[0]):
            for m in range(level.size):
                left[p, m] = kilograms[s, p, m]
        for o in first:
            rest, takes = left[pool[o]], most[o]
            for m in range(level.size):
                taken = rest[m] if rest[m] < takes[m] else takes[m]
                rest[m] -= taken
                sold[m] += taken
                amount[0, m] = taken * price[o] * level[m]
                invoiced[m] += amount[0, m]
                fees[m] -= amount[0, m] * fee_share[o]
                packed[m] -= taken * packaging[o]
                delivered[m] -= taken * delivery[o]
            add_received(amount[0], delay[o], True, received)
            if registered[o] != 0.0:
                for m in range(level.size):
                    to_registered[m] += amount[0, m]
            if rate[o] != 0.0:
                for m in range(level.size):
                    amount[0, m] *= rate[o]
                    vat[m] += amount[0, m]
                add_received(amount[0], delay[o], True, vat_received)
        for m in range(level.size):
            packed[m] *= general[m]
            delivered[m] *= general[m]
        for p in range(left.shape[0]):
            for m in range(level.size):
                unsold[m] += left[p, m]
