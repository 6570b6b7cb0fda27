"""Tax on profit, the surplus of members, and VAT by a second way: plain loops over the years.

The loops follow one fiscal year after another as the rules read (design, section 5; fields of
`[tax]` and `[vat]`): earlier losses first, then what is free of tax, then two bands; what falls due
after the last month is settled in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from farmcase.money.loan import LoanTerms, loans_by_month
from farmcase.money.months import Cash, Given, Tax, run_months
from farmcase.money.vat import ReturnTerms, settled

patient = settings(deadline=None, max_examples=150)
money = st.floats(-9_000, 9_000).map(lambda x: round(x, 2))
shares = st.sampled_from([0.0, 0.1, 0.25, 0.4])
SURPLUS = ("bonus_charge", "bonus_paid", "dividend_charge", "dividend_paid")
LINES = ("project_tax", "tax_charge", "tax_paid", *SURPLUS)


class Rules(NamedTuple):
    """The rules of one business; the fields are those of `Tax`, one scenario."""

    rate: float
    free: float
    higher_rate: float
    higher_from: float
    loss_most: float
    bonus_share: float
    dividend_share: float
    carried: int
    paid_after: int
    distributed_after: int


class Business(NamedTuple):
    """Months of a business: taxed and book profit before interest, a loan and an overdraft."""

    rules: Rules
    taxable: list[float]
    profit: list[float]
    year_end: int  # months from the start, below 12
    borrowed: float
    overdraft_rate: float


rules = st.builds(
    Rules,
    rate=shares,
    free=st.sampled_from([0.0, 4_000]),
    higher_rate=st.sampled_from([0.4, 0.5]),
    higher_from=st.sampled_from([0.0, 9_000, 15_000]),
    loss_most=st.sampled_from([0.5, 1.0]),
    bonus_share=shares,
    dividend_share=shares,
    carried=st.integers(0, 1),
    paid_after=st.integers(0, 20),
    distributed_after=st.integers(0, 9),
)


@st.composite
def businesses(draw: st.DrawFn) -> Business:
    """Two to five years, whose last may be short; profit with a trend, so that losses are used."""
    months = draw(st.integers(18, 60))
    trend = np.linspace(draw(st.integers(-2000, 500)), draw(st.integers(-500, 3000)), months)
    noise = np.resize(draw(st.lists(money, min_size=5, max_size=9)), months) / 9
    taxable = trend + noise
    return Business(
        rules=draw(rules),
        taxable=taxable.tolist(),
        profit=(taxable + draw(st.integers(-300, 300))).tolist(),
        year_end=draw(st.integers(0, 11)),
        borrowed=draw(st.sampled_from([0.0, 20_000])),
        overdraft_rate=draw(st.sampled_from([0.0, 0.12])),
    )


def run(business: Business) -> Cash:
    """Through the compiled months; the flow is the book profit, without tax."""
    months = len(business.taxable)
    ends = (np.arange(months) % 12 == business.year_end).astype(np.int64)
    ends[-1] = 1
    profit = np.array([business.profit])
    numbers = [np.array([float(number)]) for number in business.rules[:7]]
    tax = Tax._make([*numbers, *business.rules[7:]])
    rate, fee = np.full((1, 1), 0.08), np.full((1, 1), 100.0 * (business.borrowed > 0))
    terms = [LoanTerms(1, 15, ())]
    loans = loans_by_month(terms, np.full((1, 1), business.borrowed), rate, fee, months)
    overdraft = np.array([business.overdraft_rate])
    taxable = np.array([business.taxable])
    return run_months(Given(profit, 0 * profit, taxable, profit, overdraft, ends), loans, tax)


class Office:
    """The tax office: the losses of one taxpayer, and the tax on each year's profit."""

    def __init__(self, rules: Rules) -> None:
        self.rules, self.losses = rules, 0.0

    def due(self, profit: float) -> float:
        """Tax on a year's profit, or its loss kept for later."""
        r = self.rules
        if profit <= 0:
            self.losses += -profit * r.carried
            return 0.0
        used = min(self.losses, r.loss_most * profit)
        self.losses -= used
        left = profit - used
        above = max(0.0, left - r.higher_from) if r.higher_from else 0.0
        return r.rate * max(0.0, left - r.free) + (r.higher_rate - r.rate) * above


def years_by_hand(business: Business, interest: np.ndarray) -> dict[str, np.ndarray]:
    """Lines of tax and surplus; `interest` (T,) is what lenders are paid, negative."""
    r, months = business.rules, len(business.taxable)
    lines = {name: np.zeros(months) for name in LINES}
    alone, real, kept, first = Office(r), Office(r), 0.0, 0
    ends = sorted({*range(business.year_end, months, 12), months - 1})
    for end in ends:
        year = slice(first, end + 1)
        first = end + 1
        pays, gives = (
            min(end + r.paid_after, months - 1),
            min(end + r.distributed_after, months - 1),
        )
        lines["project_tax"][pays] -= alone.due(sum(business.taxable[year]))
        cost = interest[year].sum()
        profit = sum(business.profit[year]) + cost
        shared = max(0.0, min(profit, kept + profit))  # losses of earlier years are made good first
        bonus = r.bonus_share * shared
        tax = real.due(sum(business.taxable[year]) + cost - bonus)
        dividend = r.dividend_share * max(0.0, shared - bonus - tax)
        kept += profit - bonus - tax - dividend
        for name, amount, month in (
            ("tax_charge", tax, end),
            ("tax_paid", tax, pays),
            ("bonus_charge", bonus, end),
            ("bonus_paid", bonus, gives),
            ("dividend_charge", dividend, end),
            ("dividend_paid", dividend, gives),
        ):
            lines[name][month] -= amount
    return lines


@patient
@given(businesses())
def test_tax_and_surplus_against_a_plain_loop(business: Business) -> None:
    """Second way: year by year, with the interest that the months show."""
    cash = run(business)
    interest = (cash.loan_interest + cash.loan_fee + cash.overdraft_interest)[0]
    for name, expected in years_by_hand(business, interest).items():
        assert_allclose(getattr(cash, name)[0], expected, rtol=1e-9, atol=1e-6, err_msg=name)
    moved = cash.loan_drawn + cash.loan_principal + cash.tax_paid
    moved = moved + cash.bonus_paid + cash.dividend_paid
    balance = (np.array(business.profit) + interest + moved[0]).cumsum()
    assert_allclose((cash.cash - cash.overdraft)[0], balance, rtol=1e-9, atol=1e-5)


@patient
@given(businesses())
def test_project_tax_is_that_of_the_same_business_without_lenders(business: Business) -> None:
    """Design, section 5: the project is taxed as if it owed nothing and shared out nothing."""
    nobody = business.rules._replace(bonus_share=0.0)
    alone = run(business._replace(rules=nobody, borrowed=0.0, overdraft_rate=0.0))
    assert_allclose(alone.tax_paid, alone.project_tax, rtol=1e-12, atol=1e-9)
    assert_allclose(run(business).project_tax, alone.tax_paid, rtol=1e-12, atol=1e-9)


@patient
@given(businesses())
def test_what_is_charged_is_paid_by_the_last_month(business: Business) -> None:
    """Conservation: charges and payments agree in the end, and none is paid before it is owed."""
    cash = run(business)
    for name in ("tax", "bonus", "dividend"):
        charged, paid = (-getattr(cash, f"{name}_{what}")[0] for what in ("charge", "paid"))
        assert charged.sum() == pytest.approx(paid.sum(), abs=1e-6)
        assert (charged.cumsum() - paid.cumsum() >= -1e-6).all()
        assert (charged >= 0).all()


def one_year_at_a_time(profits: list[float], given_rules: Rules) -> list[float]:
    """Tax charged on yearly profits that all fall in the last month of their year."""
    months = np.zeros((len(profits), 12))
    months[:, -1] = profits
    flat = months.ravel().tolist()
    return (-run(Business(given_rules, flat, flat, 11, 0.0, 0.0)).tax_charge[0, 11::12]).tolist()


PLAIN = Rules(0.2, 0.0, 0.4, 0.0, 1.0, 0.0, 0.0, 1, 0, 0)


def test_losses_on_paper() -> None:
    """By hand at 20 %: a loss of 1,000 frees the next 1,000, or half of each year's profit, or
    nothing where losses are lost."""
    profits = [-1_000.0, 600.0, 600.0, 600.0]
    assert one_year_at_a_time(profits, PLAIN) == pytest.approx([0, 0, 40, 120])
    half = PLAIN._replace(loss_most=0.5)
    assert one_year_at_a_time(profits, half) == pytest.approx([0, 60, 60, 60])
    assert one_year_at_a_time([*profits, 600.0], half)[-1] == pytest.approx(0.2 * (600 - 100))
    lost = PLAIN._replace(carried=0)
    assert one_year_at_a_time(profits, lost) == pytest.approx([0, 120, 120, 120])


def test_bands_on_paper() -> None:
    """By hand: 1,000 free, 20 % from there, 40 % from 5,000."""
    bands = PLAIN._replace(free=1_000.0, higher_from=5_000.0)
    got = one_year_at_a_time([900.0, 4_000.0, 7_000.0], bands)
    assert got == pytest.approx([0, 600, 0.2 * 4_000 + 0.4 * 2_000])


def test_surplus_on_paper() -> None:
    """By hand: of 1,000, 30 % are a price bonus that is not taxed, 20 % of 700 are tax, and half
    of the 560 left are shared out; after a loss of 1,000 nothing is."""
    split = PLAIN._replace(bonus_share=0.3, dividend_share=0.5)
    flat = [0.0] * 11 + [1_000.0] + [0.0] * 11 + [-1_000.0] + [0.0] * 11 + [600.0]
    cash = run(Business(split, flat, flat, 11, 0.0, 0.0))
    assert -cash.bonus_charge[0, 11::12] == pytest.approx([300, 0, 0])
    assert -cash.tax_charge[0, 11::12] == pytest.approx([140, 0, 0])
    assert -cash.dividend_charge[0, 11::12] == pytest.approx([280, 0, 0])


# VAT.


class Returns(NamedTuple):
    """Tax on sales and on purchases by month, and the terms of the returns."""

    due: Sequence[float]
    recovered: Sequence[float]
    terms: ReturnTerms


@st.composite
def returns(draw: st.DrawFn) -> Returns:
    """One to forty months, with returns of one month to a year."""
    months, every = draw(st.integers(1, 40)), draw(st.sampled_from([1, 2, 3, 6, 12]))
    amounts = st.lists(st.integers(0, 900), min_size=months, max_size=months)
    first, pays, gets = draw(st.integers(0, every - 1)), st.integers(0, 5), st.integers(0, 7)
    terms = ReturnTerms(every, first, draw(pays), draw(gets))
    return Returns(draw(amounts), draw(amounts), terms)


def settled_by_hand(r: Returns) -> list[float]:
    """A book that is closed at the end of each period, and settled some months later."""
    months, net = len(r.due), 0.0
    flows = [0.0] * months
    for month in range(months):
        net += r.due[month] - r.recovered[month]
        if (month - r.terms.first_ends) % r.terms.every_months == 0 or month == months - 1:
            wait = r.terms.paid_after_months if net > 0 else r.terms.refunded_after_months
            flows[min(month + wait, months - 1)] -= net
            net = 0.0
    return flows


@patient
@given(returns())
def test_vat_against_a_plain_loop(r: Returns) -> None:
    """Second way: period by period; the returns of the last month are settled in it."""
    got = settled(np.array([r.due], float), np.array([r.recovered], float), r.terms)[0]
    assert_allclose(got, settled_by_hand(r), rtol=0, atol=1e-9)
    assert got.sum() == pytest.approx(sum(r.recovered) - sum(r.due), abs=1e-6)


def test_quarters_on_paper() -> None:
    """By hand: quarters end in months 1 and 4; 30 is paid a month after, 50 refunded after two."""
    due, recovered = [10.0, 30, 0, 5, 0, 0, 0, 0], [0.0, 10, 0, 20, 35, 0, 0, 4]
    got = settled(np.array([due]), np.array([recovered]), ReturnTerms(3, 1, 1, 2))[0]
    assert got.tolist() == [0, 0, -30, 0, 0, 0, 50, 4]
