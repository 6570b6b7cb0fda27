"""Hours of work by task, from what drives each."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def task_hours(hours_per_driver: Floats, drivers: Floats) -> Floats:
    """Hours of each task by month.

    Parameters
    ----------
    hours_per_driver : (S, tasks)
    drivers : (S, tasks, T) how much of its driver each task has in the month

    Returns
    -------
    (S, tasks, T) [h]
    """
    return hours_per_driver[:, :, None] * drivers
