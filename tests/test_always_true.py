"""What must hold for any case, whatever its numbers; on the test case and the demonstration."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import farmcase as fc
from farmcase.inputs.case import Case
from farmcase.inputs.table import Input
from farmcase.model.lines import INVESTING, OPERATING
from farmcase.words.labels import MEASURES

ROOT = Path(__file__).resolve().parents[1]
CASES = {
    "small": ROOT / "tests" / "small_case",
    "harbour_coop": ROOT / "data" / "cases" / "harbour_coop",
}
ALL = list(MEASURES)
# Read from the case and shown, but moving no measure: some are used by a later floor, and the band
# of humidity counts the hours within it.
SHOWN_ONLY = (
    "standing.cash",
    "standing.debtors",
    "standing.stock",
    "standing.fixed_assets",
    "standing.creditors",
    "forced_sale_share",
    "standing.loan_rate_per_year",  # when the old loans end, not what they cost a year
    "overdraft_limit",
    "volume_response",
    "own_work.hours_available",
    "own_work.drawings",
    "fruit_humidity",
)


@pytest.fixture(scope="module", params=list(CASES))
def case(request: pytest.FixtureRequest) -> Case:
    """Each case in turn."""
    return fc.open_case(CASES[request.param])


@pytest.fixture(scope="module")
def outcome(case: Case) -> fc.Outcome:
    """Its run."""
    return fc.evaluate(case)


def test_units_started_are_lost_or_cleared(outcome: fc.Outcome) -> None:
    """Every unit started ends as harvested or lost, once the last is cleared."""
    for build in outcome.values():
        started = build.physical.started.sum()
        assert started > 0
        assert abs(build.physical.unit_residual[0]) < 1e-9 * started


def test_kilograms_picked_are_sold_lost_or_thrown_away(outcome: fc.Outcome) -> None:
    """Kilograms close from the monthly table and the store's shares alone."""
    for build in outcome.values():
        store = build.inputs.case.store
        kept = (1 - store.weight_loss_share_per_day.likely) ** store.days_held.likely
        kept *= 1 - store.bunching_loss_share.likely
        table = build.monthly
        out = table["sold_kg"] + table["unsold_kg"]
        np.testing.assert_allclose(table["picked_kg"] * kept, out, rtol=1e-12)


def test_months_add_to_years(outcome: fc.Outcome) -> None:
    """Flows of the years are those of their months; balances those of their last month."""
    for build in outcome.values():
        flows = ["sales", "project_flow", "sold_kg", "energy_kwh", "profit_before_tax"]
        for name in flows:
            assert build.yearly[name].sum() == pytest.approx(build.monthly[name].sum(), abs=1e-6)
        assert build.yearly["cash"].iloc[-1] == build.monthly["cash"].iloc[-1]


def test_lines_add_up_to_the_project_flow(outcome: fc.Outcome) -> None:
    """The project flow is its lines, and nothing else."""
    for build in outcome.values():
        lines = build.monthly[[*OPERATING, *INVESTING, "project_tax"]].sum(axis=1)
        np.testing.assert_allclose(lines, build.monthly["project_flow"], atol=1e-8)


def test_the_loan_ends_at_zero(outcome: fc.Outcome) -> None:
    """What is drawn is repaid, where the term ends within the horizon."""
    for build in outcome.values():
        loans = build.inputs.case.loans.values()
        if all(x.drawn_month + x.term_months < build.inputs.months for x in loans):
            assert build.monthly["loan_balance"].iloc[-1] == pytest.approx(0, abs=1e-9)


def _row(table: pd.DataFrame, row: object, build: str) -> np.ndarray:
    """The measures of one build in one row."""
    part = table[build]
    assert isinstance(part, pd.DataFrame)
    return part.to_numpy()[list(table.index).index(row)]


def _money_paths(case: Case) -> dict[str, float]:
    """Every money input with its likely value; exchange rates are no money."""
    return {
        path: row.likely
        for path, row in fc.input_table(case).items()
        if str(row.spec["unit"]).startswith("money") and not path.endswith("exchange_rate")
    }


def test_doubling_all_money_doubles_the_worth(case: Case) -> None:
    """Ceilings and limits included, twice the money is twice the npv."""
    doubled = case.vary({path: 2 * value for path, value in _money_paths(case).items()})
    before, after = fc.evaluate(case), fc.evaluate(doubled)
    for build in before:
        for measure in ("npv", "money_needed", "lowest_cash", "levelised_cost_per_kg"):
            expected = 2 * before[build].measure(measure)
            assert after[build].measure(measure) == pytest.approx(expected, rel=1e-11, abs=1e-6)
        for measure in ("payback_years", "irr", "break_even_output_kg_per_year"):
            same = before[build].measure(measure)
            assert after[build].measure(measure) == pytest.approx(same, rel=1e-9, nan_ok=True)


def test_profit_at_break_even_output_is_zero_to_the_cent(case: Case, outcome: fc.Outcome) -> None:
    """The yield of break-even, put back into the case, makes no profit and no loss."""
    found = 0
    for name, build in outcome.items():
        scale = float(build.measurer["break_even_yield_scale"][0])
        if not np.isfinite(scale):
            continue
        found += 1
        paths = _efficiency_paths(case, name)
        varied = fc.evaluate(case.vary({path: scale * value for path, value in paths.items()}))
        year = slice(build.inputs.start + 12, build.inputs.start + 24)
        # overdraft interest hangs on the years before and is left out of the break-even
        months = varied[name].monthly.iloc[year]
        profit = months["profit_before_tax"] - months["overdraft_interest"]
        assert abs(profit.sum()) < 0.005
        sold = varied[name].monthly["sold_kg"].iloc[year].sum()
        assert sold == pytest.approx(build.measure("break_even_output_kg_per_year"), rel=1e-9)
    assert found


def _efficiency_paths(case: Case, build: str) -> dict[str, float]:
    changed = case.builds[build].with_
    field = "biological_efficiency_share"
    paths = {f"crops.{c}.{field}": crop for c, crop in case.for_build(build).crops.items()}
    return {
        (f"builds.{build}.with.{p}" if p in changed else p): crop.biological_efficiency_share.likely
        for p, crop in paths.items()
    }


def test_profit_at_break_even_price_is_zero_to_the_cent(case: Case, outcome: fc.Outcome) -> None:
    """All prices scaled to the break-even price make no profit and no loss."""
    for name, build in outcome.items():
        sold = build.ledger.kilograms.filled.sold_kg[0][:, build.measurer.year.months].sum(-1)
        prices = np.array([row.price_per_kg.likely for row in build.inputs.case.sales.values()])
        mean = (sold * prices).sum() / sold.sum()
        scale = build.measure("break_even_price_per_kg") / mean
        table = {
            f"sales.{i}.price_per_kg": row.price_per_kg.likely * scale
            for i, row in build.inputs.case.sales.items()
        }
        varied = fc.evaluate(case.vary(table))[name]
        months = varied.monthly.iloc[build.measurer.year.months]
        assert abs((months["profit_before_tax"] - months["overdraft_interest"]).sum()) < 0.005


def test_level_price_at_the_cost_per_kilogram_is_worth_nothing(case: Case) -> None:
    """With sale costs set aside, selling all at the levelised cost has no worth before tax.

    The cost is in money of the start month (month 0), so each price is entered as what it was at
    the date of its prices: n months earlier, less by (1 + g)^(n/12).
    """
    plain = {}
    for i in case.sales:
        for name in ("fee_share", "packaging_per_kg", "delivery_per_kg", "payment_delay_days"):
            plain[f"sales.{i}.{name}"] = 0.0
    bare = case.vary(plain)
    for name, build in fc.evaluate(bare).items():
        cost = build.measure("levelised_cost_per_kg")
        prices = {i: cost / _risen(case, row.price_date) for i, row in case.sales.items()}
        level = bare.vary({f"sales.{i}.price_per_kg": price for i, price in prices.items()})
        at_cost = fc.evaluate(level)[name]
        flow = at_cost.ledger.lines["project_before_tax"][0]
        rate = case.money.discount_rate_per_year.likely
        worth = (flow / (1 + rate) ** (np.arange(flow.size) / 12)).sum()
        assert abs(worth) < 0.005


def _risen(case: Case, price_date: str) -> float:
    """What prices of sales have risen by from a date to month 0 of a case."""
    year, month = (int(part) for part in case.heading.start_month.split("-"))
    gap = 12 * (year - int(price_date[:4])) + month - 1 - int(price_date[5:7])
    return (1 + case.inflation.sales.likely) ** (gap / 12)


def test_many_equals_one_on_cases_written_and_reopened(case: Case, tmp_path: Path) -> None:
    """Each row of a table, written to a folder of its own, opened and evaluated, agrees."""
    table = _scenarios(case, rows=6)
    many = fc.evaluate_many(case, table, measures=ALL)
    for row in range(len(table)):
        values = dict(zip(table.columns, table.to_numpy()[row], strict=True))
        varied = case.vary({path: float(value) for path, value in values.items()})
        folder = fc.write_case(varied, tmp_path / f"row_{row}")
        alone = fc.evaluate(fc.open_case(folder)).measures()
        for build in alone.columns:
            expected = alone[build].to_numpy()
            np.testing.assert_allclose(_row(many, row, build), expected, rtol=1e-9)


def _scenarios(case: Case, rows: int) -> pd.DataFrame:
    """Every input of the case moved at once within its range, by a stated seed."""
    draw = np.random.default_rng(7)
    table = {}
    for path, row in fc.input_table(case).items():
        low, high = (row.low, row.high) if row.low < row.high else (row.likely, row.likely)
        table[path] = low + (high - low) * draw.random(rows)
    return pd.DataFrame(table)


def test_no_scenarios_give_the_base(case: Case, outcome: fc.Outcome) -> None:
    """A table without columns returns the base in every row."""
    many = fc.evaluate_many(case, pd.DataFrame(index=["a", "b"]), measures=ALL)
    for build in outcome:
        for row in ("a", "b"):
            base = outcome.measures()[build].to_numpy()
            np.testing.assert_array_equal(_row(many, row, build), base)


def test_rows_do_not_depend_on_the_table_they_stand_in(case: Case) -> None:
    """A row alone and the same row among 1,100 others agree bit for bit."""
    paths = [p for p, r in fc.input_table(case).items() if r.stage == "money"][:25]
    table = _scenarios(case, rows=1100)[paths]
    measures = ["npv", "payback_years", "lowest_cash", "break_even_output_kg_per_year"]
    whole = fc.evaluate_many(case, table, measures=measures)
    part = fc.evaluate_many(case, table.iloc[[3, 1050]], measures=measures)
    np.testing.assert_array_equal(part.to_numpy(), whole.iloc[[3, 1050]].to_numpy())


def test_every_field_moves_a_measure() -> None:
    """No kind of input is silently ignored: up or down, in one of the cases, it moves a measure.

    A limit that does not bind may move nothing upwards, a ceiling that is reached nothing
    upwards; halved or raised they do.
    """
    asked, moved = set(), set()
    cases = [_of_one_step(name) for name in CASES]
    flat_rate = {"vat.scheme": "farmer_flat_rate", "vat.flat_rate_share": 0.05}
    flat_rate["sales.wholesaler_grey.buyer_registered"] = True
    cases.append(_of_one_step("harbour_coop").vary(flat_rate))
    for case in cases:
        paths = [p for p in fc.input_table(case) if not any(part in p for part in SHOWN_ONLY)]
        asked |= {_field(path) for path in paths}
        # one path of each field first: most move, and the others need not be run
        left = [path for path in paths if _field(path) not in moved]
        moved |= {_field(path) for path in _that_move(case, _first_of_each(left))}
        left = [path for path in left if _field(path) not in moved]
        moved |= {_field(path) for path in _that_move(case, left)}
    assert sorted(asked - moved) == []


def _first_of_each(paths: list[str]) -> list[str]:
    """One path of each field: the last, since rows further down are less often changed."""
    return list({_field(path): path for path in paths}.values())


def _field(path: str) -> str:
    """Section and field of a path, whatever the record and the build."""
    parts = path.split(".with.")[-1].split(".")
    return f"{parts[0]}.{parts[-1]}"


def _of_one_step(name: str) -> Case:
    """A case with one step an hour, for what is run often and does not hang on the step."""
    return fc.open_case(CASES[name]).vary({"site.steps_per_hour": 1})


def _that_move(case: Case, paths: list[str]) -> list[str]:
    table = fc.input_table(case)
    rows = [(p, _up(table[p])) for p in paths] + [(p, _down(table[p])) for p in paths]
    base = pd.Series({path: table[path].likely for path in paths})
    scenarios = pd.DataFrame([base] * (len(rows) + 1))
    scenarios.index = pd.RangeIndex(len(rows) + 1)
    for i, (path, value) in enumerate(rows):
        scenarios.loc[i, path] = value
    found = fc.evaluate_many(case, scenarios, measures=ALL).to_numpy()
    close = np.isclose(found[:-1], found[-1], rtol=1e-12, atol=0, equal_nan=True)
    same = [bool(np.all(row)) for row in close]
    return [path for (path, _), idle in zip(rows, same, strict=True) if not idle]


def _up(row: Input) -> float:
    up = row.likely + 10 if row.unit == "°C" else row.likely * 1.3 + 0.05
    return min(up, row.spec["le"])


def _down(row: Input) -> float:
    down = row.likely - 10 if row.unit == "°C" else row.likely * 0.3
    return max(down, row.spec["ge"])


def test_drawings_move_their_own_view(case: Case, outcome: fc.Outcome) -> None:
    """What is drawn for own work counts in that view of own hours, and in no other."""
    more = fc.evaluate(case.vary({"own_work.drawings_per_month": 5000.0})).own_work()
    before = outcome.own_work()
    drawn = more.index.get_level_values(0) == "drawings"
    assert (more.to_numpy()[drawn][0] < before.to_numpy()[drawn][0]).all()
    np.testing.assert_array_equal(more.to_numpy()[~drawn], before.to_numpy()[~drawn])


@settings(max_examples=25, deadline=None, derandomize=True)
@given(factor=st.floats(1.01, 1.5))
def test_dearer_sales_are_never_worth_less(factor: float) -> None:
    """All prices up, npv up: the same kilograms are sold for more."""
    case = _of_one_step("small")
    table = {f"sales.{i}.price_per_kg": [r.price_per_kg.likely] for i, r in case.sales.items()}
    base = pd.DataFrame(table)
    both = pd.concat([base, base * factor], ignore_index=True)
    worth = fc.evaluate_many(case, both)
    assert (worth.iloc[1] > worth.iloc[0]).all()


def test_a_range_of_nothing_changes_nothing(case: Case) -> None:
    """Scenarios at the likely values equal the base run."""
    likely = {p: r.likely for p, r in fc.input_table(case).items() if ".with." not in p}
    base = fc.evaluate(case).measures()
    many = fc.evaluate_many(case, pd.DataFrame([likely]), measures=ALL)
    for build in base.columns:
        found = _row(many, 0, build)
        np.testing.assert_allclose(found, base[build].to_numpy(), rtol=1e-12)
