"""The month recursion: cash, loans and overdraft, each month from the one before it.

One compiled kernel; what has no memory is array code elsewhere. Flows fall at month ends. A loan
is charged on its opening balance, the overdraft on last month's closing balance, so every line
follows from the same month's lines above it and from earlier months, without iteration.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import compiled
from farmcase.money.loan import level_payment

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Loans(NamedTuple):
    """Loans L of scenarios S."""

    amount: Floats  # (S, L)
    rate_per_year: Floats  # (S, L) nominal
    fee: Floats  # (S, L)
    term_months: Ints  # (L,)
    drawn_month: Ints  # (L,)


class Cash(NamedTuple):
    """Financing by month, (S, T); flows are received positive, paid negative."""

    loan_drawn: Floats
    loan_fee: Floats
    loan_interest: Floats
    loan_principal: Floats
    overdraft_interest: Floats
    loan_balance: Floats  # owed at the end of the month, positive
    cash: Floats  # at the end of the month, never negative
    overdraft: Floats  # drawn at the end of the month, positive


def run_months(
    project_flow: Floats, owners_money: Floats, loans: Loans, overdraft_rate: Floats
) -> Cash:
    """Cash month by month.

    Parameters
    ----------
    project_flow, owners_money : (S, T) net flow of the project, and money put in by the owners
    loans : see `Loans`
    overdraft_rate : (S,) nominal yearly rate, charged monthly on last month's overdraft
    """
    cash = Cash(*(np.zeros(project_flow.shape) for _ in Cash._fields))
    monthly = np.ascontiguousarray(loans.rate_per_year / 12)
    payment = np.ascontiguousarray(level_payment(monthly, loans.term_months, loans.amount))
    _recur(
        np.ascontiguousarray(project_flow + owners_money),
        np.ascontiguousarray(loans.amount),
        monthly,
        payment,
        np.ascontiguousarray(loans.fee),
        loans.term_months,
        loans.drawn_month,
        np.ascontiguousarray(overdraft_rate / 12),
        np.zeros(loans.amount.shape[1]),
        cash,
    )
    return cash


@compiled
def _recur(flow, amount, rate, payment, fee, term, drawn, overdraft_rate, owed, out):
    scenarios, months = flow.shape
    for s in range(scenarios):
        owed[:] = 0.0
        balance = 0.0
        for m in range(months):
            charged = -min(0.0, balance) * overdraft_rate[s]
            out.overdraft_interest[s, m] = -charged
            balance += flow[s, m] - charged
            for k in range(owed.size):
                if m == drawn[k]:
                    owed[k] = amount[s, k]
                    out.loan_drawn[s, m] += amount[s, k]
                    out.loan_fee[s, m] -= fee[s, k]
                    balance += amount[s, k] - fee[s, k]
                elif drawn[k] < m <= drawn[k] + term[k]:
                    interest = owed[k] * rate[s, k]
                    principal = payment[s, k] - interest
                    if m == drawn[k] + term[k]:
                        principal = owed[k]
                    owed[k] -= principal
                    out.loan_interest[s, m] -= interest
                    out.loan_principal[s, m] -= principal
                    balance -= interest + principal
            out.loan_balance[s, m] = owed.sum()
            out.cash[s, m] = max(0.0, balance)
            out.overdraft[s, m] = max(0.0, -balance)
