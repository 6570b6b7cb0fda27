"""Profit, tax, loans and cash of a build: what the month recursion is given, and its lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmcase.inputs.finance import Loan
from farmcase.inputs.steps import read_steps
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.profit_tax import tax_terms, year_ends
from farmcase.model.sums import Sums
from farmcase.money.loan import LoanTerms, loans_by_month
from farmcase.money.months import Cash, Given, Loans, run_months

Floats = NDArray[np.float64]


def finance(inputs: BuildInputs, lines: dict[str, Floats], taxable: Floats, profit: Floats) -> Cash:
    """Run the months and add their lines to the others.

    Parameters
    ----------
    inputs, lines : numbers of the build, and its lines before tax and finance
    taxable, profit : (S, T) taxed profit and book profit before interest
    """
    owners = _owners(inputs, lines)
    cash = run_months(
        Given(
            flow=lines["project_before_tax"],
            owners=owners,
            taxable=taxable,
            profit=profit,
            overdraft_rate=broadcast(inputs.value("money.overdraft_rate_per_year"), inputs.size),
            year_ends=inputs.once("year ends", lambda: year_ends(inputs)),
        ),
        loans_of(inputs),
        tax_terms(inputs),
    )
    lines.update({name: getattr(cash, name) for name in Cash._fields})
    lines.update(_LEFT.of(lines | {"profit": profit}))
    return cash


def _owners(inputs: BuildInputs, lines: dict[str, Floats]) -> Floats:
    """Money that owners and members put in and take out again; what they put in on balance."""
    paid, withdrawn = shares_of(inputs)
    paid[:, 0] += inputs.value("money.owners_money")
    lines["owners_money"], lines["owners_withdrawn"] = paid, -withdrawn
    return paid - withdrawn


def shares_of(inputs: BuildInputs, kind: str = "") -> tuple[Floats, Floats]:
    """What is put in and taken out under [shares] by month, (S, T) each, positive; of one kind."""
    paid, withdrawn = (np.zeros((inputs.size, inputs.months)) for _ in range(2))
    amount = inputs.column("shares", "amount")
    for i, share in enumerate(inputs.records("shares").values()):
        if kind not in ("", share.kind) or share.paid_in_month >= inputs.months:
            continue
        paid[:, share.paid_in_month] += amount[:, i]
        if share.withdrawn_month is not None and share.withdrawn_month < inputs.months:
            withdrawn[:, share.withdrawn_month] += amount[:, i]
    return paid, withdrawn


def loans_of(inputs: BuildInputs) -> Loans:
    """The loans of a build, ready for the months."""
    terms = inputs.once(
        "loans",
        lambda: loans_by_month(
            [loan_terms(inputs, loan) for loan in inputs.records("loans").values()],
            *(np.zeros((1, 0)),) * 3,
            months=inputs.months,
        ),
    )
    return terms._replace(
        amount=inputs.full("loans", "amount"),
        rate=inputs.full("loans", "rate_per_year"),
        fee=inputs.full("loans", "fee"),
    )


def loan_terms(inputs: BuildInputs, loan: Loan) -> LoanTerms:
    """The terms of a loan; it is drawn when its gates are open and slides with the plan."""
    table, gates = inputs.timetable, loan.gate.split()
    planned = read_steps(loan.drawn) or ((loan.drawn_month, 1.0),)
    drawn = tuple((table.after(month, gates), share) for month, share in planned)
    late = drawn[0][0] - planned[0][0]
    apart = drawn[-1][0] - planned[-1][0] - late  # stages that gates pull apart lengthen the term
    return LoanTerms(
        begins=drawn[0][0],
        term_months=loan.term_months + max(0, apart),
        drawn=drawn,
        rate_changes=tuple((m + late, change) for m, change in read_steps(loan.rate_changes)),
        early_repaid=tuple((m + late, share) for m, share in read_steps(loan.early_repaid)),
        grace_months=loan.grace_months,
        capitalised=loan.grace_kind == "interest_capitalised",
        level_principal=loan.kind == "level_principal",
        rounding=loan.rounding,
    )


_IN_PROFIT: dict[str, float] = dict.fromkeys(
    ("profit", "loan_interest", "loan_fee", "overdraft_interest"), 1.0
)
_SHARED_OUT: dict[str, float] = dict.fromkeys(
    ("tax_charge", "bonus_charge", "dividend_charge"), 1.0
)
_LEFT = Sums(
    {
        "project_flow": {"project_before_tax": 1.0, "project_tax": 1.0},
        "profit_before_tax": _IN_PROFIT,
        "profit_kept": _IN_PROFIT | _SHARED_OUT,
    }
)
