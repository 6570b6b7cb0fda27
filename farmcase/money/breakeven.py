"""Break-even for profit before tax: how far yield or prices may fall until profit is zero.

Yield varies at the same starts: costs per unit stay, costs per kilogram move, and the outlets are
filled anew, so that the last kilograms go to the cheapest outlet. Profit is then piecewise linear
in yield and is solved exactly.

Scenarios S, pools P, outlets O, months T (the twelve of one year).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.money.sales import fill_order, fill_outlets

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_NEVER = 1e15  # a share of the plan's yield that is never reached


class SaleYear(NamedTuple):
    """One year of sales and the costs that move with kilograms."""

    kilograms: Floats  # (S, P, T) saleable kilograms at the yield of the plan
    limit_kg: Floats  # (S, O, T)
    pool: Ints  # (O,)
    price: Floats  # (S, O, T) price per kg less fees, nominal
    handling: Floats  # (S, O, T) packaging and delivery per kg, nominal
    order_price: Floats  # (S, O) price less fees at start-month prices, decides the order
    order_handling: Floats  # (S, O) packaging and delivery at start-month prices
    unsold_cost: Floats  # (S, T) per kg that no outlet takes
    picked_cost: Floats  # (S, P, T) per saleable kg: picking and other work by weight
    fixed: Floats  # (S,) all other costs less other income, positive


def profit_at(year: SaleYear, yield_scale: Floats, price_scale: Floats) -> Floats:
    """Profit of the year with all yields and all prices scaled.

    Parameters
    ----------
    yield_scale, price_scale : (S,)
    """
    kilograms = year.kilograms * yield_scale[:, None, None]
    order = fill_order(year.order_price * price_scale[:, None] - year.order_handling)
    filled = fill_outlets(kilograms, year.limit_kg, order, year.pool)
    margin = year.price * price_scale[:, None, None] - year.handling
    sold = (filled.sold_kg * margin).sum((1, 2))
    unsold = (filled.unsold_kg.sum(1) * year.unsold_cost).sum(1)
    return sold - unsold - (kilograms * year.picked_cost).sum((1, 2)) - year.fixed


def break_even_yield(year: SaleYear, most_scale: Floats) -> Floats:
    """The lowest share of the plan's yield at which profit is zero.

    Parameters
    ----------
    most_scale : (S,) the most that the rooms can give, as a share of the plan's yield

    Returns
    -------
    (S,) share; NaN where profit is negative at every yield up to the most
    """
    at, slope_change = _bends(year)
    order = np.argsort(at, axis=1, kind="stable")
    at = np.take_along_axis(at, order, 1)
    change = np.take_along_axis(slope_change, order, 1)
    slope = _first_slope(year)[:, None] + np.concatenate(
        [np.zeros((at.shape[0], 1)), change.cumsum(1)], axis=1
    )
    start = np.concatenate([np.zeros((at.shape[0], 1)), at], axis=1)
    width = np.diff(start, axis=1)
    gain = np.where(width > 0, width * slope[:, :-1], 0.0)
    profit = np.concatenate([np.zeros((at.shape[0], 1)), gain.cumsum(1)], axis=1)
    profit = profit - year.fixed[:, None]
    reached = np.concatenate([profit[:, 1:] >= 0, slope[:, -1:] > 0], axis=1)
    piece = reached.argmax(1)[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = _pick(start, piece) - _pick(profit, piece) / _pick(slope, piece)
    scale = np.where(profit[:, 0] >= 0, 0.0, scale)
    possible = (profit[:, 0] >= 0) | reached.any(1)
    return np.where(possible & (scale <= most_scale), scale, np.nan)


def _pick(table: Floats, column: Ints) -> Floats:
    return np.take_along_axis(table, column, 1)[:, 0]


def _bends(year: SaleYear) -> tuple[Floats, Floats]:
    """Yields at which an outlet is full, and by how much the slope of profit changes there."""
    scenarios, outlets, months = year.limit_kg.shape
    order = fill_order(year.order_price - year.order_handling)
    margin = year.price - year.handling
    rows = np.arange(scenarios)
    filled = np.zeros(year.kilograms.shape)
    waiting = np.full((scenarios, year.kilograms.shape[1]), -1)
    at = np.full((scenarios, outlets, months), _NEVER)
    change = np.zeros((scenarios, outlets, months))
    for place in range(outlets):
        outlet = order[:, place]
        source = year.pool[outlet]
        kilograms = year.kilograms[rows, source]
        filled[rows, source] += year.limit_kg[rows, outlet]
        with np.errstate(divide="ignore", invalid="ignore"):
            full = filled[rows, source] / kilograms
        at[rows, outlet] = np.where(kilograms > 0, full, _NEVER)
        change[rows, outlet] = -kilograms * (margin[rows, outlet] + year.unsold_cost)
        earlier = waiting[rows, source]
        has = earlier >= 0
        gain = kilograms * (margin[rows, outlet] + year.unsold_cost)
        change[rows[has], earlier[has]] += gain[has]
        waiting[rows, source] = outlet
    flat = (scenarios, outlets * months)
    return at.reshape(flat), change.reshape(flat)


def _first_slope(year: SaleYear) -> Floats:
    """Profit per unit of yield scale while every pool goes to its best outlet."""
    scenarios = year.kilograms.shape[0]
    order = fill_order(year.order_price - year.order_handling)
    margin = year.price - year.handling
    rows = np.arange(scenarios)
    best = np.broadcast_to(-year.unsold_cost[:, None, :], year.kilograms.shape).copy()
    for place in reversed(range(order.shape[1])):
        outlet = order[:, place]
        best[rows, year.pool[outlet]] = margin[rows, outlet]
    return (year.kilograms * (best - year.picked_cost)).sum((1, 2))


def break_even_prices(year: SaleYear) -> Floats:
    """The share of the plan's prices at which profit is zero at the plan's yield.

    The order of the outlets can change with prices, so the straight line is solved again until it
    stays; NaN where nothing is sold.
    """
    ones = np.ones(year.fixed.shape)
    scale = ones.copy()
    for _ in range(30):
        sold = np.where(np.isfinite(scale), scale, 1.0)  # nothing sold: no price can help
        low, high = sold * 0.999, sold * 1.001
        below, above = profit_at(year, ones, low), profit_at(year, ones, high)
        with np.errstate(divide="ignore", invalid="ignore"):
            fresh = low - below * (high - low) / (above - below)
        if np.allclose(fresh, scale, rtol=1e-14, atol=0, equal_nan=True):
            break
        scale = fresh
    return np.where(np.isfinite(scale), scale, np.nan)
