"""Charts of cash, debt cover, security, worth and gates: each title is computed again from data."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import farmcase as fc
from farmcase.model.lender import cover_table
from farmcase.model.outcome import Outcome
from farmcase.output import charts, finance_tables, lender_tables
from farmcase.output.theme import ends_apart
from farmcase.output.worth_chart import internal_rates, worth_finding
from farmcase.words import finance_charts as say
from farmcase.words.numbers import money, month_name, percent, plain

TESTS = Path(__file__).resolve().parent
ROOT = TESTS.parent
FOLDERS = [ROOT / "data" / "cases" / name for name in ("harbour_coop", "orchard_valley")]
FOLDERS.append(TESTS / "small_case")
ALL = (
    charts.monthly_cash_chart,
    charts.debt_cover_chart,
    charts.security_chart,
    charts.worth_chart,
    charts.gate_chart,
)


@pytest.fixture(scope="module", params=FOLDERS, ids=lambda folder: folder.name)
def outcome(request: pytest.FixtureRequest) -> Outcome:
    """Each case in turn, run once."""
    return fc.evaluate(fc.open_case(request.param))


def rows_with(chart: Any, *fields: str) -> Iterator[list[dict[str, Any]]]:
    """The data of a chart that hold all these fields."""
    for rows in chart.to_dict()["datasets"].values():
        if rows and set(fields) <= set(rows[0]):
            yield rows


def said_of(title: str, build: str) -> str:
    """What a title with groups of builds says of one of them."""
    return next(part.split(": ", 1)[1] for part in title.split("; ") if build in part.split(":")[0])


def amount(outcome: Outcome, value: float) -> str:
    """Money as titles write it."""
    return money(value, outcome.case.heading.currency, outcome.case.heading.locale)


def test_charts_can_be_drawn_twice_alike(outcome: Outcome) -> None:
    """Every chart is a picture, the same each time, without a number that is none."""
    for make in ALL:
        drawn = [charts.shown(make(outcome)) for _ in range(2)]
        assert drawn[0].svg == drawn[1].svg
        assert drawn[0].svg.startswith("<svg") and "NaN" not in drawn[0].svg


def test_the_trough_in_the_title_is_the_lowest_point_drawn(outcome: Outcome) -> None:
    """Month, amount and the limit of the overdraft, from the drawn line of each build."""
    chart = charts.monthly_cash_chart(outcome)
    title, lines = (
        charts.title_of(chart),
        [rows for rows in rows_with(chart, "month", "cash") if len(rows) > 12],
    )
    assert len(lines) == len(outcome)
    limit = outcome.case.money.overdraft_limit.likely
    for build, rows in zip(outcome.values(), lines, strict=True):
        whole = [a - b for a, b in zip(*_cash_and_overdraft(build), strict=True)]
        low = min(rows, key=lambda row: row["cash"])
        assert low["cash"] == pytest.approx(min(whole), rel=1e-5)
        month = month_name(low["month"][:7], outcome.case.heading.locale)
        assert f"in {month}, at {amount(outcome, min(whole))}" in title
        part = next(p for p in title.split("; ") if p.startswith(build.label))
        assert ("more than its overdraft limit" in part) == (min(whole) < -limit - 0.005)
        assert ("never overdrawn" in part) == (min(whole) >= -0.005)


def _cash_and_overdraft(build: Any) -> tuple[list[float], list[float]]:
    return build.ledger.lines["cash"][0].tolist(), build.ledger.lines["overdraft"][0].tolist()


def test_money_that_comes_in_stands_above_its_month(outcome: Outcome) -> None:
    """Loans, own money and grants of half a thousand and more, in thousands, in their month."""
    chart = charts.monthly_cash_chart(outcome)
    drawn = [row for rows in rows_with(chart, "month", "kind", "words") for row in rows]
    kinds = {"owners_money": say.PUT_IN, "loan_drawn": say.DRAWN, "grant": say.GRANT_PAID}
    expected = []
    for build in outcome.values():
        shown = {row["month"] for rows in rows_with(chart, "month", "cash") for row in rows}
        for line, kind in kinds.items():
            for month, value in enumerate(build.ledger.lines[line][0]):
                day = f"{build.dates[month]}-01"
                if value > 500 and day in shown:
                    text = plain(value / 1000, outcome.case.heading.locale)
                    expected.append((day, kind, text))
    found = {(row["month"], row["kind"], row["words"]) for row in drawn}
    assert found == set(expected)


def test_years_below_the_threshold_are_counted(outcome: Outcome) -> None:
    """The numbers of years in the title are those of the table of debt cover."""
    title = charts.title_of(charts.debt_cover_chart(outcome))
    threshold = lender_tables.threshold_of(outcome).low
    for build in outcome.values():
        table = cover_table(build)
        before, after = (
            [float(v) for v in table.T[label].to_numpy(float) if np.isfinite(v)]
            for label in ("Debt cover before drawings", "Debt cover after tax and drawings")
        )
        said = said_of(title, build.label)
        if not before:
            assert said == say.NO_DEBT
            continue
        counts = [sum(v < threshold for v in values) for values in (before, after)]
        if not any(counts):
            assert f"in all {len(before)} years" in said
            continue
        numbers = [int(n) for n in re.findall(r"(?<![.\d])\d+(?![.\d])", said)]
        assert numbers == [counts[0], len(before), counts[1]]


def test_security_in_the_title_follows_from_the_lines_drawn(outcome: Outcome) -> None:
    """From the year that is named on, the drawn forced-sale value is at least the loans."""
    chart = charts.security_chart(outcome)
    title = charts.title_of(chart)
    for build, rows in zip(
        outcome.values(), rows_with(chart, "year", "amount", "line"), strict=True
    ):
        owed = {row["year"]: row["amount"] for row in rows if row["line"] == say.LOANS}
        worth = {row["year"]: row["amount"] for row in rows if row["line"] == say.FORCED_SALE}
        due = [year for year, value in owed.items() if value > 0.005]
        short = [year for year in due if worth[year] < owed[year]]
        said = said_of(title, build.label)
        if not due:
            assert said == say.NOTHING_OWED
        elif not short:
            assert "in every year" in said
        elif short[-1] == due[-1]:
            assert "in no year" in said
        else:
            assert said.endswith(f"from the year to {due[due.index(short[-1]) + 1]} on")


def test_the_curve_of_worth_crosses_nil_at_the_rates_named(outcome: Outcome) -> None:
    """Between two drawn points of other sign lies each internal rate; at the case's rate the
    curve is the measure."""
    chart = charts.worth_chart(outcome)
    (rows,) = [r for r in rows_with(chart, "rate", "worth", "build") if len(r) > 100]
    here = 100 * outcome.case.money.discount_rate_per_year.likely
    title = charts.title_of(chart)
    for build in outcome.values():
        rate, worth = np.array(
            [(row["rate"], row["worth"]) for row in rows if row["build"] == build.label]
        ).T
        assert np.interp(here, rate, worth) == pytest.approx(
            build.measure("npv"), abs=0.002 * np.ptp(worth)
        )
        crossings = np.flatnonzero(np.sign(worth[:-1]) != np.sign(worth[1:]))
        roots = [100 * root for root in internal_rates(build) if 0 <= 100 * root <= rate[-1]]
        assert len(crossings) == len(roots)
        for at, root in zip(crossings, roots, strict=True):
            assert rate[at] <= root <= rate[at + 1]
            if len(roots) == 1:
                assert percent(root / 100, outcome.case.heading.locale, 1) in title


def test_two_internal_rates_are_both_named(outcome: Outcome) -> None:
    """Lorie and Savage (1955): -1600, 10000, -10000 crosses nil at 25 % and 400 %."""
    name, build = next(iter(outcome.items()))
    flow = np.zeros(build.inputs.months)
    flow[[0, 12, 24]] = -1600.0, 10000.0, -10000.0
    lines = {**build.ledger.lines, "project_flow": flow[None]}
    odd = replace(build, ledger=replace(build.ledger, lines=lines))
    one = Outcome(case=outcome.case, builds={name: odd})
    assert "25.0 % and 400.0 %" in worth_finding(one)
    chart = charts.worth_chart(one)
    marks = [row for rows in rows_with(chart, "rate", "worth", "words") for row in rows]
    assert {row["words"] for row in marks} == {"25.0 %", "400.0 %"}
    assert {row["rate"] for row in marks} == {25.0, 400.0}
    assert charts.shown(chart).svg.startswith("<svg")


def test_gates_are_drawn_in_the_months_of_the_table(outcome: Outcome) -> None:
    """Every bar runs from low to high of the table, and the critical gate is in the title."""
    chart = charts.gate_chart(outcome)
    title, locale = charts.title_of(chart), outcome.case.heading.locale
    panels = list(rows_with(chart, "low", "likely", "high"))
    assert len(panels) == len(outcome)
    for (name, build), rows in zip(outcome.items(), panels, strict=True):
        drawn = {row["name"].replace("\n", " "): row for row in rows}
        table = finance_tables.gate_table(outcome, name)
        for cells in table.rows:
            row = drawn[cells[0]]
            months = [month_name(row[end][:7], locale) for end in ("low", "likely", "high")]
            assert months == list(cells[2:5])
            assert row["low"] <= row["likely"] <= row["high"]
        critical = build.inputs.timetable.critical
        if critical:
            gate = build.inputs.records("gates")[critical]
            assert (gate.label or critical) in title
            assert [row["name"] for row in rows if row["critical"]] != []
        starts = month_name(build.dates[build.inputs.timetable.start], locale)
        assert starts in title


def test_names_at_the_ends_of_lines_do_not_meet(outcome: Outcome) -> None:
    """Names stand at least a twentieth of the picture apart, in the order of the lines."""
    chart = charts.worth_chart(outcome)
    (rows,) = [r for r in rows_with(chart, "rate", "worth", "build") if len(r) > 100]
    frame = pd.DataFrame(rows)
    ends = ends_apart(frame, "rate", "worth").sort_values("height")
    gap = 0.05 * (frame["worth"].max() - min(frame["worth"].min(), 0.0))
    assert (np.diff(ends["height"]) >= gap * 0.999).all()
