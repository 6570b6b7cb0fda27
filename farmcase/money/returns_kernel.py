"""Rates of return and payback of one stream after the other, compiled; see `money/returns`.

Rates are sought as x = ln(1 + yearly rate). A flow t periods after the first counts v^t of itself,
v = exp(-x / periods in a year), so present value is a polynomial in v with the flows as its
coefficients, and Laguerre's rule holds (1883, from memory). Add up the flows, discounted at some
rate, from the first to the last: there are as many roots at higher rates as that running total
changes sign, or fewer by an even number. (Over 1 - v / v of that rate, the polynomial is the series
of its running totals, and Descartes' rule of signs holds for it.) Added up from the last to the
first, the same is said of lower rates. At a rate of nil the first half is Norstrom's criterion
(1972, from memory).

So nearly every stream is settled at a few rates; elsewhere a range of rates is halved until it
holds one root for certain, none for certain, or is as narrow as `rates_of_return` states. With
rounding this is exact for a stream that differs from the one asked for in the last digits.
"""

from __future__ import annotations

import math

from farmcase.compiled import compiled

# Ends of x, and into how many cells the ranges between them are halved at most: cells of 0.07 but
# 0.0117 between -3 and 3 (a rate of -95 % to 1,900 % a year).
ENDS = (-12.0, -3.0, 0.0, 3.0, 7.0)
_CELLS = (128, 256, 256, 64)
_MOST_STEPS = 100  # halving alone comes to an end after 60, Newton's steps after about 4
_LEAST = 1e-150  # of money still seen beside money undiscounted
_NEAR = 1e-9  # of a step in x; Newton's next would be of its square


@compiled
def grow(rates, per_year, sign, out):
    """(1 + rate)^(sign t / per_year), (S, T): by roots within a year, by whole years beyond."""
    for s in range(out.shape[0]):
        row = out[s]
        step, year = (1.0 + rates[s]) ** (sign / per_year), (1.0 + rates[s]) ** sign
        factor = 1.0
        for t in range(min(per_year, row.size)):
            row[t] = factor
            factor *= step
        for t in range(per_year, row.size):
            row[t] = row[t - per_year] * year


@compiled
def look(flow, first, last, x):
    """Most roots at higher and at lower rates than x, and whether present value is 0 or more there.

    Sums run so that no weight grows beyond 1. A sum of nil counts as positive.
    """
    weight = math.exp(-abs(x))
    at, step = (first, 1) if x >= 0.0 else (last, -1)
    power, total, near, positive = 1.0, 0.0, 0, flow[at] >= 0.0
    for _ in range(last - first + 1):
        total += flow[at] * power
        power *= weight
        near += (total >= 0.0) != positive
        positive = total >= 0.0
        at += step
    value_is_positive = positive
    at, far = (last, 0) if x >= 0.0 else (first, 0)
    total, positive = 0.0, flow[at] >= 0.0
    for _ in range(last - first):
        total = total * weight + flow[at]
        far += (total >= 0.0) != positive
        positive = total >= 0.0
        at -= step
    far += positive != value_is_positive
    return (near, far, value_is_positive) if x >= 0.0 else (far, near, value_is_positive)


@compiled
def close_in(flow, first, last, low, high, start, low_is_positive):
    """The root between two values of x: Newton's steps, or halves where they lead out.

    They are taken on the logarithm of what is received over what is paid, which is nearly a
    straight line in x.
    """
    at = start
    for _ in range(_MOST_STEPS):
        weight = math.exp(-abs(at))
        place, step = (first, 1) if at >= 0.0 else (last, -1)
        power, received, paid, received_later, paid_later = 1.0, 0.0, 0.0, 0.0, 0.0
        for k in range(last - first + 1):
            worth = flow[place] * power
            got, spent = max(worth, 0.0), max(-worth, 0.0)
            received += got
            paid += spent
            received_later += got * k
            paid_later += spent * k
            power *= weight
            place += step
        if (received >= paid) == low_is_positive:
            low = at
        else:
            high = at
        fresh = (low + high) / 2
        if received > _LEAST and paid > _LEAST:
            slope = (paid_later / paid - received_later / received) * step
            if slope != 0.0:
                led_to = at - math.log(received / paid) / slope
                fresh = led_to if low <= led_to <= high else fresh
        moved = abs(fresh - at)
        at = fresh
        if moved <= _NEAR:
            break
    return at


@compiled
def halve(flow, first, last, per_year, part, above, positive, count, found):
    """The roots of one range between `ENDS`, told what holds at its lower end.

    Goes up through the range in cells as wide as can be settled. Of the roots below a cell's upper
    end, those found already are taken off.
    """
    width = (ENDS[part + 1] - ENDS[part]) / _CELLS[part]
    cell, size, low = 0, _CELLS[part], ENDS[part] / per_year
    while cell < _CELLS[part]:
        high = (ENDS[part] + width * (cell + size)) / per_year
        above_high, below_high, positive_high = look(flow, first, last, high)
        changes = positive_high != positive
        most = min(above, below_high - count)
        if size > 1 and most > (2 if changes else 1):
            size //= 2
            continue
        if changes:
            if count < found.size:
                start = low if low >= 0.0 else high  # the nearer to a rate of nil
                x = close_in(flow, first, last, low, high, start, positive)
                found[count] = math.expm1(x * per_year)
            count += 1
        cell += size
        low, above, positive = high, above_high, positive_high
        if cell % (2 * size) == 0:
            size *= 2
    return count, above, positive


@compiled
def find_rates(flows, per_year, count, rates):
    """How many rates each stream has, and the lowest of them as far as `rates` (S, K) has room."""
    for s in range(flows.shape[0]):
        flow = flows[s]
        least, most = 0.0, 0.0
        for k in range(flow.size):
            least, most = min(least, flow[k]), max(most, flow[k])
        count[s] = 0
        if not least < 0.0 < most:
            continue
        first, last = 0, flow.size - 1
        while flow[first] == 0.0:
            first += 1
        while flow[last] == 0.0:
            last -= 1
        above, below, positive = look(flow, first, last, 0.0)
        part, end = (0 if below > 0 else 2), (4 if above > 0 else 2)
        if part == 0:
            above, _, positive = look(flow, first, last, ENDS[0] / per_year)
        found = 0
        while part < end and above > 0:
            found, above, positive = halve(
                flow, first, last, per_year, part, above, positive, found, rates[s]
            )
            part += 1
        count[s] = found


@compiled
def pay_back(flows, out):
    """Periods from the first payment until what was paid is back; see `returns.payback_periods`."""
    for s in range(out.size):
        flow, total, first, is_below = flows[s], 0.0, -1, False
        out[s] = math.nan
        for k in range(flow.size):
            before = total
            total += flow[k]
            if first < 0 and flow[k] < 0.0:
                first = k
            if is_below and total >= 0.0:
                out[s] = k - 1 - before / flow[k] - first
                break
            is_below = total < 0.0
        else:
            if first >= 0 and not is_below:
                out[s] = 0.0  # what had come in before was enough for every payment
