"""Cash, loans, tax and surplus month by month, each month from the one before it.

Flows fall at month ends. A loan is charged on its opening balance, the overdraft on last month's
closing balance, tax on the fiscal year and paid in a later month, so that every line follows from
the same month's lines above it and from earlier months, without iteration.

Scenarios S, loans L, months T.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import solid
from farmcase.money.month_kernel import recur

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
ROUNDING = ("none", "payment", "payment_and_interest")


class Loans(NamedTuple):
    """Loans; a month of grace has interest but no repayment."""

    amount: Floats  # (S, L)
    rate: Floats  # (S, L) nominal a year, charged monthly
    fee: Floats  # (S, L) paid when first drawn
    rate_added: Floats  # (L, T) added to the rate in a month
    drawn_share: Floats  # (L, T) share of the amount drawn in a month
    early_share: Floats  # (L, T) share of the amount repaid early in a month
    begins: Ints  # (L,) month of the first drawing
    grace_ends: Ints  # (L,) last month without repayment
    ends: Ints  # (L,) month of the last repayment
    capitalised: Ints  # (L,) 1 where interest of the grace is added to the loan
    level_principal: Ints  # (L,) 1 where the principal is level, 0 where the payment is
    sets_anew: Ints  # (L, T) 1 where the level sum is set anew
    rounding: Ints  # (L,) place in `ROUNDING`; halves go up


class Tax(NamedTuple):
    """Tax on profit, and what members get of the surplus."""

    rate: Floats  # (S,)
    free: Floats  # (S,) profit of a year without tax
    higher_rate: Floats  # (S,)
    higher_from: Floats  # (S,) profit of a year from which it holds; 0 for never
    loss_most: Floats  # (S,) share of a year's profit that earlier losses may take
    bonus_share: Floats  # (S,) share of the surplus before tax; lowers the taxed profit
    dividend_share: Floats  # (S,) share of the surplus after bonus and tax
    carried: int  # 1 where losses are carried forward
    paid_after: int  # months after the fiscal year
    distributed_after: int


class Given(NamedTuple):
    """What the recursion starts from; flows are received positive, paid negative."""

    flow: Floats  # (S, T) of the project, before tax
    owners: Floats  # (S, T) money of owners and members, in less out
    taxable: Floats  # (S, T) taxable profit before interest, allowances deducted
    profit: Floats  # (S, T) book profit before interest, tax and bonus
    overdraft_rate: Floats  # (S,) nominal a year, charged monthly
    year_ends: Ints  # (T,) 1 in the last month of a fiscal year, and in the last of all


class Cash(NamedTuple):
    """Lines by month, (S, T); what is still owed for tax and surplus is paid in the last month."""

    overdraft_interest: Floats
    loan_drawn: Floats
    loan_fee: Floats
    loan_interest: Floats
    loan_capitalised: Floats  # interest of grace added to the loan instead of paid; positive
    loan_principal: Floats
    loan_early: Floats
    loan_balance: Floats  # owed at the end of the month, positive
    project_tax: Floats  # paid as if there were no loans, overdraft and bonus
    tax_charge: Floats  # of the fiscal year, in its last month
    tax_paid: Floats
    bonus_charge: Floats
    bonus_paid: Floats
    dividend_charge: Floats
    dividend_paid: Floats
    cash: Floats  # at the end of the month, never negative
    overdraft: Floats  # drawn at the end of the month, positive


def run_months(given: Given, loans: Loans, tax: Tax) -> Cash:
    """Every line of every scenario."""
    cash = Cash._make(np.zeros(given.flow.shape) for _ in Cash._fields)
    count = loans.amount.shape[1]
    work = np.zeros(count), np.zeros(count), np.zeros(6)
    recur(solid(given), solid(loans), solid(tax), *work, cash)
    return cash


def no_tax(size: int) -> Tax:
    """No tax on profit, and nothing shared out."""
    nothing = np.zeros(size)
    return Tax(nothing, nothing, nothing, nothing, np.ones(size), nothing, nothing, 1, 0, 0)
