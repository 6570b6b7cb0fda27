"""Saturation pressure as a table of the checked formula, since every step of every room asks it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import compiled
from farmcase.moist_air import TRIPLE_POINT_C, saturation_pressure_pa

# Saturation pressure in cells of a quarter kelvin: value and slope at both ends of each, so that a
# cubic between them is within 1e-9 of the formula, and the kink at the triple point (ice below)
# stays one.
STEP_C = 0.25
LEAST_C, MOST_C = TRIPLE_POINT_C - 400 * STEP_C, TRIPLE_POINT_C + 400 * STEP_C


def _saturation_table() -> NDArray[np.float64]:
    count = round((MOST_C - LEAST_C) / STEP_C)
    low = np.linspace(LEAST_C, MOST_C, count, endpoint=False)
    inside = 1e-9  # keeps to the side of the triple point on which the cell lies
    ends = (low + inside, low + STEP_C - inside)
    values = [saturation_pressure_pa(end) for end in ends]
    slopes = [_slope(end, step) * STEP_C for end, step in zip(ends, (1e-3, -1e-3), strict=True)]
    return np.ascontiguousarray(np.stack([*values, *slopes], axis=1))


def _slope(temp_c: NDArray[np.float64], step_k: float) -> NDArray[np.float64]:
    """Slope of the formula from one side [Pa/K], to the second order."""
    here, near, far = (saturation_pressure_pa(temp_c + k * step_k) for k in range(3))
    return (4.0 * near - 3.0 * here - far) / (2.0 * step_k)


SATURATION = _saturation_table()


@compiled
def saturation(temp_c):
    """Saturation pressure [Pa] and its slope [Pa/K], from the table."""
    place = min(max((temp_c - LEAST_C) / STEP_C, 0.0), SATURATION.shape[0] - 1e-9)
    row = SATURATION[int(place)]
    x = place - int(place)
    y = 1.0 - x
    value = row[0] * y * y * (1.0 + 2.0 * x) + row[1] * x * x * (1.0 + 2.0 * y)
    value += x * y * (row[2] * y - row[3] * x)
    slope = (
        6.0 * x * y * (row[1] - row[0]) + row[2] * y * (y - 2.0 * x) + row[3] * x * (x - 2.0 * y)
    )
    return value, slope / STEP_C
