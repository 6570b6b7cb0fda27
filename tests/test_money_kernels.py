"""Sales, break-even and rates of return: the compiled loops beside the same sums over arrays.

The second ways are written here over whole arrays, from the definitions: running totals looked up
after a delay, bends of profit sorted, present value scanned on a grid, streams built from roots
that are known. Each scenario must come out the same, to the last bit, whatever stands beside it.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from farmcase.crop.harvest import Grading, full_yield_kg, harvest
from farmcase.money.breakeven import (
    SaleYear,
    break_even_prices,
    break_even_yield,
    profit_at,
    sell_at,
)
from farmcase.money.returns import payback_periods, rates_of_return, single_rate
from farmcase.money.sales import (
    Limits,
    Sales,
    SaleTerms,
    Supply,
    fill_order,
    fill_outlets,
    limits_kg,
    received,
    sell,
    weekly_limits,
)

S, C, P, B, T = 37, 2, 4, 6, 40  # scenarios, crops, pools, buyers (outlets), months
POOL = np.array([0, 1, 0, 1, 0, 2])  # nobody takes the last pool
DAYS_PER_MONTH = 365 / 12


def drawn(seed: int = 3) -> np.random.Generator:
    """Numbers that are the same in every run."""
    return np.random.default_rng(seed)


# Kilograms and sales.


def supply(rows: int = S) -> Supply:
    """Outlets that are sometimes too small and sometimes too large, with prices drawn."""
    draw = drawn()
    kilograms = draw.uniform(0, 300, (rows, P, T))
    most, weeks = draw.uniform(0, 40, (rows, B)), draw.uniform(0, 5, (B, T))
    limits = Limits(most, weeks, draw.uniform(0, 15, (rows, B)), 3)
    return Supply(kilograms, limits, fill_order(draw.uniform(0, 9, (rows, B))), POOL)


def limits_over_arrays(limits: Limits) -> np.ndarray:
    """Kilograms a week times weeks; from the first month on, less while an outlet builds up."""
    passed = np.arange(T) - limits.first + 1
    built = np.minimum(1, passed / np.maximum(limits.build_up_months, 1e-9)[..., None])
    built = np.where(passed > 0, built, 1.0)
    return limits.most_kg_per_week[..., None] * limits.weeks * built


def terms(rows: int = S) -> SaleTerms:
    """Prices and costs of the outlets."""
    draw = drawn(4)
    most = dict(price=12, fee_share=0.3, packaging=1, delivery=2, trips_per_week=20, delay_days=150)
    numbers = {name: draw.uniform(0, value, (rows, B)) for name, value in most.items()}
    rate = np.tile([0.0, 0.05, 0.2, 0.0, 0.1, 0.0], (rows, 1))
    return SaleTerms(**numbers, vat_rate=rate, registered=np.tile([1.0, 0, 0, 1, 0, 0], (rows, 1)))


def filled_over_arrays(given: Supply) -> tuple[np.ndarray, np.ndarray]:
    """Outlets of all scenarios at once, from the best to the worst."""
    limit_kg = limits_over_arrays(given.limits)
    sold, left = np.zeros((len(given.kilograms), B, T)), given.kilograms.copy()
    row = np.arange(len(left))
    for place in range(B):
        outlet = given.order[:, place]
        taken = np.minimum(left[row, POOL[outlet]], limit_kg[row, outlet])
        sold[row, outlet] = taken
        left[row, POOL[outlet]] -= taken
    return sold, left


def received_over_arrays(amount: np.ndarray, delay_days: np.ndarray) -> np.ndarray:
    """The running total of invoices as it was some months ago, between two months in a line."""
    owed = np.concatenate([np.zeros((*amount.shape[:-1], 1)), amount.cumsum(-1)], -1)
    delay = delay_days / DAYS_PER_MONTH
    ago = np.arange(1, T + 1) - np.floor(delay)[..., None].astype(int)
    late = (delay % 1)[..., None]
    near = np.take_along_axis(owed, np.clip(ago, 0, T), -1)
    far = np.take_along_axis(owed, np.clip(ago - 1, 0, T), -1)
    reached = near * (1 - late) + far * late
    reached[..., -1] = owed[..., -1]
    return np.diff(reached, prepend=0.0)


def test_limits_over_arrays() -> None:
    """Limit times season times days over seven, less while an outlet builds up."""
    draw = drawn()
    most, build_up = draw.uniform(0, 90, (S, B)), draw.uniform(0, 15, (S, B))
    season, days = draw.uniform(0, 1, (B, T)), draw.integers(28, 32, T).astype(float)
    passed = np.arange(1, T + 1)
    built = np.minimum(1, passed / np.maximum(build_up, 1)[..., None])
    expected = most[..., None] * season * built * days / 7
    assert_allclose(weekly_limits(most, season, build_up, days), expected, rtol=1e-13)
    one = weekly_limits(most[:1], season, build_up, days)
    assert_allclose(one, expected / most[..., None] * most[0][:, None], rtol=1e-13)
    assert_array_equal(weekly_limits(most[:1], season, build_up[:1], days), one[:1])


def test_filling_over_arrays() -> None:
    """Outlets of all scenarios at once."""
    sold, left = filled_over_arrays(supply())
    given = supply()
    got = fill_outlets(given.kilograms, limits_kg(given.limits), given.order, given.pool)
    assert_array_equal(got.sold_kg, sold)
    assert_array_equal(got.unsold_kg, left)


def test_received_over_arrays() -> None:
    """Delays from none to more months than there are."""
    amount = drawn().uniform(0, 900, (S, B, T))
    delay = drawn(5).uniform(0, 1.2 * T * DAYS_PER_MONTH, (S, B))
    delay[0] = np.arange(B) * DAYS_PER_MONTH  # whole months
    expected = received_over_arrays(amount, delay)
    assert_allclose(received(amount, delay), expected, rtol=1e-9, atol=1e-8)


def sold_over_arrays(given: Supply, at: SaleTerms, days: np.ndarray, level: np.ndarray) -> Sales:
    """All lines of the sales from arrays by outlet and month."""
    sold, left = filled_over_arrays(given)
    price, fee, packaging, delivery, trips = (part[..., None] for part in at[:5])
    invoiced = sold * price * level[:, None]
    return Sales(
        sold_kg=sold.sum(1),
        unsold_kg=left.sum(1),
        invoiced=invoiced.sum(1),
        fees=-(invoiced * fee).sum(1),
        packaging=-(sold * packaging).sum(1) * level**2,
        delivery=-(sold * delivery + trips * days / 7).sum(1) * level**2,
        received=received_over_arrays(invoiced, at.delay_days).sum(1),
        vat_invoiced=(invoiced * at.vat_rate[..., None]).sum(1),
        vat_received=(received_over_arrays(invoiced, at.delay_days) * at.vat_rate[..., None]).sum(
            1
        ),
        to_registered=(invoiced * at.registered[..., None]).sum(1),
    )


def test_selling_over_arrays() -> None:
    """Kilograms, invoices, costs of the sale and what comes in, all outlets together."""
    days, level = np.full(T, 30.0), 1 + drawn(6).uniform(0, 0.2, (S, T))
    days[:3] = 0
    got = sell(supply(), terms(), days, level, level**2)
    expected = sold_over_arrays(supply(), terms(), days, level)
    for name, line in expected._asdict().items():
        assert_allclose(getattr(got, name), line, rtol=1e-11, atol=1e-8, err_msg=name)


def test_one_row_stands_for_all() -> None:
    """Limits, order, terms and levels of one row are those of every scenario."""
    days, level = np.full(T, 30.0), np.linspace(1, 1.3, T)[None]
    one, at = supply(1), terms(1)
    few = supply()._replace(limits=one.limits, order=one.order)
    spread = few._replace(
        limits=one.limits._replace(
            most_kg_per_week=np.broadcast_to(one.limits.most_kg_per_week, (S, B)),
            build_up_months=np.broadcast_to(one.limits.build_up_months, (S, B)),
        ),
        order=np.broadcast_to(one.order, (S, B)),
    )
    many = SaleTerms(*(np.broadcast_to(part, (S, B)) for part in at))
    got = sell(few, at, days, level, level)
    expected = sell(spread, many, days, *2 * [np.broadcast_to(level, (S, T))])
    for name in Sales._fields:
        assert_array_equal(getattr(got, name), getattr(expected, name), err_msg=name)
    assert_array_equal(limits_kg(few.limits)[0], limits_kg(spread.limits)[-1])


def test_harvest_over_arrays() -> None:
    """Flushes added up, a yield and a grade of each scenario, months looked up in two years."""
    draw = drawn()
    dry, shares = draw.uniform(0, 80, (3, C, 4, 24)), draw.uniform(0, 0.5, (C, 4))
    off = dry * draw.uniform(0, 1, dry.shape)
    dry[:, :, :, 5] = off[:, :, :, 5] = 0
    group, place = draw.integers(0, 3, S), np.where(np.arange(T) < 4, -1, np.arange(T) % 24)
    learning = draw.uniform(0, 1, (S, T))
    grading = Grading(*(draw.uniform(0, 1, shape) for shape in ((S, C), (S, C), S, S)))
    got = harvest(
        full_yield_kg(dry, shares), full_yield_kg(off, shares), group, place, learning, grading
    )
    spread = [
        np.einsum("scft,cf,sc->sct", x[group], shares, grading.efficiency_share) for x in (dry, off)
    ]
    picked, outside = (x[..., place] * (place >= 0) * learning[:, None] for x in spread)
    second = grading.second_share[..., None] * (picked - outside) + outside
    kept = (grading.kept_share * (1 - grading.bunching_share))[:, None, None]
    assert_allclose(got.picked, picked, rtol=1e-12, atol=1e-12)
    thrown = picked.sum(1) * grading.bunching_share[:, None]
    assert_allclose(got.thrown_before_sale, thrown, rtol=1e-12, atol=1e-12)
    expected = np.concatenate([(picked - second) * kept, second * kept], 1)
    assert_allclose(got.saleable, expected, rtol=1e-11, atol=1e-11)


# Break-even.


def sale_years(rows: int, seed: int = 3) -> SaleYear:
    """Years with margins that need not fall from the best outlet to the worst, some below nil."""
    draw = drawn(seed)
    price, handling = draw.uniform(0, 14, (rows, B)), draw.uniform(0, 4, (rows, B))
    level = draw.uniform(0.7, 1.5, (rows, 1, 12))
    kilograms = draw.uniform(0, 250, (rows, P, 12)) * (draw.random((rows, P, 12)) > 0.1)
    return SaleYear(
        kilograms=kilograms,
        limit_kg=draw.uniform(0, 150, (rows, B, 12)) * (draw.random((rows, B, 12)) > 0.1),
        pool=POOL,
        price=price[..., None] * level,
        handling=handling[..., None] * level[..., ::-1],
        order_price=price,
        order_handling=handling,
        unsold_cost=draw.uniform(0, 1, (rows, 12)),
        picked_cost=draw.uniform(0, 4, (rows, P, 12)),
        fixed=draw.uniform(-1_000, 25_000, rows),
    )


def rows_of(year: SaleYear, rows: Any) -> SaleYear:
    """Some of the scenarios, or one of them several times."""
    every = year._asdict()
    pool = every.pop("pool")
    return SaleYear(pool=pool, **{name: part[rows] for name, part in every.items()})


def profit_over_arrays(year: SaleYear, yields: np.ndarray, prices: np.ndarray) -> np.ndarray:
    """Profit of all scenarios at once."""
    kilograms = year.kilograms * yields[:, None, None]
    order = np.argsort(-(year.order_price * prices[:, None] - year.order_handling), 1, "stable")
    left, row = kilograms.copy(), np.arange(len(kilograms))
    profit = -year.fixed - (kilograms * year.picked_cost).sum((1, 2))
    margin = year.price * prices[:, None, None] - year.handling
    for place in range(B):
        outlet = order[:, place]
        taken = np.minimum(left[row, POOL[outlet]], year.limit_kg[row, outlet])
        left[row, POOL[outlet]] -= taken
        profit += (taken * margin[row, outlet]).sum(1)
    return profit - (left.sum(1) * year.unsold_cost).sum(1)


def test_profit_over_arrays() -> None:
    """Profit of all scenarios at once, and what is sold."""
    year, draw = sale_years(S), drawn(8)
    yields, prices = draw.uniform(0, 2, S), draw.uniform(0, 2, S)
    expected = profit_over_arrays(year, yields, prices)
    assert_allclose(profit_at(year, yields, prices), expected, rtol=1e-11, atol=1e-8)
    net = year.order_price * prices[:, None] - year.order_handling
    kilograms = year.kilograms * yields[:, None, None]
    sold = fill_outlets(kilograms, year.limit_kg, fill_order(net), POOL).sold_kg.sum((1, 2))
    assert_allclose(sell_at(year, yields, prices).sold_kg, sold, rtol=1e-12)


def yield_by_bends(year: SaleYear, most: float) -> np.ndarray:
    """Profit at every yield at which an outlet is full, sorted; a line to the first that is nil."""
    order = np.argsort(-(year.order_price - year.order_handling), 1, "stable")
    found = np.full(len(year.fixed), np.nan)
    for s in range(found.size):
        bends = [0.0, most]
        for m in range(12):
            reached = np.zeros(P)
            for outlet in order[s]:
                reached[POOL[outlet]] += year.limit_kg[s, outlet, m]
                if year.kilograms[s, POOL[outlet], m] > 0:
                    bends.append(reached[POOL[outlet]] / year.kilograms[s, POOL[outlet], m])
        at = np.unique([b for b in bends if b <= most])
        many = rows_of(year, np.full(at.size, s))
        profit = profit_over_arrays(many, at, np.ones(at.size))
        first = int(np.argmax(profit >= 0))
        if profit[0] >= 0:
            found[s] = 0.0
        elif profit[first] >= 0:
            share = profit[first - 1] / (profit[first - 1] - profit[first])
            found[s] = at[first - 1] + share * (at[first] - at[first - 1])
    return found


def test_yield_over_sorted_bends() -> None:
    """Second way: every bend of profit, sorted; some years break even and some never."""
    year = sale_years(300)
    got = break_even_yield(year, np.full(300, 5.0))
    expected = yield_by_bends(year, 5.0)
    assert_allclose(got, expected, rtol=1e-10)
    assert 30 < np.isnan(got).sum() < 270
    assert (got == 0).sum() > 3


def test_price_leaves_no_profit() -> None:
    """Profit turns from a loss to a gain at the scale, whatever the order of the outlets there."""
    year = sale_years(300)
    scale = break_even_prices(year)
    assert np.isfinite(scale).all()
    step = 1e-9 * np.maximum(1, np.abs(scale))
    ones = np.ones(300)
    assert (profit_over_arrays(year, ones, scale - step) <= 1e-9).all()
    assert (profit_over_arrays(year, ones, scale + step) >= -1e-9).all()


def test_price_between_two_orders() -> None:
    """Two outlets change places at a scale of 1, where profit leaps over nil: that is the answer.

    50 kg go to the first outlet, at 10 less 1, below a scale of 1 and to the second, whose handling
    has become cheaper since the order was set (20 less 2 and not 11), above it: 450 becomes 900,
    and 650 have to be met.
    """
    months = np.zeros(12)
    months[0] = 1
    by_month = months[None, None]
    price, handling = np.array([[10.0, 20.0]]), np.array([[1.0, 11.0]])
    nominal = np.array([[1.0, 2.0]])
    year = SaleYear(
        kilograms=50 * by_month,
        limit_kg=50 * by_month * np.ones((1, 2, 1)),
        pool=np.zeros(2, int),
        price=price[..., None] * by_month,
        handling=nominal[..., None] * by_month,
        order_price=price,
        order_handling=handling,
        unsold_cost=np.zeros((1, 12)),
        picked_cost=np.zeros((1, 1, 12)),
        fixed=np.array([650.0]),
    )
    assert profit_at(year, np.ones(1), np.array([0.999])) == pytest.approx(-200.5)
    assert profit_at(year, np.ones(1), np.array([1.001])) == pytest.approx(251.0)
    assert break_even_prices(year)[0] == pytest.approx(1.0, abs=1e-12)


def test_no_price_helps_where_nothing_is_sold() -> None:
    """Definition: NaN."""
    year = sale_years(5)
    assert np.isnan(break_even_prices(year._replace(limit_kg=0 * year.limit_kg))).all()


# Rates of return and payback.


def stream(rates: list[float], rest: np.ndarray) -> np.ndarray:
    """Yearly flows worth nothing at these rates, and otherwise only where `rest` is."""
    flows = rest
    for rate in rates:
        flows = np.convolve(flows, [-1.0, 1 + rate])
    return flows


@pytest.mark.parametrize(
    "rates",
    [
        [],
        [0.1],
        [0.0],
        [-0.9],
        [-0.2, 0.0, 0.3],
        [0.08, 0.1],  # 2 % apart
        [-0.5, -0.49],
        [-0.99, -0.3, 0.1, 0.5, 4.0],
        [18.0, 500.0],
    ],
    ids=str,
)
@pytest.mark.parametrize("rest", [[1.0], [3.0, 1, 2, 5], [0.0, 0, 1, 4, 0]], ids=str)
@pytest.mark.parametrize("sign", [1, -1])
def test_rates_of_streams_with_known_roots(
    rates: list[float], rest: list[float], sign: int
) -> None:
    """Second way: flows multiplied out from their roots, times a part of one sign."""
    flows = sign * stream(rates, np.array(rest))
    found = rates_of_return(flows, per_year=1)
    assert_allclose(found, rates, rtol=1e-7, atol=1e-9)
    rate, count = single_rate(flows[None], per_year=1)
    assert count[0] == len(rates)
    assert_allclose(rate[0], rates[0] if len(rates) == 1 else np.nan, atol=1e-9)


def scanned(flows: np.ndarray, per_year: int) -> list[float]:
    """Places on a fine grid of ln(1 + rate) after which present value has another sign."""
    grid = np.concatenate(
        [np.arange(-12, -3, 0.05), np.arange(-3, 3, 0.005), np.arange(3, 7.0, 0.05)]
    )
    time = np.arange(flows.size) / per_year
    exponent = -grid[:, None] * time
    exponent -= exponent.max(1, keepdims=True)
    value = (np.exp(np.maximum(exponent, -600)) * flows).sum(1)
    return list(grid[np.flatnonzero((value[:-1] >= 0) != (value[1:] >= 0))])


SHAPES = {
    "an investment": lambda draw: np.r_[-40_000, draw.normal(800, 300, 120)],
    "bought again": lambda draw: np.r_[-9_000, draw.normal(300, 700, 59), -9_000, np.full(60, 200)],
    "noise": lambda draw: draw.normal(0, 1, 121),
    "a walk": lambda draw: draw.normal(0, 1, 121).cumsum(),
    "late": lambda draw: np.r_[np.zeros(9), -5_000, draw.normal(0, 400, 30), np.zeros(20)],
}


@pytest.mark.parametrize("shape", SHAPES)
def test_rates_against_a_finer_scan(shape: str) -> None:
    """Second way: present value on a grid more than twice as fine as what is promised.

    Every change of sign there is a rate; a pair that the grid cannot tell may be found beside.
    """
    draw = drawn(11)
    for _ in range(40):
        flows = SHAPES[shape](draw)
        found = np.log1p(rates_of_return(flows))
        seen = scanned(flows, 12)
        assert len(found) >= len(seen)
        assert len(found) % 2 == len(seen) % 2
        for low in seen:
            assert ((found >= low - 1e-9) & (found <= low + 0.05 + 1e-9)).any()
        for x in found:
            time = np.arange(flows.size) / 12
            weight = np.exp(-x * time - np.max(-x * time))
            assert abs((weight * flows).sum()) < 1e-9 * (weight * np.abs(flows)).sum()


def test_no_rate_of_streams_of_one_sign() -> None:
    """Definition: nothing paid or nothing received."""
    for flows in ([0.0, 0, 0], [1.0, 2, 0], [-1.0, 0, -3], [5.0]):
        assert rates_of_return(flows) == []


def payback_over_arrays(flows: np.ndarray) -> np.ndarray:
    """Where the running total crosses nil from below for the first time, in a straight line."""
    total = flows.cumsum(1)
    crossed = (total[:, 1:] >= 0) & (total[:, :-1] < 0)
    at = crossed.argmax(1) + 1
    row = np.arange(len(flows))
    share = -total[row, at - 1] / flows[row, at]
    return np.where(crossed.any(1), at - 1 + share - (flows < 0).argmax(1), np.nan)


def test_payback_over_arrays() -> None:
    """Streams that pay back, some more than once, and some that never do."""
    flows = drawn().normal(60, 200, (200, 30))
    flows[:, :3] = [0, -700, -300]
    got = payback_periods(flows)
    assert_allclose(got, payback_over_arrays(flows), rtol=1e-9)
    assert 10 < np.isnan(got).sum() < 190
    assert payback_periods(np.array([100.0, -50, 20])) == 0


# Rows by themselves, and without the compiler.


def results(rows: slice) -> dict[str, np.ndarray]:
    """Everything the kernels give for some of the scenarios."""
    year, given, at = sale_years(S), supply(), terms()
    year = rows_of(year, rows)
    limits = given.limits._replace(
        most_kg_per_week=given.limits.most_kg_per_week[rows],
        build_up_months=given.limits.build_up_months[rows],
    )
    given = Supply(given.kilograms[rows], limits, given.order[rows], POOL)
    at = SaleTerms(*(part[rows] for part in at))
    level = np.linspace(1, 1.4, T)[None]
    flows = np.array([SHAPES["bought again"](drawn(s)) for s in range(S)][rows])
    rate, count = single_rate(flows)
    sales = sell(given, at, np.full(T, 30.0), level, level)
    ones = np.ones(len(flows))
    return {
        "rate": rate,
        "count": count.astype(float),
        "payback": payback_periods(flows),
        "yield": break_even_yield(year, 5 * ones),
        "price": break_even_prices(year),
        "profit": profit_at(year, ones, ones),
        "left": fill_outlets(
            given.kilograms, limits_kg(given.limits), given.order, given.pool
        ).unsold_kg,
        "each": received(limits_kg(given.limits), at.delay_days),
        **sales._asdict(),
    }


def test_a_row_is_the_same_whatever_stands_beside_it() -> None:
    """All scenarios together, in threes and one by one agree bit for bit."""
    together = results(slice(None))
    for size in (1, 3):
        parts = [results(slice(first, first + size)) for first in range(0, S, size)]
        for name, expected in together.items():
            assert_array_equal(np.concatenate([p[name] for p in parts]), expected, err_msg=name)


SECOND_RUN = """
import json, sys, test_money_kernels as here
from farmcase.compiled import numba
assert numba.config.DISABLE_JIT
found = here.results(slice(0, 4))
json.dump({name: line.tolist() for name, line in found.items()}, sys.stdout)
"""


def test_without_the_compiler_the_same_comes_out() -> None:
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
    for name, line in results(slice(0, 4)).items():
        assert_allclose(line, plain[name], rtol=1e-11, atol=1e-9, err_msg=name)
