"""What a stream of money is worth: present value, rates of return, payback.

The first flow is today and is not discounted; received is positive, paid negative. The last axis
is time; any axes before it are scenarios.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
# ln(1 + yearly rate), dense from -95 % to 1,900 % a year and coarser out to -99.999 and 110,000 %
_RATES = np.concatenate(
    [np.arange(-12.0, -3.0, 0.1), np.arange(-3.0, 3.0, 0.0125), np.arange(3.0, 7.1, 0.1)]
)
_ROWS = 64  # streams scanned at once
_STEPS = 40  # halving alone brings the bracket to 1e-14; Newton's steps need about five


def discount_factors(rate_per_year: ArrayLike, count: int, per_year: int = 12) -> Floats:
    """(1 + r)^(-t / per_year) for t = 0 .. count - 1; shape (..., count)."""
    rate = np.asarray(rate_per_year, float)[..., None]
    return (1 + rate) ** (-np.arange(count) / per_year)


def price_level(rate_per_year: ArrayLike, count: int) -> Floats:
    """(1 + g)^(m / 12) for months m = 0 .. count - 1; shape (..., count)."""
    rate = np.asarray(rate_per_year, float)[..., None]
    return (1 + rate) ** (np.arange(count) / 12)


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
    The present value is scanned over rates from -99.999 % to 110,000 % a year and each change of
    sign is closed in on. Two rates less than about 1 % of (1 + rate) apart (10 % outside -95 % to
    1,900 %) are not told from none.
    """
    table = np.asarray(flows, float)[None]
    _, low, high = _changes_of_value(table, per_year)
    return [float(rate) for rate in _close_in(np.repeat(table, len(low), 0), low, high, per_year)]


def single_rate(flows: Floats, per_year: int = 12) -> tuple[Floats, NDArray[np.int64]]:
    """The internal rate of each stream where it is single, and how many there are.

    Returns
    -------
    (S,) rate, NaN where there is none or more than one; (S,) count
    """
    rows, low, high = _changes_of_value(flows, per_year)
    count = np.bincount(rows, minlength=flows.shape[0]).astype(np.int64)
    single = count[rows] == 1
    rows = rows[single]
    rate = np.full(flows.shape[0], np.nan)
    rate[rows] = _close_in(flows[rows], low[single], high[single], per_year)
    return rate, count


def _changes_of_value(flows: Floats, per_year: int) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Where present value changes sign: the row, and ln(1 + rate) on either side.

    The product runs over blocks of one fixed size, so that a row's result does not depend on the
    rows beside it.
    """
    count = flows.shape[0]
    time = np.arange(flows.shape[1]) / per_year
    exponent = -_RATES[:, None] * time
    exponent -= exponent.max(1, keepdims=True)
    # below exp(-300) nothing is left of a flow, and numbers near 1e-308 would slow the product
    weights = np.ascontiguousarray(np.where(exponent > -300, np.exp(exponent), 0.0).T)
    padded = np.zeros((-(-count // _ROWS) * _ROWS, flows.shape[1]))
    padded[:count] = flows
    blocks = [padded[i : i + _ROWS] @ weights for i in range(0, len(padded), _ROWS)]
    positive: NDArray[np.bool_] = np.asarray(np.concatenate(blocks)[:count] >= 0)
    both: NDArray[np.bool_] = np.asarray((flows.max(1) > 0) & (flows.min(1) < 0))
    rows, at = np.nonzero((positive[:, :-1] ^ positive[:, 1:]) & both[:, None])
    return rows, _RATES[at], _RATES[at + 1]


def _close_in(flows: Floats, low: Floats, high: Floats, per_year: int) -> Floats:
    """Rates between two values of ln(1 + rate): Newton's steps, or halves where they lead out."""
    time = np.arange(flows.shape[1]) / per_year
    shift = np.maximum(0.0, -(low + high) / 2 * time[-1])[:, None]
    start = (np.exp(-low[:, None] * time - shift) * flows).sum(-1) >= 0
    at = (low + high) / 2
    for _ in range(_STEPS):
        parts = np.exp(-at[:, None] * time - shift) * flows
        value, slope = parts.sum(-1), -(parts * time).sum(-1)
        same = (value >= 0) == start
        low, high = np.where(same, at, low), np.where(same, high, at)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = at - value / slope
        inside = (step >= low) & (step <= high)
        at = np.where(inside, step, (low + high) / 2)
    return np.expm1(at)


def modified_rate(
    flows: Floats, finance_rate: ArrayLike, reinvest_rate: ArrayLike, per_year: int = 12
) -> Floats:
    """Modified internal rate: what is paid discounted at one rate, what is received grown at
    another; NaN where nothing is paid or nothing received."""
    flows = np.asarray(flows, float)
    count = flows.shape[-1]
    paid = -npv(finance_rate, np.minimum(flows, 0), per_year)
    grown = npv(reinvest_rate, np.maximum(flows, 0), per_year)
    years = (count - 1) / per_year
    final = grown * (1 + np.asarray(reinvest_rate, float)) ** years
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = (final / paid) ** (1 / years) - 1
    return np.where((paid > 0) & (final > 0), rate, np.nan)


def payback_periods(flows: Floats) -> Floats:
    """Periods from the first payment until the running total is back at zero, interpolated.

    NaN where nothing is paid, or where it never comes back within the stream.
    """
    flows = np.asarray(flows, float)
    total = flows.cumsum(-1)
    count = np.arange(flows.shape[-1])
    paid = flows < 0
    first = np.where(paid.any(-1), paid.argmax(-1), -1)
    back = (count > first[..., None]) & (total >= 0) & (first[..., None] >= 0)
    at = back.argmax(-1)
    before = np.take_along_axis(total, np.maximum(at - 1, 0)[..., None], -1)[..., 0]
    step = np.take_along_axis(flows, at[..., None], -1)[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        periods = at - 1 - before / step - first
    return np.where(back.any(-1), periods, np.nan)
