"""What a stream of money is worth: present value, rates of return, payback.

The first flow is today and is not discounted; received is positive, paid negative. The last axis
is time; any axes before it are scenarios.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
_RATES = np.linspace(-12.0, 7.0, 1521)  # ln(1 + yearly rate): from -99.999 % to 110,000 %


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
    sign is closed in on by halving. Two rates less than about 1 % of (1 + rate) apart are not told
    from none.
    """
    flows = np.asarray(flows, float)
    if not ((flows > 0).any() and (flows < 0).any()):
        return []
    values = _scaled_value(flows, _RATES, per_year)
    exact = [float(np.expm1(x)) for x in _RATES[values == 0]]
    change = np.flatnonzero(values[:-1] * values[1:] < 0)
    low, high = _RATES[change], _RATES[change + 1]
    return sorted(exact + [float(r) for r in np.expm1(_halve(flows, low, high, per_year))])


def _scaled_value(flows: Floats, log_rates: Floats, per_year: int) -> Floats:
    time = np.arange(flows.shape[-1]) / per_year
    exponent = -log_rates[:, None] * time
    exponent -= exponent.max(1, keepdims=True)
    return (np.exp(exponent) * flows).sum(1)


def _halve(flows: Floats, low: Floats, high: Floats, per_year: int) -> Floats:
    sign = np.sign(_scaled_value(flows, low, per_year))
    for _ in range(70):
        middle = (low + high) / 2
        same = np.sign(_scaled_value(flows, middle, per_year)) == sign
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return (low + high) / 2


def single_rate(flows: Floats, per_year: int = 12) -> tuple[Floats, NDArray[np.int64]]:
    """The internal rate of each stream where it is single, and how many there are.

    Returns
    -------
    (S,) rate, NaN where there is none or more than one; (S,) count
    """
    rate = np.full(flows.shape[0], np.nan)
    count = np.zeros(flows.shape[0], np.int64)
    plain = _changes_of_sign(flows) == 1
    if plain.any():
        rate[plain] = _one_rate(flows[plain], per_year)
        count[plain] = np.isfinite(rate[plain])
    for row in np.flatnonzero(~plain):
        found = rates_of_return(flows[row], per_year)
        count[row] = len(found)
        rate[row] = found[0] if len(found) == 1 else np.nan
    return rate, count


def _changes_of_sign(flows: Floats) -> NDArray[np.int64]:
    sign = np.sign(flows)
    for t in range(1, sign.shape[1]):
        sign[:, t] = np.where(sign[:, t] == 0, sign[:, t - 1], sign[:, t])
    before, after = sign[:, :-1], sign[:, 1:]
    return ((before != after) & (before != 0)).sum(1)


def _one_rate(flows: Floats, per_year: int) -> Floats:
    """Halving for streams with one change of sign, which have exactly one rate."""
    time = np.arange(flows.shape[1]) / per_year

    def value(log_rate: Floats) -> Floats:
        exponent = -log_rate[:, None] * time
        exponent -= exponent.max(1, keepdims=True)
        return (np.exp(exponent) * flows).sum(1)

    low, high = (np.full(flows.shape[0], edge) for edge in (_RATES[0], _RATES[-1]))
    sign = np.sign(value(low))
    outside = sign == np.sign(value(high))
    for _ in range(60):
        middle = (low + high) / 2
        same = np.sign(value(middle)) == sign
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return np.where(outside, np.nan, np.expm1((low + high) / 2))


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
