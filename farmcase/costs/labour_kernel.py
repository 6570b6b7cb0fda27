"""Hours and pay of all tasks by month, for many scenarios. Plain scalar code, compiled."""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def add_up_work(hours, driver, own, by_weight, pay, amounts, rates, out):
    """Tasks of one driver are added up before they meet its months; see `costs/labour`.

    `amounts` is a tuple of arrays (S or 1, T), one for each driver D. `rates` (D, 5) is worked in:
    for each unit of a driver its own hours, paid hours, pay, pay of work by weight and own hours
    by weight.
    """
    for s in range(hours.shape[0]):
        rates[:] = 0.0
        for k in range(hours.shape[1]):
            rate, spent = rates[driver[k]], hours[s, k]
            if own[k]:
                rate[0] += spent
                rate[4] += spent * by_weight[k]
            else:
                rate[1] += spent
                rate[2] += spent * pay[s, k]
                rate[3] += spent * pay[s, k] * by_weight[k]
        for d in range(rates.shape[0]):
            amount = amounts[d][min(s, amounts[d].shape[0] - 1)]
            _add(amount, rates[d, 0], out.own_hours[s])
            _add(amount, rates[d, 1], out.paid_hours[s])
            _add(amount, rates[d, 2], out.wages[s])
            _add(amount, rates[d, 3], out.by_weight[s])
            _add(amount, rates[d, 4], out.own_by_weight[s])


@compiled
def _add(amount, rate, line):
    if rate != 0.0:
        for m in range(line.size):
            line[m] += amount[m] * rate
