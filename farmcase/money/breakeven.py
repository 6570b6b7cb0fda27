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

from farmcase.compiled import handed, solid
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


class PricedYear(NamedTuple):
    """The same where every price is one of the start month times the price level of the month.

    With a row of each scenario or one that stands for all where it says (S or 1, ...).
    """

    kilograms: Floats  # (S, P, M)
    limit_kg: Floats  # (S or 1, O, M)
    pool: Ints  # (O,)
    price: Floats  # (S, O, 1); by month where there is a third axis of months
    price_level: Floats  # (S or 1, M)
    handling: Floats  # (S, O, 1), as `price`
    handling_level: Floats  # (S or 1, M)
    order_price: Floats  # (S, O)
    order_handling: Floats  # (S, O)
    entered_price: Floats  # (S or 1, O) as entered, in money of its own date
    unsold_cost: Floats  # (S, M)
    picked_cost: Floats  # (S, P or 1, M)
    fixed: Floats  # (F, S) fixed costs in each of F ways


def _priced(year: SaleYear | PricedYear) -> PricedYear:
    """Any year as the kernels take it."""
    if isinstance(year, PricedYear):
        return solid(year)
    ones = np.ones((1, year.kilograms.shape[2]))
    return solid(
        PricedYear(
            kilograms=year.kilograms,
            limit_kg=year.limit_kg,
            pool=handed(year.pool, int),
            price=year.price,
            price_level=ones,
            handling=year.handling,
            handling_level=ones,
            order_price=year.order_price,
            order_handling=year.order_handling,
            entered_price=year.order_price,
            unsold_cost=year.unsold_cost,
            picked_cost=year.picked_cost,
            fixed=year.fixed[None],
        )
    )


def _work(year: PricedYear) -> Work:
    outlets, (_, pools, months) = year.pool.size, year.kilograms.shape
    by_outlet, by_pool = (outlets, months), (pools, months)
    of_pools = ("left", "taken", "last", "gap", "grown", "per_kg", "never")
    shapes = {"summed": (outlets, 4)} | dict.fromkeys(of_pools, by_pool)
    orders = (np.zeros(outlets, np.int64) for _ in range(2))
    names = Work._fields[2:]
    return Work(*orders, *(np.zeros(shapes.get(name, by_outlet)) for name in names))


class Sold(NamedTuple):
    """A year with its yields and prices scaled, (S,)."""

    profit: Floats
    sold_kg: Floats


class BreakEvens(NamedTuple):
    """For each way in which a year breaks even, (F, S); NaN where it does not."""

    yield_scale: Floats  # the lowest share of the plan's yield at which nothing is lost
    sold_kg: Floats  # sold at that yield
    price_scale: Floats  # the share of the plan's prices at which nothing is lost
    mean_price: Floats  # (S,) entered price of a kilogram sold at the yield of the plan


def sell_at(year: SaleYear | PricedYear, yield_scale: Floats, price_scale: Floats) -> Sold:
    """Profit and kilograms sold of the year with all yields and all prices scaled.

    Parameters
    ----------
    yield_scale, price_scale : (S,)
    """
    given, size = _priced(year), year.kilograms.shape[0]
    out = Sold(np.empty(size), np.empty(size))
    sell_years(given, handed(yield_scale), handed(price_scale), _work(given), *out)
    return out


def profit_at(year: SaleYear | PricedYear, yield_scale: Floats, price_scale: Floats) -> Floats:
    """Profit of the year with all yields and all prices scaled.

    Parameters
    ----------
    yield_scale, price_scale : (S,)
    """
    return sell_at(year, yield_scale, price_scale).profit


def _solve(year: SaleYear | PricedYear, most_scale: Floats, leaves: bool) -> BreakEvens:
    given = _priced(year)
    solved = (np.empty(given.fixed.shape) for _ in range(3))
    out = BreakEvens(*solved, mean_price=np.empty(most_scale.size))
    break_evens(given, leaves, handed(most_scale), _work(given), out)
    return out


def break_evens_of(year: PricedYear, leaves: Floats, most_scale: Floats) -> BreakEvens:
    """Break-evens of a year that leaves known sums at the plan's yield and prices.

    Parameters
    ----------
    year : its own fixed costs are not looked at
    leaves : (F, S) what is left of the year in each of F ways, all costs paid
    most_scale : (S,) the most that the rooms can give, as a share of the plan's yield
    """
    return _solve(year._replace(fixed=leaves), most_scale, True)


def break_even_yield(year: SaleYear, most_scale: Floats) -> Floats:
    """The lowest share of the plan's yield at which profit is zero.

    Parameters
    ----------
    most_scale : (S,) the most that the rooms can give, as a share of the plan's yield

    Returns
    -------
    (S,) share; NaN where profit is negative at every yield up to the most
    """
    return _solve(year, most_scale, False).yield_scale[0]


def break_even_prices(year: SaleYear) -> Floats:
    """The share of the plan's prices at which profit is zero at the plan's yield.

    The order of the outlets can change with prices, so the straight line is solved again until it
    stays; NaN where nothing is sold.
    """
    return _solve(year, np.zeros(year.fixed.size), False).price_scale[0]
