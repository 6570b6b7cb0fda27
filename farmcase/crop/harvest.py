"""From units picked to kilograms in the store: yield, learning, grade and losses."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def biological_efficiency_share(fresh_kg: ArrayLike, dry_kg: ArrayLike) -> Floats:
    """Fresh mushrooms over dry substrate at spawning, as a share (1.0 is 100 %)."""
    return np.asarray(fresh_kg, float) / np.asarray(dry_kg, float)


def learning_share(first_share: Floats, months: Floats, count: int) -> Floats:
    """Share of the full yield in each month since the first starts.

    Rises in a straight line from `first_share` to 1 over `months`.

    Parameters
    ----------
    first_share, months : (S,)
    count : number of months

    Returns
    -------
    (S, count)
    """
    passed = np.arange(count, dtype=float)
    gone = passed / np.maximum(months, 1e-9)[:, None]
    return np.minimum(1.0, first_share[:, None] + (1 - first_share[:, None]) * gone)


def picked_kg(
    dry_picked_kg: Floats, efficiency_share: Floats, flush_shares: Floats, learning: Floats
) -> Floats:
    """Kilograms picked by crop and month.

    Parameters
    ----------
    dry_picked_kg : (S, C, F, T) dry substrate whose flush was picked in the month [kg]
    efficiency_share : (S, C) biological efficiency of the whole crop
    flush_shares : (C, F) share of the whole crop in each flush
    learning : (S, T) share of the full yield

    Returns
    -------
    (S, C, T) [kg]
    """
    by_flush = dry_picked_kg * flush_shares[None, :, :, None]
    return by_flush.sum(2) * efficiency_share[:, :, None] * learning[:, None, :]


def kept_share(weight_loss_share_per_day: Floats, days_held: Floats) -> Floats:
    """Share of the picked weight left after days in the store (loss compounds daily)."""
    return (1 - weight_loss_share_per_day) ** days_held
