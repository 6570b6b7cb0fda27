"""Reading, varying, writing and starting a case, and the one table of its inputs."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import tomllib
from dataclasses import FrozenInstanceError
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

import farmcase as fc
from farmcase.__main__ import main
from farmcase.errors import CaseError, FarmcaseError, NotFoundError
from farmcase.inputs.case import Case
from farmcase.inputs.estimate import Estimate
from farmcase.inputs.files import format_number, parse_number
from farmcase.inputs.schema import NAMED, SINGLE, TABLES, model_of
from farmcase.inputs.starter import new_case, starter_folder
from farmcase.model.shell import room_sizes
from farmcase.words import labels
from farmcase.words.fields import FIELDS

ROOT = Path(__file__).resolve().parents[1]
SMALL_CASE = ROOT / "tests" / "small_case"
PRICE = "sales.farm_market.price_per_kg"
BOM = b"\xef\xbb\xbf"


def rows_of(table: str) -> list[list[str]]:
    """The cells of a table of the small case, header first."""
    text = (SMALL_CASE / f"{table}.csv").read_text(encoding="utf-8")
    return list(csv.reader(io.StringIO(text, newline="")))


def write_rows(
    folder: Path, table: str, rows: list[list[str]], delimiter: str = ",", ending: str = "\n"
) -> None:
    """Write the cells of a table."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=ending).writerows(rows)
    (folder / f"{table}.csv").write_bytes(out.getvalue().encode())


def same_records(one: Case, other: Case) -> bool:
    """Whether two cases hold the same records."""
    return list(one.all_records()) == list(other.all_records())


def same_results(one: Case, other: Case) -> None:
    """Check that two cases give the same measures and money, to the last bit."""
    left, right = fc.evaluate(one), fc.evaluate(other)
    pd.testing.assert_frame_equal(left.measures(), right.measures(), check_exact=True)
    for build in left:
        pd.testing.assert_frame_equal(left[build].monthly, right[build].monthly, check_exact=True)


# --- the small case ---------------------------------------------------------------------------


def test_small_case_is_whole(small_case: Case) -> None:
    """It has what the tests count on, and every number in its files is a guess made for tests."""
    assert list(small_case.builds) == ["self_build", "bought_unit"]
    sources = {row.substrate_source for row in small_case.substrate.values()}
    assert sources == {"own", "ready_to_fruit"}
    assert {room.kind for room in small_case.rooms.values()} >= {
        "fruiting",
        "spawn_run",
        "cold_store",
    }
    assert "second" in {row.grade for row in small_case.sales.values()}
    assert len(small_case.builds["bought_unit"].with_) >= 3
    assert small_case.containers["box_second"].touches
    filled = filled_paths(small_case)
    for row in fc.input_table(small_case).values():
        if row.path not in filled and not row.path.startswith(("standing.", "heading.")):
            assert row.source.startswith("made for tests"), row.path
            assert row.status == "guess", row.path


def reference_rows(table: str) -> list[dict[str, str]]:
    """The rows of a reference table."""
    text = (ROOT / "data" / "reference" / f"{table}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def filled_paths(case: Case) -> dict[str, dict[str, str]]:
    """The rows of the reference tables that fill what the small case leaves out, by path."""
    raw = tomllib.loads((SMALL_CASE / "case.toml").read_text(encoding="utf-8"))
    physics = {row["id"]: row for row in reference_rows("physics")}
    known: dict[str, dict[str, str]] = {}
    for crop, values in raw["crops"].items():
        for row in reference_rows("responses"):
            if (row["species"], row["strain"]) == (values["species"], "any"):
                known[f"crops.{crop}.{row['field']}"] = row
        for name in ("spread_days", "pin_slowest_share"):
            known[f"crops.{crop}.{name}"] = physics[name]
    for room, values in raw["climate"].items():
        known[f"climate.{room}.leakage_changes_per_h"] = physics["leakage_plain_steel_per_h"]
        known[f"climate.{room}.bridging_w_per_m2_k"] = physics["bridging_plain_steel_w_per_m2_k"]
        for name in ("fan_pressure_pa", "fan_efficiency_share"):
            known[f"climate.{room}.{name}"] = physics[name]
        if "humidifier" in values:
            name = f"humidifier_{values['humidifier']}_kwh_per_l"
            known[f"climate.{room}.humidifier_kwh_per_l"] = physics[name]
    stated = [f"{s}.{i}.{n}" for s in ("crops", "climate") for i, v in raw[s].items() for n in v]
    return {path: row for path, row in known.items() if path not in stated}


def test_what_a_case_leaves_out_comes_from_the_reference_tables(small_case: Case) -> None:
    """With range, source and status of the row; what the case states goes before it."""
    table, filled = fc.input_table(small_case), filled_paths(small_case)
    assert len(filled) > 60
    for path, row in filled.items():
        likely = float(row["likely"])
        ends = [float(row[end] or likely) for end in ("low", "likely", "high")]
        found = table[path]
        assert [found.low, found.likely, found.high] == ends, path
        assert (found.source, found.status) == (row["source"], row["status"])
    assert "climate.spawn_room.leakage_changes_per_h" not in filled
    assert table["climate.spawn_room.leakage_changes_per_h"].likely == 0.3
    site, physics = small_case.site, {row["id"]: row for row in reference_rows("physics")}
    assert site is not None
    assert site.co2_outside_ppm == float(physics["co2_outside_ppm"]["likely"])


def test_a_strain_goes_before_its_species(small_case: Case) -> None:
    """The responses of a strain that the table knows; of the species for the rest."""
    cold = small_case.vary({"crops.shiitake.strain": "cold"}).crops["shiitake"]
    rows = [r for r in reference_rows("responses") if r["species"] == "lentinula_edodes"]
    of_cold = {row["field"]: float(row["likely"]) for row in rows if row["strain"] == "cold"}
    of_any = {row["field"]: float(row["likely"]) for row in rows if row["strain"] == "any"}
    assert of_cold and of_any.keys() - of_cold.keys()
    for name, likely in {**of_any, **of_cold}.items():
        assert getattr(cold, name).likely == likely, name


def test_a_case_may_know_a_species_of_its_own(small_folder: Path) -> None:
    """Rows of its own reference tables are known as ours are."""
    own = small_folder / "reference"
    own.mkdir()
    rows = [r for r in reference_rows("responses") if r["species"] == "pleurotus_ostreatus"]
    with (own / "responses.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(
            {**row, "id": f"own_{i}", "species": "own_one"} for i, row in enumerate(rows)
        )
    (own / "species.csv").write_text("id,species\nown_one_row,own_one\n")
    path = small_folder / "case.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('"lentinula_edodes"', '"own_one"'))
    crops = fc.open_case(small_folder).crops
    assert crops["shiitake"].pin_high_c == crops["grey_oyster"].pin_high_c


def test_what_a_build_changes_changes_what_is_filled_in(small_folder: Path) -> None:
    """Another humidifier has another electricity: an input of the build, apart from the base."""
    path = small_folder / "case.toml"
    text = path.read_text(encoding="utf-8")
    change = '[builds.bought_unit.with]\n"climate.fruiting_left.humidifier" = "steam"\n'
    path.write_text(text.replace("[builds.bought_unit.with]\n", change), encoding="utf-8")
    case, name = fc.open_case(small_folder), "climate.fruiting_left.humidifier_kwh_per_l"
    physics = {row["id"]: row for row in reference_rows("physics")}
    table = fc.input_table(case)
    own = f"builds.bought_unit.with.{name}"
    for at, kind in ((name, "fog"), (own, "steam")):
        assert table[at].likely == float(physics[f"humidifier_{kind}_kwh_per_l"]["likely"])
    base = fc.evaluate(case)["bought_unit"].measure("energy_kwh_per_kg")
    likely = pd.DataFrame({name: [table[name].likely], own: [table[own].likely]})
    found = fc.evaluate_many(case, likely, ["energy_kwh_per_kg"], ["bought_unit"])
    assert found.to_numpy()[0, 0] == pytest.approx(base, rel=1e-12)
    more = fc.evaluate(case.vary({own: table[own].high}))["bought_unit"]
    assert more.measure("energy_kwh_per_kg") > base


def test_vessels_panels_and_burners_are_filled_from_their_tables(small_folder: Path) -> None:
    """What a treatment asks for, what a fuel's appliance gives on, what panels give: by the CSV."""
    path = small_folder / "case.toml"
    text = path.read_text(encoding="utf-8")
    fields = ("efficiency_share", "start_c", "treat_to_c", "hold_hours", "spent_share")
    gone = (*fields, "performance_share", "heater_efficiency_share")
    left = [line for line in text.splitlines() if line.split(" = ")[0] not in gone]
    path.write_text("\n".join(left), encoding="utf-8")
    table = fc.input_table(fc.open_case(small_folder))
    physics = {row["id"]: row for row in reference_rows("physics")}
    gas = next(row for row in reference_rows("carriers") if row["id"] == "bottled_gas")
    for at, row in {
        "vessels.kettle.start_c": "water_supply_c",
        "vessels.kettle.treat_to_c": "hot_water_bath_c",
        "vessels.kettle.hold_hours": "hot_water_bath_hours",
        "leaving.spent_share": "spent_substrate_share",
        "solar.roof.performance_share": "solar_performance_share",
    }.items():
        ends = [float(physics[row][end]) for end in ("low", "likely", "high")]
        assert [table[at].low, table[at].likely, table[at].high] == ends, at
        assert table[at].source == physics[row]["source"]
    burners = ("vessels.kettle.efficiency_share", "climate.fruiting_left.heater_efficiency_share")
    for at in burners:
        ends = [float(gas[f"efficiency_{end}_share"]) for end in ("low", "likely", "high")]
        assert [table[at].low, table[at].likely, table[at].high] == ends, at
        assert table[at].status == gas["efficiency_status"] == "guess"


def test_small_case_runs(small_case: Case) -> None:
    """Both builds close, sell, and are worth something."""
    outcome = fc.evaluate(small_case)
    for build in outcome.values():
        assert build.measure("output_kg_per_year") > 1000
        assert build.measure("npv") > 0
        assert 0 < build.measure("payback_years") < 5
    assert outcome["bought_unit"].ledger.lines["grant"].sum() == pytest.approx(12000)
    assert outcome["self_build"].ledger.lines["loan_drawn"].sum() == 0


# --- tables -----------------------------------------------------------------------------------


def test_byte_order_mark(small_folder: Path, small_case: Case) -> None:
    """Files that a spreadsheet or an editor saved with a mark at their start."""
    for path in small_folder.iterdir():
        path.write_bytes(BOM + path.read_bytes())
    assert same_records(fc.open_case(small_folder), small_case)


def test_semicolons_with_decimal_commas(small_folder: Path, small_case: Case) -> None:
    """A table as a spreadsheet saves it where the decimal sign is a comma: the same values."""
    for table in TABLES:
        rows = [
            [cell.replace(".", ",") if re.fullmatch(r"\d+\.\d+", cell) else cell for cell in row]
            for row in rows_of(table)
        ]
        write_rows(small_folder, table, rows, delimiter=";")
    assert "12,5" in (small_folder / "sales.csv").read_text()
    opened = fc.open_case(small_folder)
    assert same_records(opened, small_case)
    same_results(opened, small_case)


def test_semicolons_with_decimal_points(small_folder: Path, small_case: Case) -> None:
    """A point is read too, unless it could be a thousands mark."""
    write_rows(small_folder, "sales", rows_of("sales"), delimiter=";")
    assert same_records(fc.open_case(small_folder), small_case)


def test_carriage_returns(small_folder: Path, small_case: Case) -> None:
    """Line ends of another system, in tables and in case.toml."""
    for path in small_folder.iterdir():
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert same_records(fc.open_case(small_folder), small_case)


def test_blank_lines_and_empty_cells(small_folder: Path, small_case: Case) -> None:
    """Blank lines anywhere, and the empty columns that a spreadsheet leaves at the side."""
    for table in TABLES:
        lines = (small_folder / f"{table}.csv").read_text(encoding="utf-8").splitlines()
        wide = "\n\n".join(line + ",,," for line in lines)
        (small_folder / f"{table}.csv").write_text(f"\n{wide}\n,,,,\n\n", encoding="utf-8")
    assert same_records(fc.open_case(small_folder), small_case)


def test_commas_within_quotation_marks(small_case: Case) -> None:
    """A text that holds the separator."""
    assert small_case.capital["used_box"].item == "Used long box, craned in"
    assert small_case.sales["box_scheme"].outlet == "Vegetable boxes, weekly"


def test_columns_in_another_order(small_folder: Path, small_case: Case) -> None:
    """Columns are known by name, wherever they stand."""
    for table in TABLES:
        write_rows(small_folder, table, [row[::-1] for row in rows_of(table)])
    assert same_records(fc.open_case(small_folder), small_case)


def test_columns_that_may_be_left_out(small_folder: Path, small_case: Case) -> None:
    """Columns that are empty in every row can go, and so can a table that may be left out."""
    for table in TABLES:
        header, *rows = rows_of(table)
        used = [i for i, _ in enumerate(header) if any(row[i] for row in rows)]
        write_rows(small_folder, table, [[row[i] for i in used] for row in [header, *rows]])
    (small_folder / "income.csv").unlink()
    opened = fc.open_case(small_folder)
    assert not opened.income
    assert opened.sales == dict(small_case.sales)
    assert opened.capital == dict(small_case.capital)


def test_plain_and_ranged_numbers(small_case: Case) -> None:
    """A plain number is low, likely and high at once; a range keeps its three and its origin."""
    water = small_case.water
    assert water is not None
    assert water.price_per_m3 == Estimate(low=3.5, likely=3.5, high=3.5)
    assert not water.price_per_m3.is_uncertain
    tariff = small_case.carriers["electricity"].price_per_kwh
    assert (tariff.low, tariff.likely, tariff.high) == (0.22, 0.27, 0.36)
    assert (tariff.source, tariff.status, tariff.date) == (
        "made for tests: a bill",
        "guess",
        "2026-09",
    )
    market = small_case.sales["farm_market"]
    assert (market.price_per_kg.low, market.price_per_kg.high) == (11, 14)
    assert (market.fee_share.low, market.fee_share.high) == (0.05, 0.05)


def test_one_end_of_a_range(small_folder: Path) -> None:
    """Where low or high is left out, it is the likely value."""
    rows = rows_of("sales")
    rows[1][rows[0].index("price_per_kg_high")] = ""
    write_rows(small_folder, "sales", rows)
    price = fc.open_case(small_folder).sales["farm_market"].price_per_kg
    assert (price.low, price.likely, price.high) == (11, 12.5, 12.5)


# --- finding ----------------------------------------------------------------------------------


def test_open_by_name_from_below(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, small_case: Case
) -> None:
    """A name is looked for in data/cases of the working folder and of its parents."""
    home = tmp_path / "data" / "cases" / "hill_farm"
    shutil.copytree(SMALL_CASE, home)
    below = tmp_path / "notebooks" / "drafts"
    below.mkdir(parents=True)
    monkeypatch.chdir(below)
    opened = fc.open_case("hill_farm")
    assert opened.folder == home.resolve()
    assert same_records(opened, small_case)
    with pytest.raises(NotFoundError, match="did you mean 'hill_farm'"):
        fc.open_case("hil_farm")


def test_the_nearest_folder_of_cases_goes_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two cases of one name: that of the nearer folder."""
    for home in (tmp_path, tmp_path / "inner"):
        shutil.copytree(SMALL_CASE, home / "data" / "cases" / "hill_farm")
    monkeypatch.chdir(tmp_path / "inner")
    assert fc.open_case("hill_farm").folder == tmp_path / "inner" / "data" / "cases" / "hill_farm"


def test_unknown_files_are_left_alone(small_folder: Path, small_case: Case) -> None:
    """Files and folders of the user's own are neither read nor touched; later ones are named."""
    (small_folder / "letter.txt").write_bytes(b"\xff\xfe not ours")
    (small_folder / "old.csv").write_bytes(b"\xff\x00,;")
    (small_folder / "actuals.csv").write_text("id\n")
    (small_folder / "photos").mkdir()
    before = {p: p.read_bytes() for p in small_folder.rglob("*") if p.is_file()}
    opened = fc.open_case(small_folder)
    assert same_records(opened, small_case)
    assert opened.notes == ("actuals.csv is kept but not read by this version.",)
    assert before == {p: p.read_bytes() for p in small_folder.rglob("*") if p.is_file()}


def test_own_reference_rows(small_folder: Path, small_case: Case) -> None:
    """A kind of container of the case's own, in its reference folder, is known and measured."""
    own = small_folder / "reference"
    own.mkdir()
    columns = "id,internal_length_m,internal_width_m,internal_height_m,shell"
    (own / "containers.csv").write_text(f"{columns}\nodd_box,7,2.3,2.4,insulated\n")
    path = small_folder / "case.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('"ft20"', '"odd_box"'))
    opened = fc.open_case(small_folder)
    assert opened.containers["box_second"].kind == "odd_box"
    assert room_sizes(opened)["fruiting_right"].length_m == pytest.approx(7 - 2 * 0.06)
    assert room_sizes(small_case)["fruiting_right"].length_m == pytest.approx(5.867 - 2 * 0.06)
    assert fc.evaluate(opened)["bought_unit"].measure("output_kg_per_year") > 0
    (own / "containers.csv").write_text(f"{columns}\nodd_box,7,2.3,2.4,straw\n")
    with pytest.raises(CaseError, match="whose shell is not known; shells are insulated, plain"):
        fc.open_case(small_folder)
    (own / "containers.csv").write_text(f"{columns}\nodd_box,7,wide,2.4,insulated\n")
    with pytest.raises(CaseError, match="whose inner sizes are not all there"):
        fc.open_case(small_folder)
    (own / "containers.csv").write_text("kind\nodd_box\n")
    with pytest.raises(CaseError, match=r"reference/containers\.csv: the file cannot be read"):
        fc.open_case(small_folder)


# --- frozen -----------------------------------------------------------------------------------


def test_case_cannot_be_changed(small_case: Case) -> None:
    """Neither the case, nor its records, nor the mappings in it."""
    anyone: Any = small_case
    with pytest.raises(FrozenInstanceError):
        anyone.money = None
    for record, name in ((small_case.money, "owners_money"), (small_case.who, "applicant")):
        with pytest.raises(ValidationError, match="frozen"):
            setattr(record, name, 5)
    with pytest.raises(ValidationError, match="frozen"):
        setattr(small_case.money.owners_money, "likely", 5)  # noqa: B010
    mappings = (
        anyone.sales,
        anyone.changes,
        anyone.builds["bought_unit"].with_,
        anyone.builds["bought_unit"].with_["starts.wanted_units_per_week"],
        anyone.builds["self_build"].scope,
        anyone.plan["fruiting_left"].start_share_by_month,
    )
    for mapping in mappings:
        with pytest.raises(TypeError):
            mapping["new"] = 1
        with pytest.raises(TypeError):
            del mapping[next(iter(mapping), "")]
    with pytest.raises(TypeError):
        anyone.crops["grey_oyster"].flush_shares[0] = 1


# --- vary -------------------------------------------------------------------------------------


def test_vary_makes_a_copy(small_case: Case) -> None:
    """The copy is changed and remembers how; the case stays."""
    varied = small_case.vary({PRICE: 9.2, "horizon_months": 48})
    before = small_case.sales["farm_market"].price_per_kg
    price = varied.sales["farm_market"].price_per_kg
    assert (price.low, price.likely, price.high) == (9.2, 9.2, before.high)  # stretched downwards
    assert varied.heading.horizon_months == 48
    assert set(varied.changes) == {PRICE, "horizon_months"}
    assert small_case.sales["farm_market"].price_per_kg.likely == 12.5
    assert not small_case.changes
    twice = varied.vary({PRICE: {"low": 8, "likely": 9, "high": 10}})
    assert set(twice.changes) == {PRICE, "horizon_months"}
    assert twice.sales["farm_market"].price_per_kg.low == 8


@pytest.mark.parametrize("value", [9, 9.0, np.float64(9), np.int64(9), np.float32(9)])
def test_vary_takes_numbers_of_any_kind(small_case: Case, tmp_path: Path, value: Any) -> None:
    """Also those of a table of scenarios, and writes them as plain numbers."""
    varied = small_case.vary({PRICE: value, "money.owners_money": value})
    opened = fc.open_case(fc.write_case(varied, tmp_path / "copy"))
    assert opened.sales["farm_market"].price_per_kg.likely == 9
    assert opened.money.owners_money.likely == 9


def test_vary_lists_every_fault(small_case: Case) -> None:
    """Limits as in the files, paths that lead nowhere, and rules between records, in one go."""
    with pytest.raises(CaseError) as caught:
        small_case.vary(
            {
                PRICE: -1,
                "sales.farm_market.fee_share": 12,
                "sales.farm_markt.fee_share": 0.1,
                "money.owners_money": "much",
                "capital.lining.month_paid": 99,
                "labour.picking.pay": "nobody",
                "builds.third.with.money.owners_money": 5,
                "nothing": 1,
            }
        )
    said = str(caught.value)
    assert len(caught.value.faults) == 8
    assert all(line.startswith("the change: ") for line in said.splitlines())
    for words in (
        f"({PRICE}) has likely = -1",
        "write 0.12 for 12 %",
        "did you mean 'sales.farm_market.fee_share'",
        "'much'",
        "ends with month 60",
        "helper, own",
        "builds.third.with.money.owners_money",
        "(nothing) leads nowhere",
    ):
        assert words in said


def test_vary_keeps_source_and_status(small_case: Case) -> None:
    """A plain number keeps the range and its origin, in a build's changes too."""
    path = "carriers.electricity.price_per_kwh"
    tariff = small_case.vary({path: 0.3}).carriers["electricity"].price_per_kwh
    assert tariff == Estimate(
        low=0.22,
        likely=0.3,
        high=0.36,
        source="made for tests: a bill",
        status="guess",
        date="2026-09",
    )
    path = "builds.bought_unit.with.crops.grey_oyster.spawn_run_loss_share"
    varied = small_case.vary({path: 0.04})
    found = fc.input_table(varied)[path]
    assert (found.low, found.likely, found.high) == (0.01, 0.04, 0.06)
    assert found.source == "made for tests: the maker"


# --- builds -----------------------------------------------------------------------------------


def test_for_build_keeps_its_own_rows(small_case: Case) -> None:
    """Rows of the build and of all, plans of its rooms, what it changes."""
    own, bought = small_case.for_build("self_build"), small_case.for_build("bought_unit")
    assert set(own.capital) == {"used_box", "lining", "racks_fans", "kettle_bench", "cold_machine"}
    assert set(bought.capital) == {"maker_offer", "kettle_bench", "cold_machine", "panels"}
    assert list(own.plan) == ["fruiting_left"]
    assert list(bought.plan) == ["fruiting_left", "fruiting_right"]
    assert (list(own.loans), list(bought.loans)) == ([], ["bank"])
    assert (list(own.solar), list(bought.solar)) == ([], ["roof"])
    assert list(own.climate) == ["spawn_room", "fruiting_left", "cold_room"]
    assert list(bought.climate) == ["spawn_room", "fruiting_left", "cold_room", "fruiting_right"]
    assert own.money.owners_money.likely == 20000
    assert bought.money.owners_money.likely == 26000
    assert own.plan["fruiting_left"].cleaning_days.likely == 1
    assert bought.plan["fruiting_left"].cleaning_days.likely == 0.5
    assert bought.starts is not None
    assert (bought.starts.wanted_units_per_week.low, bought.starts.wanted_units_per_week.high) == (
        90,
        120,
    )
    assert not bought.changes
    with pytest.raises(NotFoundError, match="known are bought_unit, self_build"):
        small_case.for_build("nobody")


def test_for_build_leaves_out_what_it_does_not_grow(small_case: Case) -> None:
    """A build that grows one crop has that crop and its outlets alone."""
    alone = {"grey_oyster": [1] * 12}
    case = small_case.vary({"plan.fruiting_left.start_share_by_month": alone})
    own = case.for_build("self_build")
    assert set(own.crops) == {"grey_oyster"}
    assert set(own.sales) == {"farm_market", "box_scheme", "soup_maker"}
    assert set(case.for_build("bought_unit").crops) == {"grey_oyster", "shiitake"}
    assert fc.evaluate(case)["self_build"].measure("output_kg_per_year") > 0


def test_plans_follow_the_order_of_the_rooms(small_folder: Path, small_case: Case) -> None:
    """Plans may stand in any order in case.toml; each goes with its room."""
    path = small_folder / "case.toml"
    text = path.read_text(encoding="utf-8")
    start = text.index("[plan.fruiting_right]")
    section, rest = text[start:].split("\n\n", 1)
    text = text[:start] + rest
    text = text.replace("[plan.fruiting_left]", f"{section}\n\n[plan.fruiting_left]")
    path.write_text(text, encoding="utf-8")
    turned = fc.open_case(small_folder)
    assert list(turned.plan) == ["fruiting_right", "fruiting_left"]
    same_results(turned, small_case)


def test_changes_may_be_written_in_parts(small_folder: Path, small_case: Case) -> None:
    """What a build changes, as nested sections instead of paths in quotation marks."""
    path = small_folder / "case.toml"
    text = path.read_text(encoding="utf-8")
    changes = text.index("[builds.bought_unit.with]")
    path.write_text(
        text[:changes]
        + "[builds.bought_unit.with]\nmoney.owners_money = 26000\n"
        + "[builds.bought_unit.with.starts]\n"
        + "wanted_units_per_week = { low = 90, likely = 110, high = 120 }\n"
        + "[builds.bought_unit.with.crops.grey_oyster]\n"
        + 'spawn_run_loss_share = { low = 0.01, likely = 0.03, high = 0.06, source = "made for '
        + 'tests: the maker", status = "guess" }\n'
        + "[builds.bought_unit.with.plan.fruiting_left]\ncleaning_days = 0.5\n",
        encoding="utf-8",
    )
    opened = fc.open_case(small_folder)
    assert set(opened.builds["bought_unit"].with_) == set(small_case.builds["bought_unit"].with_)
    same_results(opened, small_case)
    path_in_build = "builds.bought_unit.with.money.owners_money"
    fc.write_case(opened.vary({path_in_build: 27000}), small_folder)
    text = path.read_text(encoding="utf-8")
    assert text.count("owners_money") == 2
    assert fc.open_case(small_folder).for_build("bought_unit").money.owners_money.likely == 27000


# --- writing ----------------------------------------------------------------------------------

CHANGES: dict[str, Any] = {
    PRICE: 9.2,
    "sales.two_kitchens.price_per_kg": {"low": 14.125, "likely": 16.5, "high": 18.875},
    "sales.box_scheme.build_up_months": 1.5e-7,
    "capital.lining.grant_eligible": True,
    "capital.lining.month_paid": 4,
    "capital.lining.item": 'Panels, "good" ones; and doors',
    "overheads.phone.ends_month": 40,
    "labour.placing.hours": {"low": 0.03, "likely": 0.04, "high": 0.06},
    "money.discount_rate_per_year": 0.075,
    "carriers.electricity.price_per_kwh": 0.31,
    "crops.grey_oyster.flush_shares": [0.6, 0.3, 0.1],
    "climate.cold_room.outside_air_cools": True,
    "builds.bought_unit.with.money.owners_money": 31000,
    "builds.bought_unit.with.sales.soup_maker.price_per_kg": 5.5,
    "builds.self_build.contingency_share": {"low": 0.1, "likely": 0.15, "high": 0.2},
    "horizon_months": 72,
    "name": "Small case, changed",
}


@pytest.mark.parametrize("semicolons", [False, True])
def test_written_case_gives_the_same_result(
    small_folder: Path, tmp_path: Path, semicolons: bool
) -> None:
    """Vary, write, open: the same records and the same money, whatever parts the columns."""
    if semicolons:
        for table in TABLES:
            rows = [
                [c.replace(".", ",") if re.fullmatch(r"\d+\.\d+", c) else c for c in row]
                for row in rows_of(table)
            ]
            write_rows(small_folder, table, rows, delimiter=";", ending="\r\n")
    varied = fc.open_case(small_folder).vary(CHANGES)
    written = fc.write_case(varied, tmp_path / "copy")
    opened = fc.open_case(written)
    assert opened.heading.name == "Small case, changed"
    assert same_records(opened, varied)
    same_results(opened, varied)
    assert (b"\r\n" in (written / "sales.csv").read_bytes()) == semicolons


def test_write_keeps_comments_and_order(small_case: Case, tmp_path: Path) -> None:
    """Only the lines of what was changed differ."""
    path = "money.discount_rate_per_year"
    changes = {path: 0.05, "builds.bought_unit.with.starts.wanted_units_per_week": 100, PRICE: 9.2}
    written = fc.write_case(small_case.vary(changes), tmp_path / "copy")
    before = (SMALL_CASE / "case.toml").read_text(encoding="utf-8").splitlines()
    after = (written / "case.toml").read_text(encoding="utf-8").splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert len(changed) == 2
    now = "discount_rate_per_year = {low = 0.04, likely = 0.05, high = 0.08} # before tax"
    assert changed[0][1] == now
    assert changed[1][1].endswith("# two rooms to fill")
    old, new = rows_of("sales"), (written / "sales.csv").read_text(encoding="utf-8").splitlines()
    assert [line.split(",")[0] for line in new] == [row[0] for row in old]
    for name in ("capital.csv", "labour.csv", "income.csv"):
        assert (written / name).read_bytes() == (SMALL_CASE / name).read_bytes()


def test_write_over_keeps_the_version_before(small_folder: Path) -> None:
    """Only files that differ are written; what stood there is kept as NAME.before."""
    original = (small_folder / "sales.csv").read_bytes()
    fc.write_case(fc.open_case(small_folder).vary({PRICE: 9.2}), small_folder)
    assert (small_folder / "sales.csv.before").read_bytes() == original
    assert sorted(p.name for p in small_folder.glob("*.before")) == ["sales.csv.before"]
    fc.write_case(fc.open_case(small_folder).vary({"money.owners_money": 5}), small_folder)
    assert (small_folder / "sales.csv.before").read_bytes() == original
    assert fc.open_case(small_folder).sales["farm_market"].price_per_kg.likely == 9.2
    assert not list(small_folder.glob("*.new"))


def test_write_takes_the_other_files_along(small_folder: Path, tmp_path: Path) -> None:
    """The weather, own reference rows, photos and the byte-order mark come along."""
    (small_folder / "reference").mkdir()
    (small_folder / "reference" / "notes.csv").write_text("id\n1\n")
    (small_folder / "photo.jpg").write_bytes(b"\xff not ours")
    weather = (small_folder / "normals.csv").read_bytes()
    path = small_folder / "sales.csv"
    path.write_bytes(BOM + path.read_bytes())
    written = fc.write_case(fc.open_case(small_folder).vary({PRICE: 9.2}), tmp_path / "copy")
    assert (written / "photo.jpg").read_bytes() == b"\xff not ours"
    assert (written / "normals.csv").read_bytes() == weather
    assert (written / "reference" / "notes.csv").is_file()
    assert (written / "sales.csv").read_bytes().startswith(BOM)
    assert fc.open_case(written).sales["farm_market"].price_per_kg.likely == 9.2
    inside = fc.write_case(fc.open_case(written), written / "scenarios" / "one")
    assert same_records(fc.open_case(inside), fc.open_case(written))


def test_writing_that_fails_leaves_the_old_file_whole(
    small_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A failure while a file is put in its place: the old one stands, and nothing half-written."""
    original = {p.name: p.read_bytes() for p in small_folder.iterdir()}
    varied = fc.open_case(small_folder).vary({PRICE: 9.2, "money.owners_money": 5})

    def refuse(*_: object) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OSError, match="the disk is full"):
        fc.write_case(varied, small_folder)
    left = {p.name: p.read_bytes() for p in small_folder.iterdir()}
    assert {name: left[name] for name in original} == original
    assert not [name for name in left if name.endswith(".new")]
    monkeypatch.undo()
    fc.open_case(small_folder)


def test_a_case_from_no_folder_cannot_be_written(small_case: Case, tmp_path: Path) -> None:
    """Said in words."""
    homeless = Case(**{**vars(small_case), "folder": None})
    with pytest.raises(NotFoundError, match="not read from a folder"):
        fc.write_case(homeless, tmp_path / "copy")


# --- the table of inputs ----------------------------------------------------------------------


def test_every_path_of_the_table_resolves(small_case: Case) -> None:
    """Each path can be varied to its own values and then shows the same numbers."""
    table = fc.input_table(small_case)
    changes = {p: {"low": r.low, "likely": r.likely, "high": r.high} for p, r in table.items()}
    again = fc.input_table(small_case.vary(changes))
    assert list(again) == list(table)
    for path, row in table.items():
        found = again[path]
        assert (found.low, found.likely, found.high) == (row.low, row.likely, row.high)
        assert row.low <= row.likely <= row.high
        assert row.stage in ("physical", "money")
        if ".with." not in path:
            record, name = small_case.record(path)
            assert isinstance(getattr(record, name), Estimate)
    with pytest.raises(NotFoundError, match="leads nowhere"):
        small_case.record("sales.nobody.price_per_kg")


def test_every_uncertain_number_is_in_the_table_once(small_case: Case) -> None:
    """All ranges of the files and of the reference rows, counted in the files themselves."""
    raw = tomllib.loads((SMALL_CASE / "case.toml").read_text(encoding="utf-8"))
    ranges = set(ranges_of(raw))
    for table in TABLES:
        header, *rows = rows_of(table)
        for row in rows:
            cells = dict(zip(header, row, strict=True))
            ranges |= {
                f"{table}.{row[0]}.{name}"
                for name in header
                if cells.get(f"{name}_low") or cells.get(f"{name}_high")
            }
    filled = filled_paths(small_case)
    ranges |= {p for p, row in filled.items() if row["low"] and row["low"] != row["high"]}
    found = [path for path, row in fc.input_table(small_case).items() if row.low != row.high]
    assert sorted(found) == sorted(ranges)
    assert len(ranges) > 30


def ranges_of(raw: dict[str, Any], prefix: str = "") -> list[str]:
    """The paths of the ranges in nested sections."""
    found = []
    for key, value in raw.items():
        path = f"{prefix}{key}"
        if isinstance(value, dict) and value.get("low") != value.get("high"):
            found.append(path)
        elif isinstance(value, dict) and "likely" not in value:
            found += ranges_of(value, f"{path}.")
    return found


def test_units_name_the_currency(small_case: Case) -> None:
    """No unit says money where a currency is meant; quantities have the unit of their row."""
    table = fc.input_table(small_case)
    assert not [row.path for row in table.values() if "money" in row.unit]
    assert table[PRICE].unit == "EUR/kg"
    assert table["capital.used_box.quantity"].unit == "box"
    assert table["builds.bought_unit.with.money.owners_money"].unit == "EUR"
    dates = {row.path: row.date for row in table.values()}
    assert dates[PRICE] == "2026-10"
    assert dates["carriers.electricity.price_per_kwh"] == "2026-09"


def test_ids_are_not_shown_as_labels(small_case: Case) -> None:
    """A label names a record as a reader knows it, never by its id or by a field's name."""
    table = fc.input_table(small_case)
    for path, row in table.items():
        assert "_" not in row.label, path
        for section in (*NAMED, *TABLES):
            for identity in getattr(small_case, section):
                spaced = identity.replace("_", " ")
                assert not ("_" in identity and spaced in row.label), (path, row.label)
    assert table[PRICE].label == "price per kg, Saturday market"
    assert table["plan.fruiting_left.pace_scale"].label.endswith(", Long fruiting room")
    assert table["carriers.electricity.price_per_kwh"].label.endswith(", Power from the mains")
    with_label = table["builds.bought_unit.with.crops.grey_oyster.spawn_run_loss_share"].label
    assert with_label == "units lost in the spawn run, Oyster on straw, Buy a finished unit"


# A field needs no entry in the table of labels where its name, with spaces for `_`, reads well:
# no sign of a unit and no short form stands in it.
_READS_BADLY = re.compile(
    r"(^| )(kg|kw|kwh|m|m2|m3|l|h|g|w|deg|c|k|pa|ppm|q10|cop|eer|kgco2e|co2|vat|id|low|high)( |$)"
)


@pytest.mark.parametrize("section", ["heading", *SINGLE, *NAMED, *TABLES])
def test_every_field_has_a_label(section: str) -> None:
    """In the table of labels, or a name that reads well as it is."""
    assert section == "heading" or labels.SECTIONS[section]
    for name, field in model_of(section).model_fields.items():
        label = labels.input_label(f"{section}.{field.alias or name}")
        spaced = (field.alias or name).replace("_", " ")
        assert label and label == label.strip()
        if label == spaced and name not in FIELDS:
            assert not _READS_BADLY.search(spaced), f"{section}.{name} needs a label"


# --- numbers ----------------------------------------------------------------------------------

FEW = settings(max_examples=60, deadline=None, derandomize=True, database=None)


@FEW
@given(st.floats(allow_nan=False, allow_infinity=False), st.booleans())
def test_numbers_come_back(value: float, semicolon: bool) -> None:
    """What is written as a cell is read as the same number, whichever sign parts the decimals."""
    assert parse_number(format_number(value, semicolon), semicolon) == value


@FEW
@given(st.integers(-(10**15), 10**15), st.booleans())
def test_whole_numbers_come_back(value: int, semicolon: bool) -> None:
    """Whole numbers too."""
    assert parse_number(str(value), semicolon) == value


def test_numbers_of_doubtful_form_stay_text() -> None:
    """What could be read in two ways, or is no number, is left for a sentence about it."""
    assert parse_number("9,50", semicolon=True) == 9.5
    assert parse_number("9.50", semicolon=True) == 9.5
    assert parse_number("0.125", semicolon=True) == 0.125
    for text in (
        "1.250",
        "1.250,00",
        "1,250,000",
        "1 250",
        "12 %",
        "nan",
        "inf",
        "0x1F",
        "1_0",
        "",
    ):
        assert parse_number(text, semicolon=True) == text
    for text in ("9,50", "1,250", "1,250.00", "- 5", "€5", "٣"):
        assert parse_number(text, semicolon=False) == text


# --- any text anywhere ------------------------------------------------------------------------

_PLACES = [
    (table, row, column)
    for table in TABLES
    for row, cells in enumerate(rows_of(table))
    for column in range(len(cells))
]
_TEXTS = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=30),
    st.sampled_from(
        [
            "",
            "0",
            "-1",
            "1e400",
            "1e300",
            "nan",
            "12 %",
            "9,5",
            "all",
            "own",
            "self_build",
            "a.b",
            "2026-13",
            "0000-01",
            '"',
            '""',
            "\r",
            "\n",
            "\0",
            ";",
            ",",
            "=1+1",
            "x" * 200_000,
        ]
    ),
    st.floats().map(repr),
    st.integers().map(str),
)


def never_but_a_case_error(folder: Path) -> None:
    """Opening raises nothing but a CaseError; what opens can be run, or says why not."""
    try:
        case = fc.open_case(folder)
    except CaseError as error:
        for fault in error.faults:
            sentence = fault.sentence()
            assert sentence.endswith(".") and len(sentence) < 400
            assert len(sentence.splitlines()) == 1
        return
    try:
        fc.evaluate(case)
    except FarmcaseError as error:
        assert str(error)


@pytest.fixture(scope="module")
def spoiled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the small case whose files are spoiled one at a time."""
    return Path(shutil.copytree(SMALL_CASE, tmp_path_factory.mktemp("spoiled") / "small_case"))


@settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(place=st.sampled_from(_PLACES), text=_TEXTS, quoted=st.booleans())
def test_any_text_in_any_cell(
    spoiled: Path, place: tuple[str, int, int], text: str, quoted: bool
) -> None:
    """In any cell of any table, put in as a spreadsheet would or as it is."""
    table, row, column = place
    path = spoiled / f"{table}.csv"
    original = path.read_bytes()
    rows = rows_of(table)
    rows[row][column] = text
    try:
        if quoted:
            write_rows(spoiled, table, rows)
        else:
            path.write_bytes("\n".join(",".join(cells) for cells in rows).encode())
        never_but_a_case_error(spoiled)
    finally:
        path.write_bytes(original)


_LINES = (SMALL_CASE / "case.toml").read_text(encoding="utf-8").split("\n")
_KEYS = [i for i, line in enumerate(_LINES) if re.match(r'["a-z_.]+ = ', line)]
_VALUES = st.one_of(
    _TEXTS.map(lambda text: json.dumps(text, ensure_ascii=True).replace("\\u007f", "")),
    _TEXTS,
    st.sampled_from(
        ["0", "-1", "1e400", "nan", "-inf", "true", "[]", "{}", "[[1]]", "{ low = 1 }", "1e300",
         '{ likely = "x" }', "{ low = 2, likely = 1, high = 3 }", "2026-10-31", "07:30:00",
         "[true]", "{ likely = 1, source = 5 }", "{ likely = 1, date = 5 }", "9" * 401,
         "9" * 5000, "0x1F", "[" * 3000, '"""', "''", '{ a = { b = "c" } }',
         "[0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]"]
    ),
    st.floats().map(repr),
    st.integers().map(str),
)  # fmt: skip


@settings(
    max_examples=250,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(line=st.sampled_from(_KEYS), value=_VALUES)
def test_any_text_in_any_value(spoiled: Path, line: int, value: str) -> None:
    """As the value of any key of case.toml, as a text in quotation marks or as it is."""
    path = spoiled / "case.toml"
    original = path.read_bytes()
    lines = list(_LINES)
    lines[line] = f"{lines[line].split(' = ')[0]} = {value}"
    try:
        path.write_bytes("\n".join(lines).encode())
        never_but_a_case_error(spoiled)
    finally:
        path.write_bytes(original)


# --- starting ---------------------------------------------------------------------------------


def test_new_case_is_accepted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`new` makes a folder of its own, from which `check` reads the demonstration."""
    monkeypatch.chdir(tmp_path)
    assert main(["new", "hill_farm"]) == 0
    made = tmp_path / "data" / "cases" / "hill_farm"
    assert "data/cases/hill_farm" in capsys.readouterr().out.replace("\\", "/")
    assert {p.name for p in made.iterdir()} == {p.name for p in starter_folder().iterdir()}
    assert main(["check", "hill_farm"]) == 0
    assert "read without a fault" in capsys.readouterr().out


def test_new_refuses_a_name_that_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is there already stays as it is."""
    monkeypatch.chdir(tmp_path)
    kept = tmp_path / "data" / "cases" / "hill_farm"
    kept.mkdir(parents=True)
    (kept / "case.toml").write_text("mine")
    assert main(["new", "hill_farm"]) == 2
    said = capsys.readouterr()
    assert said.err.startswith("new: the case 'hill_farm' is there already; ")
    assert said.out == ""
    assert [p.read_text() for p in kept.iterdir()] == ["mine"]


@pytest.mark.parametrize("name", ["Hill Farm", "../hill", "hill/farm", "hill.farm", "", "höf"])
def test_new_refuses_a_bad_name(name: str, tmp_path: Path) -> None:
    """Small letters, digits and _ alone: the name is a folder on every system."""
    with pytest.raises(CaseError, match="small letters, digits and _"):
        new_case(name, tmp_path / "cases")
    assert not list(tmp_path.iterdir())


def test_new_says_where_it_cannot_write(tmp_path: Path) -> None:
    """A file where the folder of cases should be."""
    (tmp_path / "cases").write_text("a file")
    with pytest.raises(CaseError, match="cannot be made"):
        new_case("hill_farm", tmp_path / "cases")
