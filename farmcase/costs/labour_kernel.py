"""Hours and pay of all tasks by month, for many scenarios. Plain scalar code, compiled."""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def add_up_work(hours, driver, own, by_weight, pay, worth, amounts, level, out):
    """Hours of each task are its hours per unit times what drives it."""
    scenarios, tasks = hours.shape
    months = level.shape[1]
    for s in range(scenarios):
        for k in range(tasks):
            d = driver[k]
            row = s if amounts.shape[0] > 1 else 0
            for m in range(months):
                spent = hours[s, k] * amounts[row, d, m]
                if own[k]:
                    out.own_hours[s, m] += spent
                    if by_weight[k]:
                        out.own_by_weight[s, m] += spent * worth[s] * level[s, m]
                else:
                    cost = spent * pay[s, k] * level[s, m]
                    out.paid_hours[s, m] += spent
                    out.wages[s, m] += cost
                    if by_weight[k]:
                        out.by_weight[s, m] += cost
