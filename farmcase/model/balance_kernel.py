"""Whether balances close, month by month, compiled; see `model/balance_sheet`."""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def widest_gaps(flows, weights, levels, level_weights, row, out):
    """The widest gap of each check, (K, S): flows added up month by month, plus levels, is nil.

    Flows and levels are tuples of arrays (S, T); `weights` (K, flows) and `level_weights`
    (K, levels) say with which sign they enter; `row` (T,) is worked in. What is no number makes
    the gap endless.
    """
    for k in range(weights.shape[0]):
        for s in range(out.shape[1]):
            row[:] = 0.0
            for i in range(weights.shape[1]):
                weight = weights[k, i]
                if weight != 0.0:
                    flow = flows[i][s]
                    for m in range(row.size):
                        row[m] += weight * flow[m]
            for m in range(1, row.size):
                row[m] += row[m - 1]
            for i in range(level_weights.shape[1]):
                weight = level_weights[k, i]
                if weight != 0.0:
                    level = levels[i][s]
                    for m in range(row.size):
                        row[m] += weight * level[m]
            widest = 0.0
            for m in range(row.size):
                gap = abs(row[m])
                if not gap <= widest:
                    widest = gap
            out[k, s] = widest
