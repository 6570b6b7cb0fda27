"""Regions of a map on which one of several surfaces is the highest: their shapes and borders."""

from __future__ import annotations

import textwrap

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_LETTER, _LINE = 8.2, 19  # width and height of a label's letter, with air


def refined(x: Floats, y: Floats, surfaces: Floats, count: int) -> tuple[Floats, Floats, Floats]:
    """Surfaces (K, Y, X) read off between their points, on a finer even grid."""
    fine_x, fine_y = (np.linspace(side[0], side[-1], count) for side in (x, y))
    across = np.array([[np.interp(fine_x, x, row) for row in surface] for surface in surfaces])
    both = np.array([[np.interp(fine_y, y, column) for column in s.T] for s in across])
    return fine_x, fine_y, both.transpose(0, 2, 1)


def regions(x: Floats, y: Floats, surfaces: Floats) -> list[tuple[float, ...]]:
    """The regions as pieces with a left and a right edge: left, right, height, piece, surface.

    Neighbouring rows that meet the same surfaces in the same order share their pieces, which
    reach a little under one another, so that no seam shows between two.
    """
    best, half = surfaces.argmax(0), (y[1] - y[0]) / 2
    stacks: list[list[tuple[float, list[float]]]] = []
    owners: list[tuple[int, ...]] = []
    for j, row in enumerate(best):
        cuts = np.flatnonzero(row[1:] != row[:-1])
        at = [x[0], *(_crossing(x, surfaces[:, j], row, int(i)) for i in cuts), x[-1]]
        met = (int(row[0]), *(int(row[i + 1]) for i in cuts))
        if not owners or met != owners[-1]:
            stacks.append([(max(y[j] - half, y[0]), at)])
            owners.append(met)
        stacks[-1].append((y[j], at))
    edges, piece = [], 0
    for stack, met in zip(stacks, owners, strict=True):
        stack.append((min(stack[-1][0] + 1.3 * half, y[-1]), stack[-1][1]))
        for place, owner in enumerate(met):
            edges += [(at[place], at[place + 1], high, piece, owner) for high, at in stack]
            piece += 1
    return edges


def _crossing(at: Floats, line: Floats, best: Ints, i: int) -> float:
    """Where the highest surface changes between two neighbours on a line."""
    gap = line[best[i]] - line[best[i + 1]]
    share = gap[i] / (gap[i] - gap[i + 1]) if gap[i] != gap[i + 1] else 0.5
    return float(at[i] + share * (at[i + 1] - at[i]))


def borders(x: Floats, y: Floats, surfaces: Floats) -> list[tuple[float, ...]]:
    """Short lines along which the highest surface changes: x, x2, y, y2, its number, 0.

    In each cell the points where its sides are crossed are joined; where three regions meet, to
    their middle.
    """
    best = surfaces.argmax(0)
    mixed = (best[:-1, :-1] != best[1:, :-1]) | (best[:-1, :-1] != best[:-1, 1:])
    mixed |= best[:-1, :-1] != best[1:, 1:]
    lines = []
    for j, i in np.argwhere(mixed):
        points = _cell_crossings(x, y, surfaces, best, int(i), int(j))
        if len(points) == 2:
            lines.append((points[0], points[1]))
        elif points:
            middle = tuple(np.mean(points, axis=0))
            lines += [(point, middle) for point in points]
    return [(a[0], b[0], a[1], b[1], i, 0) for i, (a, b) in enumerate(lines)]


def _cell_crossings(
    x: Floats, y: Floats, surfaces: Floats, best: Ints, i: int, j: int
) -> list[tuple[float, float]]:
    points = []
    for row in (j, j + 1):
        if best[row, i] != best[row, i + 1]:
            points.append((_crossing(x, surfaces[:, row], best[row], i), float(y[row])))
    for column in (i, i + 1):
        if best[j, column] != best[j + 1, column]:
            at = _crossing(y, surfaces[:, :, column], best[:, column], j)
            points.append((float(x[column]), at))
    return points


def label_places(
    x: Floats,
    y: Floats,
    surfaces: Floats,
    names: list[str],
    size: tuple[int, int],
    plan: tuple[float, float],
) -> list[tuple[float, float, str]]:
    """For each region with room for its name: the place with the most room around it.

    Parameters
    ----------
    size : width and height of the map in the unit of the letters
    plan : a point that no name may cover

    Returns
    -------
    x, y and the name, broken into lines where the region is narrow
    """
    best = surfaces.argmax(0)
    step = size[0] / (x.size - 1), size[1] / (y.size - 1)
    mark = abs(x - plan[0])[None, :] * size[0] / (x[-1] - x[0])
    mark = (mark < 90) & (abs(y - plan[1])[:, None] * size[1] / (y[-1] - y[0]) < 30)
    found = []
    for k, name in enumerate(names):
        mine = (best == k) & ~mark
        for air, lines in ((a, n) for a in (2.5, 1.7, 1.3, 1.0, 0.8) for n in (1, 2, 3, 4)):
            broken = textwrap.wrap(name, -(-len(name) // lines) + 2, break_long_words=False)
            wide = max(map(len, broken)) * _LETTER * min(air, 1.5)
            half = int(wide / 2 / step[0]) + 1, int(len(broken) * _LINE / 2 * air / step[1]) + 1
            room = _boxes_inside(mine, *half)
            if room.any():
                points = np.argwhere(room)
                away = ((points - points.mean(0)) ** 2).sum(1)
                j, i = points[away.argmin()]
                found.append((float(x[i]), float(y[j]), "\n".join(broken)))
                break
    return found


def _boxes_inside(mine: NDArray[np.bool_], half_x: int, half_y: int) -> NDArray[np.bool_]:
    """Where a box of so many points to each side lies wholly inside."""
    height, width = mine.shape
    inside = np.zeros(mine.shape, bool)
    if 2 * half_x >= width or 2 * half_y >= height:
        return inside
    total = np.zeros((height + 1, width + 1), np.int64)
    total[1:, 1:] = mine.cumsum(0).cumsum(1)
    tall, wide = 2 * half_y + 1, 2 * half_x + 1
    counted = total[tall:, wide:] - total[:-tall, wide:] - total[tall:, :-wide]
    counted = counted + total[:-tall, :-wide]
    inside[half_y : height - half_y, half_x : width - half_x] = counted == tall * wide
    return inside
