"""Sums of many money lines at once, each line with a weight in each sum."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import handed, work_space
from farmcase.model.sums_kernel import add_by_period, add_up

Floats = NDArray[np.float64]
_AT_ONCE = 16  # kernels are compiled anew for another number of lines: a whole number of these


class Sums:
    """Sums of lines by name, each line with its weight.

    Parameters
    ----------
    weights : name of each sum -> name of a line -> its weight
    """

    def __init__(self, weights: Mapping[str, Mapping[str, float]]) -> None:
        self.names = list(weights)
        self.lines = list(dict.fromkeys(line for each in weights.values() for line in each))
        self._weights = np.array([[w.get(n, 0.0) for n in self.lines] for w in weights.values()])
        self._most = -(-len(self.lines) // _AT_ONCE) * _AT_ONCE

    def taken(self, lines: Mapping[str, Floats]) -> tuple[tuple[Floats, ...], Floats]:
        """Lines laid out flat, without those that are nil throughout, and their weights.

        The first of them again, with weights of nil, fills up the number that kernels are made for.
        """
        used = [i for i, name in enumerate(self.lines) if not is_nil(lines[name])] or [0]
        flat = [handed(lines[self.lines[i]]).reshape(-1) for i in used]
        weights = np.zeros((len(self.names), self._most))
        weights[:, : len(used)] = self._weights[:, used]
        return tuple(flat + flat[:1] * (self._most - len(flat))), weights

    def of(self, lines: Mapping[str, Floats]) -> dict[str, Floats]:
        """Every sum by name, (S, T)."""
        flat, weights = self.taken(lines)
        shape = lines[self.lines[0]].shape
        out = np.empty((len(self.names), flat[0].size))
        add_up(flat, weights, out)
        return {name: total.reshape(shape) for name, total in zip(self.names, out, strict=True)}

    def by_period(self, lines: Mapping[str, Floats], starts: NDArray[np.int64]) -> list[Floats]:
        """Every sum in the order of the names, added up by period, (S, Y).

        Parameters
        ----------
        starts : (Y + 1,) the first month of each period, and the number of months
        """
        flat, weights = self.taken(lines)
        out = np.empty((len(self.names), len(lines[self.lines[0]]), starts.size - 1))
        add_by_period(flat, weights, starts, work_space(len(self.names), int(starts[-1])), out)
        return list(out)


def plus(one: Floats, other: Floats) -> Floats:
    """The sum of two lines; where one is nil throughout, the other itself."""
    if is_nil(one):
        return other
    return one if is_nil(other) else one + other


def less(line: Floats) -> Floats:
    """A line with the other sign."""
    return line if is_nil(line) else -line


def is_nil(line: Floats) -> bool:
    """Whether a line is one nil seen in every month of every scenario."""
    return not any(line.strides) and not line.flat[0]
