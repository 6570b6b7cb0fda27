"""Amounts that come back: which months they fall in, and what they come to."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
EVERY = {"month": 1, "quarter": 3, "year": 12}


def falls_in(period: str, starts_month: int, ends_month: int | None, months: int) -> Floats:
    """1 in each month from the start in which the amount is due, else 0.

    Parameters
    ----------
    period : month, quarter, year or once
    starts_month, ends_month : first month it is due, and the last it may be
    months : number of months, month 0 included
    """
    month = np.arange(months)
    if period == "once":
        return (month == starts_month).astype(float)
    due = (month >= starts_month) & ((month - starts_month) % EVERY[period] == 0)
    if ends_month is not None:
        due &= month <= ends_month
    return due.astype(float)


def repeating_amounts(amount: Floats, due: Floats, level: Floats) -> Floats:
    """Nominal money by month of all repeating rows.

    Parameters
    ----------
    amount : (S, R) at start-month prices
    due : (R, T) 1 where due
    level : (S, R, T) price level of each row's category

    Returns
    -------
    (S, T)
    """
    return (amount[:, :, None] * due * level).sum(1)
