"""Cover over the life of the loans, for many scenarios. Plain scalar code, compiled."""

from __future__ import annotations

import numpy as np

from farmcase.compiled import compiled


@compiled
def life_cover(surplus, own_work, tax_paid, owed, interest, out):
    """Cover at the month in which most is owed, (S,); the lines are (S, T), see `cover.loan_life`.

    The sum of `ratios.loan_life_cover`, from that month on.
    """
    for s in range(out.size):
        balance, most = owed[s], 0
        for m in range(balance.size):
            if balance[m] > balance[most]:
                most = m
        factor, worth = 1.0, 0.0
        for m in range(most + 1, balance.size):
            if balance[m - 1] > 0.0:
                factor /= 1.0 - interest[s, m] / balance[m - 1]
                worth += (surplus[s, m] - own_work[s, m] + tax_paid[s, m]) * factor
        out[s] = worth / balance[most] if balance[most] > 0.0 else np.nan
