"""Whether balances close, month by month, compiled; see `model/balance_sheet`."""

from __future__ import annotations

import numpy as np

from farmcase.compiled import compiled
from farmcase.model.sums_kernel import add_piece

SCENARIOS = 8  # at once: their lines stay in the cache, and the processor need not wait for sums


@compiled
def widest_gaps(flows, weights, levels, level_weights, rows, totals, out):
    """The widest gap of each check, (K, S): flows added up month by month, plus levels, is nil.

    Flows and levels are tuples of lines laid out flat, (S T,); `weights` (K, flows) and
    `level_weights` (K, levels) say with which sign they enter; `rows` (2 K, 8 T) and `totals` (8,)
    are worked in. What is no number makes the gap endless.
    """
    checks, months = out.shape[0], rows.shape[1] // SCENARIOS
    for s in range(0, out.shape[1], SCENARIOS):
        count = min(SCENARIOS, out.shape[1] - s)
        add_piece(flows, weights, s * months, count * months, rows, 0)
        add_piece(levels, level_weights, s * months, count * months, rows[checks:], 0)
        for k in range(checks):
            _widen(rows[k], rows[checks + k], totals[:count], months, out[k, s : s + count])


@compiled
def _widen(flow, level, totals, months, widest):
    """Follow the totals of some scenarios through the months."""
    totals[:] = 0.0
    widest[:] = 0.0
    for m in range(months):
        for i in range(totals.size):
            totals[i] += flow[i * months + m]
            gap = abs(totals[i] + level[i * months + m])
            if not gap <= widest[i]:
                widest[i] = gap if gap == gap else np.inf
