"""Schedules of allowances for tax, as plain data: checked, and read from the reference table.

The rates are dated rows of data/reference/allowances.csv, each with its source; authorities change
them, so that they are to be confirmed before an application relies on them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import NamedTuple, NoReturn

from farmcase.errors import CaseError, Fault, NotFoundError
from farmcase.inputs.faults import did_you_mean
from farmcase.inputs.reference import reference_table

KINDS = ("straight_line", "table", "pool", "first_year", "annual_limit")
TABLE = "reference/allowances.csv"
SUM_TOLERANCE = 1e-9  # by which the rates of a table may miss 1


class DatedRate(NamedTuple):
    """A yearly rate and the days on which it is in force, both included."""

    rate_share: float
    first_day: date = date.min
    last_day: date = date.max


@dataclass(frozen=True)
class Schedule:
    """How money spent on a class of assets is deducted; CaseError where it cannot be right.

    Attributes
    ----------
    kind : "straight_line" (life), "table" (a rate for each year), "pool" (dated rates of what is
        left), "first_year" (dated share at once, the rest to a pool), "annual_limit" (a share at
        once, meant for spending up to a limit)
    rates : of a table the years in their order, else the dated rates in the order of their days
    limit_per_year : money, of an annual limit
    pool : where the rest of a first-year share goes
    """

    name: str
    kind: str
    rates: tuple[DatedRate, ...] = ()
    life_years: float | None = None
    limit_per_year: float | None = None
    pool: Schedule | None = None

    def __post_init__(self) -> None:
        shares = [rate.rate_share for rate in self.rates]
        if self.kind not in KINDS:
            refuse(self.name, f"is of the kind {self.kind!r}", f"kinds are {', '.join(KINDS)}")
        if not all(0 <= share <= 1 for share in shares):
            refuse(self.name, f"has the rates {shares}", "a rate is a share from 0 to 1")
        if self.kind == "straight_line":
            if not 0 < (self.life_years or 0) < math.inf:
                refuse(self.name, "has no life", "a life in years above 0 is needed")
        elif not shares:
            refuse(self.name, "has no rates", "at least one row with a rate is needed")
        if self.kind == "table" and abs(math.fsum(shares) - 1) > SUM_TOLERANCE:
            total = f"has rates that add to {math.fsum(shares):.10g}"
            refuse(self.name, total, "the rates of a table add to 1")
        elif self.kind in ("pool", "first_year"):
            days = [day for rate in self.rates for day in (rate.first_day, rate.last_day)]
            if any(day >= later for day, later in zip(days[1::2], days[2::2], strict=False)):
                refuse(self.name, "has two rates on one day", "one rate is in force at a time")
        if self.kind == "first_year" and (self.pool is None or self.pool.kind != "pool"):
            refuse(self.name, "has no pool for the rest", "the name of a pool is needed")
        if self.kind == "annual_limit" and not 0 < (self.limit_per_year or 0) < math.inf:
            refuse(self.name, "has no limit", "an amount of money a year is needed")


def refuse(name: str, given: str, allowed: str, remedy: str = "correct its rows") -> NoReturn:
    """Raise CaseError with one sentence about a schedule."""
    where = f"the allowance schedule {name!r}"
    raise CaseError([Fault(TABLE, None, where, given, allowed, remedy)])


# Reading.


def schedule_rows(name: str, case_folder: Path | None = None) -> list[dict[str, str]]:
    """The rows of a schedule in the reference table of allowances; NotFoundError without any."""
    table = reference_table("allowances", case_folder).values()
    rows = [row for row in table if row.get("schedule") == name]
    if not rows:
        advice = did_you_mean(name, {row.get("schedule") or "" for row in table}, "schedules")
        raise NotFoundError(f"There is no allowance schedule {name!r}: {advice}.")
    return rows


def schedule_from_rows(
    rows: Sequence[Mapping[str, str]],
    life_years: float | None = None,
    pool: Schedule | None = None,
) -> Schedule:
    """A schedule from rows of text; the life or the pool that they leave open is given with them.

    A straight line may stand in its row as a yearly share; then its life is one over that.

    Raises
    ------
    CaseError where a number or a day cannot be read, or where the schedule cannot be right
    """
    first = rows[0]
    name, kind = first.get("schedule") or "", first.get("kind") or ""
    kind = "straight_line" if kind == "by_life" else kind
    rates = [_dated_rate(row) for row in rows if row.get("rate_share")]
    if kind == "table":
        numbers = [_number(row, "year") for row in rows]
        if sorted(numbers) != list(range(1, len(rows) + 1)):
            refuse(name, "has years out of order", f"the years 1 to {len(rows)} are needed once")
        rates = [_dated_rate(rows[numbers.index(year)]) for year in sorted(numbers)]
    elif kind == "straight_line" and rates and rates[0].rate_share > 0:
        life_years, rates = 1 / rates[0].rate_share, []
    else:
        rates.sort(key=lambda rate: rate.first_day)
    limit = _number(first, "amount") if kind == "annual_limit" else None
    return Schedule(name, kind, tuple(rates), life_years, limit, pool)


def _dated_rate(row: Mapping[str, str]) -> DatedRate:
    first, last = _day(row, "valid_from", date.min), _day(row, "valid_to", date.max)
    return DatedRate(_number(row, "rate_share"), first, last)


def _number(row: Mapping[str, str], column: str) -> float:
    text = row.get(column) or ""
    try:
        return float(text)
    except ValueError:
        _refuse_cell(row, column, text, "a number is needed")


def _day(row: Mapping[str, str], column: str, missing: date) -> date:
    text = row.get(column) or ""
    try:
        return date.fromisoformat(text) if text else missing
    except ValueError:
        _refuse_cell(row, column, text, "a day such as 2026-04-01 is needed")


def _refuse_cell(row: Mapping[str, str], column: str, text: str, allowed: str) -> NoReturn:
    where = f"the column {column} of row {row.get('id')!r}"
    given = f"is {text!r}" if text else "is empty"
    raise CaseError([Fault(TABLE, None, where, given, allowed, "correct it")]) from None
