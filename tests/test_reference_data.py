"""The reference tables: complete, honest about their origin, and true to what they quote."""

from __future__ import annotations

import csv
import re
from collections import Counter, defaultdict
from datetime import date
from pathlib import Path

import pytest

REFERENCE = Path(__file__).parents[1] / "data" / "reference"

ORIGIN = ["source", "page", "status", "mark"]
COLUMNS = {
    "containers": "id label external_length_m external_width_m external_height_m"
    " internal_length_m internal_width_m internal_height_m door_width_m door_height_m tare_kg"
    " condition floor_note note",
    "species": "id species strain stage quantity low high unit note",
    "yields": "id species substrate treatment quantity low likely high unit basis note",
    "materials": "id label use conductivity_w_per_m_k density_kg_per_m3"
    " specific_heat_j_per_kg_k typical_thickness_mm note",
    "substrates": "id label role moisture_share carbon_share_of_dry nitrogen_share_of_dry"
    " bulk_density_kg_per_m3 note",
    "scope": "id group label why",
    "allowances": "id schedule jurisdiction kind asset_class valid_from valid_to year rate_share"
    " amount currency note",
    "cautions": "id place text defer_to",
    "thresholds": "id measure low high unit reading valid_from note",
}
TEXT_COLUMNS = set(
    [
        "id",
        "label",
        "condition",
        "floor_note",
        "note",
        "source",
        "page",
        "status",
        "mark",
        "species",
        "strain",
        "stage",
        "quantity",
        "unit",
        "substrate",
        "treatment",
        "basis",
        "use",
        "role",
        "group",
        "why",
        "schedule",
        "jurisdiction",
        "kind",
        "asset_class",
        "valid_from",
        "valid_to",
        "currency",
        "place",
        "text",
        "defer_to",
        "measure",
        "reading",
    ]
)
SPECIES = {
    "pleurotus_ostreatus",
    "pleurotus_pulmonarius",
    "lentinula_edodes",
    "hericium_erinaceus",
    "pleurotus_eryngii",
    "pleurotus_djamor",
    "pleurotus_citrinopileatus",
}


def read(table: str) -> list[dict[str, str]]:
    with (REFERENCE / f"{table}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file, strict=True))


def by_id(table: str) -> dict[str, dict[str, str]]:
    return {row["id"]: row for row in read(table)}


every_table = pytest.mark.parametrize("table", sorted(COLUMNS))


# Form: the conventions of the project's own data folder.


@every_table
def test_columns_and_rows(table: str) -> None:
    with (REFERENCE / f"{table}.csv").open(newline="", encoding="utf-8") as file:
        header, *rows = list(csv.reader(file, strict=True))
    assert header == COLUMNS[table].split() + ORIGIN
    assert rows
    assert {len(row) for row in rows} == {len(header)}


@every_table
def test_every_row_says_where_it_comes_from(table: str) -> None:
    marks = {"read", "second_hand", "memory_high", "memory_medium", "memory_low", "computed"}
    for row in read(table):
        assert row["source"].strip(), row["id"]
        assert row["status"] in {"measured", "quoted", "published", "guess"}, row["id"]
        assert row["mark"] in marks, row["id"]
        if row["source"] == "common practice, no source":
            assert row["status"] == "guess", row["id"]


@every_table
def test_ids_are_unique_and_plain(table: str) -> None:
    ids = [row["id"] for row in read(table)]
    assert [i for i, count in Counter(ids).items() if count > 1] == []
    assert [i for i in ids if not re.fullmatch(r"[a-z0-9_]+", i)] == []


@every_table
def test_number_columns_hold_numbers_in_order(table: str) -> None:
    for row in read(table):
        for column, cell in row.items():
            assert cell == cell.strip(), (row["id"], column)
            if cell and column not in TEXT_COLUMNS:
                float(cell)
        bounds = [float(row[key]) for key in ("low", "likely", "high") if row.get(key)]
        assert bounds == sorted(bounds), row["id"]


# Containers.


def test_container_outside_sizes() -> None:
    # ISO 668:2020, types 1CC (20 ft), 1AA (40 ft) and 1AAA (40 ft high cube), in metres.
    twenty, forty, high_cube = (
        (6.058, 2.438, 2.591),
        (12.192, 2.438, 2.591),
        (12.192, 2.438, 2.896),
    )
    expected = {
        "ft20": twenty,
        "ft20_used": twenty,
        "ft20_insulated_used": twenty,
        "ft40": forty,
        "ft40_high_cube": high_cube,
        "ft40_high_cube_used": high_cube,
        "ft40_high_cube_insulated_used": high_cube,
    }
    found = {
        i: tuple(float(row[f"external_{side}_m"]) for side in ("length", "width", "height"))
        for i, row in by_id("containers").items()
    }
    assert found == expected


def test_container_least_inner_sizes() -> None:
    # ISO 1496-1 (from memory): 5.867 or 11.998 m long, 2.330 m wide, 0.241 m lower than outside;
    # door opening at least 2.286 m wide, 2.261 m high (2.566 m for a high cube).
    rows = by_id("containers")
    for i, length, door in (
        ("ft20", 5.867, 2.261),
        ("ft40", 11.998, 2.261),
        ("ft40_high_cube", 11.998, 2.566),
    ):
        row = rows[i]
        assert float(row["internal_length_m"]) == length
        assert float(row["internal_width_m"]) == 2.330
        lower = float(row["external_height_m"]) - float(row["internal_height_m"])
        assert lower == pytest.approx(0.241, abs=1e-9)
        assert (float(row["door_width_m"]), float(row["door_height_m"])) == (2.286, door)


def test_container_inside_is_smaller_than_outside() -> None:
    # Geometry; a former refrigerated box has thicker walls than a plain one.
    rows = by_id("containers")
    for row in rows.values():
        for side in ("length", "width", "height"):
            inside, outside = float(row[f"internal_{side}_m"]), float(row[f"external_{side}_m"])
            assert 0.8 * outside < inside < outside, row["id"]
        assert float(row["door_width_m"]) <= float(row["internal_width_m"])
        assert float(row["door_height_m"]) <= float(row["internal_height_m"])
    for plain in ("ft20", "ft40_high_cube"):
        for side in ("length", "width", "height"):
            column = f"internal_{side}_m"
            assert float(rows[f"{plain}_insulated_used"][column]) < float(rows[plain][column])


# Species.


def test_species_stages_and_limits() -> None:
    rows = read("species")
    assert {row["species"] for row in rows} == SPECIES
    assert {row["stage"] for row in rows} == {"spawn_run", "pinning", "fruiting"}
    assert {r["strain"] for r in rows if r["species"] == "lentinula_edodes"} == {
        "any",
        "cold",
        "warm",
    }
    for row in rows:
        bounds = [float(row[key]) for key in ("low", "high") if row[key]]
        assert bounds, row["id"]
        if row["unit"] == "C":
            assert all(-5 <= bound <= 60 for bound in bounds), row["id"]
        if row["unit"] == "percent":
            assert all(0 <= bound <= 100 for bound in bounds), row["id"]
        assert min(bounds) >= 0 or row["unit"] == "C", row["id"]


def test_one_unit_for_each_quantity() -> None:
    for table in ("species", "yields"):
        units = defaultdict(set)
        for row in read(table):
            units[row["quantity"]].add(row["unit"])
        assert {q: u for q, u in units.items() if len(u) != 1} == {}


def test_each_species_has_a_set_point_for_each_stage() -> None:
    found = {(r["species"], r["stage"], r["quantity"]) for r in read("species")}
    for species in SPECIES:
        for stage in ("spawn_run", "pinning", "fruiting"):
            temperature = "substrate_temp_c" if stage == "spawn_run" else "air_temp_c"
            for quantity in (
                temperature,
                "relative_humidity_percent",
                "duration_days",
                "co2_ppm",
                "fresh_air_changes_per_h",
                "light_lux",
            ):
                assert (species, stage, quantity) in found, (species, stage, quantity)
        for quantity in ("growth_minimum_c", "growth_optimum_c", "growth_maximum_c"):
            assert (species, "spawn_run", quantity) in found, (species, quantity)


def test_species_quoted_values() -> None:
    rows = by_id("species")
    for i, low, high in (
        # Stamets 2000, chapter 21.
        ("ostreatus_pinning_air_temp_c", "10", "15.6"),
        ("ostreatus_spawn_run_co2_ppm", "5000", "20000"),
        ("edodes_cold_fruiting_air_temp_c", "10", "21"),
        ("edodes_warm_fruiting_air_temp_c", "16", "27"),
        # Royse, Penn State, about 2003: air and not substrate.
        ("ostreatus_spawn_run_air_temp_c", "18", "20"),
        # Grigansky et al. 1999: no growth at 3 and 37 C, best at 26 C.
        ("erinaceus_spawn_run_growth_minimum_c", "3", ""),
        ("erinaceus_spawn_run_growth_optimum_c", "26", "26"),
        ("erinaceus_spawn_run_growth_maximum_c", "", "37"),
        # Soylu et al. 2016: mean of 28 strains.
        ("eryngii_spawn_run_growth_mm_per_day_at_25c", "3.35", "3.35"),
    ):
        assert (rows[i]["low"], rows[i]["high"]) == (low, high), i


def test_oyster_co2_average_follows_from_the_paper() -> None:
    # Grimm et al. 2024: 3.5 kg carbon per kg dry mushroom, dry yield 3.8 percent;
    # spread over 60 days and 65 percent moisture.
    per_kg_dry_g = 1000 * 3.5 * 0.038 * 44.01 / 12.011
    per_kg_wet_h = per_kg_dry_g * (1 - 0.65) / (60 * 24)
    row = by_id("species")["ostreatus_fruiting_co2_g_per_kg_wet_h_2"]
    assert float(row["low"]) == pytest.approx(per_kg_wet_h, rel=0.01)


# Yields.


def test_likely_yields_come_from_farms_only() -> None:
    for row in read("yields"):
        assert row["species"] in SPECIES, row["id"]
        assert row["basis"] in {"laboratory", "farm", "handbook", "single_flush"}, row["id"]
        assert bool(row["likely"]) <= (row["basis"] == "farm"), row["id"]
        assert re.fullmatch(
            r"biological_efficiency_share|flush_share_[1-9]|flush_interval_days|first_pick_days",
            row["quantity"],
        ), row["id"]
        top = 3 if row["quantity"] == "biological_efficiency_share" else 1
        if row["id"] == "edodes_wheat_straw_be":
            top = 3.201  # Gaitan-Hernandez et al. 2014 print 320.1 percent as their highest.
        if row["unit"] == "share":
            assert 0 <= float(row["low"]) <= float(row["high"]) <= top, row["id"]
        assert re.fullmatch(r"[a-z0-9_]+", row["substrate"]), row["id"]


def test_farm_yield_of_bought_in_bags() -> None:
    # SARE FNE13-786, 2013: 225 bags of 18 lb, 1,208 lb picked; at 60, 65, 70 percent moisture.
    row = by_id("yields")["ostreatus_bought_in_bag_be"]
    for key, moisture in (("low", 0.60), ("likely", 0.65), ("high", 0.70)):
        expected = 1208 / (225 * 18 * (1 - moisture))
        assert float(row[key]) == pytest.approx(expected, abs=0.001)


def test_flush_shares_recomputed() -> None:
    # Grey oyster biofarm, Advances in Agriculture 2019, table 3: 23.75, 15.33, 6.25, 3.8 of 49.16.
    rows = by_id("yields")
    for flush, bodies in ((2, 15.33), (3, 6.25), (4, 3.8)):
        row = rows[f"pulmonarius_sawdust_flush_share_{flush}"]
        assert float(row["low"]) == pytest.approx(bodies / 49.16, abs=0.0006)
    first = rows["pulmonarius_sawdust_flush_share_1"]
    assert float(first["low"]) < 23.75 / 49.16 < float(first["high"])


# Materials and substrates.


def test_materials_are_physical() -> None:
    for row in read("materials"):
        if row["id"] == "air_gap_wall":
            # ISO 6946: an air layer has a resistance, which stands in the note.
            assert row["conductivity_w_per_m_k"] == ""
            assert "0.18 m2 K/W" in row["note"]
        else:
            assert 0.02 <= float(row["conductivity_w_per_m_k"]) <= 200, row["id"]
        assert 1 <= float(row["density_kg_per_m3"]) <= 8000, row["id"]
        assert 400 <= float(row["specific_heat_j_per_kg_k"]) <= 2500, row["id"]
        assert 0 < float(row["typical_thickness_mm"]) <= 200, row["id"]


def test_material_quoted_values() -> None:
    # EN ISO 10456, Table 3: steel 50, PVC 0.17, plywood of 500 kg/m3 0.13 W/(m K).
    rows = by_id("materials")
    for i, value in (("steel", 50), ("pvc_cladding", 0.17), ("plywood", 0.13)):
        assert float(rows[i]["conductivity_w_per_m_k"]) == value


def test_substrate_shares() -> None:
    for row in read("substrates"):
        assert row["role"] in {"base", "supplement", "mineral", "spawn", "bag"}, row["id"]
        if row["moisture_share"]:
            assert 0 <= float(row["moisture_share"]) < 0.9, row["id"]
        if row["carbon_share_of_dry"]:
            # Cellulose holds 0.444, lignin about 0.63 carbon (composition of plant matter).
            assert 0 <= float(row["carbon_share_of_dry"]) <= 0.6, row["id"]
            assert 0 <= float(row["nitrogen_share_of_dry"]) <= 0.16, row["id"]


def test_carbon_to_nitrogen_ratios() -> None:
    # NRAES-54, appendix A: straw 127, hardwood shavings 560, coffee grounds 20;
    # J Wood Sci 2020, table 3: wood chip 48.79 and 0.16 percent, so 305.
    rows = by_id("substrates")
    for i, ratio in (
        ("wheat_straw", 127),
        ("hardwood_shavings", 560),
        ("coffee_grounds", 20),
        ("hardwood_chip", 305),
    ):
        carbon, nitrogen = (
            float(rows[i][key]) for key in ("carbon_share_of_dry", "nitrogen_share_of_dry")
        )
        assert carbon / nitrogen == pytest.approx(ratio, rel=0.005)


# Scope.


def test_scope_groups() -> None:
    # The project's own list of what a container farm has to buy or do.
    groups = [
        "site",
        "container",
        "shell",
        "air",
        "climate",
        "power",
        "water",
        "racks",
        "substrate",
        "store",
        "safety",
        "start",
    ]
    rows = read("scope")
    assert list(dict.fromkeys(row["group"] for row in rows)) == groups
    assert 40 <= len(rows) <= 55
    assert all(row["label"] and row["why"] for row in rows)


# Allowances.


def test_macrs_tables_sum_to_one() -> None:
    # IRS Publication 946, Appendix A, Table A-1 (half-year convention): each column is 100 percent
    # and runs one year longer than the life. A known slip elsewhere prints 6.83 in year 5 of 15.
    years = defaultdict(dict)
    for row in read("allowances"):
        if row["schedule"].startswith("us_macrs_"):
            years[row["schedule"]][int(row["year"])] = float(row["rate_share"])
    assert set(years) == {f"us_macrs_{life}y" for life in (3, 5, 7, 10, 15, 20)}
    for schedule, rates in years.items():
        life = int(re.findall(r"\d+", schedule)[0])
        assert sorted(rates) == list(range(1, life + 2))
        assert abs(sum(rates.values()) - 1) < 1e-12
    assert years["us_macrs_7y"][2] == 0.2449
    assert years["us_macrs_15y"][5] == 0.0693


def test_macrs_tables_follow_the_declining_balance_rule() -> None:
    # 26 USC 168(b), (d): 200 percent declining balance (150 for 15 and 20 years), half a year at
    # either end, change to straight line where that is larger. Table A-1 is rounded.
    table = {
        (r["schedule"], r["year"]): float(r["rate_share"]) for r in read("allowances") if r["year"]
    }
    for life in (3, 5, 7, 10, 15, 20):
        factor = (2.0 if life <= 10 else 1.5) / life
        left = 1.0
        for year in range(1, life + 2):
            remaining_life = life - max(year - 1.5, 0)
            part = 0.5 if year == 1 else min(1.0, remaining_life)
            rate = max(left * factor * part, left * part / remaining_life)
            left -= rate
            assert table[f"us_macrs_{life}y", str(year)] == pytest.approx(rate, abs=1e-4)


def test_uk_rates_and_dates() -> None:
    # HMRC policy paper of 26 November 2025: 18 then 14 percent from 1 (companies) and
    # 6 (income tax) April 2026, special rate 6, allowance of 1,000,000, 40 percent from 1 Jan 2026.
    rows = by_id("allowances")
    for who, day in (("company", 1), ("income_tax", 6)):
        old, new = rows[f"uk_main_pool_{who}_18"], rows[f"uk_main_pool_{who}_14"]
        assert (float(old["rate_share"]), float(new["rate_share"])) == (0.18, 0.14)
        assert date.fromisoformat(new["valid_from"]) == date(2026, 4, day)
        gap = date.fromisoformat(new["valid_from"]) - date.fromisoformat(old["valid_to"])
        assert gap.days == 1
        assert float(rows[f"uk_special_pool_{who}_6"]["rate_share"]) == 0.06
        # Capital Allowances Act 2001 part 2A: 3 percent a year until all of the cost is used.
        built = [
            float(row["rate_share"])
            for row in rows.values()
            if row["schedule"] == f"uk_structures_{who}"
        ]
        assert set(built[:-1]) == {0.03}
        assert sum(built) == pytest.approx(1, abs=1e-12)
    limit = rows["uk_annual_investment_allowance"]
    assert (float(limit["amount"]), limit["currency"]) == (1_000_000, "GBP")
    first = rows["uk_first_year_40"]
    assert (float(first["rate_share"]), first["valid_from"]) == (0.4, "2026-01-01")


def test_allowance_rows_are_well_formed() -> None:
    for row in read("allowances"):
        assert row["kind"] in {"table", "pool", "first_year", "annual_limit", "by_life"}, row["id"]
        assert (row["kind"] == "table") == bool(row["year"]), row["id"]
        assert (row["kind"] == "by_life") != bool(row["rate_share"]), row["id"]
        assert bool(row["amount"]) == bool(row["currency"]), row["id"]
        days = [date.fromisoformat(row[key]) for key in ("valid_from", "valid_to") if row[key]]
        assert days == sorted(days), row["id"]


# Cautions.


def test_cautions_cover_every_place() -> None:
    # The project's own list of risks, each shown where the work is done.
    places = [
        "container",
        "electricity",
        "co2",
        "spores",
        "heat",
        "water",
        "lime",
        "burner",
        "pressure",
        "foam",
        "floor",
        "cooling",
        "working_alone",
        "doors",
        "food",
        "planning",
        "money",
        "lifting",
    ]
    rows = read("cautions")
    assert {row["place"] for row in rows} == set(places)
    for row in rows:
        assert row["defer_to"], row["id"]
        assert re.search(r"\.$", row["text"]), row["id"]
        assert 1 <= len(re.findall(r"\.(?=\s|$)", row["text"])) <= 3, row["id"]


def test_co2_limits() -> None:
    # OSHA 29 CFR 1910.1000 Table Z-1 (5,000 ppm, 8 h), NIOSH (30,000 ppm, 15 min),
    # HSE EH40/2005 (5,000 ppm, 8 h; 15,000 ppm, 15 min, from memory).
    text = by_id("cautions")["co2_limits"]["text"]
    for figure in ("5,000", "30,000", "15,000"):
        assert f"{figure} ppm" in text
    # Stamets 2000, chapter 21: spawn-run rooms at 5,000 to 20,000 ppm.
    room = by_id("cautions")["co2_spawn_run_room"]["text"]
    assert "5,000 to 20,000 ppm" in room


# Thresholds.


def test_thresholds() -> None:
    rows = by_id("thresholds")
    # SBA SOP 50 10 5(F), 2014: operating cash flow at least 1.15 of debt service.
    assert float(rows["sba_7a_coverage"]["low"]) == 1.15
    # Cornell Small Farms Program scorecard: current ratio above 2, 1.3 to 2, below 1.3;
    # working capital above 30, 10 to 30, below 10 percent; debt below 30, 30 to 60, above 60.
    for name, edges in (
        ("current_ratio", {1.3, 2}),
        ("working_capital", {0.1, 0.3}),
        ("debt_to_assets", {0.3, 0.6}),
        # University of Minnesota scorecard, from memory: 1.25 and 1.75.
        ("term_debt_coverage", {1.25, 1.75}),
    ):
        middle = rows[f"{name}_caution"]
        assert {float(middle["low"]), float(middle["high"])} == edges
        outer = [rows[f"{name}_{reading}"] for reading in ("good", "weak")]
        assert {float(row["low"] or row["high"]) for row in outer} == edges
    for row in rows.values():
        assert row["low"] or row["high"], row["id"]
        assert row["reading"], row["id"]
