"""What a reader sees: the decision on one screen, the check, the picture, the notebook's table."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import farmcase as fc
from farmcase.__main__ import main
from farmcase.model.lender import cover_table
from farmcase.model.remarks import remarks
from farmcase.output import charts, decision
from farmcase.output.cautions import caution_places, cautions
from farmcase.output.check_report import check_report
from farmcase.output.tables import Table
from farmcase.words.numbers import money, month_name, percent, plain

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data" / "cases" / "harbour_coop"


@pytest.fixture(scope="module")
def outcome() -> fc.Outcome:
    """The demonstration case, run."""
    return fc.evaluate(fc.open_case(DEMO))


def test_decide_prints_everything_on_one_screen(capsys: pytest.CaptureFixture[str]) -> None:
    """All that is promised, for each build, in 54 lines of at most 100 characters."""
    assert main(["decide", str(DEMO)]) == 0
    text = capsys.readouterr().out
    for word in (
        "Cost to build",
        "Money needed",
        "Month in which most money is needed",
        "Lowest cash",
        "Month of lowest cash",
        "Lowest debt cover before drawings",
        "Lowest debt cover after tax and drawings",
        "Fiscal year of lowest debt cover",
        "Payback",
        "Net present value",
        "Break-even output",
        "Break-even price",
        "Output sold",
        "Cost per kilogram",
        "Own hours",
        "Compared were",
        "Carry on as now",
        "invented",
        "followed hour by hour",
    ):
        assert word in " ".join(text.split()), word
    assert "not yet modelled" not in text
    lines = text.splitlines()
    assert len(lines) <= 54
    assert max(map(len, lines)) <= 100


def test_decide_from_another_folder_in_a_process_of_its_own(tmp_path: Path) -> None:
    """A path works from anywhere; nothing is written beside it."""
    command = [sys.executable, "-m", "farmcase", "decide", str(DEMO)]
    run = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=True)
    assert "pays best" in run.stdout and run.stderr == ""
    assert list(tmp_path.iterdir()) == []


def test_figures_on_the_screen_are_those_of_the_outcome(outcome: fc.Outcome) -> None:
    """Every figure of the table is the measure, rounded only for printing."""
    table = decision.decision_table(outcome)
    row = next(r for r in table.rows if r[0].startswith("Net present value"))
    for cell, build in zip(row[1:], outcome.values(), strict=False):
        assert cell == money(build.measure("npv"), "EUR", "en_IE")


def test_months_and_years_on_the_screen_are_those_of_the_lines(outcome: fc.Outcome) -> None:
    """Money needed is deepest, and cover lowest, in the month and the year that are named."""
    rows = {row[0]: row for row in decision.decision_table(outcome).rows}
    for i, build in enumerate(outcome.values(), 1):
        total = np.cumsum(build.ledger.lines["project_flow"][0])
        month = next(m for m, value in enumerate(total) if value == min(total))
        assert -total[month] == pytest.approx(build.measure("money_needed"))
        said = month_name(build.dates[month], "en_IE")
        assert rows["Month in which most money is needed"][i] == said
        table = cover_table(build)
        cover = table.loc["Debt cover after tax and drawings"].to_numpy(float, copy=True)
        ends = [build.dates.index(str(name).removeprefix("to ")) for name in table.columns]
        begins = [0, *(end + 1 for end in ends[:-1])]
        cover[[m < build.inputs.start for m in begins]] = np.nan  # no full year of growing
        cover[-1] = np.nan  # two years' taxes are settled in the last
        lowest = build.measure("dscr_after_tax_and_drawings_minimum")
        at = next(i for i, value in enumerate(cover) if value == np.nanmin(cover))
        assert cover[at] == pytest.approx(lowest)
        year = month_name(str(table.columns[at]).removeprefix("to "), "en_IE")
        assert rows["Fiscal year of lowest debt cover"][i] == f"to {year}"


def test_the_verdict_names_the_best_and_the_gap(outcome: fc.Outcome) -> None:
    """The build named first has the highest npv, and the gap is the difference."""
    worth = {b.label: b.measure("npv") for b in outcome.values()}
    ranked = sorted(worth, key=lambda name: -worth[name])
    assert outcome.verdict.startswith(f"{ranked[0]} pays best")
    assert money(worth[ranked[0]] - worth[ranked[1]], "EUR", "en_IE") in outcome.verdict


def test_a_thin_lead_is_called_thin_and_a_broad_one_is_not() -> None:
    """Below a tenth of the money needed the verdict says so."""
    case = fc.open_case(DEMO)
    dear = {f"sales.{i}.price_per_kg": r.price_per_kg.likely * 1.2 for i, r in case.sales.items()}
    for tried in (case, case.vary(dear)):
        outcome = fc.evaluate(tried)
        best = max(outcome.values(), key=lambda build: build.measure("npv"))
        others = [0.0, *(b.measure("npv") for b in outcome.values() if b is not best)]
        lead = best.measure("npv") - max(others)
        thin = lead < 0.1 * best.measure("money_needed")
        assert ("That lead is thin" in outcome.verdict) == thin


def test_carrying_on_wins_when_no_build_is_worth_it() -> None:
    """With prices halved the verdict says so, and says what would be lost."""
    case = fc.open_case(DEMO)
    paths = {f"sales.{i}.price_per_kg": r.price_per_kg.likely / 2 for i, r in case.sales.items()}
    said = fc.evaluate(case.vary(paths)).verdict
    assert said.startswith("Carry on as now is better")


def test_the_verdict_names_a_blank_of_the_scope_list(outcome: fc.Outcome) -> None:
    """The finished unit says nothing of training in this case, and the verdict tells."""
    assert "Not yet on the same scope: Buy a finished unit says nothing of" in outcome.verdict


def test_remarks_follow_from_the_numbers(outcome: fc.Outcome) -> None:
    """An overdraft over its limit and a payback by end value only are said, else not."""
    for name, build in outcome.items():
        said = " ".join(outcome.remarks(name))
        limit = outcome.case.money.overdraft_limit.likely
        assert ("Cash runs short" in said) == (build.ledger.cash.overdraft.max() > limit)
        total = build.ledger.lines["project_flow"][0].cumsum()
        released = sum(build.ledger.lines[line][0, -1] for line in ("end_value", "debtors_change"))
        by_end = total[-2] < 0 <= total[-1] and total[-1] - released < 0
        assert ("only because what is left is sold" in said) == by_end


def test_the_title_of_the_picture_agrees_with_its_data(outcome: fc.Outcome) -> None:
    """The payback in the title is where the drawn line first comes back to nil."""
    chart = charts.cumulative_cash_chart(outcome)
    spec, title = chart.to_dict(), charts.title_of(chart)
    rows = [row for data in spec["datasets"].values() for row in data if "year" in row]
    for build in outcome.values():
        line = [
            (r["year"], r["cash"]) for r in rows if r["build"] == build.label and "note" not in r
        ]
        years, cash = np.array(line).T
        back = np.flatnonzero((cash >= 0) & (np.arange(cash.size) > np.argmax(cash < 0)))
        if build.paid_back_by_end_value or not back.size:
            assert f"{build.label} is paid back after" not in title
            continue
        first_payment = years[np.argmax(np.diff(cash, prepend=0.0) < 0)]
        drawn = years[back[0]] - first_payment
        said = float(title.split(f"{build.label} is paid back after ")[1].split(" years")[0])
        assert math.isclose(said, drawn, abs_tol=0.05 + 1 / 12)


def test_the_picture_in_the_readme_is_of_this_outcome(outcome: fc.Outcome) -> None:
    """README shows what the demonstration case gives today."""
    drawn = charts.shown(charts.cumulative_cash_chart(outcome)).svg + "\n"
    kept = ROOT / "notebooks" / "pictures" / "cumulative_cash.svg"
    assert kept.read_text(encoding="utf-8") == drawn


def test_check_tells_of_loading_and_guesses(outcome: fc.Outcome) -> None:
    """Places, fill, kilograms a week, area, carbon to nitrogen and the share of guesses."""
    text = check_report(outcome)
    for word in ("places", "filled to", "kg a week", "m2 of fruiting floor", "C to N", "guesses"):
        assert word in text


def test_several_internal_rates_are_listed_and_none_is_shown(outcome: fc.Outcome) -> None:
    """Lorie and Savage (1955): -1600, 10000, -10000 has the rates 25 % and 400 %."""
    build = outcome["self_build"]
    flow = np.zeros(build.inputs.months)
    flow[[0, 12, 24]] = -1600.0, 10000.0, -10000.0
    lines = {**build.ledger.lines, "project_flow": flow[None]}
    odd = replace(build, ledger=replace(build.ledger, lines=lines))
    assert any("2 internal rates of return (25.0 %, 400.0 %)" in said for said in remarks(odd))
    assert math.isnan(odd.measure("irr"))


def test_a_room_filled_above_one_sixth_is_named() -> None:
    """A denser load is said to be hard to air."""
    case = fc.open_case(DEMO)
    dense = {f"crops.{crop}.bulk_density_kg_per_m3": 200.0 for crop in case.crops}
    outcome = fc.evaluate(case.vary(dense))
    assert any("above one sixth" in said for said in outcome.remarks("self_build"))


def test_cautions_follow_from_what_the_case_holds() -> None:
    """A gas burner brings carbon monoxide, a lime bath lime; without them neither is said."""
    case = fc.open_case(DEMO)
    assert {"burner", "heat", "co2", "electricity", "floor"} <= caution_places(case)
    assert {"water", "cooling"} <= caution_places(case)  # fog and the cold store's unit
    assert not {"lime", "pressure"} & caution_places(case)
    limed = case.vary(
        {"vessels.bath.treatment": "cold_lime", "vessels.bath.carrier": "electricity"}
    )
    assert "lime" in caution_places(limed) and "burner" not in caution_places(limed)
    for text, whom in cautions(case):
        assert text.endswith(".") and whom
    assert "Cautions" in check_report(fc.evaluate(case))


def test_a_console_without_the_letters_still_prints() -> None:
    """What the console's own letters do not hold becomes a question mark, not a traceback."""
    command = [sys.executable, "-m", "farmcase", "decide", str(DEMO)]
    surroundings = {**os.environ, "PYTHONIOENCODING": "ascii"}
    run = subprocess.run(command, capture_output=True, text=True, check=True, env=surroundings)
    assert "pays best" in run.stdout and run.stderr == ""


def test_a_table_is_the_same_in_text_and_html() -> None:
    """Every cell stands in both, and markup in a cell is only text."""
    table = Table(["a", "b"], [["<b>x</b>", "1"], ["y", "22"]], caption="c & d")
    html = table._repr_html_()
    assert "&lt;b&gt;x&lt;/b&gt;" in html and "c &amp; d" in html
    assert table.text().splitlines()[-1] == "y         22"


@pytest.mark.parametrize(
    ("shown", "expected"),
    [
        (money(-1234.5, "EUR", "en_IE"), "-€1,234"),
        (money(1234.5, "EUR", "de_DE"), "1.234\N{NO-BREAK SPACE}€"),
        (money(9.5, "GBP", "en_GB", 2), "£9.50"),
        (plain(1234.56, "de_DE", 1), "1.234,6"),
        (plain(-0.001, "en_IE"), "0"),
        (percent(0.125, "en_IE", 1), "12.5 %"),
        (percent(-0.004, "en_IE"), "0 %"),
        (plain(float("nan"), "en_IE"), "–"),
    ],
)
def test_numbers_follow_the_language_of_the_case(shown: str, expected: str) -> None:
    """CLDR patterns: sign, decimal mark, thousands mark and currency sign in their places."""
    assert shown == expected
