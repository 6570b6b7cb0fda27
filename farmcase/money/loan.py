"""The level-payment loan, as lenders quote it: a nominal yearly rate charged monthly."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def level_payment(rate_per_period: ArrayLike, periods: ArrayLike, amount: ArrayLike) -> Floats:
    """Payment each period that clears an amount with its interest; positive.

    At a rate of zero it is the amount over the number of periods.

    Equation: amount x r / (1 - (1 + r)^-n).
    """
    rate = np.asarray(rate_per_period, float)
    count = np.asarray(periods, float)
    amount = np.asarray(amount, float)
    safe = np.where(rate == 0, 1.0, rate)
    annuity = -np.expm1(-count * np.log1p(safe)) / safe
    return np.where(rate == 0, amount / count, amount / annuity)
