"""CO2, fresh air, respiration, fans, heat pump and coil against published and hand-made values.

Published values lie in `tests/published/` with their sources.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from farmcase.climate.fresh_air import (
    CO2_G_PER_MOL,
    CO2_PER_SUGAR,
    GAS_J_PER_MOL_K,
    RESPIRATION_KJ_PER_MOL,
    co2_after,
    co2_m3_per_g,
    coil_sensible_share,
    cooling_carnot_share,
    cooling_eer,
    fan_power_w,
    fresh_air_m3_per_h,
    heating_carnot_share,
    heating_cop,
    respiration_factor,
    respiration_heat_kj,
    respiration_water_g,
    steady_co2_ppm,
)
from farmcase.moist_air import humidity_ratio_at

SEA_PA = 101_325.0
KCAL_J, BTU_J = 4184.0, 1055.056  # thermochemical; international table
SHORT_TON_KG = 907.18474
PUBLISHED = Path(__file__).parent / "published"
FILES = [json.loads(p.read_text(encoding="utf-8")) for p in sorted(PUBLISHED.glob("*.json"))]
CASES = [case for file in FILES if file.get("subject") == "fresh_air" for case in file["cases"]]
TRIED: set[str] = set()


def published(kind: str) -> pytest.MarkDecorator:
    """Run a test for every published case of a kind."""
    TRIED.add(kind)
    found = [pytest.param(case, id=case["id"]) for case in CASES if case["kind"] == kind]
    return pytest.mark.parametrize("case", found)


def test_every_published_case_is_tried() -> None:
    """No case lies in a file without a test that uses it."""
    assert {case["kind"] for case in CASES} == TRIED


# CO2.


@published("steady_co2")
def test_steady_co2_of_one_person(case: dict[str, Any]) -> None:
    """ASHRAE 62.1: 7.5 L/s for a person is about 700 ppm above outside."""
    litres_per_h = 60 * case["inputs"]["co2_l_per_min"]
    grams_per_h = litres_per_h / 1000 / co2_m3_per_g(20.0, SEA_PA)
    found = steady_co2_ppm(0.0, grams_per_h, 3.6 * case["inputs"]["fresh_air_l_per_s"], 20, SEA_PA)
    assert_allclose(found, case["printed"], rtol=case["tolerance"])
    assert_allclose(found, case["recomputed"], rtol=0, atol=0.05)


@published("ppm_to_mg")
def test_exposure_limits_in_milligrams(case: dict[str, Any]) -> None:
    """The limits for people are printed both by volume and by mass."""
    given = case["inputs"]
    milligrams = 1000 * 1e-6 * np.array(given["ppm"]) / co2_m3_per_g(given["temp_c"], SEA_PA)
    assert_allclose(milligrams, case["printed"], rtol=case["tolerance"])


def test_a_mole_of_gas() -> None:
    """24.0551 L/mol at 20 °C (CODATA gas constant); the same grams take more room on a mountain."""
    litres = 1000 * CO2_G_PER_MOL * co2_m3_per_g(20.0, [SEA_PA, SEA_PA / 2])
    assert_allclose(litres, [24.0551, 48.1102], rtol=1e-5)


def test_decay_and_build_up() -> None:
    """Decay by hand: 420 + 1580 e^-2 = 633.83 ppm; build-up in 32.568 m3 with 50 m3/h and 45 g/h.

    Css = 425 + 45 / 44.0095 * 0.0240551 / 50 * 1e6 = 916.93 ppm, after an hour 810.97.
    """
    assert co2_after(2000.0, 420.0, 2.0, 1.0) == pytest.approx(633.83, rel=1e-5)
    steady = steady_co2_ppm(425.0, 45.0, 50.0, 20.0, SEA_PA)
    assert steady == pytest.approx(916.93, rel=1e-5)
    assert co2_after(425.0, steady, 50.0 / 32.568, 1.0) == pytest.approx(810.97, rel=1e-4)
    assert co2_after(425.0, steady, 2.0, np.array([0.0, 1e3])).tolist() == [425.0, steady]


def test_fresh_air_for_a_set_point() -> None:
    """45 g/h, 900 against 425 ppm: 51.782 m3/h. 90 g/h, 420 outside: 10.74 and 84.8 m3/h.

    Hand computed from moles; the latter two for 5,000 and 1,000 ppm (1 %: three digits).
    """
    assert fresh_air_m3_per_h(45, 900, 425, 20, SEA_PA) == pytest.approx(51.782, rel=1e-4)
    found = fresh_air_m3_per_h(90, [5000, 1000], 420, 20, SEA_PA)
    assert_allclose(found, [10.74, 84.8], rtol=1e-3)
    # The flow found holds the level asked for.
    assert_allclose(steady_co2_ppm(420, 90, found, 20, SEA_PA), [5000, 1000], rtol=1e-12)


def test_fresh_air_within_its_limits() -> None:
    """Leaks count, fans have a least and a most, and no flow goes below outside."""

    def needed(**limits: float) -> float:
        return float(fresh_air_m3_per_h(45, 900, 425, 20, SEA_PA, **limits))

    assert needed(leak_m3_per_h=10.0) == pytest.approx(41.782, rel=1e-4)
    assert needed(leak_m3_per_h=100.0) == 0.0
    assert needed(leak_m3_per_h=100.0, least_m3_per_h=5.0) == 5.0
    assert needed(most_m3_per_h=30.0) == 30.0
    assert fresh_air_m3_per_h(45, 425, 425, 20, SEA_PA, most_m3_per_h=80.0) == 80.0
    assert fresh_air_m3_per_h(0, 900, 425, 20, SEA_PA) == 0.0


# Respiration.


def test_respiration_hangs_on_co2() -> None:
    """10.623 kJ and 0.4093 g of water per g of CO2, by stoichiometry of sugar; 45 g/h are 132.8 W.

    Heats of formation (from memory: sugar -1273.3, CO2 -393.51, liquid water -285.83 kJ/mol) give
    2802.7 kJ/mol against 2805 of the handbooks: 0.1 %.
    """
    assert respiration_heat_kj(1.0) == pytest.approx(10.623, rel=1e-4)
    assert respiration_water_g(1.0) == pytest.approx(0.4093, abs=5e-5)
    assert respiration_heat_kj(45.0) / 3.6 == pytest.approx(132.8, abs=0.05)
    by_formation = -1273.3 + CO2_PER_SUGAR * (393.51 + 285.83)
    assert pytest.approx(by_formation, rel=1e-3) == RESPIRATION_KJ_PER_MOL
    # Mass closes: sugar 180.156 and six of oxygen 31.9988 become CO2 and water.
    burnt_g = CO2_PER_SUGAR * CO2_G_PER_MOL
    assert burnt_g + respiration_water_g(burnt_g) == pytest.approx(180.156 + 6 * 31.9988, rel=1e-5)


@published("heat_of_co2_volume")
def test_heat_of_co2_volumes(case: dict[str, Any]) -> None:
    """University of California, Davis: stored mushrooms; its own factors from mL to heat."""
    given = case["inputs"]
    ml = np.array(given["ml_per_kg_h"])
    if "kcal_per_t_day" in given:
        printed_w_per_t = ml * given["kcal_per_t_day"] * KCAL_J / 86_400
    else:
        per_ton_w = ml * given["btu_per_short_ton_day"] * BTU_J / 86_400
        printed_w_per_t = per_ton_w * 1000 / SHORT_TON_KG
    assert_allclose(printed_w_per_t, case["recomputed"], rtol=1e-3)
    grams_per_kg_h = ml * 1e-6 / co2_m3_per_g(0.0, SEA_PA)
    watts_per_t = 1000 * respiration_heat_kj(grams_per_kg_h) / 3.6
    assert_allclose(watts_per_t, printed_w_per_t, rtol=case["tolerance"])


def test_a_milligram_of_co2_an_hour() -> None:
    """1 mg per kg and hour is 2.962 W per tonne by the factor of the storage handbooks (memory).

    Those take 10.664 kJ per g; 28 to 44 mg, mushrooms at 0 °C, are then 83 to 130 W per tonne.
    """
    watts_per_t = respiration_heat_kj(np.array([1.0, 28.0, 44.0])) / 3.6
    assert_allclose(watts_per_t, [2.962, 83, 130], rtol=1e-2)


@published("heat_to_co2")
def test_heat_of_oyster_mushrooms(case: dict[str, Any]) -> None:
    """Bohling and Hansen 1989: heat of oyster mushrooms at two temperatures, as CO2."""
    heat_kj = np.array(case["inputs"]["j_per_kg_h"]) / 1000
    milligrams = 1000 * heat_kj / respiration_heat_kj(1.0)
    assert_allclose(milligrams, case["recomputed"], rtol=case["tolerance"])
    assert_allclose(heat_kj / 3.6 * 1000, [694, 208], rtol=5e-3)  # W per tonne
    assert milligrams[1] / milligrams[0] < 1 / 3


@published("heat_of_co2_mass")
def test_heat_of_compost(case: dict[str, Any]) -> None:
    """Growers' figures of compost in spawn run and cropping: W per tonne."""
    grams_per_t_h = 10 * np.array(case["inputs"]["g_per_h_100_kg"])
    found = respiration_heat_kj(grams_per_t_h) / 3.6
    assert_allclose(found, case["recomputed"], rtol=case["tolerance"])


@published("q10")
def test_q10_of_measured_rates(case: dict[str, Any]) -> None:
    """Iqbal et al. 2009: whole mushrooms at 0 and 20 °C."""
    cold_c, warm_c = case["inputs"]["temp_c"]
    cold, warm = case["inputs"]["rates"]
    q10 = case["recomputed"]
    assert q10 * q10 == pytest.approx(warm / cold, abs=2 * case["tolerance"])
    assert cold * respiration_factor(warm_c, cold_c, q10) == pytest.approx(warm, rel=1e-3)


@published("growth_per_k")
def test_growth_for_each_degree(case: dict[str, Any]) -> None:
    """20 % more for each K, about double for four."""
    given = case["inputs"]
    q10 = (1 + given["share_per_k"]) ** 10
    found = respiration_factor(given["to_c"], given["from_c"], q10)
    assert found == pytest.approx(case["recomputed"], abs=case["tolerance"])


def test_activation_energy_as_q10() -> None:
    """43.4 kJ/mol from 10 to 20 °C is a factor of 1.876, by Arrhenius.

    The abstract (Varoquaux et al. 1999) prints 2.9 beside it; the two contradict each other.
    """
    arrhenius = np.exp(43_400 / GAS_J_PER_MOL_K * (1 / 283.15 - 1 / 293.15))
    assert arrhenius == pytest.approx(1.876, abs=0.005)
    assert respiration_factor(20.0, 10.0, arrhenius) == pytest.approx(arrhenius)
    assert respiration_factor(10.0, 10.0, 2.9) == 1.0


# Fans.


def test_fan_power() -> None:
    """Flow times pressure over efficiency: 100 Pa at 0.35 is 285.714 W per m3/s; 0.036: 10.29."""
    assert fan_power_w(1.0, 100.0, 0.35) == pytest.approx(285.714, abs=5e-4)
    assert fan_power_w(0.036, 100.0, 0.35) == pytest.approx(10.29, abs=5e-3)


# Heat pump and cooling.


def test_cop_of_a_share_of_carnot() -> None:
    """By hand, 0.45 and 0.42 of the ideal cycle, approaches 15 and 8 K (heating), 15 and 12 K.

    Outside 7 °C, room 20 °C: 0.45 * 308.15 / 36 = 3.852.
    Outside 35 °C, room 27 °C: 0.42 * 285.15 / 35 = 3.422.
    """
    heating = heating_cop(0.45, [20, 20, 14], [7, -7, 7], 15, 8, 15)
    assert_allclose(heating, [3.852, 2.773, 4.532], rtol=2e-4)
    cooling = cooling_eer(0.42, [27, 18, 18], [35, 35, 25], 15, 12, 15)
    assert_allclose(cooling, [3.422, 2.636, 3.411], rtol=2e-4)


def test_one_rated_point_is_met() -> None:
    """The share fitted to a rated point gives that point back, and a better one elsewhere."""
    share = heating_carnot_share(3.8, 20, 7, 15, 8, 15)
    assert heating_cop(share, 20, 7, 15, 8, 15) == pytest.approx(3.8)
    assert heating_cop(share, 14, 7, 15, 8, 15) > 3.8 > heating_cop(share, 20, -7, 15, 8, 15)
    share = cooling_carnot_share(3.4, 27, 35, 15, 12, 15)
    assert cooling_eer(share, 27, 35, 15, 12, 15) == pytest.approx(3.4)
    assert cooling_eer(share, 27, 25, 15, 12, 15) > 3.4 > cooling_eer(share, 18, 35, 15, 12, 15)


def test_least_lift() -> None:
    """A room colder than outside still needs the least lift: 0.45 * 305.15 / 15 and no more."""
    found = heating_cop(0.45, 17.0, np.array([25.0, 40.0]), 15, 8, 15)
    assert_allclose(found, 0.45 * 305.15 / 15)
    assert cooling_eer(0.42, 30.0, -20.0, 15, 12, 15) == pytest.approx(0.42 * 288.15 / 15)


@published("carnot")
def test_half_of_carnot(case: dict[str, Any]) -> None:
    """An open heat pump model's rule of thumb."""
    given = case["inputs"]
    inner, outer = given["approach_k"]
    found = heating_cop(given["share"], given["inside_c"], given["outside_c"], inner, outer, 15)
    assert_allclose(found, case["printed"], rtol=case["tolerance"])


@published("regression")
def test_against_field_regression(case: dict[str, Any]) -> None:
    """Staffell et al. 2012: fitted at its first lift, the law follows the machines of the field."""
    lift = np.array(case["inputs"]["lift_k"], dtype=float)
    regression = np.polynomial.polynomial.polyval(lift, case["inputs"]["factors"])
    assert_allclose(regression, case["recomputed"], rtol=1e-4)
    rated, water_c = lift[0], 35.0
    inner, outer = case["inputs"]["approach_k"]
    share = heating_carnot_share(regression[0], water_c, water_c - rated, inner, outer, 15)
    found = heating_cop(share, water_c, water_c - lift, inner, outer, 15)
    assert_allclose(found, regression, rtol=case["tolerance"])


def test_most_of_the_coils_work_is_drying() -> None:
    """Room of 18 °C and 90 %, apparatus at 6, 8, 10, 12 °C: 0.453, 0.448, 0.447, 0.455 of it cools.

    By hand for 8 °C: 1.006 * 10 over that and 2501 * (11.617 - 6.656) / 1000.
    """
    ratio = humidity_ratio_at(18.0, 0.9, SEA_PA)
    found = coil_sensible_share(18.0, ratio, SEA_PA, [6, 8, 10, 12])
    assert_allclose(found, [0.453, 0.448, 0.447, 0.455], rtol=0, atol=5e-4)
    assert found[1] == pytest.approx(0.4478, abs=1e-4)
    by_hand = 10.06 / (10.06 + 2.501 * (11.617 - 6.656))
    assert found[1] == pytest.approx(by_hand, rel=1e-3)


def test_a_dry_coil_only_cools() -> None:
    """Air drier than the coil, or a coil as warm as the room."""
    assert coil_sensible_share(18.0, 0.004, SEA_PA, 8.0) == 1.0
    assert coil_sensible_share(18.0, 0.012, SEA_PA, [18.0, 20.0]).tolist() == [1.0, 1.0]
