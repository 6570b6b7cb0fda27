"""Tax on profit of a build: its parameters, and the allowances that its spending gives."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from farmcase.inputs.reference import reference_table
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.investment import Built, Class, schedules
from farmcase.model.leases import Leases
from farmcase.model.sales_tax import kept_share
from farmcase.money.allowances import allowance_matrix, allowances_by_year
from farmcase.money.fiscal_years import FiscalYears, fiscal_years
from farmcase.money.months import Tax, no_tax
from farmcase.money.schedules import schedule_from_rows, schedule_rows

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Deducted:
    """What spending on capital takes off taxable profit, positive."""

    by_month: Floats  # (S, T) all of it
    end_gain: Floats  # (S,) what is sold in the last month over what was left to deduct


def years_of(inputs: BuildInputs) -> FiscalYears:
    """The fiscal years of a build. Month 0 counts in the year of month 1.

    A new business begins with month 1, so that its first year may be short; one that stands has
    whole years.
    """
    return _years(*years_key(inputs))


@lru_cache(maxsize=32)
def _years(first: int, months: int, year_end_month: int, new: bool) -> FiscalYears:
    found = fiscal_years(_named(first), months, year_end_month, opens=_named(first + 1))
    return found if new else found._replace(length_years=np.ones(found.last_month.size))


def _named(month: int) -> str:
    return f"{month // 12:04d}-{month % 12 + 1:02d}"


def year_ends(inputs: BuildInputs) -> NDArray[np.int64]:
    """1 in the last month of each fiscal year, and in the last month of all, (T,)."""
    of_month = years_of(inputs).of_month
    return np.append(np.diff(of_month) > 0, True).astype(np.int64)


def deducts_own_work(inputs: BuildInputs) -> bool:
    """Whether what own hours are charged lowers the taxed profit."""
    return inputs.once("deducts own work", lambda: _deducts_own_work(inputs))


def _deducts_own_work(inputs: BuildInputs) -> bool:
    tax = inputs.case.tax
    if tax is None:
        return False
    if tax.own_work_deductible is not None:
        return tax.own_work_deductible
    forms = reference_table("business_forms", inputs.case.folder)
    return forms[tax.form]["own_work_deductible"] == "yes"


def deducted(inputs: BuildInputs, built: Built, rented: Leases) -> Deducted:
    """Allowances by month; those of a fiscal year stand in its last month.

    What a grant pays is not deducted: spending it counts is taken net of its share. What is bought
    at the end of a lease is deducted as the books write it off.
    """
    bought = rented.bought + rented.bought_vat * kept_share(inputs)[:, None]
    flows, names = built.flows, schedules(inputs)
    by_month = flows.book_slope - (flows.granted_book_slope * built.borne[..., None]).sum(1)
    by_month = by_month + rented.write_off
    left = flows.book_cost - (flows.granted_book_cost * built.borne).sum(1) - by_month.sum(-1)
    left = left + bought.sum(-1)
    if names:
        granted = (flows.granted_additions * built.borne[:, :, None, None]).sum(1)
        additions = flows.additions - granted
        years = years_of(inputs)
        matrices = np.stack(
            [_matrix(each, _pool(inputs), years_key(inputs), inputs.case.folder) for each in names]
        )
        by_year = allowances_by_year(additions, matrices)
        last = np.searchsorted(years.of_month, np.arange(by_year.shape[1]), side="right") - 1
        by_month[:, last] += by_year
        left = left + additions.sum((1, 2)) - by_year.sum(-1)
    return Deducted(by_month, flows.taxed_end_value + rented.end_value - left)


def years_key(inputs: BuildInputs) -> tuple[int, int, int, bool]:
    """What the fiscal years of a build hang on."""
    end = inputs.case.money.fiscal_year_end_month
    new = not inputs.case.standing.sales_per_year.likely
    return inputs.first_month, inputs.months, end, new


def _pool(inputs: BuildInputs) -> str:
    return inputs.case.tax.pool if inputs.case.tax is not None else ""


@lru_cache(maxsize=256)
def _matrix(each: Class, pool: str, key: tuple[int, int, int, bool], folder: Path | None) -> Floats:
    """Deductions by fiscal year for what is spent in each month under one schedule, (T, Y)."""
    name, life_years = each
    rest = schedule_from_rows(schedule_rows(pool, folder)) if pool else None
    schedule = schedule_from_rows(schedule_rows(name, folder), life_years or None, rest)
    return allowance_matrix(schedule, _years(*key))


def tax_terms(inputs: BuildInputs) -> Tax:
    """The parameters of tax and surplus, ready for the month recursion."""
    tax, size = inputs.case.tax, inputs.size
    if tax is None:
        return no_tax(size)

    def number(name: str) -> Floats:
        return broadcast(inputs.value(f"tax.{name}"), size)

    return Tax(
        rate=number("rate_share"),
        free=number("tax_free_per_year"),
        higher_rate=number("higher_rate_share"),
        higher_from=number("higher_from_per_year"),
        loss_most=number("loss_most_share"),
        bonus_share=number("price_bonus_share"),
        dividend_share=number("dividend_share"),
        carried=int(tax.losses == "carried_forward"),
        paid_after=tax.paid_after_months,
        distributed_after=tax.distributed_after_months,
    )
