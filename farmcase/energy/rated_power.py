"""Machines at a steady load: energy from rated power, hours and duty by month."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def machine_hours(hours_per_day: Floats, duty_share: Floats, duty: Floats, days: Floats) -> Floats:
    """Full-power hours of each machine by month.

    Parameters
    ----------
    hours_per_day, duty_share : (G, machines)
    duty : (machines, T) duty of the month, 0 to 1
    days : (T,) days in the month

    Returns
    -------
    (G, machines, T) [h]
    """
    return (hours_per_day * duty_share)[:, :, None] * duty * days
