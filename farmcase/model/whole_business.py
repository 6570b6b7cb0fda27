"""The business as it stands together with the project: what covers all debts of both."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.inputs.case import Case
from farmcase.model.cover import Cover
from farmcase.model.gather import BuildInputs
from farmcase.model.price_levels import month_count
from farmcase.model.profit_tax import years_of
from farmcase.money.fiscal_years import by_fiscal_year
from farmcase.words.labels import STANDING

Floats = NDArray[np.float64]


def has_standing(inputs: BuildInputs) -> bool:
    """Whether the case says anything of the business as it stands."""
    standing = inputs.case.standing
    return bool(standing.sales_per_year.likely or standing.loans_outstanding.likely)


class OldLoan(NamedTuple):
    """The loans of the business as it stands by month, (S, T), positive."""

    owed: Floats
    interest: Floats
    principal: Floats


def old_loan(inputs: BuildInputs) -> OldLoan:
    """The loans of the business as it stands, paid at their yearly sum until they are cleared.

    Counted from the date of the balance sheet, or from month 0 where it has none. At the least the
    interest is paid.

    Equation: owed after m months = B (1 + i)^m - p ((1 + i)^m - 1) / i, with i a twelfth of the
    yearly rate; no less than nil.
    """
    date = inputs.case.standing.balance_sheet_date
    gap = inputs.first_month - month_count(date) if date else 0
    months = np.maximum(0, np.arange(inputs.months) + gap)
    rate = inputs.value("standing.loan_rate_per_year")[:, None] / 12
    outstanding = inputs.value("standing.loans_outstanding")[:, None]
    payment = inputs.value("standing.loan_payments_per_year")[:, None] / 12
    payment = np.maximum(payment, outstanding * rate)
    grown = (1 + rate) ** months
    with np.errstate(divide="ignore", invalid="ignore"):
        paid = np.where(rate > 0, payment * (grown - 1) / rate, payment * months)
    owed = np.maximum(0.0, outstanding * grown - paid)
    opening = np.concatenate([owed[:, :1], owed[:, :-1]], axis=-1)
    interest = np.where(np.arange(inputs.months) > 0, opening * rate, 0.0)
    return OldLoan(owed, interest, opening - owed)


def whole_cover(inputs: BuildInputs, project: Cover, general_level: Floats) -> Cover:
    """Cover of the business as it stands and the project together, by fiscal year.

    Its yearly sums rise with general prices. What the household earns elsewhere and what is drawn
    count after drawings only.

    Parameters
    ----------
    inputs, project : numbers of the build, and the cover of the project by itself
    general_level : (S, T) level of general prices
    """
    years = years_of(inputs)
    level = by_fiscal_year(general_level * (np.arange(inputs.months) > 0), years) / 12

    def yearly(amount: Floats) -> Floats:
        return level * amount[:, None]

    def standing(name: str) -> Floats:
        return inputs.value(f"standing.{name}_per_year")

    earned = standing("sales") - standing("costs")
    at_home = standing("household_other_income") - standing("drawings")
    old = old_loan(inputs)
    return Cover(
        project.before_drawings + yearly(earned),
        project.after_drawings + yearly(earned + at_home),
        project.service + by_fiscal_year(old.interest + old.principal, years),
        project.full,
    )


def opening_balance(case: Case) -> pd.DataFrame:
    """The opening balance sheet of the business as it stands, one column named by its date.

    What is owned, what is owed, and what is the owners' own.
    """
    standing = case.standing
    owned = {
        "standing_cash": standing.cash.likely,
        "standing_debtors": standing.debtors.likely,
        "standing_stock": standing.stock.likely,
        "standing_fixed_assets": standing.fixed_assets.likely,
    }
    owed = {
        "standing_creditors": standing.creditors.likely,
        "standing_loans": standing.loans_outstanding.likely,
    }
    rows = {
        **owned,
        "standing_owned": sum(owned.values()),
        **owed,
        "standing_owed": sum(owed.values()),
        "standing_own": sum(owned.values()) - sum(owed.values()),
    }
    labels = pd.Index([STANDING[name] for name in rows], name="line")
    column = standing.balance_sheet_date or "no date given"
    return pd.DataFrame({column: list(rows.values())}, index=labels)
