"""What is bought and built, and what grants pay of it, by a second way: plain loops.

Each thing bought is followed by itself, payment by payment and month by month, as the design
(section 5) and the docstrings of `costs/capital` and `money/grant` read.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from farmcase.costs.capital import BOOKS, NO_ALLOWANCE, CapitalFlows, CapitalRows, capital_flows
from farmcase.money.grant import ClaimTerms, granted, to_repay

patient = settings(deadline=None, max_examples=100)
CLASSES = 2


class Row(NamedTuple):
    """Something bought, at start-month prices."""

    cost: int
    own: int
    stages: tuple[tuple[int, float], ...]
    lead: int
    again: bool
    life: int  # months
    resale: float
    vat: float
    tax_class: int
    counts: tuple[bool, bool]  # for each of two grants


class World(NamedTuple):
    """What all rows share."""

    months: int
    level: np.ndarray
    wage_level: np.ndarray
    contingency: float
    vat_kept: float
    own_deducted: bool
    own_counts: tuple[bool, bool]


@st.composite
def bought_rows(draw: st.DrawFn) -> Row:
    """A row in one to three payments."""
    first, shares = draw(st.integers(0, 60)), [(1.0,), (0.3, 0.7), (0.2, 0.3, 0.5)]
    parts = draw(st.sampled_from(shares))
    gaps = draw(st.lists(st.integers(0, 5), min_size=len(parts), max_size=len(parts)))
    months = np.cumsum([first, *gaps[1:]]).tolist()
    return Row(
        cost=draw(st.integers(0, 50_000)),
        own=draw(st.sampled_from([0, 700])),
        stages=tuple(zip(months, parts, strict=True)),
        lead=draw(st.integers(0, 4)),
        again=draw(st.booleans()),
        life=draw(st.integers(1, 120)),
        resale=draw(st.sampled_from([0.0, 0.1, 1.0])),
        vat=draw(st.sampled_from([0.0, 0.2])),
        tax_class=draw(st.sampled_from([NO_ALLOWANCE, BOOKS, 0, 1])),
        counts=draw(st.tuples(st.booleans(), st.booleans())),
    )


@st.composite
def worlds(draw: st.DrawFn) -> World:
    """One to sixty months, with or without price rises and VAT that is kept as a cost."""
    months, rise = draw(st.integers(1, 60)), draw(st.floats(0, 0.1))
    level = (1 + rise) ** (np.arange(months + 1) / 12)
    pair = st.tuples(st.booleans(), st.booleans())
    parts = draw(st.sampled_from([0.0, 0.12])), draw(st.sampled_from([0.0, 0.3, 1.0]))
    return World(months + 1, level, level**2, *parts, draw(st.booleans()), draw(pair))


def buy(rows: list[Row], world: World) -> CapitalFlows:
    """The rows through the package, as one scenario; every payment lies within its months."""
    last = world.months - 1
    payments = [(r, min(m, last), share) for r, row in enumerate(rows) for m, share in row.stages]
    pay_row, pay_month, pay_share = (np.array(part) for part in zip(*payments, strict=True))
    column = {name: np.array([[getattr(row, name) for row in rows]]) for name in Row._fields[:2]}
    given_rows = CapitalRows(
        cost=column["cost"].astype(float),
        own_cost=column["own"].astype(float),
        own_worth=1.5 * column["own"],
        pay_row=pay_row,
        pay_month=pay_month,
        pay_share=pay_share,
        ready=np.array([min(row.stages[-1][0] + row.lead, last) for row in rows]),
        bought_again=np.array([int(row.again) for row in rows]),
        life=np.array([[row.life for row in rows]]),
        resale_share=np.array([[row.resale for row in rows]]),
        level=world.level[None],
        wage_level=world.wage_level[None],
        contingency=np.array([world.contingency]),
        vat_rate=np.array([row.vat for row in rows]),
        vat_kept=np.array([world.vat_kept]),
        tax_class=np.array([row.tax_class for row in rows]),
        own_deducted=float(world.own_deducted),
        eligible=np.array([row.counts for row in rows], np.int64).T.reshape(2, -1),
        own_counts=np.array(world.own_counts, float),
    )
    return capital_flows(given_rows, CLASSES)


def write_off(line: np.ndarray, amount: float, ready: int, life: int) -> None:
    """An equal part in each month of its life, from the month after it is ready."""
    for month in range(ready + 1, min(ready + life, line.size - 1) + 1):
        line[month] += amount / life


def for_tax(out: dict[str, Any], row: Row, month: int, amount: float, ready: int) -> None:
    """Into its class, or written off as in the books."""
    if row.tax_class >= 0:
        out["additions"][row.tax_class, month] += amount
    elif row.tax_class == BOOKS:
        out["book_cost"] += amount
        write_off(out["book_slope"], amount, ready, row.life)


def for_grant(out: dict[str, Any], row: Row, g: int, month: int, amount: float, at: int) -> None:
    """What a grant counts, and where that is written off and deducted."""
    out["eligible"][g, month] += amount
    write_off(out["eligible_slope"][g], amount, at, row.life)
    if row.tax_class >= 0:
        out["granted_additions"][g, row.tax_class, month] += amount
    elif row.tax_class == BOOKS:
        out["granted_book_cost"][g] += amount
        write_off(out["granted_book_slope"][g], amount, at, row.life)


def buy_by_hand(rows: list[Row], world: World) -> dict[str, Any]:
    """Each row through its payments, its life and its replacements."""
    last, kept = world.months - 1, world.vat_kept
    shapes = {"eligible": (2,), "eligible_slope": (2,), "granted_book_slope": (2,)}
    shapes |= {"additions": (CLASSES,), "granted_additions": (2, CLASSES)}
    out: dict[str, Any] = {
        name: np.zeros((*shapes.get(name, ()), world.months)) for name in CapitalFlows._fields
    }
    out |= dict.fromkeys(("book_cost", "end_value", "taxed_end_value"), 0.0)
    out["granted_book_cost"] = np.zeros(2)
    for row in rows:
        at, price = min(row.stages[-1][0] + row.lead, last), 0.0
        for planned, share in row.stages:
            month = min(planned, last)
            part = row.cost * share * world.level[month]
            own = row.own * share * world.wage_level[month]
            extra = part * world.contingency
            vat = (part + extra) * row.vat
            for name, amount in (("spending", part), ("contingency", extra), ("own", own)):
                out[name][month] += amount
            out["vat"][month] += vat
            write_off(out["slope"], part + extra + own + vat * kept, at, row.life)
            taxed = part + extra + vat * kept + own * world.own_deducted
            for_tax(out, row, month, taxed, at)
            for g in (g for g in range(2) if row.counts[g]):
                for_grant(out, row, g, month, part + 1.5 * own * world.own_counts[g], at)
            price += part
        while row.again and at + row.life < last:
            at += row.life
            price = row.cost * world.level[at]
            out["replacements"][at] += price
            out["vat"][at] += price * row.vat
            write_off(out["slope"], price * (1 + row.vat * kept), at, row.life)
            for_tax(out, row, at, price * (1 + row.vat * kept), at)
        out["end_value"] += price * row.resale
        out["taxed_end_value"] += price * row.resale * (row.tax_class != NO_ALLOWANCE)
    return out


@patient
@given(st.lists(bought_rows(), min_size=1, max_size=4), worlds())
def test_capital_against_a_plain_loop(rows: list[Row], world: World) -> None:
    """Second way: every line by hand."""
    got, expected = buy(rows, world), buy_by_hand(rows, world)
    for name in CapitalFlows._fields:
        line = getattr(got, name)[0]
        assert_allclose(line, expected[name], rtol=1e-9, atol=1e-6, err_msg=name)


@patient
@given(st.lists(bought_rows(), min_size=1, max_size=4), worlds())
def test_first_life_is_written_off_to_nothing(rows: list[Row], world: World) -> None:
    """finance.md 8.06: depreciation totals the cost, own hours, contingency and kept VAT."""
    level = np.ones(260)
    once = [row._replace(again=False) for row in rows]
    flows = buy(once, world._replace(months=260, level=level, wage_level=level))
    paid = flows.spending + flows.own + flows.contingency + world.vat_kept * flows.vat
    assert flows.slope.sum() == pytest.approx(paid.sum())
    assert_allclose(flows.eligible_slope.sum(-1), flows.eligible.sum(-1), rtol=1e-9, atol=1e-6)
    assert flows.book_slope.sum() == pytest.approx(flows.book_cost[0])
    taxed = paid.sum() - flows.own.sum() * (not world.own_deducted)
    if NO_ALLOWANCE not in {row.tax_class for row in rows}:
        assert flows.book_cost[0] + flows.additions.sum() == pytest.approx(taxed)


# Grants.


class Claims(NamedTuple):
    """Eligible spending by month, and the terms of a grant."""

    spent: list[float]
    share: float
    ceiling: float
    held_back: float
    terms: ClaimTerms


amounts = st.integers(0, 9000).map(float) | st.just(0.0)
all_claims = st.builds(
    Claims,
    st.lists(amounts, min_size=1, max_size=30),
    st.floats(0, 1),
    st.floats(0, 30_000),
    st.sampled_from([0.0, 0.1, 1.0]),
    st.builds(ClaimTerms, *(st.integers(*span) for span in ((0, 8), (1, 12), (0, 6), (0, 12)))),
)


def granted_of(claims: Claims) -> tuple[np.ndarray, np.ndarray]:
    """What is claimed and received by month."""
    spent, share, ceiling, held = (np.array([x]) for x in claims[:4])
    found = granted(spent, share, ceiling, held, claims.terms)
    return found.claimed[0], found.received[0]


def granted_by_hand(claims: Claims) -> tuple[list[float], list[float]]:
    """A book of invoices, sent in with each claim; what is held back waits for the last one."""
    terms, last = claims.terms, len(claims.spent) - 1
    claimed, received = [0.0] * (last + 1), [0.0] * (last + 1)
    book, left, waits, final, unclaimed = 0.0, claims.ceiling, 0.0, 0, False
    for month, amount in enumerate(claims.spent):
        unclaimed = unclaimed or amount > 0
        due = min(claims.share * amount, left)
        book, left = book + due, left - due
        passed = month - terms.award_month
        if month == last or (passed > 0 and passed % terms.claim_every_months == 0):
            claimed[month] = book
            received[min(month + terms.paid_after_months, last)] += book * (1 - claims.held_back)
            waits += book * claims.held_back
            final, book, unclaimed = (month if unclaimed else final), 0.0, False
    received[min(final + terms.paid_after_months + terms.held_back_months, last)] += waits
    return claimed, received


@patient
@given(all_claims)
def test_grant_against_a_plain_loop(claims: Claims) -> None:
    """Second way: month by month, until the ceiling is used up."""
    for got, expected in zip(granted_of(claims), granted_by_hand(claims), strict=True):
        assert_allclose(got, expected, rtol=1e-9, atol=1e-6)


@patient
@given(all_claims)
def test_grant_keeps_its_bounds(claims: Claims) -> None:
    """finance.md 8.08: never more than the share nor the ceiling, never before what it pays for;
    and all of it arrives."""
    claimed, received = granted_of(claims)
    allowed = np.minimum(np.cumsum(claims.spent) * claims.share, claims.ceiling)
    assert (received.cumsum() <= claimed.cumsum() + 1e-6).all()
    assert (claimed.cumsum() <= allowed + 1e-6).all()
    assert received.sum() == pytest.approx(allowed[-1], abs=1e-6)
    assert (received >= 0).all()


def test_a_grant_is_the_same_whatever_stands_beside_it() -> None:
    """Design, section 6: rows of a table agree with the same rows run alone, here where only one
    of two scenarios buys something late that the grant counts."""
    spent = np.array([[100.0, 0, 0, 0, 0, 0, 0, 0], [100.0, 0, 0, 0, 50, 0, 0, 0]])
    number, terms = np.ones(2), ClaimTerms(0, 1, 1, 1)
    together = granted(spent, 0.5 * number, 900 * number, 0.1 * number, terms).received
    for row, got in zip(spent, together, strict=True):
        alone = granted(row[None], np.array([0.5]), np.array([900.0]), np.array([0.1]), terms)
        assert_array_equal(alone.received[0], got)


@patient
@given(st.lists(amounts, min_size=6), st.integers(0, 5), st.integers(0, 40), st.booleans())
def test_to_repay_by_hand(paid: list[float], month: int, kept: int, pro_rata: bool) -> None:
    """Second way: what was received goes back, and each later payment as it comes; all of it, or
    the share of time to run, counted from the first payment; nothing once the time is up."""
    got = to_repay(np.array([paid]), month, kept, pro_rata)[0]
    filled = [m for m, amount in enumerate(paid) if amount] or [0]
    until, share = filled[-1] + kept, 1.0
    if pro_rata and month > filled[0]:
        share = (until - month) / (until - filled[0])
    share = share if month < until else 0.0
    expected = [0.0] * month + [sum(paid[: month + 1])] + paid[month + 1 :]
    assert_allclose(got, [share * amount for amount in expected], rtol=1e-12, atol=1e-9)
