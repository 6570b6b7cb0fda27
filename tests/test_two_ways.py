"""The same sums by a second way: plain loops written from the design, properties, no compiler.

The second ways share nothing with the package: numbers are followed one by one, as a person with
paper would, or a law is used that must hold whatever the sums inside.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import numpy_financial as npf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from farmcase.costs.capital import CapitalFlows, capital_flows
from farmcase.money.breakeven import SaleYear, break_even_yield, profit_at
from farmcase.money.grant import flat_grant
from farmcase.money.months import Cash, Loans, run_months
from farmcase.money.sales import Filled, fill_order, fill_outlets, received

patient = settings(deadline=None, max_examples=100)  # the first example waits for the compiler
money = st.floats(-20_000, 20_000).map(lambda x: round(x, 2))


# Months: cash, loans, overdraft.


class OneLoan(NamedTuple):
    """A loan as its papers state it."""

    amount: float
    rate: float  # nominal, a year
    term: int
    drawn: int
    fee: float


loans_held = st.lists(
    st.builds(
        OneLoan,
        st.integers(1, 100_000).map(float),
        st.floats(0.001, 0.3),
        st.integers(1, 24),
        st.integers(0, 30),
        st.integers(0, 500).map(float),
    ),
    max_size=3,
)


def months_by_hand(flows: list[float], loans: list[OneLoan], overdraft_rate: float) -> list[dict]:
    """Design, section 5: overdraft on last month's balance, level payments in arrears."""
    rows, balance = [], 0.0
    for month, flow in enumerate(flows):
        row = dict.fromkeys(Cash._fields, 0.0)
        row["overdraft_interest"] = min(balance, 0.0) * overdraft_rate / 12
        for loan in loans:
            since = month - loan.drawn
            if since == 0:
                row["loan_drawn"] += loan.amount
                row["loan_fee"] -= loan.fee
            if 1 <= since <= loan.term:
                terms = loan.rate / 12, since, loan.term, loan.amount
                row["loan_interest"] += float(npf.ipmt(*terms))
                row["loan_principal"] += float(npf.ppmt(*terms))
            if 0 <= since < loan.term:
                left = loan.rate / 12, loan.term - since
                payment = npf.pmt(loan.rate / 12, loan.term, loan.amount)
                row["loan_balance"] += float(npf.pv(*left, payment))
        moves = ("overdraft_interest", "loan_drawn", "loan_fee", "loan_interest", "loan_principal")
        balance += flow + sum(row[name] for name in moves)
        row["cash"], row["overdraft"] = max(balance, 0.0), max(-balance, 0.0)
        rows.append(row)
    return rows


def months_by_kernel(flows: list[float], loans: list[OneLoan], overdraft_rate: float) -> Cash:
    """One scenario through the compiled months; owners put in a fifth of each flow."""
    flow = np.array([flows])
    columns = {name: np.array([[getattr(x, name) for x in loans]]) for name in OneLoan._fields}
    held = Loans(
        amount=columns["amount"].astype(float),
        rate_per_year=columns["rate"].astype(float),
        fee=columns["fee"].astype(float),
        term_months=columns["term"][0].astype(np.int64),
        drawn_month=columns["drawn"][0].astype(np.int64),
    )
    return run_months(0.8 * flow, 0.2 * flow, held, np.array([overdraft_rate]))


@patient
@given(st.lists(money, min_size=1, max_size=36), loans_held, st.floats(0, 0.4))
def test_months_against_a_plain_loop(
    flows: list[float], loans: list[OneLoan], overdraft_rate: float
) -> None:
    """Second way: a loop in Python with the closed formulas of numpy-financial for the loans."""
    cash = months_by_kernel(flows, loans, overdraft_rate)
    by_hand = months_by_hand(flows, loans, overdraft_rate)
    for name in Cash._fields:
        expected = [row[name] for row in by_hand]
        assert_allclose(getattr(cash, name)[0], expected, rtol=1e-9, atol=1e-5, err_msg=name)


@patient
@given(loans_held)
def test_a_loan_at_no_interest_is_paid_off_evenly(loans: list[OneLoan]) -> None:
    """Second way: amount over term; numpy-financial divides by zero here."""
    free = [loan._replace(rate=0.0) for loan in loans]
    cash = months_by_kernel([0.0] * 60, free, 0.0)
    due = np.zeros(60)
    for loan in free:
        due[loan.drawn + 1 : loan.drawn + 1 + loan.term] += loan.amount / loan.term
    assert_allclose(-cash.loan_principal[0], due, rtol=1e-9, atol=1e-6)
    assert not cash.loan_interest.any()
    assert_allclose(cash.loan_balance[0, -1], 0, atol=1e-6)


@patient
@given(st.lists(money, min_size=2, max_size=24), st.floats(0, 0.4))
def test_scenarios_do_not_touch_each_other(flows: list[float], overdraft_rate: float) -> None:
    """Two scenarios in one run are each what they are alone."""
    loan = OneLoan(5000.0, 0.07, 12, 1, 50.0)
    alone = [months_by_kernel(f, [loan], overdraft_rate) for f in (flows, flows[::-1])]
    both = np.array([flows, flows[::-1]])
    two = np.ones((2, 1))
    held = Loans(5000.0 * two, 0.07 * two, 50.0 * two, np.array([12]), np.array([1]))
    together = run_months(0.8 * both, 0.2 * both, held, np.full(2, overdraft_rate))
    for name in Cash._fields:
        parts = np.concatenate([getattr(part, name) for part in alone])
        assert (getattr(together, name) == parts).all()


# Payment delays.

amounts = st.lists(st.floats(0, 10_000), min_size=1, max_size=12)


@patient
@given(amounts, st.floats(0, 240), st.booleans())
def test_received_conserves_and_delays(
    sales: list[float], days: float, last_gets_all: bool
) -> None:
    """Every coin arrives, on average after days / (365 / 12) months."""
    invoiced = np.zeros(24)
    invoiced[: len(sales)] = sales
    got = received(invoiced[None, None], np.array([[days]]), last_gets_all)[0, 0]
    assert got.sum() == pytest.approx(sum(sales), rel=1e-12, abs=1e-9)
    assert (got >= -1e-9).all()
    month = np.arange(24)
    late = (month * got).sum() - (month * invoiced).sum()
    assert late == pytest.approx(sum(sales) * days / (365 / 12), rel=1e-9, abs=1e-6)


@patient
@given(st.lists(st.floats(0, 10_000), min_size=6, max_size=24), st.floats(0, 400))
def test_received_against_a_plain_loop(sales: list[float], days: float) -> None:
    """Second way: each invoice split over two months by hand; what is left comes in the last."""
    months, delay = len(sales), days / (365 / 12)
    expected = [0.0] * months
    for month, amount in enumerate(sales):
        part = delay - int(delay)
        for arrives, share in ((month + int(delay), 1 - part), (month + int(delay) + 1, part)):
            expected[min(arrives, months - 1)] += amount * share
    got = received(np.array([[sales]]), np.array([[days]]))[0, 0]
    assert_allclose(got, expected, rtol=1e-9, atol=1e-6)


def test_without_a_last_payment_the_late_money_stays_owed() -> None:
    """100 invoiced in the last of three months at 61 days: nothing of it is in yet."""
    sales = np.array([[[0.0, 0, 100]]])
    assert received(sales, np.array([[61.0]]), last_gets_all=False).sum() == 0
    assert received(sales, np.array([[61.0]])).sum() == 100


# Outlets.


class Market(NamedTuple):
    """Whole kilograms and outlets of one scenario and month."""

    kilograms: list[int]  # by pool
    outlets: list[tuple[int, int, int]]  # pool, limit, net price


@st.composite
def markets(draw: st.DrawFn, most_kg: int = 30) -> Market:
    """Two or three pools, up to six outlets, with prices that may be equal or below zero."""
    pools = draw(st.integers(1, 3))
    kilograms = draw(st.lists(st.integers(0, most_kg), min_size=pools, max_size=pools))
    outlet = st.tuples(st.integers(0, pools - 1), st.integers(0, most_kg), st.integers(-3, 12))
    return Market(kilograms, draw(st.lists(outlet, min_size=1, max_size=6)))


def fill(market: Market) -> Filled:
    """The market through the package, as one scenario and month."""
    pool, limit, price = (np.array(column) for column in zip(*market.outlets, strict=True))
    kilograms = np.array(market.kilograms, float)[None, :, None]
    order = fill_order(price.astype(float)[None])
    return fill_outlets(kilograms, limit.astype(float)[None, :, None], order, pool)


@patient
@given(markets())
def test_outlets_against_one_kilogram_at_a_time(market: Market) -> None:
    """Second way: each kilogram goes to the best outlet that still has room for it."""
    sold = [0] * len(market.outlets)
    left = [0] * len(market.kilograms)
    for pool, kilograms in enumerate(market.kilograms):
        for _ in range(kilograms):
            room = [
                (-price, i)
                for i, (source, limit, price) in enumerate(market.outlets)
                if source == pool and sold[i] < limit
            ]
            if room:
                sold[min(room)[1]] += 1
            else:
                left[pool] += 1
    got = fill(market)
    assert got.sold_kg[0, :, 0].tolist() == sold
    assert got.unsold_kg[0, :, 0].tolist() == left


@patient
@given(markets())
def test_outlets_conserve_kilograms(market: Market) -> None:
    """Sold and unsold are what there was, pool by pool; no outlet gets more than it takes."""
    got = fill(market)
    for pool, kilograms in enumerate(market.kilograms):
        own = [i for i, outlet in enumerate(market.outlets) if outlet[0] == pool]
        assert got.sold_kg[0, own].sum() + got.unsold_kg[0, pool].sum() == kilograms
    limit = np.array([outlet[1] for outlet in market.outlets], float)
    assert (got.sold_kg[0, :, 0] >= 0).all()
    assert (got.sold_kg[0, :, 0] <= limit).all()


# Break-even.


@st.composite
def sale_years(draw: st.DrawFn) -> SaleYear:
    """A year of two months, two pools and four outlets, profitable or not."""

    def part(low: int, high: int, *shape: int) -> np.ndarray:
        count = int(np.prod(shape))
        values = draw(st.lists(st.integers(low, high), min_size=count, max_size=count))
        return np.array(values, float).reshape(shape)

    order_price, order_handling = part(0, 20, 1, 4), part(0, 3, 1, 4)
    inflation = np.array([1.0, 1.0 + draw(st.integers(0, 20)) / 100])
    return SaleYear(
        kilograms=part(0, 300, 1, 2, 2),
        limit_kg=part(0, 200, 1, 4, 2),
        pool=np.array([0, 1, 0, 1]),
        price=order_price[:, :, None] * inflation,
        handling=order_handling[:, :, None] * np.ones(2),
        order_price=order_price,
        order_handling=order_handling,
        unsold_cost=part(0, 2, 1, 2),
        picked_cost=part(0, 3, 1, 2, 2),
        fixed=part(-500, 4000, 1),
    )


def profits(year: SaleYear, scales: np.ndarray) -> np.ndarray:
    """Profit at several yields, each through the outlets anew."""
    lines = {k: np.repeat(v, scales.size, axis=0) for k, v in year._asdict().items()}
    many = SaleYear(**{**lines, "pool": year.pool})
    return profit_at(many, scales, np.ones(scales.size))


@patient
@given(sale_years())
def test_break_even_is_the_lowest_zero_of_profit(year: SaleYear) -> None:
    """Profit there is nil, and a fine scan finds it below nil at every lower yield."""
    scale = float(break_even_yield(year, np.array([3.0]))[0])
    top = 3.0 if np.isnan(scale) else scale
    below = profits(year, np.linspace(0, top, 2001)[:-1] if top > 0 else np.zeros(0))
    tiny = 1e-7 * (1 + abs(float(year.fixed[0])))
    assert (below < tiny).all()
    if np.isnan(scale):
        assert profits(year, np.array([top]))[0] < tiny
    elif scale > 0:
        assert abs(profits(year, np.array([scale]))[0]) < tiny
    else:
        assert profits(year, np.zeros(1))[0] >= 0


# Capital and grant.


class Row(NamedTuple):
    """A row of what is bought."""

    cost: int
    month: int
    life_years: float
    resale_share: float


bought_rows = st.lists(
    st.builds(
        Row,
        st.integers(0, 50_000),
        st.integers(0, 70),
        st.integers(1, 120).map(lambda months: months / 12),
        st.sampled_from([0.0, 0.1, 0.45, 1.0]),
    ),
    min_size=1,
    max_size=4,
)


def buy(rows: list[Row], level: np.ndarray, again: bool = True) -> CapitalFlows:
    """The rows through the package, as one scenario."""
    cost, month, life, resale = (np.array([column]) for column in zip(*rows, strict=True))
    return capital_flows(cost.astype(float), month, life, resale, level[None], again)


def buy_by_hand(rows: list[Row], level: np.ndarray, again: bool) -> dict[str, Any]:
    """Design, section 5: each purchase followed through its life, month by month."""
    last = len(level) - 1
    lines: dict[str, Any] = {name: np.zeros(last + 1) for name in CapitalFlows._fields[:3]}
    lines["end_value"] = 0.0
    for row in rows:
        month, life, name = min(row.month, last), round(row.life_years * 12), "spending"
        while True:
            price = row.cost * level[month]
            lines[name][month] += price
            for used in range(month + 1, min(month + life, last) + 1):
                lines["depreciation"][used] += price / life
            month, name = month + life, "replacements"
            if month >= last or not again:
                break
        lines["end_value"] += price * row.resale_share
    return lines


@patient
@given(bought_rows, st.integers(1, 60), st.floats(0, 0.1), st.booleans())
def test_capital_against_a_plain_loop(
    rows: list[Row], months: int, inflation: float, again: bool
) -> None:
    """Second way: spending, replacements, depreciation and end value by hand."""
    level = (1 + inflation) ** (np.arange(months + 1) / 12)
    got, expected = buy(rows, level, again), buy_by_hand(rows, level, again)
    for name in CapitalFlows._fields:
        line = getattr(got, name)[0]
        assert_allclose(line, expected[name], rtol=1e-9, atol=1e-6, err_msg=name)


@patient
@given(bought_rows)
def test_first_life_is_written_off_to_nothing(rows: list[Row]) -> None:
    """Depreciation over the life adds up to the cost."""
    flows = buy(rows, np.ones(240), again=False)
    assert flows.depreciation.sum() == pytest.approx(sum(row.cost for row in rows))


@patient
@given(st.lists(st.floats(0, 9000), min_size=1, max_size=24), st.floats(0, 1), st.floats(0, 30000))
def test_grant_against_a_plain_loop(spent: list[float], share: float, ceiling: float) -> None:
    """Second way: the share of each month until the ceiling is used up."""
    expected, left = [], ceiling
    for amount in spent:
        expected.append(min(share * amount, left))
        left -= expected[-1]
    got = flat_grant(np.array([spent]), np.array([share]), np.array([ceiling]))[0]
    assert_allclose(got, expected, rtol=1e-9, atol=1e-6)


# Without the compiler.

SECOND_RUN = """
import json, sys
import numpy as np
from farmcase.compiled import numba
from farmcase.money.months import Loans, run_months
assert numba.config.DISABLE_JIT
given = json.load(sys.stdin)
loans = Loans(*(np.array(value) for value in given["loans"]))
flow = np.array(given["flow"])
cash = run_months(flow, 0 * flow, loans, np.array([0.12, 0.2]))
json.dump({name: line.tolist() for name, line in cash._asdict().items()}, sys.stdout)
"""


def test_months_without_the_compiler_agree() -> None:
    """Second way: the same kernel as plain Python, in a process of its own."""
    loans = Loans(
        amount=np.array([[9000.0, 500.0], [4000.0, 0.0]]),
        rate_per_year=np.array([[0.06, 0.0], [0.1, 0.05]]),
        fee=np.array([[90.0, 0.0], [0.0, 5.0]]),
        term_months=np.array([18, 6]),
        drawn_month=np.array([2, 0]),
    )
    flow = np.random.default_rng(7).normal(-50, 800, (2, 30))
    handed = {"loans": [part.tolist() for part in loans], "flow": flow.tolist()}
    done = subprocess.run(
        [sys.executable, "-c", SECOND_RUN],
        input=json.dumps(handed),
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[1],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    plain = json.loads(done.stdout)
    cash = run_months(flow, 0 * flow, loans, np.array([0.12, 0.2]))
    for name, line in cash._asdict().items():
        assert_allclose(line, plain[name], rtol=1e-10, atol=1e-9, err_msg=name)
