"""Many lines added up with their weights, compiled; see `model/sums`.

Worked through in pieces that stay in the processor's cache, so that each line is read from memory
once, however many sums it goes into.
"""

from __future__ import annotations

from farmcase.compiled import compiled

PIECE = 512  # numbers of a line at once


@compiled
def add_piece(lines, weights, first, count, sums, at):
    """Fill places of every row of `sums` (K, ...) with some numbers of every line from `first` on.

    Weights are (K, lines).
    """
    for k in range(weights.shape[0]):
        sums[k, at : at + count] = 0.0
    for i in range(weights.shape[1]):
        line = lines[i][first : first + count]
        for k in range(weights.shape[0]):
            if weights[k, i] != 0.0:
                _add(line, weights[k, i], sums[k, at : at + count])


@compiled
def _add(line, weight, total):
    for m in range(total.size):
        total[m] += line[m] * weight


@compiled
def add_up(lines, weights, out):
    """All sums, (K, S T), of lines laid out flat, (S T,) each."""
    for first in range(0, out.shape[1], PIECE):
        count = min(PIECE, out.shape[1] - first)
        add_piece(lines, weights, first, count, out, first)


@compiled
def add_by_period(lines, weights, starts, rows, out):
    """All sums by period, (K, S, Y), of lines laid out flat; `starts` (Y + 1,) ends with T.

    `rows` (K, T) is worked in.
    """
    months = starts[-1]
    for s in range(out.shape[1]):
        add_piece(lines, weights, s * months, months, rows, 0)
        for k in range(out.shape[0]):
            row, totals = rows[k], out[k, s]
            for y in range(totals.size):
                total = 0.0
                for m in range(starts[y], starts[y + 1]):
                    total += row[m]
                totals[y] = total
