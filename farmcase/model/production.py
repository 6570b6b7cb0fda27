"""From months of production (a start-up year and a settled year) to months from the start."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmcase.model.gather import BuildInputs
from farmcase.model.rooms import LENGTHS

Floats = NDArray[np.float64]


class Production:
    """Spreads what production gives by month of production over months from the start."""

    def __init__(self, inputs: BuildInputs, group: NDArray[np.int64], groups: int) -> None:
        self.group = None if groups == 1 else group
        self.place = np.maximum(inputs.production, 0)
        self.active = (inputs.production >= 0).astype(float)
        self.days = LENGTHS[inputs.calendar] * self.active
        # days of the 24 months of production themselves
        first = (inputs.calendar[0] + inputs.start) % 12
        self.days_of_production = LENGTHS[(first + np.arange(24)) % 12]

    def of_group(self, array: Floats) -> Floats:
        """(G, ...) as (S, ...), or as (1, ...) where all scenarios share one group."""
        return array if self.group is None else array[self.group]

    def over_months(self, array: Floats) -> Floats:
        """(..., 24) to (..., T); nothing in months without production."""
        return np.take(array, self.place, axis=-1) * self.active
