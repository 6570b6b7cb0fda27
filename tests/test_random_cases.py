"""What must hold for money whatever the finance of a case: loans, grants, gates, VAT and tax drawn.

Nothing here asks the package for a balance that it could have got wrong in the same way: each is
added up from the lines, from the rows of the case, or is a law (doubling, Fisher, nil in the end).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from made_cases import VAT, Made, made_cases, opened
from numpy.testing import assert_allclose

import farmcase as fc
from farmcase.inputs.case import Case
from farmcase.inputs.steps import read_steps
from farmcase.model.balance_sheet import ASSETS, balances
from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.cover import cover_of
from farmcase.model.lines import CAPITALISED, FINANCING, INVESTING, OPERATING
from farmcase.money.returns import npv

QUICK = {  # a case takes a tenth of a second, so that making a failing one smaller takes minutes
    "deadline": None,
    "suppress_health_check": [HealthCheck.too_slow],
    "phases": [Phase.explicit, Phase.reuse, Phase.generate],
}
some, few = settings(max_examples=25, **QUICK), settings(max_examples=8, **QUICK)
HALF_A_CENT = 0.005


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the cases are written, one after the other."""
    return tmp_path_factory.mktemp("made")


def lines_of(build: BuildOutcome) -> dict[str, np.ndarray]:
    """Every line by month, (T,)."""
    months = build.inputs.months
    return {n: np.broadcast_to(x, (1, months))[0] for n, x in build.ledger.lines.items()}


def total(lines: dict[str, np.ndarray], names: tuple[str, ...]) -> np.ndarray:
    """Lines added up."""
    return np.sum([lines[name] for name in names], axis=0)


def books_close(build: BuildOutcome) -> None:
    """finance.md 8.01 and 8.02: the balance sheet balances every month, cash ties, and once all is
    settled what is left is what owners put in and what was earned."""
    lines = lines_of(build)
    sheet = {name: line[0] for name, line in balances(build.ledger.lines).items()}
    left = sum(line if name in ASSETS else -line for name, line in sheet.items())
    assert_allclose(left, 0, atol=HALF_A_CENT)
    flow = total(lines, OPERATING) + total(lines, INVESTING) + total(lines, FINANCING)
    balance = lines["cash"] - lines["overdraft"]
    assert_allclose(flow.cumsum(), balance, atol=HALF_A_CENT)
    assert (lines["cash"] >= 0).all() and (lines["overdraft"] >= 0).all()
    owners = lines["owners_money"] + lines["owners_withdrawn"] + lines["profit_kept"]
    worth = balance[-1] - lines["loan_balance"][-1]
    assert worth == pytest.approx(owners.sum(), abs=HALF_A_CENT)
    project = lines["project_before_tax"] + lines["project_tax"]
    assert_allclose(lines["project_flow"], project, atol=1e-9)


def loans_end_at_zero(build: BuildOutcome) -> None:
    """finance.md 8.05: where terms fit, nothing is owed in the end; what was drawn, and interest
    that was added, has been repaid; none is drawn before its gates are open."""
    lines, table = lines_of(build), build.inputs.timetable
    moves = ("loan_drawn", "loan_capitalised", "loan_principal", "loan_early")
    assert_allclose(total(lines, moves).cumsum(), lines["loan_balance"], atol=1e-6)
    loans = list(build.inputs.case.loans.values())
    fits = True
    for loan in loans:
        planned = [month for month, _ in read_steps(loan.drawn)] or [loan.drawn_month]
        opens = max((table.opens[gate] for gate in loan.gate.split()), default=0)
        first, last = (max(table.slide(planned[i]), opens) for i in (0, -1))
        apart = last - first - (planned[-1] - planned[0])  # gates may pull the stages apart
        fits = fits and first + loan.term_months + max(0, apart) < build.inputs.months
    if fits:
        assert lines["loan_balance"][-1] == pytest.approx(0, abs=1e-6)
        amount = sum(loan.amount.likely for loan in loans)
        assert lines["loan_drawn"].sum() == pytest.approx(amount)


def level(case: Case, category: str, build: BuildOutcome, date: str = "") -> np.ndarray:
    """Prices of each month in money of a date, or of the start month."""
    rise = getattr(case.inflation, category).likely
    gap = (pd.Period(build.dates[0], "M") - pd.Period(date, "M")).n if date else 0
    return (1 + rise) ** ((np.arange(build.inputs.months) + gap) / 12)


def held_at_the_end(build: BuildOutcome) -> Iterator[float]:
    """What the books still hold of each row and of each lease that was bought, from the case."""
    case, table = build.inputs.case, build.inputs.timetable
    last = build.inputs.months - 1
    extra = case.builds[build.inputs.name].contingency_share.likely
    kept = 0.0
    if case.vat:
        taxed = case.vat.scheme in ("standard", "cash")
        kept = 1 - case.vat.recoverable_share.likely if taxed else 1.0
    wage = case.own_work.opportunity_wage_per_hour.likely
    for name, row in case.capital.items():
        prices = level(case, "general", build, row.price_date)
        wages = wage * level(case, "wages", build, case.own_work.price_date)
        price = row.quantity.likely * row.unit_cost.likely * row.exchange_rate.likely
        steps = [(month, share) for month, share in table.payments[name] if month <= last]
        cost = sum(price * share * prices[month] for month, share in steps)
        held = cost * (1 + extra) * (1 + row.vat_rate_share * kept)
        held += sum(row.own_labour_hours.likely * share * wages[m] for m, share in steps)
        life, at = round(12 * row.life_years.likely), min(table.ready[name], last)
        while at + life < last:
            at += life
            held = price * prices[at] * (1 + row.vat_rate_share * kept)
        yield held * (1 - (last - at) / life)
    for lease in case.leases.values():
        begins = table.after(lease.starts_month, lease.gate.split())
        passed = last - (begins + lease.term_months)
        if lease.bought_at_end and passed > 0:
            life = 12 * lease.life_years.likely
            price = lease.purchase_price.likely * (1 + lease.vat_rate_share * kept)
            yield price * max(0.0, 1 - passed / life)


def depreciation_is_cost_less_what_is_left(build: BuildOutcome) -> None:
    """finance.md 8.06, with what is left worked out from the rows of the case."""
    lines = lines_of(build)
    bought = -total(lines, CAPITALISED).sum()
    held = sum(held_at_the_end(build))
    assert lines["depreciation"].sum() == pytest.approx(bought - held, rel=1e-9, abs=1e-6)
    gain = lines["end_value"].sum() - held
    assert lines["disposal_gain"].sum() == pytest.approx(gain, rel=1e-9, abs=1e-6)


def grants_keep_their_bounds(build: BuildOutcome) -> None:
    """finance.md 8.08: never more than the share of eligible spending nor the ceiling, never before
    it is paid, nothing for what is paid before the award; nothing is lost in the last month."""
    case, lines, table = build.inputs.case, lines_of(build), build.inputs.timetable
    last = build.inputs.months - 1
    most = np.zeros(last + 1)
    for grant in case.grants.values():
        award = max((table.opens[gate] for gate in grant.award_gate.split()), default=0)
        spent = np.zeros(last + 1)
        wages = case.own_work.opportunity_wage_per_hour.likely * level(
            case, "wages", build, case.own_work.price_date
        )
        for name, row in case.capital.items():
            steps = table.payments[name]
            counts = row.grant_eligible and steps[0][0] >= award
            if not counts or (row.second_hand and not grant.second_hand_counts):
                continue
            price = row.quantity.likely * row.unit_cost.likely * row.exchange_rate.likely
            own = row.own_labour_hours.likely * grant.own_labour_counts
            prices = level(case, "general", build, row.price_date)
            for month, share in (step for step in steps if step[0] <= last):
                spent[month] += share * (price * prices[month] + own * wages[month])
        most += np.minimum(spent.cumsum() * grant.share.likely, grant.ceiling.likely)
    assert (lines["grant"].cumsum() <= most + 1e-6).all()
    assert lines["grant"].sum() == pytest.approx(most[-1], abs=1e-6)
    assert lines["grant_released"].sum() == pytest.approx(most[-1], abs=1e-6)
    assert -lines["grant_repaid"].sum() <= most[-1] + 1e-6


def months_add_to_years(build: BuildOutcome) -> None:
    """finance.md 8.15: years from the start and fiscal years are their months, by the calendar."""
    frame, lines = build.monthly, lines_of(build)
    for name in ("sales", "project_flow", "tax_paid", "grant", "vat_settled", "loan_principal"):
        assert build.yearly[name].sum() == pytest.approx(frame[name].sum(), abs=1e-6)
    assert build.yearly["cash"].iloc[-1] == frame["cash"].iloc[-1]
    months = pd.PeriodIndex([frame["date"][1], *frame["date"][1:]], freq="M")  # 0 counts with 1
    fiscal = months.year + (months.month > build.inputs.case.money.fiscal_year_end_month)
    cover = cover_of(build.inputs, build.ledger.lines)
    before = lines["operating_surplus"] - lines["own_work"]
    paid = total(lines, ("tax_paid", "bonus_paid", "dividend_paid"))
    due = -total(lines, ("loan_interest", "loan_capitalised", "loan_principal"))
    by_month = (before, lines["operating_surplus"] + paid, due)
    by_year = (cover.before_drawings, cover.after_drawings, cover.service)
    years = [pd.Series(line).groupby(fiscal).sum() for line in by_month]
    overdrawn = pd.Series(-lines["overdraft_interest"]).groupby(fiscal).sum()
    years[2] = (years[2] + overdrawn).where(years[2] > 0, 0.0)  # with a loan to be served
    for found, line in zip(by_year, years, strict=True):
        assert_allclose(found[0], line, atol=1e-6)
    charged = pd.Series(-lines["tax_charge"]).groupby(fiscal).apply(lambda x: (x > 0).sum())
    assert (charged <= 1).all()


def real_flows_are_worth_the_same(build: BuildOutcome, real_rate: float) -> None:
    """finance.md 8.12: flows in money of the start month, at the exact Fisher rate."""
    case = build.inputs.case
    nominal, rise = case.money.discount_rate_per_year.likely, case.inflation.general.likely
    assert 1 + nominal == pytest.approx((1 + real_rate) * (1 + rise), rel=1e-14)
    worth = float(npv(real_rate, lines_of(build)["project_flow"] / level(case, "general", build)))
    assert build.measure("npv") == pytest.approx(worth, rel=1e-10, abs=1e-6)


@some
@given(made=made_cases())
def test_what_must_hold_of_every_case(made: Made, folder: Path) -> None:
    """Every check above, on the builds of one run."""
    outcome = fc.evaluate(opened(made, folder))
    for build in outcome.values():
        books_close(build)
        loans_end_at_zero(build)
        depreciation_is_cost_less_what_is_left(build)
        grants_keep_their_bounds(build)
        months_add_to_years(build)
        real_flows_are_worth_the_same(build, outcome.real_discount_rate)


# Laws, of two runs.


@few
@given(made=made_cases())
def test_vat_nets_to_zero_for_a_zero_rated_grower(made: Made, folder: Path) -> None:
    """finance.md 8.09: registered, selling at a rate of nil and recovering all, VAT moves money in
    time and costs nothing: all flows before tax add up to those without it."""
    vat = {"purchases_rate_share": 0.23, "return_every_months": 3, "first_return_ends": 2}
    vat |= {"paid_after_months": 1, "refunded_after_months": 2}
    sections: dict[str, Any] = {n: s for n, s in made.sections.items() if n != "vat"}
    without = fc.evaluate(opened(made._replace(sections=sections), folder))
    sections["vat"] = {**vat, **{k: v for k, v in made.sections.get("vat", {}).items() if k in VAT}}
    sections["vat"] |= {"scheme": "standard", "recoverable_share": 1.0}
    taxed = fc.evaluate(opened(made._replace(sections=sections), folder))
    for name, build in taxed.items():
        lines, plain = lines_of(build), lines_of(without[name])
        assert not (lines["vat_on_sales"].any() or lines["vat_cost"].any())
        assert not (lines["capital_vat"].any() or lines["flat_rate_addition"].any())
        assert -lines["vat_on_purchases"].sum() > 0
        recovered = lines["vat_on_purchases"] + lines["vat_settled"]
        assert recovered.sum() == pytest.approx(0, abs=1e-6)
        assert (recovered.cumsum() <= 1e-6).all()
        moved = lines["project_before_tax"] - plain["project_before_tax"]
        assert_allclose(moved, recovered, atol=1e-6)


def doubled(case: Case) -> Case:
    """Twice the money everywhere: prices, wages, ceilings, thresholds, tax bands, loans."""
    paths = {
        path: 2 * row.likely
        for path, row in fc.input_table(case).items()
        if str(row.spec["unit"]).startswith("money") and not path.endswith("exchange_rate")
    }
    return case.vary(paths)


@few
@given(made=made_cases())
def test_doubling_money_doubles_every_line(made: Made, folder: Path) -> None:
    """finance.md 8.16: linear in the unit of money, ceilings, thresholds and tax bands included.

    Loans are not rounded to cents here, since cents are not doubled.
    """
    sections = {
        name: {**fields, "rounding": "none"} if "rounding" in fields else fields
        for name, fields in made.sections.items()
    }
    case = opened(made._replace(sections=sections), folder)
    before, after = fc.evaluate(case), fc.evaluate(doubled(case))
    for name in before:
        lines, twice = lines_of(before[name]), lines_of(after[name])
        for line, amount in lines.items():
            assert_allclose(twice[line], 2 * amount, rtol=1e-9, atol=1e-5, err_msg=line)
        for measure in ("npv", "owners_npv", "money_needed", "lowest_cash"):
            expected = 2 * before[name].measure(measure)
            assert after[name].measure(measure) == pytest.approx(expected, rel=1e-9, abs=1e-5)


@pytest.mark.parametrize("rise", [0.02, 0.15])
def test_prices_that_all_rise_change_nothing_real(small_case: Case, rise: float) -> None:
    """Law: prices as of the start, paid at once, untaxed, all rising at one rate, discounted at the
    Fisher rate of it, are worth what steady prices are worth at the real rate."""
    real = 0.04
    at_once = {f"sales.{row}.payment_delay_days": 0.0 for row in small_case.sales}
    at_once |= {f"grants.{row}.share": 0.0 for row in small_case.grants}
    at_once |= {f"capital.{row}.resale_share": 0.0 for row in small_case.capital}
    at_once |= {"tax.rate_share": 0.0, "tax.higher_rate_share": 0.0}
    agreed = ("deposit", "purchase_price")  # in sums that do not rise
    at_once |= {f"leases.{name}.{sum_}": 0.0 for name in small_case.leases for sum_ in agreed}
    start: dict[str, Any] = dict.fromkeys(price_dates(small_case), "2027-02")
    start["carriers.electricity.price_per_kwh"] = {"low": 0.2, "likely": 0.27, "high": 0.3}
    worth = []
    for rate in (0.0, rise):
        changes: dict[str, Any] = {**at_once, **start}
        changes |= {f"inflation.{n}": rate for n in type(small_case.inflation).specs()}
        changes["money.discount_rate_per_year"] = (1 + real) * (1 + rate) - 1
        outcome = fc.evaluate(small_case.vary(changes))
        worth.append([build.measure("npv") for build in outcome.values()])
    assert_allclose(worth[1], worth[0], rtol=1e-9)


def price_dates(case: Case) -> Iterator[str]:
    """The path of every date of prices."""
    for section, identity, record in case.all_records():
        if hasattr(record, "price_date"):
            yield ".".join(part for part in (section, identity, "price_date") if part)
