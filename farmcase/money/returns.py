"""What a stream of money is worth: present value, rates of return, payback.

The first flow is today and is not discounted; received is positive, paid negative. The last axis
is time; any axes before it are scenarios.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmcase.compiled import handed
from farmcase.money.returns_kernel import find_rates, grow, pay_back

Floats = NDArray[np.float64]


def discount_factors(rate_per_year: ArrayLike, count: int, per_year: int = 12) -> Floats:
    """(1 + r)^(-t / per_year) for t = 0 .. count - 1; shape (..., count)."""
    return _powers(rate_per_year, count, per_year, -1.0)


def price_level(rate_per_year: ArrayLike, count: int) -> Floats:
    """(1 + g)^(m / 12) for months m = 0 .. count - 1; shape (..., count)."""
    return _powers(rate_per_year, count, 12, 1.0)


def _powers(rate_per_year: ArrayLike, count: int, per_year: int, sign: float) -> Floats:
    rate = np.asarray(rate_per_year, float)
    powers = np.empty((rate.size, count))
    grow(handed(rate.reshape(-1)), per_year, sign, powers)
    return powers.reshape(*rate.shape, count)


def real_rate(nominal: ArrayLike, inflation: ArrayLike) -> Floats:
    """The real rate behind a nominal one, exactly (Fisher): (1 + n) / (1 + i) - 1."""
    return (1 + np.asarray(nominal, float)) / (1 + np.asarray(inflation, float)) - 1


def npv(rate_per_year: ArrayLike, flows: ArrayLike, per_year: int = 12) -> Floats:
    """Net present value.

    Warning: the first flow is today. A spreadsheet's NPV discounts its first flow by a period;
    there the first flow is added outside.
    """
    flows = np.asarray(flows, float)
    return (flows * discount_factors(rate_per_year, flows.shape[-1], per_year)).sum(-1)


def annuity_factor(rate_per_year: ArrayLike, years: ArrayLike) -> Floats:
    """Present value of 1 at the end of each year; the number of years at a rate of zero."""
    rate, years = np.asarray(rate_per_year, float), np.asarray(years, float)
    safe = np.where(rate == 0, 1.0, rate)
    return np.where(rate == 0, years, -np.expm1(-years * np.log1p(safe)) / safe)


def rates_of_return(flows: ArrayLike, per_year: int = 12) -> list[float]:
    """Every internal rate of one stream, lowest first: none, one or several.

    Parameters
    ----------
    flows : (T,)
    per_year : periods in a year; the rates are effective yearly rates

    Notes
    -----
    Sought from -99.999 % to 110,000 % a year; `money/returns_kernel` says how. A range of rates is
    left only when it holds no root or one for certain, or is narrower than 1.2 % of (1 + rate), 7 %
    outside -95 % to 1,900 %: two rates closer to each other than that may be missed, both of them.
    """
    table = handed(np.asarray(flows, float)[None])
    count, found = np.zeros(1, np.int64), np.empty(table.shape)
    find_rates(table, float(per_year), count, found)
    return [float(rate) for rate in found[0, : count[0]]]


def single_rate(flows: Floats, per_year: int = 12) -> tuple[Floats, NDArray[np.int64]]:
    """The internal rate of each stream where it is single, and how many there are.

    Returns
    -------
    (S,) rate, NaN where there is none or more than one; (S,) count
    """
    count, found = np.zeros(len(flows), np.int64), np.empty((len(flows), 1))
    find_rates(handed(flows), float(per_year), count, found)
    return np.where(count == 1, found[:, 0], np.nan), count


def modified_rate(
    flows: Floats, finance_rate: ArrayLike, reinvest_rate: ArrayLike, per_year: int = 12
) -> Floats:
    """Modified internal rate: what is paid discounted at one rate, what is received grown at
    another; NaN where nothing is paid or nothing received."""
    flows = np.asarray(flows, float)
    paid = -npv(finance_rate, np.minimum(flows, 0), per_year)
    received = npv(reinvest_rate, np.maximum(flows, 0), per_year)
    return modified_rate_of(paid, received, reinvest_rate, (flows.shape[-1] - 1) / per_year)


def modified_rate_of(
    paid: Floats, received: Floats, reinvest_rate: ArrayLike, years: float
) -> Floats:
    """The same from the present values of what is paid and of what is received, both positive."""
    final = received * (1 + np.asarray(reinvest_rate, float)) ** years
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = (final / paid) ** (1 / years) - 1
    return np.where((paid > 0) & (final > 0), rate, np.nan)


def payback_periods(flows: Floats) -> Floats:
    """Periods from the first payment until the running total is back at zero, interpolated.

    NaN where nothing is paid, or where it never comes back within the stream; zero where the total
    is never below zero.
    """
    flows = np.asarray(flows, float)
    periods = np.empty(flows.shape[:-1])
    pay_back(handed(flows.reshape(-1, flows.shape[-1])), periods.reshape(-1))
    return periods
