"""The fiscal years of a project: into which of them each month falls, and their days."""

from __future__ import annotations

from datetime import date, timedelta
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class FiscalYears(NamedTuple):
    """The fiscal years of a project. Calendar months are numbered 12 x year + month - 1."""

    of_month: Ints  # (T,) the fiscal year, from 0, in which money of each month counts
    counted_month: Ints  # (T,) the calendar month in which it counts
    last_month: Ints  # (Y,) the calendar month with which each fiscal year ends
    length_years: Floats  # (Y,) 1, or less for a first year that began with the business
    first_days: tuple[date, ...]  # (Y,)
    last_days: tuple[date, ...]  # (Y,)
    spent_days: tuple[date, ...]  # (T,) the last day of each month


def fiscal_years(
    first_month: str, months: int, year_end_month: int, opens: str | None = None
) -> FiscalYears:
    """Fiscal years of the months of a project.

    Parameters
    ----------
    first_month : "YYYY-MM", the calendar month of month 0
    months : how many months there are, month 0 among them (T)
    year_end_month : 1 to 12, the last calendar month of the fiscal year
    opens : "YYYY-MM", where the business is new: its first fiscal year begins with that month, and
        money spent before counts in it. Without, the first fiscal year is a whole one.
    """
    if not 1 <= year_end_month <= 12:
        raise ValueError(f"A year has no month {year_end_month}.")
    start = _month_number(first_month)
    opening = _month_number(opens) if opens else 0
    spent = start + np.arange(months)
    counted = np.maximum(spent, opening)
    ends = counted + (year_end_month - 1 - counted) % 12
    of_month = (ends - ends[0]) // 12
    last = ends[0] + 12 * np.arange(of_month[-1] + 1)
    first = np.maximum(last - 11, opening)
    return FiscalYears(
        of_month=of_month,
        counted_month=counted,
        last_month=last,
        length_years=(last - first + 1) / 12,
        first_days=tuple(_first_day(month) for month in first.tolist()),
        last_days=tuple(_last_day(month) for month in last.tolist()),
        spent_days=tuple(_last_day(month) for month in spent.tolist()),
    )


def _month_number(text: str) -> int:
    day = date.fromisoformat(f"{text}-01")
    return 12 * day.year + day.month - 1


def _first_day(month: int) -> date:
    return date(month // 12, month % 12 + 1, 1)


def _last_day(month: int) -> date:
    return _first_day(month + 1) - timedelta(days=1)


def by_fiscal_year(amount: Floats, years: FiscalYears) -> Floats:
    """Monthly amounts (..., T) added up by fiscal year (..., Y)."""
    starts = np.searchsorted(years.of_month, np.arange(years.last_month.size))
    return np.add.reduceat(amount, starts, axis=-1)
