"""What a crop does with temperature and air: published values, corners worked out by hand.

Published values lie in `tests/published/cardinal_temperature.json` with their source.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from farmcase.crop.response_kernel import (
    damage_per_day,
    fruiting_pace,
    growth_share,
    respiration_scale,
    stale_air_share,
    within_share,
)
from farmcase.inputs.reference import reference_table

FILE = Path(__file__).parent / "published" / "cardinal_temperature.json"
CASES: dict[str, Any] = {c["id"]: c for c in json.loads(FILE.read_text(encoding="utf-8"))["cases"]}
RESPONSES = reference_table("responses")
temperatures = st.floats(-40.0, 60.0)


def likely(species: str, field: str) -> float:
    """Likely value of a response in the table that ships with the package."""
    rows = [r for r in RESPONSES.values() if (r["species"], r["field"]) == (species, field)]
    return float(rows[0]["likely"])


# Growth of mycelium.


def test_growth_is_the_published_vector() -> None:
    """Cardinal temperatures 5, 20, 30 °C: every printed value, nothing at and beyond the ends."""
    case = CASES["seaweed_vector"]
    told = case["inputs"]
    limits = told["least_c"], told["best_c"], told["most_c"]
    found = [growth_share(float(t), *map(float, limits)) for t in told["temp_c"]]
    assert_allclose(found, case["printed"], rtol=0, atol=case["tolerance"])


def test_lions_mane_keeps_the_limits_of_its_trial() -> None:
    """No growth at 3 and 37 °C, best within 1 K of 26 °C."""
    case = CASES["lions_mane"]
    fields = ("growth_minimum_c", "growth_optimum_c", "growth_maximum_c")
    limits = [likely(case["inputs"]["species"], field) for field in fields]
    dead = [growth_share(float(t), *limits) for t in case["inputs"]["dead_c"]]
    assert dead == [0.0, 0.0]
    fine = np.arange(0.0, 40.0, 0.01)
    best_c = fine[np.argmax([growth_share(float(t), *limits) for t in fine])]
    assert abs(best_c - case["inputs"]["best_c"]) <= case["tolerance"]


@pytest.mark.parametrize("species", sorted({r["species"] for r in RESPONSES.values()}))
def test_growth_of_every_species_peaks_at_its_best_temperature(species: str) -> None:
    """1 at the best temperature and less anywhere else; the model asks for a best above the middle.

    Source of the condition: Rosso, Lobry and Flandrois 1993 (best above the mean of the limits).
    """
    fields = ("growth_minimum_c", "growth_optimum_c", "growth_maximum_c")
    least, best, most = (likely(species, field) for field in fields)
    assert best > (least + most) / 2
    shares = np.array([growth_share(float(t), least, best, most) for t in np.arange(-5, 45, 0.1)])
    assert growth_share(best, least, best, most) == pytest.approx(1.0, abs=1e-12)
    assert shares.min() >= 0.0
    assert shares.max() <= 1.0 + 1e-12


# Windows, pace, stale air and harm: straight lines, so by hand at their corners.


@pytest.mark.parametrize(
    ("temp_c", "share"),
    [(5.9, 0.0), (6.0, 0.0), (8.0, 0.5), (10.0, 1.0), (15.6, 1.0), (17.6, 0.75), (23.6, 0.0)],
)  # fmt: skip
def test_a_window_falls_in_straight_lines(temp_c: float, share: float) -> None:
    """10 to 15.6 °C, 4 K below and 8 K above it."""
    assert within_share(float(temp_c), 10.0, 15.6, 4.0, 8.0) == pytest.approx(share, abs=1e-12)


@pytest.mark.parametrize(("temp_c", "pace"), [(-9, 0.0), (3, 0.0), (8, 0.5), (13, 1.0), (40, 1.0)])
def test_fruiting_stops_in_the_cold_and_keeps_its_days_in_the_warm(
    temp_c: float, pace: float
) -> None:
    """Nothing at 3 °C, the stated days from 13 °C on."""
    assert fruiting_pace(float(temp_c), 3.0, 13.0) == pytest.approx(pace, abs=1e-12)


@pytest.mark.parametrize(
    ("ppm", "share"), [(400, 1.0), (1000, 1.0), (2000, 0.73), (3000, 0.46), (9000, 0.0)]
)
def test_stale_air_costs_by_the_thousand_ppm(ppm: float, share: float) -> None:
    """27 % for each 1,000 ppm above 1,000, never below nothing."""
    assert stale_air_share(float(ppm), 1000.0, 0.27) == pytest.approx(share, abs=1e-12)


@pytest.mark.parametrize(
    ("core_c", "per_day"), [(-4, 0.1), (-2, 0.0), (20, 0.0), (35, 0.0), (37, 0.1)]
)
def test_harm_is_done_beyond_both_limits(core_c: float, per_day: float) -> None:
    """5 % a day for each kelvin below -2 and above 35 °C."""
    assert damage_per_day(float(core_c), -2.0, 35.0, 0.05) == pytest.approx(per_day, abs=1e-12)


# Respiration.


def test_respiration_grows_by_q10_and_ends_where_growth_ends() -> None:
    """Twice for 10 K up to the best temperature, half of that midway to the end, then nothing."""
    told = (20.0, 2.0, 27.0, 36.0)
    assert respiration_scale(20.0, *told) == pytest.approx(1.0)
    assert respiration_scale(10.0, *told) == pytest.approx(0.5)
    assert respiration_scale(27.0, *told) == pytest.approx(2**0.7)
    assert respiration_scale(31.5, *told) == pytest.approx(2**0.7 / 2)
    assert respiration_scale(36.0, *told) == 0.0
    assert respiration_scale(80.0, *told) == 0.0


@given(temperatures)
def test_no_response_jumps(temp_c: float) -> None:
    """A millikelvin moves no response by more than its steepest line says (plus rounding)."""
    step = 1e-3
    lines = [
        (lambda t: growth_share(t, 5.0, 27.0, 36.0), 0.5),
        (lambda t: within_share(t, 10.0, 15.6, 4.0, 8.0), 1 / 4),
        (lambda t: fruiting_pace(t, 3.0, 13.0), 1 / 10),
        (lambda t: damage_per_day(t, -2.0, 35.0, 0.05), 0.05),
        # 2^0.7 falls to nothing over 9 K
        (lambda t: respiration_scale(t, 20.0, 2.0, 27.0, 36.0), 2**0.7 / 9),
    ]
    for response, steepest in lines:
        assert abs(response(temp_c + step) - response(temp_c)) <= steepest * step + 1e-12
