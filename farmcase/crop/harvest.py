"""From units picked to kilograms in the store: yield, learning, grade and losses."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmcase.compiled import handed
from farmcase.crop.harvest_kernel import grade

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


def full_yield_kg(dry_picked_kg: Floats, flush_shares: Floats) -> Floats:
    """Kilograms picked by crop and month if the biological efficiency were 1.

    Parameters
    ----------
    dry_picked_kg : (G, C, F, 24) dry substrate whose flush was picked in the month [kg]
    flush_shares : (C, F) share of the whole crop in each flush

    Returns
    -------
    (G, C, 24) [kg]
    """
    return (dry_picked_kg * flush_shares[None, :, :, None]).sum(2)


class Grading(NamedTuple):
    """What decides how much is picked and where it goes, (S, C) or (S,)."""

    efficiency_share: Floats  # (S, C) biological efficiency of the whole crop
    second_share: Floats  # (S, C) second grade of what grew within the band
    kept_share: Floats  # (S,) of the weight, after days in the store
    bunching_share: Floats  # (S,) thrown away because harvests bunch


class Harvest(NamedTuple):
    """Kilograms by scenario and month from the start."""

    picked: Floats  # (S, C, T)
    thrown_before_sale: Floats  # (S, T) lost because harvests bunch
    saleable: Floats  # (S, 2 C, T) first grade of each crop, then second grade of each


def harvest(
    full_kg: Floats,
    off_band_kg: Floats,
    group: NDArray[np.int64],
    place: NDArray[np.int64],
    learning: Floats,
    grading: Grading,
) -> Harvest:
    """Kilograms picked, and what of them can be sold as first and as second grade.

    Parameters
    ----------
    full_kg : (G, C, 24) by month of production, at a biological efficiency of 1
    off_band_kg : (G, C, 24) of it, grown outside the band, which goes to second grade
    group : (S,) the row of `full_kg` of each scenario
    place : (T,) month of production of each month from the start; -1 before the first starts
    learning : (S, T) share of the full yield
    """
    scenarios, months = learning.shape
    crops = full_kg.shape[1]
    out = Harvest(
        np.zeros((scenarios, crops, months)),
        np.zeros((scenarios, months)),
        np.zeros((scenarios, 2 * crops, months)),
    )
    off_share = off_band_kg / np.maximum(full_kg, 1e-12)
    arrays = (handed(a) for a in (full_kg, off_share, learning, *grading))
    full, off, learned, *shares = arrays
    grade(full, off, group, place, learned, Grading(*shares), out)
    return out


def kept_share(weight_loss_share_per_day: Floats, days_held: Floats) -> Floats:
    """Share of the picked weight left after days in the store (loss compounds daily)."""
    return (1 - weight_loss_share_per_day) ** days_held
