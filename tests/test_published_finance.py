"""Published sums in money: printed tables and worked examples, each from its own file.

`tests/published/` has one file for each source with what is printed, how it was read and, where a
print is wrong, the recomputed value that is tested instead and the reason. `precise` is the same
sum worked out apart from the project to more digits than are printed. numpy-financial is a second
oracle, except for NPER at a rate of zero and for its choice among several rates of return.
"""

from __future__ import annotations

import csv
import itertools
import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import numpy_financial as npf
import pytest
from hypothesis import given as drawn
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from farmcase.costs.capital import BOOKS, CapitalRows, capital_flows
from farmcase.money import ratios
from farmcase.money.breakeven import SaleYear, break_even_prices, break_even_yield, profit_at
from farmcase.money.loan import LoanTerms, level_payment, loans_by_month
from farmcase.money.months import Cash, Given, no_tax, run_months
from farmcase.money.returns import (
    annuity_factor,
    discount_factors,
    modified_rate,
    npv,
    payback_periods,
    price_level,
    rates_of_return,
    real_rate,
    single_rate,
)

FILES = sorted((Path(__file__).parent / "published").glob("*.json"))
THRESHOLDS = Path(__file__).parents[1] / "data" / "reference" / "thresholds.csv"
SOURCES = {path.stem: json.loads(path.read_text(encoding="utf-8")) for path in FILES}
FINANCE = {name: s for name, s in SOURCES.items() if s.get("subject") == "finance"}
TRIED: set[str] = set()


def published(kind: str) -> pytest.MarkDecorator:
    """Run a test for every published case of a kind."""
    TRIED.add(kind)
    found = [
        pytest.param(case, id=f"{name} {case['id']}")
        for name, source in FINANCE.items()
        for case in source["cases"]
        if case["kind"] == kind
    ]
    return pytest.mark.parametrize("case", found)


def wanted(case: dict[str, Any]) -> Any:
    """The printed value, or the recomputed one where the print is wrong or missing."""
    return case["recomputed"] if "recomputed" in case else case["printed"]


def agrees(got: Any, case: dict[str, Any]) -> None:
    """A result is what its source prints, within the tolerance given there, and what is known of
    further digits."""
    assert_allclose(got, wanted(case), rtol=0, atol=case["tolerance"])
    if "precise" in case:
        assert_allclose(got, case["precise"], rtol=0, atol=case["precise_tolerance"])


# The files.


def test_every_published_case_is_tried() -> None:
    """No case lies in a file without a test that uses it."""
    assert {case["kind"] for source in FINANCE.values() for case in source["cases"]} == TRIED


@pytest.mark.parametrize("name", FINANCE)
def test_sources_say_where_they_were_read(name: str) -> None:
    """Each file has source, place of reading and mark; each wrong print has its reason."""
    source = FINANCE[name]
    assert source["source"] and source["read_at"]
    assert source["mark"].startswith(("found", "memory"))
    for case in source["cases"]:
        assert case["place"] and case["tolerance_reason"]
        assert ("recomputed" in case) == bool(case.get("reason"))
        assert wanted(case) is not None or case["id"] == "1.34"
        assert ("precise" in case) == ("precise_tolerance" in case)


# Payments, annuities and present values.


@published("level_payment")
def test_level_payment(case: dict[str, Any]) -> None:
    """Source and table in the file: the payment that clears a loan, also with a last sum to pay."""
    given = case["inputs"]
    rate, count = given["rate_per_year"] / given["payments_per_year"], given["periods"]
    factor = discount_factors(rate, count + 1, per_year=1)
    payment = level_payment(rate, count, given["amount"] + given["left_to_pay"] * factor[-1])
    agrees(payment * (factor[1] if given["in_advance"] else 1), case)


@published("number_of_payments")
def test_number_of_payments(case: dict[str, Any]) -> None:
    """Source and table in the file: the count, also a broken one, at which a loan is cleared."""
    given = case["inputs"]
    rate = given["rate"]
    payment = given["payment"] * (1 + rate if given["in_advance"] else 1)

    def left(count: float) -> float:
        """Worth at the start of what is paid, less what is got at the start and at the end."""
        annuity = float(annuity_factor(rate, count))
        return payment * annuity - given["amount"] - given["left_to_pay"] * (1 - rate * annuity)

    agrees(brentq(left, 1e-6, 100, xtol=1e-12), case)


@published("annuity_value")
def test_present_value_of_an_annuity(case: dict[str, Any]) -> None:
    """Source and table in the file: what level payments are worth at the start."""
    given = case["inputs"]
    factor = discount_factors(given["rate"], given["periods"] + 1, per_year=1)
    value = given["payment"] * annuity_factor(given["rate"], given["periods"])
    value = value / factor[1] if given["in_advance"] else value
    agrees(value - given["owed_at_end"] * factor[-1], case)


@published("future_value")
def test_future_value(case: dict[str, Any]) -> None:
    """Source and table in the file: what level payments have grown to at the end."""
    given = case["inputs"]
    factor = discount_factors(given["rate"], given["periods"] + 1, per_year=1)
    value = given["payment"] * annuity_factor(given["rate"], given["periods"])
    value = value / factor[1] if given["in_advance"] else value
    agrees((value - given["owed_at_start"]) / factor[-1], case)


@published("future_values")
def test_future_value_year_by_year(case: dict[str, Any]) -> None:
    """OpenStax Finance 8.2: the balance after each of five yearly payments."""
    given = case["inputs"]
    years = np.arange(1, len(case["printed"]) + 1)
    factor = discount_factors(given["rate"], years.size + 1, per_year=1)[1:]
    agrees(given["payment"] * annuity_factor(given["rate"], years) / factor, case)


@published("present_value")
def test_present_value(case: dict[str, Any]) -> None:
    """Source and table in the file; our first flow is today, a spreadsheet's a period later."""
    given = case["inputs"]
    flows = [0.0] * given["first_flow_at"] + given["flows"]
    agrees(npv(given["rate"], flows, per_year=1), case)


def by_day(given: dict[str, Any]) -> list[float]:
    """Dated flows as a row with a place for every day from the first date on."""
    days = [date.fromisoformat(day).toordinal() for day in given["dates"]]
    row = [0.0] * (days[-1] - days[0] + 1)
    for day, flow in zip(days, given["flows"], strict=True):
        row[day - days[0]] += flow
    return row


@published("dated_value")
def test_present_value_of_dated_flows(case: dict[str, Any]) -> None:
    """Source and table in the file: with 365 periods in a year, npv is a spreadsheet's XNPV."""
    agrees(npv(case["inputs"]["rate"], by_day(case["inputs"]), per_year=365), case)


@published("dated_rate")
def test_rate_of_dated_flows(case: dict[str, Any]) -> None:
    """Source and table in the file: with 365 periods in a year, the single rate is XIRR."""
    (rate,) = rates_of_return(by_day(case["inputs"]), per_year=365)
    agrees(rate, case)


@published("stepped_factor")
def test_factor_of_a_rate_that_steps(case: dict[str, Any]) -> None:
    """Green Book, Table A.1: the rate falls after 30 years, the factors before it stay."""
    parts = [
        discount_factors(rate, years + 1, per_year=1)[-1] for rate, years in case["inputs"]["steps"]
    ]
    agrees(np.prod(parts), case)


@published("discount_factors")
def test_discount_factors(case: dict[str, Any]) -> None:
    """Source and table in the file: factors of single sums."""
    years = case["inputs"]["years"]
    factor = discount_factors(case["inputs"]["rate"], max(years) + 1, per_year=1)
    agrees(factor[years], case)
    monthly = discount_factors(case["inputs"]["rate"], 12 * max(years) + 1)
    agrees(monthly[12 * np.array(years)], case)


@published("annuity_factors")
def test_annuity_factors(case: dict[str, Any]) -> None:
    """Source and table in the file: factors of yearly sums."""
    agrees(annuity_factor(case["inputs"]["rate"], case["inputs"]["years"]), case)


@published("effective_rate")
def test_effective_rate(case: dict[str, Any]) -> None:
    """OpenStax Finance 8.4: a monthly rate and the yearly rate of the same effect."""
    monthly, yearly = case["inputs"]["rate_per_month"], case["printed"]
    tolerance = case["tolerance"] / 12  # twelve months of growth carry the printed rounding
    assert_allclose(price_level(yearly, 2)[1] - 1, monthly, rtol=0, atol=tolerance)
    assert_allclose(1 / discount_factors(yearly, 2)[1] - 1, monthly, rtol=0, atol=tolerance)


@published("nominal_rate")
def test_nominal_rate(case: dict[str, Any]) -> None:
    """OpenFormula NOMINAL: the factor of one period is the same by either rate."""
    given, tolerance = case["inputs"], case["tolerance"]
    period = discount_factors(given["effective"], 2, per_year=given["periods"])[1]
    plain = discount_factors(case["printed"] / given["periods"], 2, per_year=1)[1]
    assert period == pytest.approx(plain, rel=0, abs=tolerance)


@published("real_rate")
def test_real_rate(case: dict[str, Any]) -> None:
    """OpenStax Finance 7.4 and 3.4; exact Fisher, where 3.4 prints the plain difference."""
    agrees(real_rate(case["inputs"]["nominal"], case["inputs"]["inflation"]), case)


def test_federal_bounds_of_the_real_rate_are_in_the_table() -> None:
    """10 CFR 436.14: the real rate of a federal study is at least 3 and at most 10 percent."""
    row = threshold_rows()["us_federal_real_rate"]
    assert (float(row["low"]), float(row["high"])) == (0.03, 0.10)


def test_zero_rate_counts_years() -> None:
    """Definition: at a rate of zero an annuity is worth its number of payments."""
    assert_allclose(annuity_factor(0.0, [1, 10, 40]), [1, 10, 40], rtol=0, atol=0)


# The loan, month by month.


def loan_months(rate_per_year: float, months: int, amount: float, rounding: str = "none") -> Cash:
    """A loan alone in the month kernel, drawn today."""
    nothing = np.zeros((1, months + 1))
    ends = np.zeros(months + 1, np.int64)
    terms = LoanTerms(begins=0, term_months=months, drawn=(), rounding=rounding)
    rate, fee = np.array([[rate_per_year]]), np.zeros((1, 1))
    loans = loans_by_month([terms], np.array([[float(amount)]]), rate, fee, months + 1)
    flows = Given(nothing, nothing, nothing, nothing, np.zeros(1), ends)
    return run_months(flows, loans, no_tax(1))


@published("loan_months")
def test_interest_and_principal(case: dict[str, Any]) -> None:
    """numpy-financial TestIpmt and TestPpmt: the first months of a loan."""
    cash = loan_months(**case["inputs"])
    for name, printed in case["printed"].items():
        got = -getattr(cash, f"loan_{name}")[0, 1 : 1 + len(printed)]
        assert_allclose(got, printed, rtol=0, atol=case["tolerance"])


@published("loan_months")
def test_payments_are_level_and_clear_the_loan(case: dict[str, Any]) -> None:
    """Definition: interest and principal add to one payment, and the last balance is nothing."""
    cash = loan_months(**case["inputs"])
    paid = -(cash.loan_interest + cash.loan_principal)[0, 1:]
    assert_allclose(paid, paid[0], rtol=1e-12)
    assert_allclose(-cash.loan_principal.sum(), case["inputs"]["amount"], rtol=1e-12)
    assert cash.loan_balance[0, -1] == 0


@published("loan_in_advance")
def test_interest_of_a_loan_paid_in_advance(case: dict[str, Any]) -> None:
    """numpy-financial TestIpmt: the first payment falls with the money, so it bears no interest."""
    given = case["inputs"]
    rate, months = given["rate_per_month"], given["months"]
    payment = level_payment(rate, months, given["amount"]) / (1 + rate)
    cash = loan_months(12 * rate, months - 1, given["amount"] - float(payment))
    agrees(-cash.loan_interest[0, : len(case["printed"])], case)
    assert_allclose(-(cash.loan_interest + cash.loan_principal)[0, 1:], payment, rtol=1e-12)


@published("loan_table")
def test_loan_table(case: dict[str, Any]) -> None:
    """OpenStax Finance 8.3: our balances are its table less what its rounded payment overpays."""
    given = case["inputs"]
    rate = given["rate_per_year"] / 12
    cash = loan_months(given["rate_per_year"], given["months"], given["amount"])
    payment = float(level_payment(rate, given["months"], given["amount"]))
    over = given["payment_of_the_table"] - payment
    for month, printed in case["printed"]["balance"].items():
        grown = sum((1 + rate) ** k for k in range(int(month)))
        ours = cash.loan_balance[0, int(month)] - over * grown
        assert ours == pytest.approx(printed, abs=case["tolerance"])
    overpaid = case["printed"]["balance"][str(given["months"])]
    interest = -cash.loan_interest.sum() + over * given["months"] + overpaid
    assert interest == pytest.approx(case["printed"]["interest"], abs=case["tolerance"])
    assert cash.loan_balance[0, -1] == 0


@published("loan_table")
def test_loan_table_by_its_own_rounding(case: dict[str, Any]) -> None:
    """OpenStax Finance 8.3: its payment is rounded to the cent and its interest is not; ours then
    is its table, but the last payment, which only clears what is left."""
    given, printed = case["inputs"], case["printed"]
    months, payment = given["months"], given["payment_of_the_table"]
    cash = loan_months(given["rate_per_year"], months, given["amount"], "payment")
    paid = -(cash.loan_interest + cash.loan_principal)[0, 1:]
    assert_allclose(paid[:-1], payment, rtol=0, atol=1e-9)
    for month, balance in printed["balance"].items():
        ours = cash.loan_balance[0, int(month)] + (int(month) == months) * (paid[-1] - payment)
        assert ours == pytest.approx(balance, abs=case["tolerance"])
    interest = -cash.loan_interest.sum()
    assert interest == pytest.approx(printed["interest"], abs=case["tolerance"])
    assert cash.loan_balance[0, -1] == pytest.approx(0, abs=1e-9)


@published("loan_table")
def test_loan_table_with_interest_rounded_too(case: dict[str, Any]) -> None:
    """Worked out apart from the project for the same loan, with every month's interest rounded to
    the cent: the last level payment would overpay by 1.26, and interest comes to 56,597.14."""
    given = case["inputs"]
    terms = given["rate_per_year"], given["months"], given["amount"]
    cash = loan_months(*terms, "payment_and_interest")
    paid = -(cash.loan_interest + cash.loan_principal)[0, 1:]
    assert paid[-1] - given["payment_of_the_table"] == pytest.approx(-1.26, abs=1e-6)
    assert -cash.loan_interest.sum() == pytest.approx(56_597.14, abs=1e-6)
    cents = 100 * cash.loan_interest
    assert_allclose(cents, np.round(cents), rtol=0, atol=1e-7)


# Rates of return and payback.


def rates_by_polynomial(flows: list[float]) -> list[float]:
    """Rates of return as the positive roots of the polynomial in 1 / (1 + rate)."""
    roots = np.roots(np.trim_zeros(np.array(flows[::-1], float)))
    real = roots[(np.abs(roots.imag) < 1e-9) & (roots.real > 0)].real
    return sorted(1 / real - 1)


@published("rates")
def test_rates_of_return(case: dict[str, Any]) -> None:
    """Source and table in the file: every rate is listed, lowest first (RATE gives only one)."""
    found = rates_of_return(case["inputs"]["flows"], per_year=1)
    agrees([rate for rate in found if rate > 0] if "RATE" in case["place"] else found, case)


@published("rates")
def test_rates_of_return_are_all_roots(case: dict[str, Any]) -> None:
    """Second way: the roots of the polynomial by its companion matrix."""
    flows = case["inputs"]["flows"]
    found = rates_of_return(flows, per_year=1)
    assert_allclose(found, rates_by_polynomial(flows), rtol=0, atol=1e-10)


@published("rates")
def test_single_rate_says_when_there_are_several(case: dict[str, Any]) -> None:
    """Design, section 5: the rate is NaN, with the count, where there are none or several."""
    flows = np.array([case["inputs"]["flows"]], float)
    rate, count = single_rate(flows, per_year=1)
    roots = rates_by_polynomial(case["inputs"]["flows"])
    assert count[0] == len(roots)
    if len(roots) == 1:
        assert rate[0] == pytest.approx(roots[0], abs=1e-8)
    else:
        assert np.isnan(rate[0])


@published("modified_rate")
def test_modified_rate(case: dict[str, Any]) -> None:
    """numpy-financial TestMirr; NaN where nothing is paid."""
    given = case["inputs"]
    rates = given["finance_rate"], given["reinvest_rate"]
    got = modified_rate(np.array(given["flows"], float), *rates, per_year=1)
    assert_allclose(got, np.nan if wanted(case) is None else wanted(case), atol=case["tolerance"])


@published("payback")
def test_payback(case: dict[str, Any]) -> None:
    """OpenStax Accounting 11.2: years until the money is back, in a straight line within a year."""
    agrees(payback_periods(np.array(case["inputs"]["flows"], float)), case)


def test_payback_of_what_never_pays_back() -> None:
    """Definition: NaN where the money never comes back, or where nothing was paid."""
    assert np.isnan(payback_periods(np.array([-100.0, 30, 30]))).all()
    assert np.isnan(payback_periods(np.array([0.0, 30, 30]))).all()


# Life-cycle cost.


def present_costs(given: dict[str, float]) -> list[float]:
    """Present values from our factors, rounded as the handbook's tables round them."""
    years = int(given["years"])
    single = np.round(discount_factors(given["rate"], years + 1, per_year=1), 3)
    uniform = float(np.round(annuity_factor(given["rate"], years), 2))
    return [
        given["first_cost"],
        given["replacement"] * single[int(given["replacement_year"])],
        -given["residual"] * single[years],
        given["energy"] * given["energy_factor"],
        given["other"] * uniform,
    ]


@published("life_cycle_cost")
def test_life_cycle_cost(case: dict[str, Any]) -> None:
    """NIST Handbook 135, Table 5-2 (the alternative from memory): parts and total."""
    parts, printed = present_costs(case["inputs"]), wanted(case)
    if printed["parts"]:
        assert_allclose(parts, printed["parts"], rtol=0, atol=case["tolerance"])
    assert sum(parts) == pytest.approx(printed["total"], abs=case["tolerance"])


@published("adjusted_rate")
def test_adjusted_rate_is_the_modified_rate(case: dict[str, Any]) -> None:
    """10 CFR 436.22: savings reinvested at the study's rate; (1 + r) x SIR^(1/n) - 1."""
    given, printed, tolerance = case["inputs"], case["printed"], case["tolerance"]
    yearly = given["savings"] / annuity_factor(given["rate"], given["years"])
    flows = np.array([-given["investment"], *[float(yearly)] * given["years"]])
    ratio = npv(given["rate"], flows, per_year=1) / given["investment"] + 1
    rate = modified_rate(flows, given["rate"], given["rate"], per_year=1)
    got = {
        "savings_to_investment": ratio,
        "adjusted_rate": rate,
        "net_savings": npv(given["rate"], flows, per_year=1),
    }
    for values, room in ((printed, tolerance), (case["precise"], case["precise_tolerance"])):
        for name, value in values.items():
            assert got[name] == pytest.approx(value, rel=0, abs=room[name])
    identity = (1 + given["rate"]) * ratio ** (1 / given["years"]) - 1
    assert rate == pytest.approx(identity, abs=1e-12)


@published("unused_life")
def test_unused_share_of_life(case: dict[str, Any]) -> None:
    """NIST Handbook 135 (2022) 4.5.3: bought at 0 and 15 years, a third unused at 25."""
    given, printed = case["inputs"], case["printed"]
    one, level = np.ones((1, 1)), np.ones((1, 12 * given["study_years"] + 1))
    rows = CapitalRows(
        cost=one,
        own_cost=0 * one,
        own_worth=0 * one,
        pay_row=np.array([0]),
        pay_month=np.array([0]),
        pay_share=np.ones(1),
        ready=np.array([0]),
        bought_again=np.array([1]),
        life=np.array([[12 * given["life_years"]]]),
        resale_share=0 * one,
        level=level,
        wage_level=level,
        contingency=np.zeros(1),
        vat_rate=np.zeros(1),
        vat_kept=np.zeros(1),
        tax_class=np.array([BOOKS]),
        own_deducted=0.0,
        eligible=np.zeros((0, 1), np.int64),
        own_counts=np.zeros(0),
    )
    flows = capital_flows(rows, 0)
    bought = np.flatnonzero(flows.spending[0] + flows.replacements[0])
    assert list(bought / 12) == printed["bought_in_years"]
    used = flows.slope.sum()
    unused, yearly = (a / b for a, b in (printed["unused_share"], printed["yearly_share"]))
    assert len(bought) - used == pytest.approx(unused, abs=case["tolerance"])
    assert used / given["study_years"] == pytest.approx(yearly, abs=case["tolerance"])


# Break-even.


def plain_year(given: dict[str, float], units: float, by_weight: bool = False) -> SaleYear:
    """A year of one product sold evenly at one price; a unit stands as a kilogram."""
    months = np.ones((1, 1, 12))
    variable = given["variable"] * months
    return SaleYear(
        kilograms=units / 12 * months,
        limit_kg=1e6 * months,
        pool=np.array([0]),
        price=given["price"] * months,
        handling=variable * (not by_weight),
        order_price=np.array([[given["price"]]]),
        order_handling=np.zeros((1, 1)),
        unsold_cost=np.zeros((1, 12)),
        picked_cost=variable * by_weight,
        fixed=np.array([given["fixed"] + given.get("target", 0.0)]),
    )


ONE = np.ones(1)
by_weight = pytest.mark.parametrize(
    "by_weight", [False, True], ids=["paid by sale", "paid by pick"]
)


@by_weight
@published("break_even")
def test_break_even_units(case: dict[str, Any], by_weight: bool) -> None:
    """OpenStax Accounting 2, 3.2 and 3.5: units and sales that give no profit, or a wanted one."""
    given, printed = case["inputs"], wanted(case)
    year = plain_year(given, given.get("plan", 1000), by_weight)
    scale = break_even_yield(year, np.array([100.0]))
    units = float(scale[0]) * given.get("plan", 1000)
    assert units == pytest.approx(printed["units"], abs=case["tolerance"])
    sales = units * given["price"]
    assert sales == pytest.approx(printed.get("revenue", sales), abs=case["tolerance"])
    assert profit_at(year, scale, ONE) == pytest.approx(0, abs=case["tolerance"])
    if "safety_share" in printed:
        assert 1 - scale[0] == pytest.approx(printed["safety_share"], abs=case["tolerance"])
        safety = (given["plan"] - units) * given["price"]
        assert safety == pytest.approx(printed["safety_money"], abs=case["tolerance"])


@by_weight
@published("profit")
def test_profit_of_a_volume(case: dict[str, Any], by_weight: bool) -> None:
    """Source and table in the file: profit at a number of units, or at the share that is kept."""
    given = case["inputs"]
    kept = given.get("kept_share", 1) * ONE
    agrees(profit_at(plain_year(given, given["units"], by_weight), kept, ONE), case)
    half = plain_year(given, 2 * given["units"], by_weight)
    agrees(profit_at(half, kept / 2, ONE), case)


@by_weight
@published("break_even_price")
def test_break_even_price(case: dict[str, Any], by_weight: bool) -> None:
    """Extension bulletins (memory): the break-even price is total cost over what is sold."""
    given = case["inputs"]
    year = plain_year(given, given["units"], by_weight)
    scale = break_even_prices(year)
    agrees(given["price"] * scale[0], case)
    assert profit_at(year, ONE, scale) == pytest.approx(0, abs=1e-6)


@by_weight
@published("operating_leverage")
def test_operating_leverage(case: dict[str, Any], by_weight: bool) -> None:
    """OpenStax Accounting 2, 3.5: by how much more than sales profit falls."""
    given, printed = case["inputs"], case["printed"]
    parts = {"price": 2 * given["contribution"], "variable": given["contribution"]}
    year = plain_year({**parts, "fixed": given["contribution"] - given["profit"]}, 1, by_weight)
    lower = 1 - given["fall_share"]
    profit = [profit_at(year, scale * ONE, ONE)[0] for scale in (1, lower, lower**2)]
    change = [after / before - 1 for before, after in itertools.pairwise(profit)]
    assert profit[0] == pytest.approx(given["profit"])
    got = {
        "leverage": -change[0] / given["fall_share"],
        "leverage_after": -change[1] / given["fall_share"],
        "profit_change": change[0],
    }
    for name, value in printed.items():
        assert got[name] == pytest.approx(value, rel=0, abs=case["tolerance"][name])


@by_weight
@published("crossover")
def test_crossover_of_making_and_buying(case: dict[str, Any], by_weight: bool) -> None:
    """Source in the file: making breaks even where what it saves on buying pays its fixed cost."""
    given, printed = case["inputs"], case["printed"]
    units = given["units"]
    saved = {"price": given["bought"], "variable": given["made"], "fixed": given["fixed"]}
    scale = break_even_yield(plain_year(saved, units, by_weight), np.array([100.0]))
    made = plain_year({**saved, "price": 0}, units, by_weight)
    bought = plain_year({"price": 0, "variable": given["bought"], "fixed": 0}, units, by_weight)
    got = {
        "crossover": scale[0] * units,
        "cost_made": -profit_at(made, ONE, ONE)[0],
        "cost_bought": -profit_at(bought, ONE, ONE)[0],
    }
    for name, value in printed.items():
        assert got[name] == pytest.approx(value, rel=0, abs=case["tolerance"])
    assert profit_at(made, scale, ONE) == pytest.approx(profit_at(bought, scale, ONE))


@by_weight
@published("partial_budget")
def test_partial_budget(case: dict[str, Any], by_weight: bool) -> None:
    """Source in the file: what a change gains and loses against carrying on."""
    changed, kept = case["inputs"]["changed"], case["inputs"]["kept"]

    def profit(way: dict[str, float], fixed: float) -> float:
        year = plain_year({**way, "fixed": fixed}, way["units"], by_weight)
        return float(profit_at(year, ONE, ONE)[0])

    got = {
        "gained": profit(changed, -kept["fixed"]),
        "lost": profit(kept, -changed["fixed"]),
        "change": profit(changed, changed["fixed"]) - profit(kept, kept["fixed"]),
    }
    for name, value in case["printed"].items():
        assert got[name] == pytest.approx(value, rel=0, abs=case["tolerance"])


def test_no_break_even_within_reach() -> None:
    """Definition: OpenStax 3.2 needs 225 units; rooms that give 200 never get there."""
    year = plain_year({"price": 100, "variable": 20, "fixed": 18000}, 100)
    assert np.isnan(break_even_yield(year, np.array([2.0])))[0]
    assert np.isfinite(break_even_yield(year, np.array([2.26])))[0]


# The ratios a lender reads.


def threshold_rows() -> dict[str, dict[str, str]]:
    with THRESHOLDS.open(newline="", encoding="utf-8") as file:
        return {row["id"]: row for row in csv.DictReader(file, strict=True)}


@published("ratio")
def test_ratio(case: dict[str, Any]) -> None:
    """Source and table in the file, also of arrays with years and scenarios."""
    ratio, of = getattr(ratios, case["inputs"]["ratio"]), case["inputs"]["of"]
    agrees(ratio(**of), case)
    first, *others = of
    table = {name: np.full(3, of[name]) for name in others}
    agrees(ratio(**{first: np.full((2, 3), of[first]), **table}), case)


@published("loan_life_cover")
def test_loan_life_cover(case: dict[str, Any]) -> None:
    """Felix Training, lesson 3679: cash of a given worth over the loan it has to pay."""
    given = case["inputs"]
    rate, years = given["rate"], given["years"]
    cash = np.r_[0, np.full(years, given["worth"] / float(annuity_factor(rate, years)))]
    left = [-npf.fv(rate, year, npf.pmt(rate, years, -1), -1) for year in range(years + 1)]
    owed = given["loan"] * -np.round(left, 12)
    interest = np.r_[0, owed[:-1] * rate]
    got = ratios.loan_life_cover(cash, owed, interest)
    agrees(got[0], case)
    assert np.isnan(got[-1])


rates_a_year = st.floats(0, 0.25)


@drawn(rates_a_year, rates_a_year, st.integers(2, 60), st.integers(2, 60), st.floats(0.1, 5))
def test_debt_service_covers_its_loans_exactly_once(
    first_rate: float, second_rate: float, first: int, second: int, times: float
) -> None:
    """Identity: a loan is worth its payments at its own rate, so cash of k times them covers k
    times, in every month in which something is owed; two loans by their weighted rate."""
    months = max(first, second)
    loans = [loan_months(first_rate, first, 9000), loan_months(second_rate, second, 4000)]

    def added(name: str) -> np.ndarray:
        rows = [getattr(cash, name)[0] for cash in loans]
        return np.sum([np.pad(row, (0, months + 1 - row.size)) for row in rows], axis=0)

    owed, interest = added("loan_balance"), -added("loan_interest")
    service = interest - added("loan_principal")
    got = ratios.loan_life_cover(np.stack([service, times * service]), owed, interest)
    assert_allclose(got[0, :-1], 1, rtol=1e-8)
    assert_allclose(got[1, :-1], times, rtol=1e-8)
    assert np.isnan(got[:, -1]).all()


def test_cash_after_the_loan_does_not_cover_it() -> None:
    """Definition: only cash up to the period of the last payment counts; by hand at 10 percent."""
    cash, owed, interest = [50.0, 110, 121, 999], [200.0, 100, 0, 0], [0.0, 20, 10, 0]
    got = ratios.loan_life_cover(cash, owed, interest)
    assert_allclose(got, [(100 + 100) / 200, 110 / 100, np.nan, np.nan], rtol=1e-14)


@pytest.mark.parametrize(
    ("ratio", "count"),
    [
        (ratios.current_ratio, 1),
        (ratios.working_capital_share_of_gross_income, 2),
        (ratios.debt_share_of_assets, 1),
        (ratios.debt_to_equity, 1),
        (ratios.times_interest_earned, 1),
        (ratios.return_on_assets, 3),
        (ratios.return_on_equity, 2),
        (ratios.cover, 1),
        (ratios.term_debt_coverage, 1),
    ],
)
def test_nothing_to_measure_against_gives_no_ratio(
    ratio: Callable[..., np.ndarray], count: int
) -> None:
    """Definition: NaN without a warning where the last argument is nil, a ratio beside it."""
    got = ratio(*[np.array([8.0, 8, 0])] * count, np.array([0.0, 4, 0]))
    assert list(np.isnan(got)) == [True, False, True]
    assert np.isnan(ratios.replacement_coverage(8, [0.0, 4], 0)).tolist() == [True, False]
    assert np.isnan(ratios.debt_to_equity_of_share([1.0, 0.5])).tolist() == [True, False]
    assert np.isnan(ratios.loan_life_cover(np.ones(3), np.zeros(3), np.zeros(3))).all()


def test_debt_service_cover_is_cash_over_what_is_due() -> None:
    """Definition (SBA SOP 50 10 5(F), 2014): EBITDA over debt service; 46,600 (OpenStax 5.1) over
    40,000 is 1.165."""
    cash = ratios.ebitda(35000, 6000, 2000, 3600)
    assert_allclose(ratios.cover(cash, [40000, 0]), [1.165, np.nan], rtol=1e-14)


sizes = st.floats(1, 1e6)


@drawn(sizes, sizes)
def test_debt_to_equity_two_ways(debts: float, equity: float) -> None:
    """Identity: D/E = (D/A) / (1 - D/A), as Northland's averages show it."""
    share = ratios.debt_share_of_assets(debts, debts + equity)
    got = ratios.debt_to_equity_of_share(share)
    assert_allclose(got, ratios.debt_to_equity(debts, equity), rtol=1e-8)


@drawn(sizes, sizes, sizes)
def test_replacements_are_covered_where_their_margin_is_left(
    capacity: float, due: float, replacements: float
) -> None:
    """Purdue's reading (29 September 2020): a coverage above one goes with a margin above nil."""
    coverage = ratios.replacement_coverage(capacity, due, replacements)
    margin = ratios.replacement_margin(capacity, due, replacements)
    assert_allclose((coverage - 1) * (due + replacements), margin, rtol=0, atol=1e-8)


def test_thresholds_name_the_ratios() -> None:
    """What lenders ask of a ratio carries the name of its function."""
    judged = {row["measure"] for row in threshold_rows().values()}
    assert judged & set(vars(ratios)) == {
        "current_ratio",
        "working_capital_share_of_gross_income",
        "debt_share_of_assets",
        "term_debt_coverage",
        "replacement_coverage",
    }


# A second oracle: numpy-financial where it is sound.

# At a rate of zero its fv, ipmt and ppmt divide by zero, and with a large rate over many months
# its ppmt is lost in cancellation; so the grid stays where it is sound.

GRID = [(rate, count) for rate in (0.0005, 0.005, 0.03) for count in (1, 7, 240)]


@pytest.mark.parametrize(("rate", "count"), GRID)
def test_annuities_against_numpy_financial(rate: float, count: int) -> None:
    """numpy-financial pmt, pv and fv."""
    factor = discount_factors(rate, count + 1, per_year=1)[-1]
    annuity = annuity_factor(rate, count)
    assert_allclose(level_payment(rate, count, 9000), -npf.pmt(rate, count, 9000), rtol=1e-10)
    assert_allclose(annuity * 70, -npf.pv(rate, count, 70), rtol=1e-10)
    assert_allclose(annuity / factor * 70, -npf.fv(rate, count, 70, 0), rtol=1e-10)


@pytest.mark.parametrize(("rate", "count"), GRID)
def test_loan_against_numpy_financial(rate: float, count: int) -> None:
    """numpy-financial ipmt and ppmt over the whole term."""
    month = np.arange(1, count + 1)
    cash = loan_months(rate * 12, count, 9000)
    interest, principal = (f(rate, month, count, 9000) for f in (npf.ipmt, npf.ppmt))
    assert_allclose(cash.loan_interest[0, 1:], interest, rtol=0, atol=1e-7)
    assert_allclose(cash.loan_principal[0, 1:], principal, rtol=0, atol=1e-7)


@pytest.mark.parametrize("seed", range(5))
def test_values_against_numpy_financial(seed: int) -> None:
    """numpy-financial npv and mirr."""
    flows = np.random.default_rng(seed).normal(0, 1000, 30)
    assert_allclose(npv(0.07, flows, per_year=1), npf.npv(0.07, flows), rtol=1e-10)
    ours = modified_rate(flows, 0.06, 0.03, per_year=1)
    assert_allclose(ours, npf.mirr(flows, 0.06, 0.03), rtol=0, atol=1e-12)
