"""The reference tables: complete, honest about their origin, and true to what they quote."""

from __future__ import annotations

import csv
import itertools
import math
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
    " condition floor_note shell note",
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
    "business_forms": "id form own_work_deductible profit_belongs_to note",
    "thresholds": "id measure low high unit reading valid_from note",
    "responses": "id species strain field low likely high unit note",
    "physics": "id label low likely high unit note",
    "shells": "id shell face order material thickness_m note",
    "carriers": "id label unit kwh_per_unit efficiency_low_share efficiency_likely_share"
    " efficiency_high_share efficiency_status low_kgco2e_per_kwh likely_kgco2e_per_kwh"
    " high_kgco2e_per_kwh note",
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
        "form",
        "own_work_deductible",
        "profit_belongs_to",
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
        "field",
        "shell",
        "face",
        "material",
        "efficiency_status",
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
        assert built == [0.03]  # by months, in a straight line over 33 and a third years
    limit = rows["uk_annual_investment_allowance"]
    assert (float(limit["amount"]), limit["currency"]) == (1_000_000, "GBP")
    first = rows["uk_first_year_40"]
    assert (float(first["rate_share"]), first["valid_from"]) == (0.4, "2026-01-01")


def test_allowance_rows_are_well_formed() -> None:
    for row in read("allowances"):
        kinds = {"table", "pool", "first_year", "annual_limit", "by_life", "straight_line"}
        assert row["kind"] in kinds, row["id"]
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


# Responses.

RESPONSE_UNITS = {
    "growth_minimum_c": "C",
    "growth_optimum_c": "C",
    "growth_maximum_c": "C",
    "growth_reference_c": "C",
    "core_excess_k": "K",
    "heat_damage_c": "C",
    "cold_damage_c": "C",
    "damage_share_per_day": "share/(day K)",
    "pin_low_c": "C",
    "pin_high_c": "C",
    "pin_days": "day",
    "pin_shoulder_k": "K",
    "fruit_stop_c": "C",
    "fruit_reference_c": "C",
    "fruit_low_c": "C",
    "fruit_high_c": "C",
    "fruit_hot_k": "K",
    "fruit_cold_k": "K",
    "co2_limit_ppm": "ppm",
    "co2_loss_share_per_1000_ppm": "share/1000 ppm",
    "fruit_humidity_low_share": "share",
    "fruit_humidity_high_share": "share",
    "co2_g_per_kg_h_spawn_run": "g/(kg h)",
    "co2_g_per_kg_h_fruiting": "g/(kg h)",
    "co2_reference_c": "C",
    "co2_q10": "ratio",
    "wet_area_m2_per_unit": "m2",
}
STRAINS = [(species, "any") for species in sorted(SPECIES)] + [
    ("lentinula_edodes", "cold"),
    ("lentinula_edodes", "warm"),
]
Bounds = tuple[float, float, float]
every_strain = pytest.mark.parametrize(("species", "strain"), STRAINS)


def three(row: dict[str, str]) -> Bounds:
    return float(row["low"]), float(row["likely"]), float(row["high"])


def responses(species: str, strain: str) -> dict[str, dict[str, str]]:
    """The rows of a strain by field, those of any strain where it has none of its own."""
    rows = [row for row in read("responses") if row["species"] == species]
    found = {row["field"]: row for row in rows if row["strain"] == "any"}
    return found | {row["field"]: row for row in rows if row["strain"] == strain}


def growth_rate(at_c: float, minimum_c: float, optimum_c: float, maximum_c: float) -> float:
    """Rosso, Lobry and Flandrois 1993, J Theor Biol 162:447-463; 1 at the optimum."""
    if not minimum_c < at_c < maximum_c:
        return 0.0
    from_minimum = optimum_c - minimum_c
    below = from_minimum * (at_c - optimum_c) - (optimum_c - maximum_c) * (
        optimum_c + minimum_c - 2 * at_c
    )
    return (at_c - maximum_c) * (at_c - minimum_c) ** 2 / (from_minimum * below)


@every_strain
def test_every_response_of_every_strain_is_there(species: str, strain: str) -> None:
    rows = responses(species, strain)
    assert {field: row["unit"] for field, row in rows.items()} == RESPONSE_UNITS
    for row in rows.values():
        low, likely, high = three(row)
        assert low <= likely <= high, row["id"]


def test_no_response_is_given_twice() -> None:
    keys = Counter((row["species"], row["strain"], row["field"]) for row in read("responses"))
    assert {key: n for key, n in keys.items() if n > 1} == {}
    assert {(species, strain) for species, strain, _ in keys} == set(STRAINS)


@every_strain
def test_growth_curve_holds_at_every_corner_of_its_ranges(species: str, strain: str) -> None:
    # Rosso et al. 1993: the curve is valid only for an optimum above the middle of the limits.
    rows = responses(species, strain)
    minima, optima, maxima, references = (
        three(rows[f"growth_{name}_c"]) for name in ("minimum", "optimum", "maximum", "reference")
    )
    for minimum, optimum, maximum in itertools.product(minima, optima, maxima):
        assert (minimum + maximum) / 2 < optimum < maximum
        assert growth_rate(optimum, minimum, optimum, maximum) == pytest.approx(1, abs=1e-12)
        # The stated days hold at the reference, so the crop must grow there.
        assert all(growth_rate(at, minimum, optimum, maximum) > 0.4 for at in references)


@every_strain
def test_responses_stand_in_order_at_every_corner(species: str, strain: str) -> None:
    # What the words mean: freezing below standing still below pinning, bands with an upper end
    # above the lower, damage by heat above the temperature that growers aim for.
    value = {field: three(row) for field, row in responses(species, strain).items()}
    for lower, upper in (
        ("cold_damage_c", "fruit_stop_c"),
        ("fruit_stop_c", "pin_low_c"),
        ("fruit_stop_c", "fruit_low_c"),
        ("fruit_stop_c", "fruit_reference_c"),
        ("pin_low_c", "pin_high_c"),
        ("fruit_low_c", "fruit_high_c"),
        ("fruit_humidity_low_share", "fruit_humidity_high_share"),
        ("growth_reference_c", "heat_damage_c"),
    ):
        assert value[lower][2] < value[upper][0], (lower, upper)
    assert value["fruit_low_c"][1] <= value["fruit_reference_c"][1] <= value["fruit_high_c"][1]
    assert value["pin_low_c"][1] < value["fruit_high_c"][1]
    for field in ("pin_shoulder_k", "fruit_hot_k", "fruit_cold_k", "pin_days", "co2_q10"):
        assert value[field][0] > 0, field
    assert value["co2_q10"][0] > 1
    assert value["damage_share_per_day"][0] > 0 and value["damage_share_per_day"][2] < 1
    assert value["co2_loss_share_per_1000_ppm"][2] < 1
    assert value["fruit_humidity_high_share"][2] <= 1
    assert value["co2_limit_ppm"][0] > three(by_id("physics")["co2_outside_ppm"])[2]


# Which quantity of the species table a response is taken from, and its stage.
TAKEN_FROM = {
    "growth_minimum_c": ("spawn_run", "growth_minimum_c", 1),
    "growth_optimum_c": ("spawn_run", "growth_optimum_c", 1),
    "growth_maximum_c": ("spawn_run", "growth_maximum_c", 1),
    "growth_reference_c": ("spawn_run", "substrate_temp_c", 1),
    "pin_low_c": ("pinning", "air_temp_c", 1),
    "pin_high_c": ("pinning", "air_temp_c", 1),
    "pin_days": ("pinning", "duration_days", 1),
    "fruit_low_c": ("fruiting", "air_temp_c", 1),
    "fruit_high_c": ("fruiting", "air_temp_c", 1),
    "co2_limit_ppm": ("fruiting", "co2_ppm", 1),
    "fruit_humidity_low_share": ("fruiting", "relative_humidity_percent", 0.01),
    "fruit_humidity_high_share": ("fruiting", "relative_humidity_percent", 0.01),
}


def test_published_responses_stand_in_the_species_table() -> None:
    # Each published one names a source of the species table and lies within what that prints.
    for row in read("responses"):
        if row["status"] != "published":
            continue
        stage, quantity, scale = TAKEN_FROM[row["field"]]
        printed = [
            r
            for r in read("species")
            if (r["species"], r["stage"], r["quantity"]) == (row["species"], stage, quantity)
            and r["source"] == row["source"]
            and (row["strain"] == "any" or r["strain"] == row["strain"])
        ]
        ends = [float(r[key]) * scale for r in printed for key in ("low", "high") if r[key]]
        assert ends, row["id"]
        assert min(ends) - 1e-9 <= float(row["likely"]) <= max(ends) + 1e-9, row["id"]
        # What was remembered there is not called read here.
        if any(r["mark"].startswith("memory") for r in printed):
            assert row["mark"].startswith("memory"), row["id"]


def test_windows_are_the_printed_ends() -> None:
    # Stamets 2000, chapter 21 (second-hand): pins and fruiting, air.
    for species, strain, pin, fruit in (
        ("pleurotus_ostreatus", "any", (10, 15.6), (10, 21)),
        ("pleurotus_pulmonarius", "any", (10, 24), (18, 24)),
        ("lentinula_edodes", "cold", (10, 16), (10, 21)),
        ("lentinula_edodes", "warm", (16, 21), (16, 27)),
        ("hericium_erinaceus", "any", (10, 15.6), (18, 24)),
        # The same, from memory.
        ("pleurotus_eryngii", "any", (10, 15), (15, 21)),
        ("pleurotus_djamor", "any", (18, 25), (20, 30)),
        ("pleurotus_citrinopileatus", "any", (21, 27), (21, 29)),
        # Pettipher 1988: 11 to 26 C by day; pins over both kinds of strain.
        ("lentinula_edodes", "any", (10, 21), (11, 26)),
    ):
        rows = responses(species, strain)
        for name, ends in (("pin", pin), ("fruit", fruit)):
            found = tuple(float(rows[f"{name}_{end}_c"]["likely"]) for end in ("low", "high"))
            assert found == ends, (species, strain)


def test_growth_of_king_oyster_follows_the_trial() -> None:
    # Soylu et al. 2016, mean of 28 strains, mm a day at 15, 20, 25, 30 C: 0.90, 2.84, 3.35, 2.39.
    rows = responses("pleurotus_eryngii", "any")
    limits = [float(rows[f"growth_{name}_c"]["likely"]) for name in ("minimum", "optimum")]
    limits.append(float(rows["growth_maximum_c"]["likely"]))
    at_25 = growth_rate(25, *limits)
    for at_c, mm_per_day in ((15, 0.90), (20, 2.84), (30, 2.39)):
        # 8 percent: rounded limits that also lie near those of other trials.
        assert growth_rate(at_c, *limits) / at_25 == pytest.approx(mm_per_day / 3.35, rel=0.08)


def test_growth_of_lions_mane_keeps_within_the_trial() -> None:
    # Grigansky et al. 1999, 14 strains: none at 3 and 37 C, best at 26 C.
    rows = responses("hericium_erinaceus", "any")
    minima, optima, maxima = (
        three(rows[f"growth_{name}_c"]) for name in ("minimum", "optimum", "maximum")
    )
    for corner in itertools.product(minima, optima, maxima):
        assert growth_rate(3, *corner) == growth_rate(37, *corner) == 0
    assert optima[1] == 26


def test_yield_lost_to_co2_follows_from_the_trial() -> None:
    # P. ferulae, J. Bio-Environ. Control (koreascholar 252545): 102.4 g a bottle at 1,000 ppm and
    # 75.1 g at 2,000 ppm.
    for species in SPECIES:
        row = responses(species, "any")["co2_loss_share_per_1000_ppm"]
        assert float(row["likely"]) == pytest.approx(1 - 75.1 / 102.4, abs=5e-5)
        assert "elated species" in row["note"]


def test_oyster_co2_rates_add_up_to_the_crop_of_the_paper() -> None:
    # Grimm et al. 2024: 3.5 kg carbon per kg dry mushroom, dry yield 3.8 percent, so 0.488 kg CO2
    # per kg dry straw; at 65 percent moisture, 16 days of spawn run at 24 C, 44 days at 16 C.
    rows = responses("pleurotus_ostreatus", "any")
    q10, reference_c = (float(rows[f]["likely"]) for f in ("co2_q10", "co2_reference_c"))
    per_kg_wet_g = sum(
        float(rows[f"co2_g_per_kg_h_{stage}"]["likely"])
        * 24
        * days
        * q10 ** ((at_c - reference_c) / 10)
        for stage, days, at_c in (("spawn_run", 16, 24), ("fruiting", 44, 16))
    )
    assert per_kg_wet_g / (1 - 0.65) == pytest.approx(1000 * 3.5 * 0.038 * 44.01 / 12.011, rel=0.03)
    # Meilleur et al. 2023: oyster gives off twice what shiitake does in spawn run, five times
    # in fruiting.
    shiitake = responses("lentinula_edodes", "any")
    for stage, times in (("spawn_run", 2), ("fruiting", 5)):
        field = f"co2_g_per_kg_h_{stage}"
        ratio = float(rows[field]["likely"]) / float(shiitake[field]["likely"])
        assert ratio == pytest.approx(times, rel=0.02)


# Physics.

PHYSICS_IDS = """
rsi_up rsi_horizontal rsi_down rse outer_surface_w_per_m2_k roof_emissivity roof_sky_loss_k
absorptance_light absorptance_medium absorptance_dark awning_sun_share ground_albedo
inner_convection_w_per_m2_k mass_transfer_w_per_m2_k mass_surface_m2_per_kg rack_kg_per_place
co2_outside_ppm humidifier_fog_kwh_per_l humidifier_ultrasonic_kwh_per_l humidifier_pad_kwh_per_l
humidifier_steam_kwh_per_l pad_effectiveness_share water_supply_c heat_pump_condenser_approach_k
heat_pump_evaporator_approach_k cooling_evaporator_approach_k cooling_condenser_approach_k
heat_pump_carnot_share cooling_carnot_share heat_pump_least_lift_k heat_pump_rated_inside_c
heat_pump_rated_outside_c cooling_rated_inside_c cooling_rated_outside_c defrost_loss_share
defrost_low_c defrost_high_c coil_apparatus_drop_k coil_apparatus_least_c fan_pressure_pa
fan_efficiency_share heat_recovery_share bridge_temperature_factor bridging_plain_steel_w_per_m2_k
bridging_insulated_w_per_m2_k foam_ageing_scale leakage_plain_steel_per_h leakage_insulated_per_h
store_co2_mg_per_kg_h_at_0_c store_q10 store_water_loss_g_per_kg_h store_c
mushroom_specific_heat_kj_per_kg_k door_volumes_per_opening
substrate_dry_specific_heat_kj_per_kg_k water_specific_heat_kj_per_kg_k lights_heat_to_mass_share
metabolic_heat_kj_per_g_co2 metabolic_water_g_per_g_co2 normals_noise_persistence
normals_daily_spread_k co2_limit_8_h_ppm co2_limit_15_min_ppm co2_limit_15_min_us_ppm
co2_danger_ppm spent_substrate_share hot_water_bath_c hot_water_bath_hours steam_c steam_hours
sterilising_c sterilising_hours cold_lime_bath_hours heat_treatment_loss_share
solar_performance_share
"""


def likely_of(i: str) -> float:
    return float(by_id("physics")[i]["likely"])


def test_physics_holds_what_the_rooms_need() -> None:
    rows = by_id("physics")
    assert set(PHYSICS_IDS.split()) <= set(rows)
    for row in rows.values():
        low, likely, high = three(row)
        assert row["label"] and row["unit"], row["id"]
        assert low <= likely <= high, row["id"]
        if row["unit"] == "share":
            assert low >= 0 and high <= 1, row["id"]
        elif row["unit"] != "C":
            assert low > 0, row["id"]


def test_physics_quoted_values() -> None:
    for i, value in (
        # ISO 6946: up, sideways, down, outside (the split is from memory).
        ("rsi_up", 0.10),
        ("rsi_horizontal", 0.13),
        ("rsi_down", 0.17),
        ("rse", 0.04),
        # CoolProp: steam of 100 C from water of 10 C.
        ("humidifier_steam_kwh_per_l", 0.7315),
        # Rating points A7/A20 and A35/A27, Regulation (EU) 206/2012, from memory.
        ("heat_pump_rated_outside_c", 7),
        ("heat_pump_rated_inside_c", 20),
        ("cooling_rated_outside_c", 35),
        ("cooling_rated_inside_c", 27),
        # Staffell et al. 2012: 15 K is the lower end of the regression.
        ("heat_pump_least_lift_k", 15),
        # OSHA Table Z-1, HSE EH40 (memory), NIOSH.
        ("co2_limit_8_h_ppm", 5000),
        ("co2_limit_15_min_ppm", 15000),
        ("co2_limit_15_min_us_ppm", 30000),
        ("co2_danger_ppm", 40000),
        # ASHRAE Refrigeration, table 3, from memory.
        ("mushroom_specific_heat_kj_per_kg_k", 3.99),
        # J Food Eng 2017: 0.52 g/(kg h) at 2 C and 100 percent.
        ("store_water_loss_g_per_kg_h", 0.52),
    ):
        assert likely_of(i) == value, i
    for limit in ("co2_limit_8_h_ppm", "co2_limit_15_min_ppm", "co2_limit_15_min_us_ppm"):
        assert f"{likely_of(limit):,.0f} ppm" in by_id("cautions")["co2_limits"]["text"]


def test_respiration_follows_from_stoichiometry() -> None:
    # C6H12O6 + 6 O2 -> 6 CO2 + 6 H2O, 2,805 kJ/mol (memory); IUPAC masses of CO2 and water.
    assert likely_of("metabolic_heat_kj_per_g_co2") == pytest.approx(2805 / (6 * 44.01), rel=1e-4)
    assert likely_of("metabolic_water_g_per_g_co2") == pytest.approx(18.015 / 44.01, rel=2e-4)


def test_store_respiration_follows_from_the_trials() -> None:
    # Bohling and Hansen 1989, oyster: 2,500 J/(kg h) at 15 C, 750 at 3.5 C.
    q10 = likely_of("store_q10")
    assert q10 == pytest.approx((2500 / 750) ** (10 / 11.5), rel=0.01)
    # Suslow and Cantwell, Agaricus, mL CO2/(kg h): 14 to 22 at 0 C, 132 to 158 at 20 C; the upper
    # end at 0 C and the middle at 20 C is their 2.84 squared from 18.
    assert q10 == pytest.approx(((132 + 158) / (14 + 22)) ** 0.5, rel=0.01)
    mg = 1000 * 0.750 / likely_of("metabolic_heat_kj_per_g_co2") / q10**0.35
    assert likely_of("store_co2_mg_per_kg_h_at_0_c") == pytest.approx(mg, rel=0.01)


def test_absorptances_follow_from_the_sol_air_figures() -> None:
    # ASHRAE, from memory: absorptance over surface coefficient 0.026 light, 0.052 dark.
    surface = likely_of("outer_surface_w_per_m2_k")
    for shade, ratio in (("light", 0.026), ("dark", 0.052)):
        assert likely_of(f"absorptance_{shade}") == pytest.approx(ratio * surface, rel=0.03)
    assert (
        likely_of("absorptance_light")
        < likely_of("absorptance_medium")
        < likely_of("absorptance_dark")
    )


def test_machines_without_a_rated_point_come_near_usual_ones() -> None:
    # Trial figures recomputed: A7/A20 3.852, A35/A27 3.422 (share of the ideal coefficient).
    condenser_k = 20 + 273.15 + likely_of("heat_pump_condenser_approach_k")
    lift_k = 13 + sum(
        likely_of(f"heat_pump_{side}_approach_k") for side in ("condenser", "evaporator")
    )
    heating = likely_of("heat_pump_carnot_share") * condenser_k / lift_k
    assert heating == pytest.approx(3.852, abs=0.001)
    evaporator_k = 27 + 273.15 - likely_of("cooling_evaporator_approach_k")
    lift_k = 8 + sum(
        likely_of(f"cooling_{side}_approach_k") for side in ("condenser", "evaporator")
    )
    cooling = likely_of("cooling_carnot_share") * evaporator_k / lift_k
    assert cooling == pytest.approx(3.422, abs=0.001)


def test_loss_of_heat_treatment_follows_from_the_trial() -> None:
    # Grimm, Sonntag and Rahmann: 1,068 kJ per kg dry with hot air at 75 C. From 15 C the substrate
    # itself needs 60 K x (straw 1.4 + water x 4.186), with 65 to 70 percent water.
    low, likely, high = three(by_id("physics")["heat_treatment_loss_share"])
    losses = []
    for moisture in (0.65, 0.70):
        water = moisture / (1 - moisture)
        straw = likely_of("substrate_dry_specific_heat_kj_per_kg_k")
        need = 60 * (straw + water * likely_of("water_specific_heat_kj_per_kg_k"))
        losses.append(1 - need / 1068)
    assert low < min(losses) < likely < max(losses) < high


def test_spent_substrate_follows_from_the_mass_balance() -> None:
    # 28 percent of the dry mass leaves as CO2, 3.8 to 9.2 percent in mushrooms (Grimm et al.
    # 2024); 65 percent water at the start, 60 to 70 percent at the end (guess).
    low, likely, high = three(by_id("physics")["spent_substrate_share"])
    left = [
        0.35 * (1 - 0.28 - picked) / (1 - moisture)
        for picked in (0.038, 0.092)
        for moisture in (0.60, 0.70)
    ]
    assert low < min(left) < likely < max(left) <= high


def test_foam_ages_as_containers_in_service_did() -> None:
    # Heap, with Scrine: 3.1 percent a year on average; likely is a box of eight years.
    low, likely, high = three(by_id("physics")["foam_ageing_scale"])
    assert likely == pytest.approx(1 + 8 * 0.031, abs=0.005)
    assert low == 1
    # The aged foam of the materials table lies within.
    materials = by_id("materials")
    aged, new = (
        float(materials[f"refrigerated_box_foam{suffix}"]["conductivity_w_per_m_k"])
        for suffix in ("_aged", "")
    )
    assert low < aged / new < high


# Shells.


def layers(shell: str, face: str) -> list[dict[str, str]]:
    rows = [row for row in read("shells") if (row["shell"], row["face"]) == (shell, face)]
    return sorted(rows, key=lambda row: int(row["order"]))


def face_u(shell: str, face: str, ageing: float = 1.0) -> float:
    """U-value in W/(m2 K) of the plain layers with ISO 6946 surface resistances."""
    inner = {"wall": "rsi_horizontal", "roof": "rsi_up", "floor": "rsi_down"}[face]
    total = likely_of(inner) + likely_of("rse")
    for row in layers(shell, face):
        conductivity = float(by_id("materials")[row["material"]]["conductivity_w_per_m_k"])
        scale = ageing if row["material"] == "refrigerated_box_foam" else 1.0
        total += float(row["thickness_m"]) / (conductivity * scale)
    return 1 / total


def test_every_kind_of_box_has_a_shell_of_known_materials() -> None:
    kinds = read("containers")
    assert {row["shell"] for row in kinds} == {"plain_steel", "insulated"}
    for row in kinds:
        assert (row["shell"] == "insulated") == ("insulated" in row["id"]), row["id"]
    materials = by_id("materials")
    for row in read("shells"):
        assert materials[row["material"]]["conductivity_w_per_m_k"], row["id"]
        assert 0.0005 <= float(row["thickness_m"]) <= 0.12, row["id"]
    for shell, face in itertools.product(("plain_steel", "insulated"), ("wall", "roof", "floor")):
        orders = [int(row["order"]) for row in layers(shell, face)]
        assert orders == list(range(1, len(orders) + 1)) and orders
    assert {row["face"] for row in read("shells")} == {"wall", "roof", "floor"}


def test_bare_steel_wall_has_the_known_u_value() -> None:
    # ISO 6946 formula: 0.13 + 0.0016/50 + 0.04, so 5.8812 W/(m2 K).
    assert face_u("plain_steel", "wall") == pytest.approx(5.881246, abs=1e-6)


def test_insulated_shell_fits_between_inside_and_outside() -> None:
    thickness = {
        face: sum(float(row["thickness_m"]) for row in layers("insulated", face))
        for face in ("wall", "roof", "floor")
    }
    for row in read("containers"):
        if row["shell"] == "insulated":
            width = float(row["external_width_m"]) - float(row["internal_width_m"])
            assert 0.8 * width / 2 < thickness["wall"] < width / 2, row["id"]
            height = float(row["external_height_m"]) - float(row["internal_height_m"])
            assert thickness["roof"] + thickness["floor"] < height, row["id"]


def test_insulated_shell_is_as_good_as_the_rule_for_such_boxes_asks() -> None:
    # ATP agreement, annex 1: heavily insulated means at most 0.40 W/(m2 K) over the geometric mean
    # of outer and inner surface, insulated at most 0.70 (second-hand: IIR document 31844).
    # Layers alone, without frame; below 0.2 no box of this wall could be.
    box = by_id("containers")["ft20_insulated_used"]
    for ageing, most in (
        (1.0, 0.40),
        (three(by_id("physics")["foam_ageing_scale"])[2], 0.70),
    ):
        heat, areas = 0.0, []
        for side in ("external", "internal"):
            length, width, height = (
                float(box[f"{side}_{part}_m"]) for part in ("length", "width", "height")
            )
            flat, upright = length * width, 2 * height * (length + width)
            areas.append((flat, flat, upright))
        for face, outside, inside in zip(("roof", "floor", "wall"), *areas, strict=True):
            heat += face_u("insulated", face, ageing) * math.sqrt(outside * inside)
        mean = math.sqrt(sum(areas[0]) * sum(areas[1]))
        assert 0.2 < heat / mean <= most


# Carriers.


def test_carriers_follow_the_conversion_factors() -> None:
    # UK conversion factors 2023, v1.1 (copy): kgCO2e for each kWh (net) and for each unit;
    # their ratio is the heat value.
    rows = by_id("carriers")
    printed = {
        "bottled_gas": (0.230316097, 2.939360949),
        "natural_gas": (0.202671419, 2.03839031),
        "wood_pellets": (0.01074, 0.05156192),
        "firewood": (0.01074, 0.04389327),
        "heating_oil": (0.272876989, 2.755408979),
        "kerosene": (0.259753528, 2.540155856),
    }
    assert set(rows) == set(printed)
    for i, (per_kwh, per_unit) in printed.items():
        row = rows[i]
        assert float(row["likely_kgco2e_per_kwh"]) == pytest.approx(per_kwh, abs=6e-5), i
        assert float(row["kwh_per_unit"]) == pytest.approx(per_unit / per_kwh, rel=1e-4), i
        for form in ("efficiency_{}_share", "{}_kgco2e_per_kwh"):
            bounds = [float(row[form.format(end)]) for end in ("low", "likely", "high")]
            assert bounds == sorted(bounds) and bounds[0] > 0 and bounds[2] <= 1, i
        assert row["unit"] in {"kg", "L", "m3"}
        assert row["efficiency_status"] == "guess"


# Cautions at the point of use.


def test_each_caution_of_the_list_is_there() -> None:
    # The project's own list of risks: place, and what its text must speak of.
    texts = defaultdict(str)
    for row in read("cautions"):
        texts[row["place"]] += " " + row["text"].lower()
    for place, words in (
        ("container", "opening stack"),
        ("electricity", "residual-current bonded"),
        ("co2", "air meter alarm before 5,000 15,000 30,000"),
        ("spores", "mask"),
        ("heat", "scald steam"),
        ("lifting", "backs"),
        ("water", "legionella fog none standing"),
        ("lime", "eyes skin alkaline"),
        ("burner", "carbon monoxide closed flue"),
        ("pressure", "tested inspection gauge"),
        ("foam", "insurer burn"),
        ("floor", "treated"),
        ("cooling", "power cut alarm"),
        ("working_alone", "tell"),
        ("doors", "from inside"),
        ("food", "rules"),
        ("planning", "consent"),
        ("money", "not advice"),
    ):
        assert [word for word in words.split() if word not in texts[place]] == [], place
