"""Sales: outlets are filled in order of net price, each up to its limit of the month.

Scenarios S, outlets O, pools P (one for each crop and grade), months T. The sums by month run in
`money/sales_kernel`; where it says (S or 1, ...) one row stands for all scenarios.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import handed, solid, work_space
from farmcase.money.sales_kernel import fill, limit_outlets, receive, sell_months

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
# Rows that the sales of one scenario are worked out in.
WORK = (
    "taken",  # by one outlet
    "amount",  # invoiced to it
    "sales_level",
    "general_level",
    "sold",  # by all outlets
    "invoiced",
    "fees",
    "packaging",
    "delivery",
    "received",
    "to_registered",
    "vat_invoiced",
    "vat_received",
)
_MONTHS_AT_ONCE = 32  # as many as the compiler takes


class Filled(NamedTuple):
    """Kilograms sold by outlet and left over by pool."""

    sold_kg: Floats  # (S, O, T)
    unsold_kg: Floats  # (S, P, T)


class Limits(NamedTuple):
    """The most that outlets take: kilograms a week times weeks, less while an outlet builds up."""

    most_kg_per_week: Floats  # (S or 1, O)
    weeks: Floats  # (O, T) weeks of production in the month, times the season's share
    build_up_months: Floats  # (S or 1, O); one of n months takes 1/n of its limit in the first
    first: int  # month in which they begin to build up; below 0 where that was before


class Supply(NamedTuple):
    """What there is to sell and who takes it."""

    kilograms: Floats  # (S, P, T) saleable kilograms of each pool
    limits: Limits
    order: Ints  # (S or 1, O) outlets from best to worst
    pool: Ints  # (O,) the pool each outlet draws on


class SaleTerms(NamedTuple):
    """What an outlet pays and what selling to it costs, at start-month prices, (S or 1, O)."""

    price: Floats  # per kg
    fee_share: Floats
    packaging: Floats  # per kg
    delivery: Floats  # per kg
    trips_per_week: Floats  # cost of the deliveries of a week of production
    delay_days: Floats  # from invoice to payment
    vat_rate: Floats  # VAT on top of the price
    registered: Floats  # 1 where the buyer is registered for VAT


class Sales(NamedTuple):
    """Kilograms and money of all outlets together by month, (S, T).

    Money is nominal, received positive, paid negative.
    """

    sold_kg: Floats
    unsold_kg: Floats
    invoiced: Floats
    fees: Floats
    packaging: Floats
    delivery: Floats
    received: Floats  # of what was invoiced, when it is paid
    vat_invoiced: Floats  # on top of what is invoiced
    vat_received: Floats  # on top of what is paid
    to_registered: Floats  # of what is invoiced, to buyers registered for VAT


def net_price_per_kg(
    price: Floats, fee_share: Floats, packaging: Floats, delivery: Floats
) -> Floats:
    """Price less what the sale itself costs; decides which outlet is filled first."""
    return price * (1 - fee_share) - packaging - delivery


def weekly_limits(
    most_kg_per_week: Floats, season: Floats, build_up_months: Floats, days: Floats
) -> Floats:
    """What each outlet takes in each month of production: limit x days / 7 x season x build-up.

    Parameters
    ----------
    most_kg_per_week, build_up_months : (S or 1, O)
    season : (O, T) share of the limit in the month
    days : (T,) days of the month

    Returns
    -------
    (S, O, T) [kg], one row where both have one; an outlet with a build-up of n months takes 1/n of
    its limit in the first
    """
    return limits_kg(Limits(most_kg_per_week, season * (days / 7), build_up_months, 0))


def limits_kg(limits: Limits) -> Floats:
    """What each outlet takes in each month, (S, O, T) [kg]; one row where all have one."""
    rows = max(limits.most_kg_per_week.shape[0], limits.build_up_months.shape[0])
    out = np.empty((rows, *limits.weeks.shape))
    limit_outlets(*solid(limits), out)
    return out


def fill_order(net_price: Floats) -> Ints:
    """Outlets from the best net price to the worst, (S, O); ties keep the order of the table."""
    return np.argsort(-net_price, axis=1, kind="stable").astype(np.int64)


def fill_outlets(kilograms: Floats, limit_kg: Floats, order: Ints, pool: Ints) -> Filled:
    """Fill outlets pool by pool.

    Parameters
    ----------
    kilograms : (S, P, T) saleable kilograms of each pool
    limit_kg : (S or 1, O, T) what each outlet takes
    order, pool : as in `Supply`
    """
    scenarios, _, months = kilograms.shape
    filled = Filled(np.zeros((scenarios, pool.size, months)), np.empty(kilograms.shape))
    fill(handed(kilograms), handed(limit_kg), handed(order, int), handed(pool, int), *filled)
    return filled


def received(amount: Floats, delay_days: Floats, last_gets_all: bool = True) -> Floats:
    """Money received when it is paid after a delay; part months are split over two months.

    Parameters
    ----------
    amount : (S, O, T) invoiced
    delay_days : (S or 1, O)
    last_gets_all : whether what is still owed in the last month is received then

    Returns
    -------
    (S, O, T)
    """
    out = np.empty(amount.shape)
    receive(handed(amount), handed(delay_days), bool(last_gets_all), out)
    return out


def sell(
    supply: Supply, terms: SaleTerms, days: Floats, sales_level: Floats, general_level: Floats
) -> Sales:
    """Fill the outlets: what is sold and invoiced, what selling costs and what comes in.

    What is still owed in the last month is received then. Deliveries are made every week of
    production whatever is sold. No array by outlet and month is made: on many scenarios, asking
    for memory takes longer than the sums.

    Parameters
    ----------
    days : (T,) days of the month in which the farm produces
    sales_level, general_level : (S or 1, T) level of prices, and of packaging and delivery
    """
    scenarios, pools, months = supply.kilograms.shape
    width = -(-months // _MONTHS_AT_ONCE) * _MONTHS_AT_ONCE
    weeks = work_space(supply.pool.size, width)
    weeks[:, :months] = supply.limits.weeks
    trips = terms.trips_per_week.sum(1)[:, None] * (days / 7)
    sales = Sales(*(np.empty((scenarios, months)) for _ in Sales._fields))
    sell_months(
        handed(supply.kilograms),
        solid(supply.limits._replace(weeks=weeks)),
        handed(supply.order, int),
        handed(supply.pool, int),
        solid(terms),
        handed(trips),
        (handed(sales_level), handed(general_level)),
        (work_space(pools, width), work_space(len(WORK), 2 * width)),
        sales,
    )
    return sales
