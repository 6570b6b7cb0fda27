"""Debt cover by fiscal year: what there is to pay lenders with, and what they are due.

Before drawings: operating surplus with what own hours are charged added back, before tax. After
tax and drawings: less tax paid, less what own hours are charged, less what members are paid.
Debt service is the interest paid, on the overdraft too, and the principal due by plan; early
repayments are not counted. Years in which no loan is served have no cover. Lowest and mean cover
are of full years of growing: those that begin with the first starts or later, but not the last of
all, in which two years' taxes are settled.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmcase.model.gather import BuildInputs
from farmcase.model.profit_tax import years_of
from farmcase.money.fiscal_years import by_fiscal_year
from farmcase.money.ratios import cover, loan_life_cover

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Cover:
    """By fiscal year, (S, Y); received positive."""

    before_drawings: Floats  # cash available before drawings and tax
    after_drawings: Floats  # cash available after tax and drawings
    service: Floats  # interest and principal due, positive
    full: NDArray[np.bool_]  # (Y,) full years of growing

    @property
    def before(self) -> Floats:
        """Cover before drawings; NaN in years without debt service."""
        return cover(self.before_drawings, self.service)

    @property
    def after(self) -> Floats:
        """Cover after tax and drawings; NaN in years without debt service."""
        return cover(self.after_drawings, self.service)


def cash_before_drawings(lines: dict[str, Floats]) -> Floats:
    """Operating surplus before own hours and tax, by month."""
    return lines["operating_surplus"] - lines["own_work"]


def cash_after_drawings(lines: dict[str, Floats]) -> Floats:
    """Operating surplus after own hours, tax and what members are paid, by month."""
    return (
        lines["operating_surplus"]
        + lines["tax_paid"]
        + lines["bonus_paid"]
        + lines["dividend_paid"]
    )


def debt_service(lines: dict[str, Floats]) -> Floats:
    """Interest paid on loans and principal due by plan, by month, positive."""
    return -lines["loan_interest"] - lines["loan_capitalised"] - lines["loan_principal"]


def cover_of(inputs: BuildInputs, lines: dict[str, Floats]) -> Cover:
    """Cover of the project by fiscal year."""
    years = years_of(inputs)
    loans = by_fiscal_year(debt_service(lines), years)
    return Cover(
        by_fiscal_year(cash_before_drawings(lines), years),
        by_fiscal_year(cash_after_drawings(lines), years),
        np.where(loans > 0, loans - by_fiscal_year(lines["overdraft_interest"], years), 0.0),
        full_years(inputs),
    )


def loan_life(lines: dict[str, Floats]) -> Floats:
    """Cover over the life of the loans, at the month in which most is owed, (S,).

    What is left after tax in all months until the loans end, discounted at the loans' own
    interest, over what is owed then; NaN without a loan.
    """
    owed = lines["loan_balance"]
    most = owed.argmax(-1)
    available = cash_before_drawings(lines) + lines["tax_paid"]
    found = loan_life_cover(available, owed, -lines["loan_interest"])
    return np.take_along_axis(found, most[:, None], -1)[:, 0]


def full_years(inputs: BuildInputs) -> NDArray[np.bool_]:
    """Fiscal years that begin with the first starts or later, without the last, (Y,)."""
    of_month = years_of(inputs).of_month
    first = np.searchsorted(of_month, np.arange(of_month[-1] + 1))
    full = first >= inputs.start
    full[-1] = False
    return full


def least(found: Floats, full: NDArray[np.bool_]) -> Floats:
    """The lowest cover of full years that have debt service; NaN where none has, (S,)."""
    known = np.isfinite(found) & full
    lowest = np.where(known, found, np.inf).min(-1)
    return np.where(known.any(-1), lowest, np.nan)


def mean(found: Floats, full: NDArray[np.bool_]) -> Floats:
    """The mean cover of full years that have debt service; NaN where none has, (S,)."""
    known = np.isfinite(found) & full
    count = known.sum(-1)
    total = np.where(known, found, 0.0).sum(-1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
