"""What is bought and built: spending by month, replacements, depreciation and end value.

Rows R, scenarios S, months T from the start (month 0). A row is paid in its month, lasts its life
and is bought again at the price of that month; in the last month nothing is bought again.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class CapitalFlows(NamedTuple):
    """Nominal money by month, all positive."""

    spending: Floats  # (S, T) first purchases
    replacements: Floats  # (S, T)
    depreciation: Floats  # (S, T) straight line over the life of each purchase
    end_value: Floats  # (S,) resale in the last month


def capital_flows(
    cost: Floats,
    month: Ints,
    life_years: Floats,
    resale_share: Floats,
    inflation: Floats,
    bought_again: bool = True,
) -> CapitalFlows:
    """Follow every row through its purchases.

    Parameters
    ----------
    cost : (S, R) cost at start-month prices
    month : (S, R) month of the first purchase
    life_years, resale_share : (S, R)
    inflation : (S, T) price level of each month
    bought_again : whether a row is replaced at the end of its life
    """
    scenarios, months = inflation.shape
    last = months - 1
    life = np.maximum(1, np.rint(life_years * 12)).astype(np.int64)
    spending = np.zeros(inflation.shape)
    replacements = np.zeros(inflation.shape)
    slope = np.zeros((scenarios, months + 1))
    end_value = np.zeros(scenarios)
    bought = np.broadcast_to(np.minimum(month, last), cost.shape)
    level = np.broadcast_to(inflation, (scenarios, months))
    shape = np.broadcast_shapes(cost.shape, life.shape, (scenarios, 1))
    cost, life = np.broadcast_to(cost, shape), np.broadcast_to(life, shape)
    bought = np.broadcast_to(bought, shape)
    first = True
    alive = np.ones(shape, bool)
    while alive.any():
        nominal = np.where(alive, cost * _at(level, bought), 0.0)
        target = spending if first else replacements
        target += _by_month(nominal, bought, months)
        monthly = nominal / life
        slope += _by_month(monthly, bought + 1, months + 1)
        slope -= _by_month(monthly, np.minimum(bought + life + 1, months), months + 1)
        following = bought + life
        final = alive & ((following >= last) | (not bought_again))
        end_value += np.where(final, nominal * resale_share, 0.0).sum(-1)
        alive = alive & ~final
        bought, first = np.where(alive, following, last), False
    return CapitalFlows(spending, replacements, slope.cumsum(-1)[:, :months], end_value)


def _at(level: Floats, month: Ints) -> Floats:
    return np.take_along_axis(level, month, axis=-1)


def _by_month(amount: Floats, month: Ints, months: int) -> Floats:
    """Sum amounts (S, R) into their months: (S, months)."""
    scenarios = amount.shape[0]
    place = month + months * np.arange(scenarios)[:, None]
    total = np.bincount(place.ravel(), amount.ravel(), minlength=scenarios * months)
    return total.astype(np.float64).reshape(scenarios, months)
