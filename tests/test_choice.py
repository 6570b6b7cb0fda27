"""Tornado, grid, steps and flips: each agrees with the case run by hand."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

import farmcase as fc
from farmcase.choice.flips import flips
from farmcase.choice.increments import increment, increments
from farmcase.inputs.case import Case
from farmcase.inputs.table import input_table
from farmcase.model.cost_rows import cost_rows
from farmcase.money.returns import npv
from farmcase.output import choice_tables
from farmcase.risk.grid import price_yield_grid
from farmcase.risk.levers import common_levers
from farmcase.risk.tornado import Tornado, tornado

ROOT = Path(__file__).resolve().parents[1]
CASES = sorted(p for p in (ROOT / "data" / "cases").iterdir() if p.is_dir())
CASES.append(ROOT / "tests" / "small_case")


@pytest.fixture(scope="module", params=CASES, ids=lambda path: path.name)
def case(request: pytest.FixtureRequest) -> Case:
    """Each case in turn, one step an hour: what is shown here does not hang on the step."""
    return fc.open_case(request.param).vary({"site.steps_per_hour": 1})


EVERY = 10_000  # rows kept: all of them


@lru_cache(maxsize=8)
def tornado_of(case: Case, measure: str) -> Tornado:
    """A tornado with every row, run once for all tests of a case."""
    return tornado(case, measure, most=EVERY)


def rerun(case: Case, measure: str) -> None:
    """Put the widest rows into the case at low and at high, and compare with what they say."""
    found = tornado_of(case, measure)
    table = input_table(case)
    for row in found.table.groupby("build").head(4).to_dict("records"):
        paths = found.members[str(row["path"])]
        for end in ("low", "high"):
            varied = case.vary({path: getattr(table[path], end) for path in paths})
            alone = fc.evaluate(varied)[str(row["build"])].measure(measure)
            assert alone == pytest.approx(float(row[f"at_{end}"]), rel=1e-9, abs=1e-6)


def test_a_tornado_row_rerun_by_hand_gives_its_two_ends(case: Case) -> None:
    """The widest rows, put into the case at low and at high, give what the row says."""
    rerun(case, "npv")


@pytest.mark.parametrize("measure", ["output_kg_per_year", "lowest_cash"])
def test_a_tornado_of_another_measure_rerun_by_hand(small_case: Case, measure: str) -> None:
    """Kilograms and cash too."""
    rerun(small_case.vary({"site.steps_per_hour": 1}), measure)


def test_every_uncertain_input_is_in_the_tornado(case: Case) -> None:
    """Rows are all inputs with a range, once each, the widest first."""
    found = tornado_of(case, "npv")
    members = [path for group in found.members.values() for path in group]
    uncertain = [path for path, row in input_table(case).items() if row.low < row.high]
    assert sorted(members) == sorted(uncertain)
    for build in case.builds:
        rows = found.table[found.table["build"] == build]
        assert (np.diff(rows["spread"]) <= 0).all()


def test_rows_left_out_are_counted(small_case: Case) -> None:
    """What a short tornado leaves out is what the whole one has more."""
    one_step = small_case.vary({"site.steps_per_hour": 1})
    found, whole = tornado(one_step, most=10), tornado_of(one_step, "npv")
    for build in one_step.builds:
        rows = whole.table[whole.table["build"] == build]
        left_out = rows["spread"].to_numpy()[10:]
        assert found.tail[build][1] == pytest.approx(left_out.sum(), rel=1e-12)
        assert found.tail[build][0] == (left_out > 0).sum()


def test_ungrouped_rows_are_one_input_each(small_case: Case) -> None:
    """Without groups a row holds one input, with what a build changes of it."""
    one_step = small_case.vary({"site.steps_per_hour": 1})
    found = tornado(one_step, grouped=False, most=10_000)
    for key, paths in found.members.items():
        assert {path.split(".with.")[-1] for path in paths} == {key}


def test_the_grid_is_the_case_at_its_corners(case: Case) -> None:
    """A corner of the map, put into the case, has the worth that the map says."""
    grid = price_yield_grid(case, steps=3)
    levers = common_levers(case)
    for row in (grid.iloc[0], grid.iloc[-1]):
        varied = case.vary(
            {
                **levers["price"].scaled(float(row["price_scale"])),
                **levers["yield"].scaled(float(row["yield_scale"])),
            }
        )
        alone = fc.evaluate(varied)[str(row["build"])].measure("npv")
        assert alone == pytest.approx(float(row["npv"]), rel=1e-9)


def test_a_flip_put_back_makes_the_two_choices_equal_to_the_cent(case: Case) -> None:
    """At the scale of a flip the choice below and the choice above are worth the same."""
    found = flips(case)
    levers = common_levers(case)
    assert found.found
    for flip in found.found:
        outcome = fc.evaluate(case.vary(levers[flip.lever].scaled(flip.scale)))
        worth = [outcome[b].measure("npv") if b else 0.0 for b in (flip.below, flip.above)]
        assert abs(worth[0] - worth[1]) < 0.005
        best = max(0.0, *(build.measure("npv") for build in outcome.values()))
        assert worth[0] == pytest.approx(best, abs=0.005)


def test_the_choice_is_what_the_flips_say_on_either_side(case: Case) -> None:
    """A little below and above a flip the best choice is the one named."""
    levers = common_levers(case)
    for flip in flips(case).found:
        for step, named in ((-1e-4, flip.below), (1e-4, flip.above)):
            varied = case.vary(levers[flip.lever].scaled(flip.scale + step))
            assert choice_tables.best_build(fc.evaluate(varied)) == named


def test_a_lever_that_never_changes_the_choice_is_named(case: Case) -> None:
    """Every lever either has a flip or is said to have none in the range tried."""
    found = flips(case)
    named = {flip.lever for flip in found.found} | {lever.name for lever in found.never}
    assert named == set(common_levers(case))


def test_the_steps_add_up(case: Case) -> None:
    """Worth of the steps from carrying on upwards adds up to the worth of the dearest build."""
    outcome = fc.evaluate(case)
    steps = increments(outcome)
    dearest = steps[-1].dearer
    assert sum(s.npv for s in steps) == pytest.approx(outcome[dearest].measure("npv"), abs=1e-6)
    assert sum(s.money_needed for s in steps) == pytest.approx(
        outcome[dearest].measure("money_needed"), abs=1e-6
    )


def test_an_internal_rate_of_a_step_makes_it_worth_nothing(case: Case) -> None:
    """At its internal rate the difference of two flows has a present value of nil."""
    outcome = fc.evaluate(case)
    names = list(outcome)
    step = increment(outcome, names[0], names[1])
    flow = outcome[names[1]].monthly["project_flow"] - outcome[names[0]].monthly["project_flow"]
    if step.irr_count == 1:
        assert abs(float(npv(step.irr, flow.to_numpy()))) < 0.005 * 10
    else:
        assert np.isnan(step.irr)


def test_cost_rows_add_up_to_the_ledger(case: Case) -> None:
    """Without price rises the rows of the settled year are the lines of the ledger."""
    flat = case.vary({f"inflation.{n}": 0.0 for n in ("general", "substrate", "energy", "wages")})
    lines = {
        "substrate": ["substrate"],
        "work": ["wages", "own_work"],
        "energy": ["energy"],
        "water": ["water"],
        "overheads": ["overheads"],
    }
    for build in fc.evaluate(flat).values():
        rows = cost_rows(build)
        for part, names in lines.items():
            booked = -sum(build.ledger.lines[n][0, build.measurer.year.months].sum() for n in names)
            listed = sum(row.amount for row in rows if row.part == part)
            capacity = any(
                c.capacity_charge_per_kw_month.likely for c in build.inputs.case.carriers.values()
            )
            if part != "energy" or not capacity:
                assert listed == pytest.approx(booked, rel=1e-9, abs=1e-6), part
