"""From months of production (a start-up year and a settled year) to months from the start."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import handed
from farmcase.model.gather import BuildInputs
from farmcase.model.production_kernel import spread
from farmcase.model.rooms import LENGTHS

Floats = NDArray[np.float64]


class Production:
    """Spreads what production gives by month of production over months from the start."""

    def __init__(self, inputs: BuildInputs, group: NDArray[np.int64], groups: int) -> None:
        self.inputs = inputs
        self.group = None if groups == 1 else group
        self.place, self.active, self.days = inputs.once("production", lambda: _months(inputs))

    def of_group(self, array: Floats) -> Floats:
        """(G, ...) as (S, ...), or as (1, ...) where all scenarios share one group."""
        return array if self.group is None else array[self.group]

    def over_months(self, array: Floats) -> Floats:
        """(..., 24) to (..., T); nothing in months without production."""
        return np.take(array, self.place, axis=-1) * self.active

    def at_prices(self, array: Floats, level: Floats, sign: float = 1.0) -> Floats:
        """(1|S, 24) at start-month prices to (S, T) at the price level of each month, (S, T)."""
        if not array.any():
            return self.inputs.nothing
        line = np.empty(level.shape)
        spread(handed(array), self.inputs.production, handed(level), sign, line)
        return line


def _months(inputs: BuildInputs) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Place in the months of production, whether there is any, and its days, (T,)."""
    active = (inputs.production >= 0).astype(float)
    return np.maximum(inputs.production, 0), active, LENGTHS[inputs.calendar] * active
