"""Hours and pay of all tasks by month, for many scenarios. Plain scalar code, compiled."""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def add_up_work(hours, driver, own, by_weight, pay, amounts, rates, out):
    """Tasks of one driver are added up before they meet its months; see `costs/labour`.

    `rates` (D, 5) is worked in: for each unit of a driver its own hours, paid hours, pay, pay of
    work by weight and own hours by weight.
    """
    months = out.wages.shape[1]
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
            unit, amount = rates[d], amounts[min(s, amounts.shape[0] - 1), d]
            if unit[0] == 0.0 and unit[1] == 0.0:
                continue
            for m in range(months):
                out.own_hours[s, m] += amount[m] * unit[0]
                out.paid_hours[s, m] += amount[m] * unit[1]
                out.wages[s, m] += amount[m] * unit[2]
            if unit[3] != 0.0 or unit[4] != 0.0:
                for m in range(months):
                    out.by_weight[s, m] += amount[m] * unit[3]
                    out.own_by_weight[s, m] += amount[m] * unit[4]
