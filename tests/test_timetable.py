"""When things are paid, built and leased: gates and leases by plain loops and by their laws."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from farmcase.model.leases import Leases, leases
from farmcase.model.timetable import Item, Timetable, timetable

patient = settings(deadline=None, max_examples=150)
GATES = ("planning", "power", "award", "finance")


class Row(NamedTuple):
    """A capital row as the timetable reads it."""

    payments: tuple[tuple[int, float], ...]
    gate: str
    lead_months: int


class Plan(NamedTuple):
    """A plan: when gates are expected, what waits for what, what is paid when."""

    gate_months: dict[str, int]
    waits: dict[str, list[str]]
    rows: dict[str, Row]
    start: int


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    """Up to six rows in stages; a gate waits for earlier ones only, so that none waits in a
    circle."""
    rows = {}
    for name in "abcdef"[: draw(st.integers(1, 6))]:
        months = sorted({*draw(st.lists(st.integers(0, 24), min_size=1, max_size=3))})
        gates = " ".join(sorted(draw(st.sets(st.sampled_from(GATES), max_size=2))))
        stages = tuple((month, 1 / len(months)) for month in months)
        rows[name] = Row(stages, gates, draw(st.integers(0, 5)))
    return Plan(
        gate_months={gate: draw(st.integers(0, 30)) for gate in GATES},
        waits={
            gate: sorted(draw(st.sets(st.sampled_from(GATES[:i])))) if i else []
            for i, gate in enumerate(GATES)
        },
        rows=rows,
        start=draw(st.integers(1, 30)),
    )


def run(plan: Plan) -> Timetable:
    """The plan through the package."""
    rows = {
        name: Item(row.payments, tuple(row.gate.split()), row.lead_months)
        for name, row in plan.rows.items()
    }
    return timetable(plan.gate_months, plan.waits, rows, (), plan.start)


def by_hand(plan: Plan) -> tuple[dict[str, int], dict[str, list[int]], int]:
    """Gates, payments and start, by going through the plan month by month.

    Everything slides by the longest delay so far; the first payment of a row that a gate holds up
    adds to it for all later months.
    """
    opens: dict[str, int] = {}
    for gate in GATES:
        opens[gate] = max([plan.gate_months[gate], *(opens[other] for other in plan.waits[gate])])
    paid: dict[str, list[int]] = {name: [] for name in plan.rows}
    late, start = 0, plan.start
    for month in range(31):
        if month == plan.start:
            start += late
        held = late
        for name, row in plan.rows.items():
            wait = max((opens[gate] for gate in row.gate.split()), default=0)
            for i, (planned, _) in enumerate(row.payments):
                if planned == month:
                    paid[name].append(max(month + late, wait))
                    held = max(held, wait - month if i == 0 else 0)
        late = held
    for name, row in plan.rows.items():
        if row.payments[0][0] < plan.start:
            start = max(start, paid[name][-1] + row.lead_months)
    return opens, paid, start


@patient
@given(plans())
def test_timetable_against_a_plain_loop(plan: Plan) -> None:
    """Second way: the plan gone through month by month."""
    table = run(plan)
    opens, paid, start = by_hand(plan)
    assert table.opens == opens
    assert {n: [m for m, _ in steps] for n, steps in table.payments.items()} == paid
    assert table.ready == {n: months[-1] + plan.rows[n].lead_months for n, months in paid.items()}
    assert table.start == start


@patient
@given(plans())
def test_nothing_is_paid_before_its_gates(plan: Plan) -> None:
    """Issue of the gates: nothing that names a gate is paid before it opens, and gates open no
    sooner than those they wait for; nor is anything earlier than planned."""
    table = run(plan)
    for gate, others in plan.waits.items():
        assert table.opens[gate] >= plan.gate_months[gate]
        assert all(table.opens[gate] >= table.opens[other] for other in others)
    for name, row in plan.rows.items():
        for (month, share), (planned, as_planned) in zip(
            table.payments[name], row.payments, strict=True
        ):
            assert month >= max([planned, *(table.opens[gate] for gate in row.gate.split())])
            assert share == as_planned


@patient
@given(plans())
def test_the_order_of_the_plan_is_kept(plan: Plan) -> None:
    """What is planned for a later month is never paid earlier, and starts wait for what was to be
    paid before them."""
    table = run(plan)
    moved = [
        (planned, month)
        for name, row in plan.rows.items()
        for (planned, _), (month, _) in zip(row.payments, table.payments[name], strict=True)
    ]
    for planned, month in moved:
        for other, later in moved:
            assert planned >= other or month <= later
    assert table.start >= plan.start
    for planned, month in moved:
        assert planned >= plan.start or table.start >= month
    for name, row in plan.rows.items():
        assert row.payments[0][0] >= plan.start or table.start >= table.ready[name]


@patient
@given(plans())
def test_without_gates_the_plan_stands(plan: Plan) -> None:
    """No row waits: every payment and lease is as planned, and starts wait for lead times only."""
    free = {name: row._replace(gate="") for name, row in plan.rows.items()}
    table = run(plan._replace(rows=free))
    assert table.payments == {name: row.payments for name, row in free.items()}
    assert [table.slide(month) for month in range(40)] == list(range(40))
    ready = [r.payments[-1][0] + r.lead_months for r in free.values()]
    before = [r.payments[0][0] < plan.start for r in free.values()]
    waits = (month for month, early in zip(ready, before, strict=True) if early)
    assert table.start == max([plan.start, *waits])
    assert table.critical == "" and not table.spare and not table.delays


@patient
@given(plans())
def test_the_critical_gate_has_the_least_to_spare(plan: Plan) -> None:
    """Opening it two months later makes it two months tighter; a plan that no gate of a row
    holds up is not moved at all."""
    table = run(plan)
    named = {gate for row in plan.rows.values() for gate in row.gate.split()}
    for gate in reversed(GATES):  # a gate waits for earlier ones only
        named |= set(plan.waits[gate]) if gate in named else set()
    assert set(table.spare) == named
    assert (table.critical in named) if named else table.critical == ""
    if named:
        least = table.spare[table.critical]
        assert least == min(table.spare.values())
        assert (least < 0) == bool(table.delays)
        opens = {**plan.gate_months, table.critical: table.opens[table.critical] + 2}
        later = run(plan._replace(gate_months=opens))
        assert later.spare[table.critical] == least - 2


def test_a_lease_holds_the_first_starts_and_a_loan_does_not() -> None:
    """A unit that is leased late is grown in late; a loan that comes late holds back nothing."""
    opens, waits = {"planning": 9}, {"planning": []}
    late = Item(((3, 1.0),), ("planning",))
    pads = {"pads": Item(((2, 1.0),))}
    assert timetable(opens, waits, pads, [late], 5).start == 11
    owed = timetable(opens, waits, pads, [Item(late.steps, late.gates, holds=False)], 5)
    assert owed.start == 5 and owed.spare == {"planning": -6}


# Leases.


class OneLease(NamedTuple):
    """A lease; the fields are those of `[leases.NAME]`."""

    starts_month: int
    term_months: int
    deposit: float
    payment_per_month: float
    service_per_month: float
    inflates_with: str
    vat_rate_share: float
    bought_at_end: bool
    purchase_price: float
    life_years: float
    resale_share: float
    gate: str = ""


all_leases = st.lists(
    st.builds(
        OneLease,
        st.integers(0, 30),
        st.integers(1, 40),
        st.sampled_from([0.0, 500]),
        st.integers(0, 900).map(float),
        st.sampled_from([0.0, 60]),
        st.sampled_from(["none", "general"]),
        st.sampled_from([0.0, 0.2]),
        st.booleans(),
        st.sampled_from([0.0, 4000]),
        st.sampled_from([0.5, 2.0, 9.0]),
        st.sampled_from([0.0, 0.3]),
        st.sampled_from(["", "power"]),
    ),
    min_size=1,
    max_size=3,
)


def run_leases(given_leases: list[OneLease], months: int, opens: int, level: np.ndarray) -> Leases:
    """The leases of a build of which only the leases and one gate matter."""
    held = {str(i): lease for i, lease in enumerate(given_leases)}
    table = Timetable({"power": opens}, {}, {}, 1, 1, {}, "", ((4, 3),))
    inputs: Any = SimpleNamespace(
        size=1,
        months=months,
        timetable=table,
        records=lambda section: held,
        full=lambda section, name: np.array([[getattr(x, name) for x in given_leases]], float),
    )
    return leases(inputs, {"none": np.ones((1, months)), "general": level[None]}, np.array([0.4]))


def leases_by_hand(
    given_leases: list[OneLease], months: int, opens: int, level: np.ndarray
) -> dict[str, Any]:
    """Each lease month by month; what was planned after month 4 comes three months later."""
    names = Leases.__dataclass_fields__
    lines: dict[str, Any] = {name: np.zeros(months) for name in names} | {"end_value": 0.0}
    for x in given_leases:
        begins = x.starts_month + 3 * (x.starts_month > 4)
        begins = max(begins, opens) if x.gate else begins
        ends = begins + x.term_months - 1
        for month in range(begins, min(ends + 1, months)):
            due = x.payment_per_month + x.service_per_month
            due *= level[month] if x.inflates_with == "general" else 1
            lines["payments"][month] += due
            lines["payments_vat"][month] += due * x.vat_rate_share
        if begins < months:
            lines["deposit_paid"][begins] += x.deposit
            lines["deposit_returned"][min(ends, months - 1)] += x.deposit
        if x.bought_at_end and ends + 1 < months - 1:
            lines["bought"][ends + 1] += x.purchase_price
            lines["bought_vat"][ends + 1] += x.purchase_price * x.vat_rate_share
            life = round(12 * x.life_years)
            whole = x.purchase_price * (1 + 0.4 * x.vat_rate_share)
            for month in range(ends + 2, min(ends + 2 + life, months)):
                lines["write_off"][month] += whole / life
            lines["end_value"] += x.purchase_price * x.resale_share
    return lines


@patient
@given(all_leases, st.integers(2, 60), st.integers(0, 20), st.floats(0, 0.1))
def test_leases_against_a_plain_loop(
    given_leases: list[OneLease], months: int, opens: int, rise: float
) -> None:
    """Second way: each lease month by month; every deposit comes back."""
    level = (1 + rise) ** (np.arange(months) / 12)
    got = run_leases(given_leases, months, opens, level)
    expected = leases_by_hand(given_leases, months, opens, level)
    for name, line in expected.items():
        assert_allclose(getattr(got, name)[0], line, rtol=1e-9, atol=1e-6, err_msg=name)
    assert got.deposit_paid.sum() == pytest.approx(got.deposit_returned.sum())
