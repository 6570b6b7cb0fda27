"""Loans as lenders quote them: a nominal yearly rate charged monthly, and when what is paid."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmcase.money.months import ROUNDING, Loans

Floats = NDArray[np.float64]
Steps = Sequence[tuple[int, float]]


class LoanTerms(NamedTuple):
    """The terms of one loan; months from the start."""

    begins: int  # month of the first drawing
    term_months: int  # from then on, grace included
    drawn: Steps  # month and share of the amount; nothing for all at once
    rate_changes: Steps = ()  # month and what is added to the rate from then on
    early_repaid: Steps = ()  # month and share of the amount
    grace_months: int = 0
    capitalised: bool = False  # interest of the grace is added to the loan
    level_principal: bool = False
    rounding: str = "none"


def level_payment(rate_per_period: ArrayLike, periods: ArrayLike, amount: ArrayLike) -> Floats:
    """Payment each period that clears an amount with its interest; positive.

    At a rate of zero it is the amount over the number of periods.

    Equation: amount x r / (1 - (1 + r)^-n).
    """
    rate = np.asarray(rate_per_period, float)
    count = np.asarray(periods, float)
    amount = np.asarray(amount, float)
    safe = np.where(rate == 0, 1.0, rate)
    annuity = -np.expm1(-count * np.log1p(safe)) / safe
    return np.where(rate == 0, amount / count, amount / annuity)


def loans_by_month(
    terms: Sequence[LoanTerms], amount: Floats, rate: Floats, fee: Floats, months: int
) -> Loans:
    """Loans ready for the month recursion.

    Parameters
    ----------
    terms : of L loans
    amount, rate, fee : (S, L)
    months : number of months, month 0 included; what lies beyond is left out
    """
    shape = (len(terms), months)
    added, drawn, early = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    anew = np.zeros(shape, np.int64)
    for k, term in enumerate(terms):
        grace = term.begins + term.grace_months
        for month, share in term.drawn or ((term.begins, 1.0),):
            if month < months:
                drawn[k, month] += share
                anew[k, month + 1 : month + 2] = 1
        for month, change in term.rate_changes:
            added[k, month:] += change
            anew[k, month : month + 1] = 1
        for month, share in term.early_repaid:
            if month < months:
                early[k, month] += share
        anew[k, grace + 1 : grace + 2] = 1
    begins = np.array([t.begins for t in terms], np.int64)
    return Loans(
        amount=amount,
        rate=rate,
        fee=fee,
        rate_added=added,
        drawn_share=drawn,
        early_share=early,
        begins=begins,
        grace_ends=begins + np.array([t.grace_months for t in terms], np.int64),
        ends=begins + np.array([t.term_months for t in terms], np.int64),
        capitalised=np.array([t.capitalised for t in terms], np.int64),
        level_principal=np.array([t.level_principal for t in terms], np.int64),
        sets_anew=anew,
        rounding=np.array([ROUNDING.index(t.rounding) for t in terms], np.int64),
    )
