"""Repeating rows added up month by month, for many scenarios. Plain scalar code, compiled."""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def add_up(amount, starts, every, ends, category, levels, total):
    """Add every row into the months in which it is due."""
    for s in range(amount.shape[0]):
        for r in range(amount.shape[1]):
            price, k = amount[s, r], category[r]
            for m in range(starts[r], ends[r] + 1, every[r]):
                total[s, m] += price * levels[s, k, m]
