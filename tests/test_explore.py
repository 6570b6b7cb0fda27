"""Ways to build: every row is the case run by hand, and the front is what no other row beats."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_array_equal

import farmcase as fc
from farmcase.choice.explore import Explored, axis_labels, explore, front
from farmcase.choice.ways import MOST_COMBINATIONS
from farmcase.inputs.case import Case
from farmcase.output import charts
from farmcase.output.explore_chart import distinct_ways, key_lines
from farmcase.words import explore as say
from farmcase.words.numbers import money

ROOT = Path(__file__).resolve().parents[1]
LEVELS = "rooms.fruiting_1.rack_levels"
LINING = "rooms.fruiting_1.insulation_m"
WANTED = "starts.wanted_units_per_week"
RATE = "money.discount_rate_per_year"
INSULATION = {
    "none": {"capital.pir_boards.quantity": 0.0, "plan.fruiting_1.pace_scale": 0.8},
    "50 mm": {},
    "100 mm": {"capital.pir_boards.unit_cost": 60.0, "plan.fruiting_1.pace_scale": 1.15},
}
VALUES: dict[str, Any] = {"Insulation": INSULATION, LEVELS: [3, 4], WANTED: [40.0, 70.0]}


@pytest.fixture(scope="module")
def case() -> Case:
    """The harbour demonstration: two builds, one of which changes much of the base."""
    return fc.open_case(ROOT / "data" / "cases" / "harbour_coop")


@pytest.fixture(scope="module")
def explored(case: Case) -> Explored:
    """Insulation with its cost, racks and starts: 12 combinations, two builds."""
    return explore(case, VALUES)


def by_hand(case: Case, changes: dict[str, Any], build: str) -> fc.Outcome:
    """The case with changes, and with what one build changes of the same inputs."""
    kept = case.builds[build].with_
    own = {f"builds.{build}.with.{p}": v for p, v in changes.items() if p in kept}
    return fc.evaluate(case.vary({**changes, **own}))


def test_every_row_is_the_case_run_by_hand(case: Case, explored: Explored) -> None:
    """Each combination put into the case gives the row's measures, and its cost to build."""
    table = explored.table
    assert list(table["build"]) == [b for b in case.builds for _ in range(12)]
    combinations = list(product(INSULATION, [3, 4], [40.0, 70.0]))
    for build in case.builds:
        rows = table[table["build"] == build]
        assert [tuple(row) for row in rows[explored.names].to_numpy()] == combinations
    for row in table.iloc[[0, 3, 6, 11, 12, 17, 23]].to_dict("records"):
        changes = {**INSULATION[row["Insulation"]], LEVELS: row[LEVELS], WANTED: row[WANTED]}
        alone = by_hand(case, changes, row["build"])[row["build"]]
        for name in ("npv", "energy_kwh_per_kg", "output_kg_per_year", "payback_years"):
            assert row[name] == pytest.approx(alone.measure(name), rel=1e-9, nan_ok=True)
        lines = alone.ledger.lines
        spent = [lines[n].sum() for n in ("capital", "own_build_work", "contingency", "gate_costs")]
        assert row["capital"] == pytest.approx(-sum(spent), rel=1e-12)
        assert row["fault"] == ""


def test_nothing_varied_is_the_case_itself(case: Case) -> None:
    """No columns, one row for each build; and one build alone if only that is wanted."""
    table = explore(case, {}).table
    outcome = fc.evaluate(case)
    assert list(table["build"]) == list(case.builds)
    assert table["npv"].to_numpy() == pytest.approx([b.measure("npv") for b in outcome.values()])
    one = explore(case, {RATE: [0.04]}, builds=["turnkey"]).table
    assert list(one["build"]) == ["turnkey"]


def test_the_door_of_the_package() -> None:
    """fc.explore is this one."""
    assert fc.explore is explore


# The front.


def beaten(cost: np.ndarray, worth: np.ndarray, i: int) -> bool:
    """Whether another point costs no more and is worth no less, one of the two truly."""
    return any(
        cost[j] <= cost[i] and worth[j] >= worth[i] and (cost[j] < cost[i] or worth[j] > worth[i])
        for j in range(len(cost))
    )


@pytest.mark.parametrize("seed", range(5))
def test_the_front_against_all_pairs(seed: int) -> None:
    """Few values, so that there are many ties."""
    random = np.random.default_rng(seed)
    cost, worth = np.floor(8 * random.random(60)), np.floor(9 * random.random(60)) - 4
    expected = [not beaten(cost, worth, i) for i in range(60)]
    assert front(cost, worth).tolist() == expected
    gains = [on and w > 0 for on, w in zip(expected, worth, strict=True)]
    assert front(cost, worth, 0.0).tolist() == gains


def test_points_without_a_number_are_not_on_the_front() -> None:
    """Nor do they beat any."""
    cost = np.array([1.0, np.nan, 0.5, 2.0])
    worth = np.array([1.0, 9.0, np.nan, 2.0])
    assert front(cost, worth).tolist() == [True, False, False, True]


def test_carrying_on_is_one_of_the_others(case: Case, explored: Explored) -> None:
    """All that is on the front is worth more than nil, and nothing that beats it was tried."""
    table = explored.table
    on = table[table["on_front"]]
    assert len(on) and (on["npv"] > 0).all()
    for row in on.to_dict("records"):
        cheaper = table[table["capital"] <= row["capital"]]
        assert cheaper["npv"].max() == row["npv"]
    assert not explore(case, {WANTED: [10.0]}).table["on_front"].any()


def test_less_is_better_where_it_is(case: Case) -> None:
    """Cost of a kilogram: the front goes down as capital goes up."""
    table = explore(case, VALUES, measure="levelised_cost_per_kg").table
    on = table[table["on_front"]].sort_values("capital")
    assert (np.diff(on["levelised_cost_per_kg"]) <= 0).all()
    assert table["levelised_cost_per_kg"].min() == on["levelised_cost_per_kg"].min()


# Faults.


def test_faults_are_listed_at_once(case: Case) -> None:
    """Paths that lead nowhere and values outside their limits, each in a sentence."""
    values: dict[str, Any] = {
        "rooms.nowhere.insulation_m": [0.1],
        LINING: [5, 0.1],
        "vessels.bath.treatment": ["boil"],
        "Water": {"wet": {"crops.grey_oyster.moisture_share": 2}},
        "builds.turnkey.with.rooms.fruiting_1.no_such": [1],
    }
    with pytest.raises(fc.CaseError) as caught:
        explore(case, values)
    said = str(caught.value)
    assert len(caught.value.faults) == 5
    for part in (
        "rooms.nowhere.insulation_m",
        "is 5; allowed is 0 to 0.4",
        "'boil'",
        "2 %",
        "no_such",
    ):
        assert part in said


def test_unknown_names_are_said(case: Case) -> None:
    """A build or a measure that is not there, with those that are."""
    with pytest.raises(fc.NotFoundError, match="no build 'shed'; known are self_build, turnkey"):
        explore(case, {RATE: [0.04]}, builds=["shed"])
    with pytest.raises(fc.NotFoundError, match="not weighed by 'irr_count'; known are npv"):
        explore(case, {RATE: [0.04]}, measure="irr_count")


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({WANTED: []}, "has no values to try"),
        ({WANTED: range(1, MOST_COMBINATIONS + 2)}, "make 2,001 combinations, and at most 2,000"),
        ({WANTED: [40], "Pace": {"slow": {WANTED: 30}}}, "is set by .* and by 'Pace'"),
    ],
)
def test_what_cannot_be_explored_is_said(case: Case, values: dict[str, Any], said: str) -> None:
    """Nothing to try, too much, or one input in two columns."""
    with pytest.raises(fc.FarmcaseError, match=said):
        explore(case, values)


def test_a_combination_that_does_not_fit_keeps_the_table(case: Case) -> None:
    """A lining of 0.3 m leaves too little room for two rows of racks; the other rows stand."""
    found = explore(case, {LINING: [0.06, 0.3], WANTED: [40.0, 54.0]})
    table = found.table
    bad = table[LINING] == 0.3
    assert (table.loc[bad, "fault"].str.contains("take fewer rows")).all()
    assert table.loc[bad, ["capital", "npv", "energy_kwh_per_kg"]].isna().all(axis=None)
    assert not table.loc[bad, "on_front"].any()
    good = table[~bad]
    assert (good["fault"] == "").all() and good[["capital", "npv"]].notna().all(axis=None)
    assert "Not drawn: 4 rows" in str(charts.explore_chart(found).to_dict()["title"]["subtitle"])


def test_what_one_build_cannot_do_another_may(case: Case) -> None:
    """Half the box for one room: with a lobby it is too long, without one it fits."""
    table = explore(case, {"rooms.fruiting_1.length_share": [0.5]}).table
    row = {str(row["build"]): row for row in table.to_dict("records")}
    assert "share at most 1" in row["self_build"]["fault"]
    assert row["turnkey"]["fault"] == ""
    path = "builds.turnkey.with.rooms.fruiting_1.length_share"
    alone = fc.evaluate(case.vary({path: 0.5}))["turnkey"]
    assert row["turnkey"]["npv"] == pytest.approx(alone.measure("npv"), rel=1e-9)


# Labels and chart.


def test_labels_are_those_of_the_inputs(explored: Explored) -> None:
    """Label and unit of numbers and of plain fields; a heading is its own."""
    assert axis_labels(explored) == {
        "Insulation": ("Insulation", ""),
        LEVELS: ("rack levels, Fruiting room 1", "levels"),
        WANTED: ("units wanted per week, starts", "units/week"),
    }


def test_the_title_says_what_the_table_holds(case: Case, explored: Explored) -> None:
    """Number of ways, how many are on the front, and its ends, from the table alone."""
    table = explored.table
    ways = table.drop_duplicates(["build", "capital", "npv", "energy_kwh_per_kg"])
    on = ways[ways["on_front"]].sort_values("capital")
    heading = case.heading

    def said(row: Any) -> str:
        cost, worth = (money(row[n], heading.currency, heading.locale) for n in ("capital", "npv"))
        return f"{case.builds[row['build']].label} for {cost} ({worth})"

    title = charts.title_of(charts.explore_chart(explored))
    assert title == (
        f"{len(on)} of {len(ways)} ways to build are not beaten on both cost and net present "
        f"value: from {said(on.iloc[0])} to {said(on.iloc[-1])}"
    )


def test_where_nothing_pays_the_title_says_so(case: Case) -> None:
    """The least is lost with the way of highest worth."""
    found = explore(case, {WANTED: [10.0, 20.0]})
    best = found.table.sort_values("npv").to_dict("records")[-1]
    lost = money(best["npv"], case.heading.currency, case.heading.locale)
    title = charts.title_of(charts.explore_chart(found))
    assert title.startswith("None of 4 ways to build is worth more than nil, so carry on as now")
    assert f"{case.builds[best['build']].label} for" in title and title.endswith(f"({lost})")
    assert key_lines(distinct_ways(found)) == []


def test_all_that_is_no_valid_case_is_drawn_empty(case: Case) -> None:
    """No point, and the title says why."""
    chart = charts.explore_chart(explore(case, {LINING: [0.3, 0.35]}))
    assert charts.shown(chart).title == say.NONE_VALID


def test_what_does_not_touch_a_build_is_one_way(case: Case) -> None:
    """Boards are no row of the finished unit, so it has one way whatever they cost."""
    found = explore(case, {"capital.pir_boards.unit_cost": [20.0, 40.0, 60.0]})
    parts: dict[str, list[Any]] = {"self_build": [], "turnkey": []}
    for way in distinct_ways(found).to_dict("records"):
        parts[str(way["build"])].append(way["parts"])
    assert parts["turnkey"] == [()]
    labels = [label for way in parts["self_build"] for label, _ in way]
    assert len(labels) == 3
    assert all(label.startswith("Unit cost, PIR boards") for label in labels)


def test_every_way_is_drawn_once_and_the_front_is_numbered(explored: Explored) -> None:
    """Points of both panels are the distinct ways, with numbers from the cheapest up."""
    ways = distinct_ways(explored)
    data = charts.explore_chart(explored).to_dict()["datasets"].values()
    drawn = [rows for rows in data if rows and {"capital", "value", "number"} <= set(rows[0])]
    points = [row for rows in drawn for row in rows]
    hollow = [len(rows) for rows in drawn if rows[0]["number"] == 0]
    numbers = sorted({p["number"] for p in points} - {0})
    on = ways[ways["number"] > 0].sort_values("number")
    assert numbers == list(range(1, len(on) + 1))
    assert (np.diff(on["capital"]) >= 0).all() and (np.diff(on["npv"]) >= 0).all()
    assert hollow == [len(ways) - len(on)] * 2
    for value in (v for p in points for v in p.values() if isinstance(v, float)):
        assert value == float(f"{value:.6g}")


def test_the_key_names_each_way_of_the_front(explored: Explored) -> None:
    """What they share is said once, what differs with each."""
    ways = distinct_ways(explored)
    on = ways[ways["number"] > 0].sort_values("number")
    lines = key_lines(ways)
    assert [n for n, _ in lines if n] == [str(n) for n in on["number"]]
    text = " ".join(line for _, line in lines)
    assert text.count("units/week") == 1 and "All of them: Rack levels" in text
    for row in explored.table.loc[on.index].to_dict("records"):
        assert f"Insulation: {row['Insulation']}" in text


def test_the_picture_has_units_and_is_the_same_twice(explored: Explored) -> None:
    """Axes say what they show and in which unit; the same table gives the same bytes."""
    pictures = [charts.shown(charts.explore_chart(explored)) for _ in range(2)]
    assert pictures[0].svg == pictures[1].svg
    titled = re.findall(r"[XY]-axis(?: titled '([^']*)')? for a linear scale", pictures[0].svg)
    assert set(titled) == {
        "Cost to build (EUR)",
        "Net present value (EUR)",
        "Energy per kilogram (kWh/kg)",
    }


def test_values_read_as_words() -> None:
    """Numbers in the language of the case, choices without an underscore."""
    assert say.value_text(0.06, "m", "de_DE") == "0,06 m"
    assert say.value_text(True, "", "en_IE") == "yes"
    assert say.value_text("hot_water", "", "en_IE") == "hot water"
    assert say.value_text((1.0, 0.5), "share", "en_IE") == "1, 0.5"


def test_lists_by_month_can_be_explored(case: Case) -> None:
    """A value may be a list of twelve; the table holds it as it was given."""
    path = "climate.fruiting_1.closed_by_month"
    winter = np.zeros(12)
    winter[[0, 1, 11]] = 1.0
    found = explore(case, {path: [[0.0] * 12, winter]}, builds=["self_build"]).table
    assert_array_equal(np.array(found[path].tolist()), [[0.0] * 12, winter])
    assert found["output_kg_per_year"].iloc[0] > found["output_kg_per_year"].iloc[1]
