"""How a grant goes into profit, for many scenarios. Plain scalar code, compiled."""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def release(claimed, slope, eligible, out):
    """Add what of each grant has gone into profit by month, (S, T); see `investment._released`.

    `claimed` and `slope` are (S, G, T), `eligible` (S, G).
    """
    last = out.shape[1] - 1
    for s in range(out.shape[0]):
        line = out[s]
        for g in range(eligible.shape[1]):
            claims, written_off, whole = claimed[s, g], slope[s, g], eligible[s, g]
            due, gone, before = 0.0, 0.0, 0.0
            share = 1.0 / whole if whole > 0.0 else 0.0
            for m in range(last):
                due += claims[m]
                gone += written_off[m]
                so_far = due * (gone * share)
                line[m] += so_far - before
                before = so_far
            line[last] += due + claims[last] - before
