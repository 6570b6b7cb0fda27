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
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from farmcase.costs.capital import BOOKS, NO_ALLOWANCE, CapitalRows, capital_flows
from farmcase.money.breakeven import SaleYear, break_even_yield, profit_at
from farmcase.money.loan import LoanTerms, loans_by_month
from farmcase.money.months import Given, Tax, run_months
from farmcase.money.sales import Filled, fill_order, fill_outlets, received

patient = settings(deadline=None, max_examples=100)  # the first example waits for the compiler


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


# Without the compiler.

SECOND_RUN = """
import json, sys, test_two_ways as here
from farmcase.compiled import numba
assert numba.config.DISABLE_JIT
found = here.kernels()
json.dump({name: line.tolist() for name, line in found.items()}, sys.stdout)
"""


def kernels() -> dict[str, np.ndarray]:
    """Every line of months with loans, tax and surplus, and of what is bought, twice two."""
    months, draw = 40, np.random.default_rng(7)
    flow, column = draw.normal(150, 800, (2, months)), np.array([[1.0], [1.7]])
    terms = [
        LoanTerms(2, 18, ((2, 0.4), (5, 0.6)), ((9, 0.02),), ((12, 0.2),), 4, True),
        LoanTerms(0, 30, (), grace_months=3, level_principal=True),
        LoanTerms(1, 24, (), rounding="payment_and_interest"),
    ]
    loans = loans_by_month(
        terms,
        amount=column * [9000.0, 4000, 700],
        rate=column * [0.06, 0.0, 0.11],
        fee=column * [90.0, 0, 5],
        months=months,
    )
    number = column[:, 0]
    tax = Tax(
        rate=0.2 * number,
        free=90 * number,
        higher_rate=0.4 * number,
        higher_from=200 * number,
        loss_most=0.5 * number,
        bonus_share=0.2 * number,
        dividend_share=0.1 * number,
        carried=1,
        paid_after=5,
        distributed_after=2,
    )
    ends = (np.arange(months) % 12 == 3).astype(np.int64)
    ends[-1] = 1
    given = Given(flow, 0.2 * flow, flow - 20, flow + 35, 0.1 * number, ends)
    bought = capital_flows(capital_rows(draw, months), 1)
    return {**run_months(given, loans, tax)._asdict(), **bought._asdict()}


def capital_rows(draw: np.random.Generator, months: int) -> CapitalRows:
    """Three rows in two scenarios; the first is paid in stages."""
    level = 1.02 ** (np.arange(months) / 12) * np.ones((2, 1))
    return CapitalRows(
        cost=draw.uniform(100, 9000, (2, 3)),
        own_cost=draw.uniform(0, 900, (2, 3)),
        own_worth=draw.uniform(0, 900, (2, 3)),
        pay_row=np.array([0, 0, 1, 2]),
        pay_month=np.array([1, 3, 0, 6]),
        pay_share=np.array([0.3, 0.7, 1, 1]),
        ready=np.array([4, 0, 6]),
        bought_again=np.ones(3, np.int64),
        life=np.array([[11, 90, 16], [5, 20, 40]]),
        resale_share=draw.uniform(0, 0.5, (2, 3)),
        level=level,
        wage_level=level**2,
        contingency=np.array([0.1, 0.0]),
        vat_rate=np.array([0.2, 0.0, 0.1]),
        vat_kept=np.array([0.3, 1.0]),
        tax_class=np.array([0, BOOKS, NO_ALLOWANCE]),
        own_deducted=1.0,
        eligible=np.array([[1, 1, 0]]),
        own_counts=np.array([1.0]),
    )


def test_kernels_without_the_compiler_agree() -> None:
    """Second way: the same source as plain Python, in a process of its own."""
    folder = Path(__file__).parent
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", SECOND_RUN],
        capture_output=True,
        text=True,
        cwd=folder.parent,
        env={
            **os.environ,
            "NUMBA_DISABLE_JIT": "1",
            "PYTHONPATH": f"{folder}{os.pathsep}{folder.parent}",
        },
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    plain = json.loads(done.stdout)
    for name in ("tax_paid", "project_tax", "dividend_paid", "loan_early", "eligible", "overdraft"):
        assert np.any(plain[name])
    for name, line in kernels().items():
        assert_allclose(line, plain[name], rtol=1e-10, atol=1e-9, err_msg=name)
