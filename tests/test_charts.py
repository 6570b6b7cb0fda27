"""Charts and floor plan: what a title says is computed again from the data, and all adds up."""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import farmcase as fc
from farmcase.climate.floorplan import BoxPlan, RoomPlan, lay_out_area
from farmcase.model.outcome import Outcome
from farmcase.model.settled_year import most_scale
from farmcase.model.shell import room_sizes
from farmcase.output import charts
from farmcase.output.break_even_chart import outputs_of
from farmcase.output.cost_charts import COST_LINES, capital_parts, cost_parts
from farmcase.output.map_chart import grid_arrays
from farmcase.output.plan_drawing import build_plan
from farmcase.output.regions import borders, refined, regions
from farmcase.output.theme import even_lines, number_locale
from farmcase.risk.grid import price_yield_grid
from farmcase.risk.levers import common_levers
from farmcase.risk.tornado import Tornado, tornado
from farmcase.words import charts as say
from farmcase.words.numbers import measure_text, money, month_of_year, percent, plain

TESTS = Path(__file__).resolve().parent
ROOT = TESTS.parent
FOLDERS = {
    "harbour_coop": ROOT / "data" / "cases" / "harbour_coop",
    "orchard_valley": ROOT / "data" / "cases" / "orchard_valley",
    "small_case": TESTS / "small_case",
}
NAMES = [name for name, folder in FOLDERS.items() if (folder / "case.toml").is_file()]


class Run:
    """A case with all that its charts are drawn from."""

    def __init__(self, name: str) -> None:
        self.case = fc.open_case(FOLDERS[name])
        self.outcome = fc.evaluate(self.case)
        self.tornado: Tornado = tornado(self.case)
        self.grid: pd.DataFrame = price_yield_grid(self.case)

    def charts(self) -> dict[str, Any]:
        """Every chart by name."""
        made: dict[str, Callable[[Outcome], Any]] = {
            "capital": charts.capital_chart,
            "cost": charts.cost_per_kg_chart,
            "harvest": charts.harvest_chart,
            "cash": charts.cumulative_cash_chart,
            "break_even": charts.break_even_chart,
        }
        found = {name: make(self.outcome) for name, make in made.items()}
        found["tornado"] = charts.tornado_chart(self.tornado, self.case)
        found["map"] = charts.price_yield_chart(self.grid, self.case)
        return found

    def pictures(self) -> dict[str, charts.Picture]:
        """Every chart and floor plan, drawn."""
        drawn = {name: charts.shown(chart) for name, chart in self.charts().items()}
        plans = {f"plan_{build}": charts.floor_plan(self.case, build) for build in self.case.builds}
        return {**drawn, **plans}


_RUNS: dict[str, Run] = {}


@pytest.fixture(params=NAMES)
def run(request: pytest.FixtureRequest) -> Run:
    """Each case in turn, run once."""
    if request.param not in _RUNS:
        _RUNS[request.param] = Run(request.param)
    return _RUNS[request.param]


def amount(run: Run, value: float, decimals: int = 0) -> str:
    """Money as titles write it."""
    return money(value, run.case.heading.currency, run.case.heading.locale, decimals)


def rows_with(chart: Any, *fields: str) -> Iterator[list[dict[str, Any]]]:
    """The data of a chart that hold all these fields."""
    for rows in chart.to_dict()["datasets"].values():
        if rows and set(fields) <= set(rows[0]):
            yield rows


def test_capital_parts_add_up_to_what_is_spent(run: Run) -> None:
    """Groups, own hours, contingency and gates are all the ledger spends, and the title says it."""
    chart = charts.capital_chart(run.outcome)
    title = charts.title_of(chart)
    for build in run.outcome.values():
        lines = build.ledger.lines
        names = ("capital", "own_build_work", "contingency", "gate_costs")
        spent = -sum(lines[name].sum() for name in names)
        parts = capital_parts(build)
        assert sum(parts.values()) == pytest.approx(spent, rel=1e-12)
        largest = max(parts, key=lambda part: parts[part])
        share = percent(parts[largest] / spent, run.case.heading.locale)
        said = f"{build.label} costs {amount(run, spent)} to set up"
        assert f"{said}, the largest part {largest.lower()} ({share})" in title


def test_cost_parts_add_up_to_the_cost_of_a_kilogram(run: Run) -> None:
    """The parts are `levelised_cost_per_kg`; it lies under the price exactly when npv is gained."""
    title = charts.title_of(charts.cost_per_kg_chart(run.outcome))
    for build in run.outcome.values():
        parts, price = cost_parts(build)
        cost = sum(parts.values())
        assert cost == pytest.approx(build.measure("levelised_cost_per_kg"), rel=1e-9)
        side = "below" if build.measure("npv") > 0 else "above"
        said = f"{build.label} costs {amount(run, cost, 2)} a kilogram, {side} its average price of"
        assert f"{said} {amount(run, price, 2)}" in title


def test_every_line_of_the_project_is_in_one_part_of_the_cost(run: Run) -> None:
    """All lines but sales, each once: their sum with sales is the project's flow before tax."""
    names = [line for lines in COST_LINES.values() for line in lines]
    assert len(names) == len(set(names)) and "sales" not in names
    lines = next(iter(run.outcome.values())).ledger.lines
    total = np.sum([lines[name] for name in ("sales", *names)], axis=0)
    assert np.allclose(total, lines["project_before_tax"], rtol=0, atol=1e-6)


@pytest.mark.parametrize("name", ["capital", "cost"])
def test_drawn_stairs_meet(run: Run, name: str) -> None:
    """Each bar begins where the one above it ends, and the last ends at the total."""
    panels = list(rows_with(run.charts()[name], "part", "start", "end", "kind"))
    assert len(panels) == len(run.case.builds)
    for rows in panels:
        parts = [row for row in rows if row["kind"] in ("more", "less", "none")]
        total = next(row for row in rows if row["kind"] == "total")
        assert parts[0]["start"] == 0 and total["start"] == 0
        for above, below in pairwise(parts):
            assert below["start"] == pytest.approx(above["end"], rel=1e-5, abs=1e-9)
        assert total["end"] == pytest.approx(parts[-1]["end"], rel=1e-5)
        assert sum(row["amount"] for row in parts) == pytest.approx(total["end"], rel=1e-5)


def test_harvest_title_names_the_months_of_most_and_least(run: Run) -> None:
    """Least and most picked of the settled year, and what finds no outlet."""
    title = charts.title_of(charts.harvest_chart(run.outcome))
    locale, unsold = run.case.heading.locale, list[float]()
    for build in run.outcome.values():
        start = build.inputs.start
        table = build.monthly.loc[start + 12 : start + 23]
        picked, dates = table["picked_kg"].to_numpy(float), list(table["date"])
        for i, word in ((int(picked.argmin()), "from"), (int(picked.argmax()), "to")):
            kilograms = plain(picked[i], locale)
            assert f"{word} {kilograms} kg in {month_of_year(dates[i], locale)}" in title
        left = float(table["unsold_kg"].sum())
        unsold.append(left)
        named = left > 0.01 * picked.sum()
        assert (f"{plain(left, locale)} kg a year ({build.label})" in title) == named
    assert (say.ALL_TAKEN in title) == (sum(unsold) < 0.5)


def test_harvest_data_are_those_of_the_outcome(run: Run) -> None:
    """Picked and sold of the two years drawn, to six digits; sold is never more than picked."""
    panels = list(rows_with(charts.harvest_chart(run.outcome), "picked", "sold", "limit"))
    for rows, build in zip(panels, run.outcome.values(), strict=True):
        start = build.inputs.start
        table = build.monthly.iloc[start : start + 24]
        assert [row["picked"] for row in rows] == pytest.approx(list(table["picked_kg"]), rel=1e-5)
        assert [row["sold"] for row in rows] == pytest.approx(list(table["sold_kg"]), rel=1e-5)
        assert all(row["sold"] <= min(row["picked"], row["limit"]) * 1.00001 for row in rows)


def test_break_even_title_agrees_with_the_measures(run: Run) -> None:
    """Where it breaks even, how far that is from what is expected, or that it never does."""
    title, locale = charts.title_of(charts.break_even_chart(run.outcome)), run.case.heading.locale
    for build in run.outcome.values():
        at, expected = (
            build.measure(m) for m in ("break_even_output_kg_per_year", "output_kg_per_year")
        )
        if not np.isfinite(at):
            assert say.never_breaks_even(build.label) in title
            continue
        share, side = percent(abs(at / expected - 1), locale), "below" if at < expected else "above"
        assert f"breaks even at {plain(at, locale)} kg a year, {share} {side} the" in title


def test_possible_output_is_every_place_at_the_high_yield(run: Run) -> None:
    """What rooms could give: the saleable kilograms of the settled year times the most scale."""
    for build in run.outcome.values():
        found = outputs_of(build)
        saleable = build.ledger.kilograms.saleable[..., build.measurer.year.months].sum()
        scale = float(most_scale(build.measurer.year)[0])
        assert found.possible == pytest.approx(saleable * scale, rel=1e-12)
        assert found.taken <= found.possible * (1 + 1e-12) and scale >= 1
        assert found.expected <= found.taken * (1 + 1e-12)
        if np.isfinite(found.break_even):
            assert found.break_even <= found.taken * (1 + 1e-9)


def test_tornado_title_is_what_two_changed_cases_give(run: Run) -> None:
    """The widest bar of each build, run again as two scenarios."""
    title, locale = charts.title_of(run.charts()["tornado"]), run.case.heading.locale
    inputs = fc.input_table(run.case)
    for build, table in run.tornado.table.groupby("build", sort=False):
        assert table["spread"].is_monotonic_decreasing
        first = table.iloc[0]
        paths = run.tornado.members[str(first["path"])]
        ends = pd.DataFrame([{p: inputs[p].low for p in paths}, {p: inputs[p].high for p in paths}])
        found = fc.evaluate_many(run.case, ends, builds=[str(build)]).to_numpy()[:, 0]
        texts = [measure_text(v, "money", run.case.heading.currency, locale) for v in sorted(found)]
        assert str(first["label"]).lower() in title.lower()
        assert f"{texts[0]} to {texts[1]}" in title


def test_tornado_draws_every_row_once(run: Run) -> None:
    """One panel for each build with all its rows; texts stand at the ends they belong to."""
    panels = list(rows_with(run.charts()["tornado"], "label", "at_low", "at_high"))
    for rows, (_, table) in zip(
        panels, run.tornado.table.groupby("build", sort=False), strict=True
    ):
        assert len(rows) == len(table) == len({row["label"] for row in rows})
        for row, (_, source) in zip(rows, table.iterrows(), strict=True):
            assert row["at_low"] == pytest.approx(source["at_low"], rel=1e-5)
            assert row["at_high"] == pytest.approx(source["at_high"], rel=1e-5)
            assert row["right_at"] == min(row["at_low"], row["at_high"])
            assert row["left_at"] == max(row["at_low"], row["at_high"])
            if np.isnan(source["low"]) and row["right_at"] != row["left_at"]:
                low_first = row["at_low"] < row["at_high"]
                assert row["right_text"] == (say.LOW if low_first else say.HIGH)


def test_map_title_says_where_prices_change_the_choice(run: Run) -> None:
    """A little short of the change said the choice is that of the plan, a little past it is not."""
    title = charts.title_of(run.charts()["map"])
    names = [say.carry_on(), *(run.case.builds[b].label for b in run.case.builds)]
    price = common_levers(run.case)["price"]

    def best(scale: float) -> str:
        worth = fc.evaluate_many(run.case, pd.DataFrame([price.scaled(scale)])).to_numpy()[0]
        return names[int(np.argmax([0.0, *worth]))]

    here = best(1.0)
    assert title.startswith(f"{here} is best at the plan")
    said = re.findall(r"(?:, | and )([^,]+?) if all prices are about ([\d.,]+)\s%\s(\w+)", title)
    for then, number, word in said:
        change = float(number.replace(",", ".")) / 100 * (1 if word == "higher" else -1)
        towards = np.sign(change) * 0.011  # whole percent, read off a grid
        assert best(1 + change - towards) == here
        assert best(1 + change + towards) == then
    lowest, highest = run.grid["price_scale"].min(), min(1.4, price.most)
    assert len(said) == (best(lowest) != here) + (best(highest) != here)


def test_regions_of_the_map_are_where_each_choice_is_best(run: Run) -> None:
    """At every point of the grid the region drawn is that of the highest worth; ties aside."""
    prices, yields, worth = grid_arrays(run.grid, list(run.case.builds))
    fine = refined(prices, yields, worth, 81)
    pieces = pd.DataFrame(
        regions(*fine), columns=pd.Index(["left", "right", "y", "piece", "owner"])
    )
    for j, high in enumerate(yields[1:-1], 1):
        row = pieces[np.isclose(pieces["y"], high)]
        for i, scale in enumerate(prices[1:-1], 1):
            first, second = np.sort(worth[:, j, i])[::-1][:2]
            if first - second > 1e-6 * abs(worth).max():
                mine = row[(row["left"] <= scale) & (scale <= row["right"])]
                assert int(worth[:, j, i].argmax()) in set(mine["owner"].astype(int))
                assert len(set(mine["owner"])) == 1


def test_borders_lie_where_two_choices_are_worth_the_same() -> None:
    """On planes the borders are exact: x = 1 between nil and x - 1, x + y = 3 against x + y - 3."""
    side = np.linspace(0.0, 4.0, 9)
    x, y = np.meshgrid(side, side)
    for plane, on_border in (
        (x - 1.1, lambda a, _: a - 1.1),
        (x + y - 3.3, lambda a, b: a + b - 3.3),
    ):
        lines = borders(side, side, np.stack([np.zeros(x.shape), plane]))
        assert len(lines) >= 8
        for left, right, low, high, *_ in lines:
            assert on_border(left, low) == pytest.approx(0, abs=1e-12)
            assert on_border(right, high) == pytest.approx(0, abs=1e-12)


def test_every_choice_on_the_map_is_named_in_it(run: Run) -> None:
    """Each region of some size has its name inside, on one line or broken into several."""
    chart = run.charts()["map"]
    prices, yields, worth = grid_arrays(run.grid, list(run.case.builds))
    best = refined(prices, yields, worth, 81)[2].argmax(0)
    names = [say.carry_on(), *(build.label for build in run.outcome.values())]
    texts = {
        row["name"].replace("\n", " ")
        for rows in rows_with(chart, "x", "y", "name")
        for row in rows
    }
    for k, name in enumerate(names):
        if (best == k).mean() > 0.05:
            assert name in texts


def test_every_axis_has_a_unit(run: Run) -> None:
    """Each axis of numbers says once what it shows and, in brackets, in which unit."""
    for name, chart in run.charts().items():
        svg = charts.shown(chart).svg
        titled = re.findall(r"[XY]-axis(?: titled '([^']*)')? for a linear scale", svg)
        assert titled, name
        for title in titled:
            assert re.fullmatch(r"[A-Z][^,(]*\([^()]+\)", title), (name, title)


def test_chart_data_have_at_most_six_digits(run: Run) -> None:
    """So that no picture hangs on the last bits of a sum."""
    for name, chart in run.charts().items():
        for rows in chart.to_dict()["datasets"].values():
            for value in (v for row in rows for v in row.values() if isinstance(v, float)):
                assert value == pytest.approx(float(f"{value:.6g}"), rel=1e-12, nan_ok=True), name


def digests(name: str) -> dict[str, str]:
    """A fingerprint of every picture of a case."""
    pictures = Run(name).pictures()
    return {key: hashlib.sha256(p.svg.encode()).hexdigest() for key, p in pictures.items()}


def test_pictures_are_the_same_twice_and_in_another_process() -> None:
    """The same case gives the same bytes."""
    code = "import test_charts, json; print(json.dumps(test_charts.digests('small_case')))"
    command = [sys.executable, "-c", code]
    other = subprocess.run(command, cwd=TESTS, capture_output=True, text=True, check=True)
    here = digests("small_case")
    assert here == digests("small_case")
    assert here == json.loads(other.stdout)


def plans(run: Run) -> Iterator[tuple[str, BoxPlan]]:
    """Every box of every build."""
    for build in run.case.builds:
        for box in build_plan(run.case, build):
            yield build, box


def test_places_drawn_are_the_places_counted(run: Run) -> None:
    """Room by room, and as rectangles in the picture."""
    for build in run.case.builds:
        counted = room_sizes(run.case.for_build(build))
        boxes = build_plan(run.case, build)
        drawn = {room.name: room for box in boxes for room in box.rooms}
        assert drawn.keys() == counted.keys()
        for name, room in drawn.items():
            assert room.places_counted == counted[name].places, name
            assert room.floor.length_m == pytest.approx(counted[name].length_m)
            assert room.floor.width_m == pytest.approx(counted[name].width_m)
        svg = charts.floor_plan(run.case, build).svg
        assert svg.count('class="place"') == sum(len(room.places) for room in drawn.values())


def test_everything_lies_inside_what_holds_it(run: Run) -> None:
    """Places on racks, racks in rooms, rooms in the box, none across another."""
    for _, box in plans(run):
        assert box.outside.holds(box.inside)
        for room in box.rooms:
            assert box.inside.holds(room.floor)
            for rack in room.racks:
                assert room.floor.holds(rack)
            for place in room.places:
                assert any(rack.holds(place) for rack in room.racks)
            assert not any(overlap(a, b) for a, b in pairs(room.racks))
            assert not any(overlap(a, b) for a, b in pairs(room.places))
        assert not any(overlap(a.floor, b.floor) for a, b in pairs(box.rooms))


def pairs(things: tuple[Any, ...]) -> Iterator[tuple[Any, Any]]:
    """Every two of them."""
    return ((a, b) for i, a in enumerate(things) for b in things[i + 1 :])


def overlap(a: Any, b: Any) -> bool:
    """Whether two boxes share more than an edge."""
    along = min(a.x_m + a.length_m, b.x_m + b.length_m) - max(a.x_m, b.x_m)
    across = min(a.y_m + a.width_m, b.y_m + b.width_m) - max(a.y_m, b.y_m)
    return along > 1e-6 and across > 1e-6


def test_the_end_with_the_door_is_kept_free(run: Run) -> None:
    """No rack within the length kept free at the door, and the aisle is as wide as entered."""
    for build, box in plans(run):
        rooms = run.case.for_build(build).rooms
        for room in (room for room in box.rooms if room.racks):
            entered = rooms[room.name]
            for rack in room.racks:
                assert free_end(room, rack) == pytest.approx(entered.end_clearance_m)
            if not box.is_area:
                assert room.aisle is not None
                assert room.aisle.width_m >= entered.aisle_m - 1e-9
                assert room.doorway is not None and box.outside.holds(room.doorway)


def free_end(room: RoomPlan, rack: Any) -> float:
    """Length between the end with the door and a rack."""
    if room.door == "left":
        return rack.x_m - room.floor.x_m
    return room.floor.x_m + room.floor.length_m - rack.x_m - rack.length_m


def test_a_covered_area_is_a_square_of_its_area() -> None:
    """And has no places without racks."""
    plan = lay_out_area("roof", 24.0)
    assert plan.is_area and plan.outside.length_m**2 == pytest.approx(24.0)
    assert plan.rooms[0].places_counted == 0 and plan.rooms[0].door == ""


def test_axes_write_numbers_in_the_language_of_the_case(small_case: fc.Case) -> None:
    """A German case has points between thousands, on axes as in words."""
    assert number_locale("de_DE")["thousands"] == "." and number_locale("de_DE")["decimal"] == ","
    assert number_locale("en_IN")["grouping"][:3] == [3, 2, 2]
    outcome = fc.evaluate(small_case.vary({"locale": "de_DE"}))
    svg = charts.shown(charts.cumulative_cash_chart(outcome)).svg
    assert ">20.000<" in svg and ">20,000<" not in svg


def test_titles_are_broken_into_even_lines() -> None:
    """No line over the width, no word lost, no last line of one word where two can share."""
    text = "Fit it out ourselves is paid back after 2.8 years; Buy a finished unit after 2.3 years"
    lines = even_lines(text, 80)
    assert " ".join(lines) == text and len(lines) == 2
    assert max(map(len, lines)) - min(map(len, lines)) < 15


def test_a_build_that_never_breaks_even_is_drawn(small_case: fc.Case) -> None:
    """No line of break-even, words instead, and the same in the title."""
    paths = {
        f"sales.{i}.price_per_kg": row.price_per_kg.likely / 10
        for i, row in small_case.sales.items()
    }
    outcome = fc.evaluate(small_case.vary(paths))
    picture = charts.shown(charts.break_even_chart(outcome))
    assert say.NEVER_BREAKS_EVEN in picture.svg
    assert "does not break even at any yield" in picture.title
    assert "is not paid back" in charts.title_of(charts.cumulative_cash_chart(outcome))
