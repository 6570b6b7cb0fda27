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
    left, amount = rows[0], rows[1][0]
    for s in range(kilograms.shape[0]):
        _nothing_yet(kilograms, trips, left, s, out)
        most = limit[min(s, limit.shape[0] - 1)]
        level = levels[0][min(s, levels[0].shape[0] - 1)]
        general = levels[1][min(s, levels[1].shape[0] - 1)]
        for o in order[min(s, order.shape[0] - 1)]:
            _sell_to(terms, left[pool[o]], most[o], level, amount, s, o, out)
        for m in range(general.size):
            out.packaging[s, m] *= general[m]
            out.delivery[s, m] *= general[m]
        for p in range(left.shape[0]):
            for m in range(general.size):
                out.unsold_kg[s, m] += left[p, m]


@compiled
def _nothing_yet(kilograms, trips, left, s, out):
    """All pools full, nothing sold; the deliveries of the month are made whatever is sold."""
    trip = trips[min(s, trips.shape[0] - 1)]
    for line in (out.sold_kg, out.unsold_kg, out.invoiced, out.fees, out.packaging, out.received):
        line[s, :] = 0.0
    for line in (out.vat_invoiced, out.vat_received, out.to_registered):
        line[s, :] = 0.0
    for m in range(trip.size):
        out.delivery[s, m] = -trip[m]
    for p in range(left.shape[0]):
        for m in range(left.shape[1]):
            left[p, m] = kilograms[s, p, m]


@compiled
def _sell_to(terms, rest, takes, level, amount, s, o, out):
    """One outlet takes what is left for it and it has room for."""
    price = _of(terms.price, s, o)
    fee, packaging = _of(terms.fee_share, s, o), _of(terms.packaging, s, o)
    delivery, delay = _of(terms.delivery, s, o), _of(terms.delay_days, s, o)
    sold, invoiced, fees = out.sold_kg[s], out.invoiced[s], out.fees[s]
    packed, delivered = out.packaging[s], out.delivery[s]
    for m in range(level.size):
        taken = rest[m] if rest[m] < takes[m] else takes[m]
        rest[m] -= taken
        sold[m] += taken
        amount[m] = taken * price * level[m]
        invoiced[m] += amount[m]
        fees[m] -= amount[m] * fee
        packed[m] -= taken * packaging
        delivered[m] -= taken * delivery
    add_received(amount, delay, True, out.received[s])
    if _of(terms.registered, s, o) != 0.0:
        for m in range(level.size):
            out.to_registered[s, m] += amount[m]
    rate = _of(terms.vat_rate, s, o)
    if rate != 0.0:
        for m in range(level.size):
            amount[m] *= rate
            out.vat_invoiced[s, m] += amount[m]
        add_received(amount, delay, True, out.vat_received[s])


@compiled
def _of(table, s, o):
    """A number of an outlet, from a row of its own or the one that stands for all."""
    return table[min(s, table.shape[0] - 1), o]
