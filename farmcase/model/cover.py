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

from farmcase.compiled import handed
from farmcase.model.cover_kernel import life_cover
from farmcase.model.gather import BuildInputs
from farmcase.model.profit_tax import years_of
from farmcase.model.sums import Sums
from farmcase.money.ratios import cover

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


# Money by month, received positive but for what loans are due.
_CASH = Sums(
    {
        "before_drawings": {"operating_surplus": 1.0, "own_work": -1.0},
        "after_drawings": dict.fromkeys(
            ("operating_surplus", "tax_paid", "bonus_paid", "dividend_paid"), 1.0
        ),
        "loans": dict.fromkeys(("loan_interest", "loan_capitalised", "loan_principal"), -1.0),
        "overdraft": {"overdraft_interest": -1.0},
    }
)


def cover_of(inputs: BuildInputs, lines: dict[str, Floats]) -> Cover:
    """Cover of the project by fiscal year."""
    starts, full = inputs.once("full years", lambda: (first_months(inputs), full_years(inputs)))
    before, after, loans, overdraft = _CASH.by_period(lines, starts)
    return Cover(before, after, np.where(loans > 0, loans + overdraft, 0.0), full)


def loan_life(lines: dict[str, Floats]) -> Floats:
    """Cover over the life of the loans, at the month in which most is owed, (S,).

    What is left after tax in all months until the loans end, discounted at the loans' own
    interest, over what is owed then; NaN without a loan.
    """
    names = ("operating_surplus", "own_work", "tax_paid", "loan_balance", "loan_interest")
    found = np.empty(len(lines["loan_balance"]))
    life_cover(*(handed(lines[name]) for name in names), found)
    return found


def first_months(inputs: BuildInputs) -> NDArray[np.int64]:
    """The first month of each fiscal year, and the number of months, (Y + 1,)."""
    of_month = years_of(inputs).of_month
    return np.searchsorted(of_month, np.arange(of_month[-1] + 2)).astype(np.int64)


def full_years(inputs: BuildInputs) -> NDArray[np.bool_]:
    """Fiscal years that begin with the first starts or later, without the last, (Y,)."""
    full = first_months(inputs)[:-1] >= inputs.start
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
