"""Repeating rows added up month by month, for many scenarios. Plain scalar code, compiled."""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def add_up(amount, starts, every, ends, category, levels, total):
    """Add every row into the months in which it is due; `levels` is a tuple of arrays (S, T)."""
    for s in range(amount.shape[0]):
        line = total[s]
        for r in range(amount.shape[1]):
            price, level = amount[s, r], levels[category[r]][s]
            for m in range(starts[r], ends[r] + 1, every[r]):
                line[m] += price * level[m]
