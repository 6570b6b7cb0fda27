"""Amounts that come back: which months they fall in, and what they come to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import handed, solid
from farmcase.costs.running_kernel import add_up

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
EVERY = {"month": 1, "quarter": 3, "year": 12}
_NEVER_AGAIN = 10_000  # months; longer than any case


class Due(NamedTuple):
    """When each row is due, (R,); months from the start."""

    starts: Ints
    every: Ints
    ends: Ints  # the last month it may be due


def due(
    period: str, starts_month: int, ends_month: int | None, months: int
) -> tuple[int, int, int]:
    """First month, months between, last month of an amount.

    Parameters
    ----------
    period : month, quarter, year or once
    starts_month, ends_month : first month it is due, and the last it may be
    months : number of months, month 0 included
    """
    ends = months - 1 if ends_month is None else min(ends_month, months - 1)
    return starts_month, EVERY.get(period, _NEVER_AGAIN), ends


def times_due(first: int, every: int, last: int, within: slice) -> int:
    """How often an amount falls due within a range of months."""
    return len([m for m in range(first, last + 1, every) if within.start <= m < within.stop])


def repeating_amounts(
    amount: Floats, when: Due, category: Ints, levels: Sequence[Floats]
) -> Floats:
    """Nominal money by month of all repeating rows.

    Parameters
    ----------
    amount : (S, R) at start-month prices
    when : months in which each is due
    category : (R,) the price level of each row
    levels : price levels, (S, T) each

    Returns
    -------
    (S, T)
    """
    total = np.zeros((amount.shape[0], levels[0].shape[-1]))
    by_level = tuple(handed(level) for level in levels)
    add_up(handed(amount), *solid(when), handed(category, int), by_level, total)
    return total
