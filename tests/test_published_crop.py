"""Published sums of crop and store, and a published budget run as a case from end to end.

Each value lies in `tests/published/` with its source; the budget is the case folder
`tests/published/oyster_house` with `expected.json` beside it.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

import farmcase as fc
from farmcase.crop.harvest import biological_efficiency_share, kept_share
from farmcase.crop.substrate import carbon_to_nitrogen, unit_dry_kg

PUBLISHED = Path(__file__).parent / "published"
FILES = {p.stem: json.loads(p.read_text(encoding="utf-8")) for p in PUBLISHED.glob("*.json")}
CROP = {name: s for name, s in sorted(FILES.items()) if s.get("subject") == "crop"}
TRIED: set[str] = set()
LB = 0.45359237  # kg, exact (international avoirdupois pound)


def published(kind: str) -> pytest.MarkDecorator:
    """Run a test for every published case of a kind."""
    TRIED.add(kind)
    found = [
        pytest.param(case, id=f"{name} {case['id']}")
        for name, source in CROP.items()
        for case in source["cases"]
        if case["kind"] == kind
    ]
    return pytest.mark.parametrize("case", found)


# The files.


def test_every_published_case_is_tried() -> None:
    """No case lies in a file without a test that uses it, and each says where it was read."""
    assert {case["kind"] for source in CROP.values() for case in source["cases"]} == TRIED
    for source in CROP.values():
        assert source["source"] and source["read_at"] and source["mark"].startswith("found")
        for case in source["cases"]:
            assert case["place"] and case["tolerance_reason"]
            assert ("recomputed" in case) == bool(case.get("reason"))


# Biological efficiency.


@published("biological_efficiency")
def test_biological_efficiency(case: dict[str, Any]) -> None:
    """Horticulturae 11(10):1220, table of section 3.3: ten substrates for lion's mane."""
    given = case["inputs"]
    share = biological_efficiency_share(np.array(given["fresh_g"]) / 1000, given["dry_g"] / 1000)
    assert_allclose(100 * share, case["printed"], rtol=0, atol=case["tolerance"])


@published("bag_efficiency")
def test_efficiency_of_bought_bags(case: dict[str, Any]) -> None:
    """SARE FNE13-786: pounds picked over wet bags, and over their dry mass at three moistures."""
    given, computed = case["inputs"], case["recomputed"]
    picked, wet = given["picked_lb"] * LB, given["bags"] * given["bag_lb"] * LB
    dry = given["bags"] * unit_dry_kg(given["bag_lb"] * LB, given["moisture"])
    share = 100 * biological_efficiency_share(picked, dry)
    assert_allclose(share, computed["biological_efficiency"], rtol=0, atol=case["tolerance"])
    of_wet = 100 * biological_efficiency_share(picked, wet)
    assert of_wet == pytest.approx(computed["of_wet_weight"], abs=case["tolerance"])


# Store.


@published("store_loss")
def test_weight_kept_in_store(case: dict[str, Any]) -> None:
    """J Food Eng 2017, doi 10.1016/j.jfoodeng.2017.05.026: loss by the hour, kept by the day."""
    per_day = np.array(case["inputs"]["loss_g_per_kg_h"] * 24 / 1000)
    kept = 100 * kept_share(per_day, np.array(case["inputs"]["days"]))
    assert_allclose(kept, case["recomputed"], rtol=0, atol=case["tolerance"])


def test_store_loss_compounds() -> None:
    """Same source: five days at 2 C leave 93.9 percent compounding, 93.8 in a straight line."""
    rate = 0.52 * 24 / 1000
    kept = float(kept_share(np.array(rate), np.array(5.0)))
    assert (round(100 * kept, 1), round(100 * (1 - 5 * rate), 1)) == (93.9, 93.8)


# Carbon to nitrogen.


@published("carbon_to_nitrogen")
def test_carbon_to_nitrogen(case: dict[str, Any]) -> None:
    """J Wood Sci 2020, doi 10.1186/s10086-020-01935-7, table 3: three materials alone."""
    given = case["inputs"]
    pairs = zip(given["carbon"], given["nitrogen"], strict=True)
    ratios = [carbon_to_nitrogen([2.5], [c / 100], [n / 100]) for c, n in pairs]
    assert_allclose(ratios, case["recomputed"], rtol=0, atol=case["tolerance"])


def test_carbon_to_nitrogen_of_a_mix_goes_by_mass() -> None:
    """Constructed, no publication, on that table's wood chip and mycelium: 94.2 over 2.43."""
    mixed = carbon_to_nitrogen([1.0, 1.0], [0.4879, 0.4541], [0.0016, 0.0227])
    assert mixed == pytest.approx(94.20 / 2.43, rel=1e-12)
    mean_of_ratios = (48.79 / 0.16 + 45.41 / 2.27) / 2
    assert mean_of_ratios > 4 * mixed


# The oyster house: a published budget, entered with its given output.

EXPECTED = json.loads((PUBLISHED / "oyster_house" / "expected.json").read_text(encoding="utf-8"))
BUDGET = "poultry_house"


@pytest.fixture(scope="module")
def oyster() -> fc.Outcome:
    """The budget's case folder, opened and evaluated as a user would."""
    return fc.evaluate(fc.open_case(PUBLISHED / "oyster_house"))


def year_of(outcome: fc.Outcome, year: int = 1) -> dict[str, float]:
    """The lines of a year."""
    found = outcome[BUDGET].yearly.loc[year].to_dict()
    return {str(name): float(value) for name, value in found.items()}


@pytest.mark.parametrize("year", [1, 2])
def test_oyster_house_lines(oyster: fc.Outcome, year: int) -> None:
    """SARE FNE13-786, budget: every line that could be read, in each of two like years."""
    lines, exact = year_of(oyster, year), EXPECTED["tolerance"]
    assert lines["sold_kg"] / LB == pytest.approx(EXPECTED["sold_lb"], abs=exact)
    assert lines["sales"] == pytest.approx(EXPECTED["mushroom_sales"], abs=exact)
    income = lines["sales"] + lines["other_income"]
    assert income == pytest.approx(EXPECTED["revenue_with_compost"], abs=exact)
    assert -lines["overheads"] == pytest.approx(EXPECTED["transport"], abs=exact)


def test_oyster_house_bags(oyster: fc.Outcome) -> None:
    """Same budget: 225 bags at 9.00 make 2,025; it prints 2,046, a misprint of 21."""
    bags = -year_of(oyster)["substrate"]
    assert bags == pytest.approx(EXPECTED["bags_recomputed"], abs=EXPECTED["tolerance"])
    assert (EXPECTED["bags_as_printed"], EXPECTED["bags_recomputed"]) == (2046, 225 * 9)


def test_oyster_house_loss_before_sale(oyster: fc.Outcome) -> None:
    """Same budget: 1,208 lb picked, 5 percent lost between picking and sale, nothing unsold."""
    lines = year_of(oyster)
    assert lines["picked_kg"] / LB == pytest.approx(1208, abs=EXPECTED["tolerance"])
    assert lines["sold_kg"] == pytest.approx(0.95 * lines["picked_kg"], rel=1e-12)
    assert lines["unsold_kg"] == pytest.approx(0, abs=1e-9)


def test_oyster_house_efficiency(oyster: fc.Outcome) -> None:
    """Same farm: 29.8 percent of wet weight; the case's low, likely and high go with it."""
    crop, lines = oyster.case.crops["oyster"], year_of(oyster)
    wet = lines["units_placed"] * crop.unit_wet_kg.likely
    assert lines["picked_kg"] / wet == pytest.approx(0.298, abs=0.0005)
    share, moisture = crop.biological_efficiency_share, crop.moisture_share
    for level in ("low", "likely", "high"):
        efficiency = float(biological_efficiency_share(lines["picked_kg"], wet))
        efficiency /= 1 - getattr(moisture, level)
        assert getattr(share, level) == pytest.approx(efficiency, abs=0.0005)


def test_oyster_house_names_what_is_missing(oyster: fc.Outcome) -> None:
    """Same budget, only its first page read: each line not read is named by the case."""
    named = oyster.case.heading.left_out
    unread = EXPECTED["lines_not_read"]
    assert len(named) == len(unread)
    assert all(any(line.startswith(name) for name in named) for line in unread)


def test_oyster_house_claims_no_total(oyster: fc.Outcome) -> None:
    """With lines left out there is no verdict, and it says which lines they are."""
    assert oyster.verdict.startswith("No verdict")
    assert all(name in oyster.verdict for name in oyster.case.heading.left_out)
