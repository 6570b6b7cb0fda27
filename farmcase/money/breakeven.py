"""Break-even for profit before tax: how far yield or prices may fall until profit is zero.

Yield varies at the same starts: costs per unit stay, costs per kilogram move, and the outlets are
filled anew, so that the last kilograms go to the cheapest outlet. Profit is then piecewise linear
in yield and is solved exactly, in `money/breakeven_kernel`.

Scenarios S, pools P, outlets O, months T (the twelve of one year).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import handed
from farmcase.money.breakeven_kernel import Work, break_evens, sell_years

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


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


def _handed(year: SaleYear) -> SaleYear:
    parts = {name: handed(part) for name, part in year._asdict().items() if name != "pool"}
    return SaleYear(pool=handed(year.pool, int), **parts)


def _work(year: SaleYear) -> Work:
    _, outlets, months = year.limit_kg.shape
    pools = year.kilograms.shape[1]
    return Work(
        order=np.zeros(outlets, np.int64),
        taken=np.zeros(pools),
        reached=np.zeros(pools),
        full=np.zeros((outlets, months)),
        best=np.zeros((outlets, months)),
        gap=np.zeros(pools),
    )


class Sold(NamedTuple):
    """A year with its yields and prices scaled, (S,)."""

    profit: Floats
    sold_kg: Floats


def sell_at(year: SaleYear, yield_scale: Floats, price_scale: Floats) -> Sold:
    """Profit and kilograms sold of the year with all yields and all prices scaled.

    Parameters
    ----------
    yield_scale, price_scale : (S,)
    """
    out = Sold(np.empty(year.fixed.size), np.empty(year.fixed.size))
    sell_years(_handed(year), handed(yield_scale), handed(price_scale), _work(year), *out)
    return out


def profit_at(year: SaleYear, yield_scale: Floats, price_scale: Floats) -> Floats:
    """Profit of the year with all yields and all prices scaled.

    Parameters
    ----------
    yield_scale, price_scale : (S,)
    """
    return sell_at(year, yield_scale, price_scale).profit


def break_even_yield(year: SaleYear, most_scale: Floats) -> Floats:
    """The lowest share of the plan's yield at which profit is zero.

    Parameters
    ----------
    most_scale : (S,) the most that the rooms can give, as a share of the plan's yield

    Returns
    -------
    (S,) share; NaN where profit is negative at every yield up to the most
    """
    out = np.empty(year.fixed.size)
    break_evens(_handed(year), handed(most_scale), _work(year), out, np.empty(0))
    return out


def break_even_prices(year: SaleYear) -> Floats:
    """The share of the plan's prices at which profit is zero at the plan's yield.

    The order of the outlets can change with prices, so the straight line is solved again until it
    stays; NaN where nothing is sold.
    """
    out = np.empty(year.fixed.size)
    break_evens(_handed(year), np.empty(0), _work(year), np.empty(0), out)
    return out
