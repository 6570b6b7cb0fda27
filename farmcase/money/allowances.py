"""Allowances for tax: what may be deducted, in which fiscal year, for money spent in a month.

Each schedule is linear in what is spent, so it is a matrix: deductions in each fiscal year for
each 1.00 spent in each month. Scenarios S, asset classes C, months T (month 0 among them), fiscal
years Y. What falls after the last fiscal year is not deducted: `written_down` says what is left.

Simplified: money is spent on the last day of its month; the last fiscal year is a whole one even if
the project ends within it; a table takes its first rate in full in a short first year; a pool that
has become small is not written off at once.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date

import numpy as np
from numpy.typing import NDArray

from farmcase.money.fiscal_years import FiscalYears, by_fiscal_year
from farmcase.money.schedules import Schedule, refuse

Floats = NDArray[np.float64]

# The matrix of each kind.


def allowance_matrix(schedule: Schedule, years: FiscalYears) -> Floats:
    """Deductions in each fiscal year for each 1.00 spent in each month; (T, Y), never negative.

    Raises CaseError where no rate of the schedule is in force on a day that needs one.
    """
    return _SUMS[schedule.kind](schedule, years)


def _straight_line(schedule: Schedule, years: FiscalYears) -> Floats:
    """By months, and the month of spending counts whole (CA91300; section 7 (1) EStG)."""
    months = years.last_month - years.counted_month[:, None] + 1
    used = np.clip(months / (12 * (schedule.life_years or 0)), 0, 1)
    return np.diff(used, axis=-1, prepend=0.0)


def _table(schedule: Schedule, years: FiscalYears) -> Floats:
    """Year k of the table in the k-th fiscal year from that of spending."""
    _check_days(schedule, years)
    rates = np.array([rate.rate_share for rate in schedule.rates])
    year = np.arange(years.last_month.size) - years.of_month[:, None]
    inside = (year >= 0) & (year < rates.size)
    return np.where(inside, rates[np.where(inside, year, 0)], 0.0)


def _at_once(schedule: Schedule, years: FiscalYears) -> Floats:
    _check_days(schedule, years)
    return schedule.rates[0].rate_share * _in_year_of_spending(years)


def _pool(schedule: Schedule, years: FiscalYears) -> Floats:
    return _pool_by_year(schedule, years)[years.of_month]


def _first_year(schedule: Schedule, years: FiscalYears) -> Floats:
    """The share of the day of spending; the rest joins its pool in the following fiscal year, as
    section 58 (5) of the Capital Allowances Act 2001 has it. No share in force: pool at once."""
    assert schedule.pool is not None
    share = np.zeros((years.of_month.size, 1))
    for rate in schedule.rates:
        inside = [rate.first_day <= day <= rate.last_day for day in years.spent_days]
        share[inside] = rate.rate_share
    pool = _pool_by_year(schedule.pool, years)
    later = np.vstack([pool[1:], np.zeros((1, pool.shape[1]))])
    rest = np.where(share > 0, later[years.of_month], pool[years.of_month])
    return share * _in_year_of_spending(years) + (1 - share) * rest


def pool_rates(schedule: Schedule, years: FiscalYears) -> Floats:
    """Share of a pool that each fiscal year takes: dated rates by days, a short year by months.

    Returns
    -------
    (Y,)
    """
    found = []
    for first, last, length in zip(
        years.first_days, years.last_days, years.length_years, strict=True
    ):
        days = [
            max(0, (min(last, rate.last_day) - max(first, rate.first_day)).days + 1)
            for rate in schedule.rates
        ]
        whole = (last - first).days + 1
        if sum(days) != whole:
            refuse(schedule.name, f"has days without a rate from {first} to {last}", _ALL_DAYS)
        shares = (rate.rate_share * n for rate, n in zip(schedule.rates, days, strict=True))
        found.append(length * math.fsum(shares) / whole)
    return np.array(found)


_ALL_DAYS = "each day of a fiscal year needs one"


def _pool_by_year(schedule: Schedule, years: FiscalYears) -> Floats:
    """Deductions by fiscal year (columns) of 1.00 that joins in each fiscal year (rows)."""
    rates = pool_rates(schedule, years)
    taken = np.zeros((rates.size, rates.size))
    left = np.zeros(rates.size)
    for year, rate in enumerate(rates):
        left[year] = 1.0
        taken[:, year] = rate * left
        left = left - taken[:, year]
    return taken


def _in_year_of_spending(years: FiscalYears) -> Floats:
    return np.eye(years.last_month.size)[years.of_month]


def _check_days(schedule: Schedule, years: FiscalYears) -> None:
    first, last = schedule.rates[0].first_day, schedule.rates[0].last_day
    for day in years.spent_days:
        if not first <= day <= last:
            force = f"it is in force from {first} to {'now' if last == date.max else last}"
            refuse(schedule.name, f"has no rate for {day}", force, "choose another schedule")


_SUMS: dict[str, Callable[[Schedule, FiscalYears], Floats]] = {
    "straight_line": _straight_line,
    "table": _table,
    "pool": _pool,
    "first_year": _first_year,
    "annual_limit": _at_once,
}


# Money.


def allowances_by_year(additions: Floats, matrices: Floats) -> Floats:
    """Deductions by fiscal year, the same bits whatever the number of rows beside a scenario.

    Parameters
    ----------
    additions : (S, C, T) money spent, positive
    matrices : (C, T, Y) one of `allowance_matrix` for each class

    Returns
    -------
    (S, Y)
    """
    total = np.zeros((matrices.shape[2], additions.shape[0]))
    for spent, matrix in zip(additions.swapaxes(0, 1), matrices, strict=True):
        # months of which the rows are equal are added up first; adding zeros changes no bit
        starts = np.flatnonzero(np.r_[True, (matrix[1:] != matrix[:-1]).any(-1)])
        runs = np.ascontiguousarray(np.add.reduceat(spent, starts, axis=-1).T)
        for run in np.flatnonzero(runs.any(-1)):
            row = matrix[starts[run]]
            used = np.flatnonzero(row)
            if used.size:
                at = slice(used[0], used[-1] + 1)
                total[at] += row[at, None] * runs[run]
    return np.ascontiguousarray(total.T)


def written_down(matrix: Floats, additions: Floats) -> Floats:
    """What is left to deduct after the last fiscal year; additions (..., T) give (...)."""
    return (additions * np.maximum(1 - matrix.sum(-1), 0)).sum(-1)


def over_limit(additions: Floats, schedule: Schedule, years: FiscalYears) -> Floats:
    """Spending above an annual limit, which its schedule deducts all the same: to be flagged.

    The limit is less in a short first year, by months. Additions (..., T) give (..., Y).
    """
    limit = (schedule.limit_per_year or 0) * years.length_years
    return np.maximum(by_fiscal_year(additions, years) - limit, 0)


def last_quarter_share(additions: Floats, years: FiscalYears) -> Floats:
    """Share of a fiscal year's spending that falls in its last three months, 0 without spending.

    Where it is large the US tables of the half-year convention may not be used: to be flagged.
    Additions (..., T) give (..., Y).
    """
    late = years.last_month[years.of_month] - years.counted_month < 3
    spent = by_fiscal_year(additions, years)
    share = by_fiscal_year(additions * late, years) / np.where(spent == 0, 1.0, spent)
    return np.where(spent == 0, 0.0, share)
