"""The sums of sales month by month, compiled: limits, outlets filled, money and its delay.

Arrays come with a row for every scenario, or with one row that stands for all of them. Nothing is
made here: results and rows to work in are handed in, and each scenario is worked out alone, so
that it is the same whatever stands beside it.
"""

from __future__ import annotations

import math

from farmcase.compiled import compiled

DAYS_PER_MONTH = 365 / 12


@compiled
def limit_row(most, weeks, build_up, first, out):
    """What one outlet takes by month, (T,); see `sales.Limits`."""
    for m in range(out.size):
        out[m] = most * weeks[m]
    for m in range(max(first, 0), min(out.size, first + int(math.ceil(build_up)))):
        out[m] *= min(1.0, (m - first + 1) / build_up)


@compiled
def limit_outlets(most, weeks, build_up, first, out):
    """What each outlet takes, (S, O, T); see `sales.weekly_limits`."""
    for s in range(out.shape[0]):
        weekly = most[min(s, most.shape[0] - 1)]
        months = build_up[min(s, build_up.shape[0] - 1)]
        for o in range(out.shape[1]):
            limit_row(weekly[o], weeks[o], months[o], first, out[s, o])


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
    whole = int(math.floor(delay))
    late = delay - whole
    within = max(months - 1 - whole, 0)  # invoices that are in by the last month
    if within > 0:
        soon, later = out[whole : whole + within], out[whole + 1 : whole + 1 + within]
        for m in range(within):
            soon[m] += amount[m] * (1 - late)
        if late > 0.0:
            for m in range(within):
                later[m] += amount[m] * late
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
def sell_months(kilograms, limits, order, pool, terms, trips, levels, work, out):
    """Fill the outlets and add up kilograms and money, (S, T) each; see `sales.sell`.

    `work` holds what is left in each pool (P, T), and two rows (2, T) of one outlet. Loops touch
    few arrays each, so that the compiler can take several months at once.
    """
    left, rows = work
    for s in range(kilograms.shape[0]):
        _nothing_yet(kilograms, trips, left, s, out)
        most = limits.most_kg_per_week[min(s, limits.most_kg_per_week.shape[0] - 1)]
        build_up = limits.build_up_months[min(s, limits.build_up_months.shape[0] - 1)]
        level = levels[0][min(s, levels[0].shape[0] - 1)]
        general = levels[1][min(s, levels[1].shape[0] - 1)]
        for o in order[min(s, order.shape[0] - 1)]:
            limit_row(most[o], limits.weeks[o], build_up[o], limits.first, rows[0])
            _take(left[pool[o]], rows[0])
            _sell_to(terms, level, rows, s, o, out)
        _raise(out.invoiced[s], out.fees[s], level)
        _raise(out.packaging[s], out.delivery[s], general)
        for p in range(left.shape[0]):
            _add(left[p], out.unsold_kg[s])


@compiled
def _nothing_yet(kilograms, trips, left, s, out):
    """All pools full, nothing sold; the deliveries of the month are made whatever is sold."""
    trip = trips[min(s, trips.shape[0] - 1)]
    for line in (out.sold_kg, out.unsold_kg, out.invoiced, out.fees, out.packaging, out.received):
        line[s, :] = 0.0
    for line in (out.vat_invoiced, out.vat_received, out.to_registered):
        line[s, :] = 0.0
    delivery = out.delivery[s]
    for m in range(trip.size):
        delivery[m] = -trip[m]
    for p in range(left.shape[0]):
        for m in range(left.shape[1]):
            left[p, m] = kilograms[s, p, m]


@compiled
def _take(rest, taken):
    """From what is left, up to the limit that `taken` comes in with."""
    for m in range(rest.size):
        takes = rest[m] if rest[m] < taken[m] else taken[m]
        rest[m] -= takes
        taken[m] = takes


@compiled
def _sell_to(terms, level, rows, s, o, out):
    """Invoice one outlet for what it takes; what goes by price levels is raised at the end."""
    taken, amount = rows[0], rows[1]
    price, fee = _of(terms.price, s, o), _of(terms.fee_share, s, o)
    _book(taken, price, price * fee, out.sold_kg[s], out.invoiced[s], out.fees[s])
    packaging, delivery = _of(terms.packaging, s, o), _of(terms.delivery, s, o)
    if packaging != 0.0 or delivery != 0.0:
        _handle(taken, packaging, delivery, out.packaging[s], out.delivery[s])
    for m in range(level.size):
        amount[m] = taken[m] * price * level[m]
    delay = _of(terms.delay_days, s, o)
    add_received(amount, delay, True, out.received[s])
    if _of(terms.registered, s, o) != 0.0:
        _add(amount, out.to_registered[s])
    rate = _of(terms.vat_rate, s, o)
    if rate != 0.0:
        for m in range(level.size):
            amount[m] *= rate
        _add(amount, out.vat_invoiced[s])
        add_received(amount, delay, True, out.vat_received[s])


@compiled
def _book(taken, price, fee, sold, invoiced, fees):
    for m in range(taken.size):
        sold[m] += taken[m]
        invoiced[m] += taken[m] * price
        fees[m] -= taken[m] * fee


@compiled
def _handle(taken, packaging, delivery, packed, delivered):
    for m in range(taken.size):
        packed[m] -= taken[m] * packaging
        delivered[m] -= taken[m] * delivery


@compiled
def _raise(one, other, level):
    for m in range(level.size):
        one[m] *= level[m]
        other[m] *= level[m]


@compiled
def _add(given, line):
    for m in range(line.size):
        line[m] += given[m]


@compiled
def _of(table, s, o):
    """A number of an outlet, from a row of its own or the one that stands for all."""
    return table[min(s, table.shape[0] - 1), o]
