"""Months of production spread over months from the start, compiled; see `model/production`."""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def spread(given, place, level, sign, out):
    """What each month of production gives, at the price level of each month it stands for.

    `given` (1 or S, 24), `place` (T,) below 0 in months without production, `level` (S, T).
    """
    for s in range(out.shape[0]):
        row, prices, line = given[min(s, given.shape[0] - 1)], level[s], out[s]
        for m in range(place.size):
            line[m] = row[place[m]] * prices[m] * sign if place[m] >= 0 else 0.0
