"""Numbers of many scenarios in one table, a row for each scenario and a column for each path."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Scenarios(NamedTuple):
    """The paths that scenarios change, and their numbers."""

    places: Mapping[str, int]  # of each path, its column
    numbers: Floats  # (S, P)

    def rows(self, which: slice | NDArray[np.int64]) -> Scenarios:
        """Some of the scenarios."""
        return Scenarios(self.places, self.numbers[which])


def as_scenarios(values: Mapping[str, Floats], count: int = 1) -> Scenarios:
    """A table of values by path, (S,) each.

    Parameters
    ----------
    count : number of scenarios where there are no values
    """
    columns = [np.asarray(column, float) for column in values.values()]
    numbers = np.stack(columns, axis=1) if columns else np.empty((count, 0))
    return Scenarios({path: i for i, path in enumerate(values)}, numbers)
