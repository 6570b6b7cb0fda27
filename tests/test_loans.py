"""Loans and overdraft by a second way: a plain loop over the months, and closed formulas.

The loop follows one loan as its papers read, with the payment of numpy-financial; the closed
formulas are those of numpy-financial where it is sound (not at a rate of zero).
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
import numpy_financial as npf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from farmcase.money.loan import LoanTerms, loans_by_month
from farmcase.money.months import ROUNDING, Cash, Given, Loans, no_tax, run_months

patient = settings(deadline=None, max_examples=150)
money = st.floats(-20_000, 20_000).map(lambda x: round(x, 2))
MONTHS = 40
LINES = (
    "loan_drawn",
    "loan_fee",
    "loan_interest",
    "loan_capitalised",
    "loan_principal",
    "loan_early",
    "loan_balance",
)


class OneLoan(NamedTuple):
    """A loan as its papers state it."""

    amount: float
    rate: float  # nominal, a year
    fee: float
    terms: LoanTerms


@st.composite
def papers(draw: st.DrawFn) -> OneLoan:
    """A loan that ends before the last month; stages are drawn before its last payment."""
    begins, term = draw(st.integers(0, 8)), draw(st.integers(1, 30))
    grace = draw(st.integers(0, term - 1))
    stages = sorted({0, *draw(st.lists(st.integers(0, term - 1), max_size=2))})
    weights = draw(st.lists(st.integers(1, 9), min_size=len(stages), max_size=len(stages)))
    drawn = [(begins + at, w / sum(weights)) for at, w in zip(stages, weights, strict=True)]
    change, early = st.sampled_from([-0.2, -0.03, 0.01, 0.06]), st.sampled_from([0.05, 0.3, 1.0])
    changes = draw(st.dictionaries(st.integers(1, term), change, max_size=2))
    repaid = draw(st.dictionaries(st.integers(1, term), early, max_size=2))
    terms = LoanTerms(
        begins=begins,
        term_months=term,
        drawn=() if len(drawn) == 1 else tuple(drawn),
        rate_changes=tuple((begins + at, value) for at, value in sorted(changes.items())),
        early_repaid=tuple((begins + at, value) for at, value in sorted(repaid.items())),
        grace_months=grace,
        capitalised=draw(st.booleans()),
        level_principal=draw(st.booleans()),
        rounding=draw(st.sampled_from(ROUNDING)),
    )
    rate = draw(st.just(0.0) | st.floats(0.001, 0.3))
    return OneLoan(draw(st.integers(100, 100_000)), rate, draw(st.integers(0, 500)), terms)


def cents(amount: float, rounded: bool) -> float:
    """To the nearest cent, halves up, where that is agreed; binary dust is no part of a half."""
    return math.floor(round(amount * 100, 6) + 0.5) / 100 if rounded else amount


def loan_by_hand(loan: OneLoan) -> list[dict[str, float]]:
    """One loan, month by month, as a bank's statement shows it."""
    terms, rows, owed, level, asked = loan.terms, [], 0.0, 0.0, True
    drawings = dict(terms.drawn or ((terms.begins, 1.0),))
    for month in range(MONTHS):
        row, since = dict.fromkeys(LINES, 0.0), month - terms.begins
        if 1 <= since <= terms.term_months:
            yearly = loan.rate + sum(by for at, by in terms.rate_changes if at <= month)
            rate = max(yearly, 0.0) / 12
            interest = cents(owed * rate, terms.rounding == "payment_and_interest")
            row["loan_interest"], planned = -interest, 0.0
            if since <= terms.grace_months:
                row["loan_capitalised"] = interest if terms.capitalised else 0.0
            else:
                left = terms.term_months - since + 1
                if asked or month in dict(terms.rate_changes):
                    plain = owed / left if terms.level_principal else npf.pmt(rate, left, -owed)
                    level, asked = cents(float(plain), terms.rounding != "none"), False
                planned = min(owed, level if terms.level_principal else level - interest)
                planned = owed if left == 1 else planned
            early = dict(terms.early_repaid).get(month, 0.0) * loan.amount
            row["loan_principal"] = -planned
            row["loan_early"] = -min(early, owed + row["loan_capitalised"] - planned)
        if 0 <= since <= terms.term_months and month in drawings:
            row["loan_drawn"], asked = drawings[month] * loan.amount, True
        row["loan_fee"] = -loan.fee if since == 0 else 0.0
        names = ("loan_drawn", "loan_capitalised", "loan_principal", "loan_early")
        owed += sum(row[name] for name in names)
        row["loan_balance"] = owed
        rows.append(row)
    return rows


def kernel_loans(loans: list[OneLoan], rows: int = 1) -> Loans:
    """Loans as the months take them, the same in every scenario."""
    columns = np.array([[x.amount, x.rate, x.fee] for x in loans], float).reshape(-1, 3)
    amount, rate, fee = (np.repeat(column[None], rows, 0) for column in columns.T)
    return loans_by_month([x.terms for x in loans], amount, rate, fee, MONTHS)


def months_of(loans: list[OneLoan], flows: Any = 0.0, overdraft_rate: float = 0.0) -> Cash:
    """Scenarios through the compiled months; owners put in a fifth of each flow."""
    flow = np.atleast_2d(flows) * np.ones((1, MONTHS))
    size, ends = len(flow), np.zeros(MONTHS, np.int64)
    rates = np.full(size, overdraft_rate)
    handed = Given(0.8 * flow, 0.2 * flow, 0 * flow, 0 * flow, rates, ends)
    return run_months(handed, kernel_loans(loans, size), no_tax(size))


@patient
@given(st.lists(papers(), max_size=3), st.lists(money, min_size=3, max_size=9), st.floats(0, 0.4))
def test_months_against_a_plain_loop(
    loans: list[OneLoan], flows: list[float], overdraft_rate: float
) -> None:
    """Second way: every loan by hand; overdraft charged on last month's balance."""
    flow = np.resize(flows, MONTHS)
    cash = months_of(loans, flow, overdraft_rate)
    by_hand = [loan_by_hand(loan) for loan in loans]
    balance = 0.0
    for month in range(MONTHS):
        row = {name: sum(one[month][name] for one in by_hand) for name in LINES}
        row["overdraft_interest"] = min(balance, 0.0) * overdraft_rate / 12
        moves = (*LINES[:-1], "overdraft_interest")
        balance += flow[month] + sum(row[name] for name in moves)
        row["cash"], row["overdraft"] = max(balance, 0.0), max(-balance, 0.0)
        for name, expected in row.items():
            got = getattr(cash, name)[0, month]
            assert got == pytest.approx(expected, rel=1e-9, abs=1e-5), (name, month)


@patient
@given(papers())
def test_a_loan_is_paid_off(loan: OneLoan) -> None:
    """finance.md 8.05: opening + drawn + capitalised - repaid = closing; the last is nil, and what
    is repaid is what was drawn and added."""
    cash = months_of([loan])
    added = cash.loan_drawn + cash.loan_capitalised
    repaid = -cash.loan_principal - cash.loan_early
    assert_allclose((added - repaid).cumsum(-1), cash.loan_balance, rtol=0, atol=1e-6)
    assert cash.loan_balance[0, -1] == pytest.approx(0, abs=1e-6)
    assert added.sum() == pytest.approx(repaid.sum(), abs=1e-6)
    assert cash.loan_drawn.sum() == pytest.approx(loan.amount)
    for line in (added, repaid, -cash.loan_interest, cash.loan_balance):
        assert (line >= -1e-9).all()


# Closed formulas.


def plain(rate: float, term: int, **more: Any) -> OneLoan:
    """9,000 drawn today."""
    return OneLoan(9000.0, rate, 0.0, LoanTerms(0, term, (), **more))


@patient
@given(st.floats(0.001, 0.3), st.integers(3, 30), st.integers(1, 29), st.booleans())
def test_grace_against_numpy_financial(
    rate: float, term: int, grace: int, capitalised: bool
) -> None:
    """After the grace it is a shorter loan: of the amount, or of what the amount has grown to."""
    grace = min(grace, term - 1)
    cash = months_of([plain(rate, term, grace_months=grace, capitalised=capitalised)])
    monthly = rate / 12
    owed = -npf.fv(monthly, grace, 0, 9000) if capitalised else 9000
    assert cash.loan_balance[0, grace] == pytest.approx(owed, rel=1e-10)
    paid = -(cash.loan_interest + cash.loan_capitalised)[0, 1 : grace + 1]
    assert_allclose(paid, 0 if capitalised else 9000 * monthly, rtol=1e-10, atol=1e-9)
    month = np.arange(1, term - grace + 1)
    for line, formula in ((cash.loan_interest, npf.ipmt), (cash.loan_principal, npf.ppmt)):
        expected = formula(monthly, month, term - grace, owed)
        assert_allclose(line[0, grace + 1 : term + 1], expected, rtol=0, atol=1e-6)


@patient
@given(st.floats(0.02, 0.3), st.floats(-0.015, 0.1), st.integers(3, 30), st.integers(2, 29))
def test_change_of_rate_against_numpy_financial(
    rate: float, by: float, term: int, month: int
) -> None:
    """From the month of the change on, the payment is that of what is owed over what is left."""
    month = min(month, term)
    cash = months_of([plain(rate, term, rate_changes=((month, by),))])
    owed = -npf.fv(rate / 12, month - 1, npf.pmt(rate / 12, term, 9000), 9000)
    assert cash.loan_balance[0, month - 1] == pytest.approx(owed, rel=1e-9)
    left = term - month + 1
    for line, formula in ((cash.loan_interest, npf.ipmt), (cash.loan_principal, npf.ppmt)):
        expected = formula((rate + by) / 12, np.arange(1, left + 1), left, owed)
        assert_allclose(line[0, month : term + 1], expected, rtol=0, atol=1e-6)


@patient
@given(st.floats(0.001, 0.3), st.integers(3, 30), st.integers(1, 29), st.booleans())
def test_stages_are_loans_of_their_own(
    rate: float, term: int, month: int, level_principal: bool
) -> None:
    """Law: what is drawn later is a loan over the months that are left; the two add up."""
    month = min(month, term - 1)
    kind: dict[str, Any] = {"level_principal": level_principal}
    whole = LoanTerms(0, term, ((0, 0.4), (month, 0.6)), **kind)
    parts = [
        OneLoan(3600.0, rate, 0.0, LoanTerms(0, term, (), **kind)),
        OneLoan(5400.0, rate, 0.0, LoanTerms(month, term - month, (), **kind)),
    ]
    one, two = months_of([OneLoan(9000.0, rate, 0.0, whole)]), months_of(parts)
    for name in LINES:
        assert_allclose(getattr(one, name), getattr(two, name), rtol=1e-9, atol=1e-6, err_msg=name)


@patient
@given(st.floats(0.001, 0.3), st.integers(6, 30), st.floats(0.1, 0.6))
def test_early_repayment_shortens_the_loan(rate: float, term: int, share: float) -> None:
    """The payment stays, so the months that are left are those of numpy-financial's nper."""
    cash = months_of([plain(rate, term, early_repaid=((3, share),))])
    payment = -npf.pmt(rate / 12, term, 9000)
    owed = -npf.fv(rate / 12, 3, -payment, 9000)
    after = max(owed - 9000 * share, 0.0)
    assert cash.loan_early[0, 3] == pytest.approx(after - owed, rel=1e-9)
    assert cash.loan_balance[0, 3] == pytest.approx(after, abs=1e-6)
    paid = -(cash.loan_interest + cash.loan_principal)[0, 4 : term + 1]
    count = npf.nper(rate / 12, -payment, after)
    whole = math.floor(count + 1e-9)
    assert_allclose(paid[:whole], payment, rtol=1e-9)
    assert (paid[whole + 1 :] == 0).all()


@patient
@given(st.floats(0.0, 0.3), st.integers(1, 30))
def test_interest_of_a_level_principal(rate: float, term: int) -> None:
    """Closed sum: amount x rate x (n + 1) / 2; the first payment is the dearest."""
    cash = months_of([plain(rate, term, level_principal=True)])
    assert -cash.loan_interest.sum() == pytest.approx(9000 * rate / 12 * (term + 1) / 2, abs=1e-6)
    assert_allclose(-cash.loan_principal[0, 1 : term + 1], 9000 / term, rtol=1e-9)


@patient
@given(st.integers(1, 30), st.sampled_from(ROUNDING), st.booleans())
def test_a_loan_at_no_interest_is_paid_off_evenly(
    term: int, rounding: str, level_principal: bool
) -> None:
    """Definition: amount over term, to the cent where it is rounded, and the last clears it."""
    loan = plain(0.0, term, rounding=rounding, level_principal=level_principal)
    cash = months_of([loan])
    each = cents(9000 / term, rounding != "none")
    assert_allclose(-cash.loan_principal[0, 1:term], each, rtol=1e-12)
    last = 9000 - each * (term - 1)
    assert -cash.loan_principal[0, term] == pytest.approx(last, abs=1e-6)
    assert not cash.loan_interest.any()


def test_half_a_cent_goes_up() -> None:
    """By hand: 279 at 6 % a year are 1.395 of interest a month, which is 1.40 to the cent (halves
    go up), though in binary 1.395 is a little less."""
    terms = LoanTerms(0, 12, (), rounding="payment_and_interest")
    cash = months_of([OneLoan(279.0, 0.06, 0.0, terms)])
    assert -cash.loan_interest[0, 1] == pytest.approx(1.40, abs=1e-9)


# Rows.


@patient
@given(papers(), st.lists(money, min_size=3, max_size=9), st.floats(0, 0.4))
def test_scenarios_do_not_touch_each_other(
    loan: OneLoan, flows: list[float], overdraft_rate: float
) -> None:
    """Two scenarios in one run are each what they are alone, to the last bit."""
    both = np.stack([np.resize(flows, MONTHS), np.resize(flows[::-1], MONTHS)])
    alone = [months_of([loan], row, overdraft_rate) for row in both]
    together = months_of([loan], both, overdraft_rate)
    for name in Cash._fields:
        parts = np.concatenate([getattr(part, name) for part in alone])
        assert_array_equal(getattr(together, name), parts, err_msg=name)


def test_loans_beyond_the_months_are_left_out() -> None:
    """What would be drawn or repaid after the last month is not; what is owed then stays owed."""
    late = OneLoan(500.0, 0.1, 9.0, LoanTerms(MONTHS + 3, 12, ()))
    assert not any(getattr(months_of([late]), name).any() for name in LINES)
    long = months_of([plain(0.06, 4 * MONTHS)])
    owed = -npf.fv(0.005, MONTHS - 1, npf.pmt(0.005, 4 * MONTHS, 9000), 9000)
    assert long.loan_balance[0, -1] == pytest.approx(owed, rel=1e-10)
