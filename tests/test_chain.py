"""The chain from rooms to kilograms: what each kind of substrate and each limit does."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import farmcase as fc
from farmcase.inputs.case import Case

DEMO = Path(__file__).resolve().parents[1] / "data" / "cases" / "harbour_coop"


@pytest.fixture(scope="module")
def demo() -> Case:
    """The demonstration case."""
    return fc.open_case(DEMO)


def _of_steady_pace(case: Case) -> Case:
    """The case with crops whose pace does not go by the air, so that none slows another by it."""
    steady = {"fruit_stop_c": -20.0, "fruit_reference_c": -10.0, "pin_slowest_share": 1.0}
    return case.vary(
        {
            f"crops.{crop}.{name}": {"low": value, "likely": value, "high": value}
            for crop in case.crops
            for name, value in steady.items()
        }
    )


def _bought(case: Case, source: str) -> Case:
    """The case with its straw recipe bought instead of made."""
    return case.vary({f"substrate.{row}.substrate_source": source for row in case.substrate})


def test_substrate_bought_ready_to_spawn_needs_no_vessel(demo: Case) -> None:
    """No heat treatment, no work of preparing; the spawn run stays."""
    own = fc.evaluate(demo)["self_build"]
    bought = fc.evaluate(_bought(demo, "ready_to_spawn"))["self_build"]
    assert bought.physical.prepared.sum() == 0
    assert bought.physical.spawned.sum() == pytest.approx(bought.physical.started.sum())
    heat = own.physical.end_uses.index("heat_treatment")
    assert own.physical.energy_kwh[:, :, heat].sum() > 0
    assert bought.physical.energy_kwh[:, :, heat].sum() == 0
    assert bought.measure("own_hours_per_week") < own.measure("own_hours_per_week")
    assert bought.physical.lost.sum() > 0


def test_substrate_bought_ready_to_fruit_skips_the_spawn_run(demo: Case) -> None:
    """Nothing stands in the spawn run, nothing is lost there, picking begins sooner."""
    own = fc.evaluate(demo)["self_build"]
    bought = fc.evaluate(_bought(demo, "ready_to_fruit"))["self_build"]
    assert bought.physical.spawned.sum() == 0
    assert bought.physical.lost.sum() == 0
    first_month = own.inputs.start
    sooner, later = (b.monthly["picked_kg"].iloc[first_month] for b in (bought, own))
    assert sooner > 2 * later


def test_units_that_fail_on_arrival_are_lost(small_case: Case) -> None:
    """A bought-in block that fails is counted as lost and gives nothing."""
    blocks = [i for i, row in small_case.substrate.items() if row.role == "block"]
    assert blocks
    failing = small_case.vary({f"substrate.{i}.failed_share": 0.2 for i in blocks})
    for before, after in zip(
        fc.evaluate(small_case).values(), fc.evaluate(failing).values(), strict=True
    ):
        if before.physical.spawned.sum() < before.physical.started.sum():
            assert after.physical.lost.sum() > before.physical.lost.sum()


@pytest.mark.parametrize(
    ("changes", "limit"),
    [
        ({"starts.wanted_units_per_week": 10.0}, "wanted"),
        ({"vessels.bath.batches_per_week": 0.3}, "vessel"),
        ({"starts.hours_available_per_week": 8.0}, "hours"),
        ({"rooms.cold_room.kg_per_place": 0.6}, "cold_store"),
        ({"rooms.spawn_room.rack_levels": 1}, "spawn_run_places"),
        ({}, "fruiting_places"),
    ],
)
def test_the_tightest_limit_is_named(demo: Case, changes: dict[str, float], limit: str) -> None:
    """Each limit in turn, made tight, is the one that is named, and lowers the starts."""
    base = fc.evaluate(demo)["self_build"]
    tight = fc.evaluate(demo.vary(changes))["self_build"]
    assert tight.tightest_limit == limit
    assert tight.physical.started.sum() <= base.physical.started.sum() * (1 + 1e-12)


def test_small_demand_limits_the_starts(demo: Case) -> None:
    """With every outlet taking little, demand is named and little is left over."""
    little = demo.vary({f"sales.{i}.most_kg_per_week": 3.0 for i in demo.sales})
    build = fc.evaluate(little)["self_build"]
    assert build.tightest_limit == "demand"


def test_the_vessel_holds_back_only_what_it_treats(small_case: Case) -> None:
    """With a tiny vessel, bought-in blocks are still started as before."""
    steady = _of_steady_pace(small_case)
    vessel = next(iter(steady.vessels))
    tiny = steady.vary({f"vessels.{vessel}.batches_per_week": 0.05})
    for before, after in zip(fc.evaluate(steady).values(), fc.evaluate(tiny).values(), strict=True):
        made = before.physical.prepared.sum((0, 2)) > 0
        started = after.physical.started.sum((0, 2))
        assert (started[~made] >= before.physical.started.sum((0, 2))[~made] * (1 - 1e-9)).all()
        assert (started[made] < before.physical.started.sum((0, 2))[made]).all()


def test_the_spawn_run_holds_back_only_what_passes_through_it() -> None:
    """With few places for the spawn run, bought-in blocks are started as before."""
    case = _of_steady_pace(fc.open_case(DEMO.parent / "orchard_valley"))
    few = case.vary({"rooms.spawn_room.rack_levels": 1})
    before, after = (fc.evaluate(c)["own_fitout"].physical for c in (case, few))
    own = before.spawned.sum((0, 2)) > 0
    assert own.any() and not own.all()
    started = [p.started.sum((0, 2)) for p in (before, after)]
    assert (started[1][own] < started[0][own]).all()
    assert (started[1][~own] >= started[0][~own] * (1 - 1e-9)).all()


def test_slow_winters_show_in_kilograms(demo: Case) -> None:
    """Free-running rooms give less from January to March than the same rooms with a heater."""
    heater = {"heating": "heater", "heat_to_c": 14.0, "heat_kw": 12.0}
    paths = {f"climate.{r}.{n}": value for r in demo.plan for n, value in heater.items()}
    assert {demo.climate[room].heating for room in demo.plan} == {"none"}
    free, kept = (fc.evaluate(c)["self_build"].monthly for c in (demo, demo.vary(paths)))
    cold = free["date"].str[5:].isin(["01", "02", "03"]) & (free.index > 18)
    assert free["picked_kg"][cold].sum() < 0.85 * kept["picked_kg"][cold].sum()


def test_the_hottest_and_the_coldest_month_cost_kilograms(demo: Case) -> None:
    """A free-running room outside its band loses in both, against itself heated and cooled.

    Months are those of the room's own warmest and coldest mean; what is picked follows the air of
    the weeks before, so each is looked at with the month after it. The room grows the cool strain
    all year.
    """
    room, plant = "fruiting_2", {"heating": "heater", "heat_to_c": 14.0, "heat_kw": 12.0}
    plant |= {"cooling": "unit", "cool_to_c": 17.0, "cool_kw": 12.0, "rated_eer": 3.0}
    paths = {f"climate.{r}.{name}": value for r in demo.plan for name, value in plant.items()}
    free, kept = (fc.evaluate(c)["self_build"] for c in (demo, demo.vary(paths)))
    assert list(demo.plan[room].start_share_by_month) == ["grey_oyster"]
    crop = demo.crops["grey_oyster"]
    air = free.rooms[room]["air_temp_c"].iloc[8760:]
    in_month = pd.DatetimeIndex(air.index).month
    means = [float(air[in_month == month].mean()) for month in range(1, 13)]
    hottest, coldest = (means.index(extreme(means)) + 1 for extreme in (max, min))
    assert (air[in_month == hottest] > crop.pin_high_c.likely).mean() > 0.9
    assert (air[in_month == coldest] < crop.fruit_low_c.likely).mean() > 0.1
    start = free.inputs.start
    calendar = free.inputs.calendar[start + 12 : start + 24] + 1
    picked = [b.physical.dry_picked_kg[0, 0, :, 12:].sum(0) for b in (free, kept)]
    for month in (hottest, coldest):
        near = (calendar == month) | (calendar == month % 12 + 1)
        assert picked[0][near].sum() < 0.9 * picked[1][near].sum(), month


def test_a_build_may_change_the_crop_plan(demo: Case) -> None:
    """A profile of twelve months is one value under `with`, as any other."""
    path = "builds.turnkey.with.plan.fruiting_1.start_share_by_month"
    only = {"grey_oyster": [1.0] * 12}
    varied = demo.vary({path: only})
    plan = varied.for_build("turnkey").plan["fruiting_1"].start_share_by_month
    assert dict(plan) == {"grey_oyster": (1.0,) * 12}
    assert varied.for_build("self_build").plan["fruiting_1"] == demo.plan["fruiting_1"]


def test_given_output_needs_no_table_of_work(tmp_path: Path) -> None:
    """A published budget without a labour table runs, with no hours."""
    source = Path(__file__).parent / "published" / "oyster_house"
    for path in source.iterdir():
        if path.suffix in (".csv", ".toml") and path.name != "labour.csv":
            (tmp_path / path.name).write_bytes(path.read_bytes())
    build = fc.evaluate(fc.open_case(tmp_path))["poultry_house"]
    assert build.measure("labour_h_per_kg") == 0


def test_a_gate_delays_what_waits_for_it(demo: Case) -> None:
    """No row that names a gate is paid before it, the first starts come later, and it is said."""
    late = demo.vary({f"gates.{gate}.month": 9.0 for gate in demo.gates})
    early, outcome = fc.evaluate(demo), fc.evaluate(late)
    for name, build in outcome.items():
        table = build.inputs.timetable
        waiting = [i for i, row in build.inputs.case.capital.items() if row.gate]
        assert waiting
        assert min(table.payments[row][0][0] for row in waiting) >= 9
        assert table.start > early[name].inputs.timetable.start
        assert build.monthly["units_started"].iloc[: table.start].sum() == 0
        assert any("holds the first starts back" in said for said in outcome.remarks(name))


def test_a_grant_goes_into_profit_as_what_it_paid_for_is_written_off(demo: Case) -> None:
    """Depreciation is the same with and without; what is released keeps step with eligible rows.

    Eligible rows written off straight, by hand: the first month of use is the one after a row is
    ready, and a share of the grant follows each month's share of their cost.
    """
    none = demo.vary({f"grants.{grant}.share": 0.0 for grant in demo.grants})
    granted, plain = (fc.evaluate(case)["self_build"].ledger.lines for case in (demo, none))
    np.testing.assert_allclose(granted["depreciation"], plain["depreciation"], rtol=1e-12)
    claimed, released = granted["grant_claimed"][0], granted["grant_released"][0]
    assert claimed.sum() > 0 and not plain["grant_released"].any()
    assert released.sum() == pytest.approx(claimed.sum(), rel=1e-12)
    assert (released >= -1e-9).all()
    assert (released.cumsum() <= claimed.cumsum() + 1e-6).all()


def test_own_hours_of_building_above_those_there_are_named(demo: Case) -> None:
    """With one hour a week there, building asks for more, and the remark says so."""
    few = demo.vary({"own_work.hours_available_per_week": 1.0})
    assert any("hours to build reach" in said for said in fc.evaluate(few).remarks("self_build"))
