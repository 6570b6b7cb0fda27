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
    for m in range(max(first, 0), min(out.size, first + math.ceil(build_up))):
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
    whole = math.floor(delay)
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

    `work` holds what is left in each pool (P, W) and the rows of `sales.WORK`, W months or twice as
    many; W is a whole number of eights, nil beyond T, and each loop touches few rows, so that the
    compiler takes several months at once.
    """
    left, rows = work
    width = left.shape[1]
    level, general = rows[2, :width], rows[3, :width]
    for s in range(kilograms.shape[0]):
        rows[4:, :width] = 0.0
        rows[9, width:] = 0.0
        rows[12, width:] = 0.0
        most = limits.most_kg_per_week[min(s, limits.most_kg_per_week.shape[0] - 1)]
        build_up = limits.build_up_months[min(s, limits.build_up_months.shape[0] - 1)]
        _copy(levels[0][min(s, levels[0].shape[0] - 1)], level)
        _copy(levels[1][min(s, levels[1].shape[0] - 1)], general)
        for p in range(left.shape[0]):
            _copy(kilograms[s, p], left[p])
        for o in order[min(s, order.shape[0] - 1)]:
            taken = rows[0, :width]
            limit_row(most[o], limits.weeks[o], build_up[o], limits.first, taken)
            _take(left[pool[o]], taken)
            _sell_to(terms, rows, width, s, o)
        _give(left, rows, trips[min(s, trips.shape[0] - 1)], s, out)


@compiled
def _copy(given, row):
    for m in range(given.size):
        row[m] = given[m]


@compiled
def _take(rest, taken):
    """From what is left, up to the limit that `taken` comes in with."""
    for m in range(rest.size):
        takes = rest[m] if rest[m] < taken[m] else taken[m]
        rest[m] -= takes
        taken[m] = takes


@compiled
def _sell_to(terms, rows, width, s, o):
    """Invoice one outlet for what it takes."""
    taken, amount, level = rows[0, :width], rows[1, :width], rows[2, :width]
    price, fee = _of(terms.price, s, o), _of(terms.fee_share, s, o)
    packaging, delivery = _of(terms.packaging, s, o), _of(terms.delivery, s, o)
    for m in range(width):
        amount[m] = taken[m] * price * level[m]
    _add(taken, 1.0, rows[4, :width])
    _add(amount, 1.0, rows[5, :width])
    if fee != 0.0:
        _add(amount, fee, rows[6, :width])
    if packaging != 0.0:
        _add(taken, packaging, rows[7, :width])
    if delivery != 0.0:
        _add(taken, delivery, rows[8, :width])
    delay = _of(terms.delay_days, s, o)
    _delay(amount, delay, 1.0, rows[9])
    if _of(terms.registered, s, o) != 0.0:
        _add(amount, 1.0, rows[10, :width])
    rate = _of(terms.vat_rate, s, o)
    if rate != 0.0:
        _add(amount, rate, rows[11, :width])
        _delay(amount, delay, rate, rows[12])


@compiled
def _add(given, times, row):
    for m in range(row.size):
        row[m] += given[m] * times


@compiled
def _delay(amount, delay_days, times, received):
    """Add what comes in of one outlet's invoices to twice as many months; the last is cut later."""
    delay = delay_days / DAYS_PER_MONTH
    whole = min(math.floor(delay), amount.size - 1)
    late = delay - math.floor(delay)
    _add(amount, times * (1.0 - late), received[whole : whole + amount.size])
    if late > 0.0:
        _add(amount, times * late, received[whole + 1 : whole + 1 + amount.size])


@compiled
def _give(left, rows, trip, s, out):
    """Hand the rows over; deliveries of the month are made whatever is sold."""
    months, general = trip.size, rows[3]
    _copy(rows[4, :months], out.sold_kg[s])
    _copy(rows[5, :months], out.invoiced[s])
    _copy(rows[10, :months], out.to_registered[s])
    _copy(rows[11, :months], out.vat_invoiced[s])
    fees, packed, delivered, unsold = (
        out.fees[s],
        out.packaging[s],
        out.delivery[s],
        out.unsold_kg[s],
    )
    for m in range(months):
        fees[m] = -rows[6, m]
        packed[m] = -rows[7, m] * general[m]
        delivered[m] = -(rows[8, m] + trip[m]) * general[m]
        unsold[m] = 0.0
        for p in range(left.shape[0]):
            unsold[m] += left[p, m]
    _cut(rows[9], out.received[s])
    _cut(rows[12], out.vat_received[s])


@compiled
def _cut(received, row):
    """What would come in after the last month comes in it."""
    last = row.size - 1
    for m in range(last):
        row[m] = received[m]
    row[last] = received[last:].sum()


@compiled
def _of(table, s, o):
    """A number of an outlet, from a row of its own or the one that stands for all."""
    return table[min(s, table.shape[0] - 1), o]
