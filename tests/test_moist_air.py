"""Moist air against the handbook's printed tables and examples and against CoolProp.

Published values lie in `tests/published/` with their sources. CoolProp 8 is the independent way:
its humid air is a real gas after Hyland and Wexler's virial equations and its steam is IAPWS-95.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI
from numpy.testing import assert_allclose

from farmcase.moist_air import (
    AIR_KJ_PER_KG_K,
    VAPOUR_KJ_PER_KG_AT_ZERO,
    VAPOUR_KJ_PER_KG_K,
    WATER_KJ_PER_KG_K,
    ZERO_C_IN_K,
    Array,
    dew_point_c,
    enthalpy_kj_per_kg,
    humidity_ratio,
    humidity_ratio_at,
    latent_heat_kj_per_kg,
    ratio_from_wet_bulb,
    relative_humidity_share,
    saturation_pressure_pa,
    specific_volume_m3_per_kg,
    standard_pressure_pa,
    vapour_pressure_pa,
    wet_bulb_c,
)

SEA_PA = 101_325.0
PUBLISHED = Path(__file__).parent / "published"
FILES = [json.loads(p.read_text(encoding="utf-8")) for p in sorted(PUBLISHED.glob("*.json"))]
CASES = [case for file in FILES if file.get("subject") == "moist_air" for case in file["cases"]]
TRIED: set[str] = set()


def published(kind: str) -> pytest.MarkDecorator:
    """Run a test for every published case of a kind."""
    TRIED.add(kind)
    found = [pytest.param(case, id=case["id"]) for case in CASES if case["kind"] == kind]
    return pytest.mark.parametrize("case", found)


def test_every_published_case_is_tried() -> None:
    """No case lies in a file without a test that uses it."""
    assert {case["kind"] for case in CASES} == TRIED


def temp_from(enthalpy: Array, ratio: Array) -> Array:
    """Temperature of moist air from its heat and water, by hand."""
    heat = enthalpy - VAPOUR_KJ_PER_KG_AT_ZERO * ratio
    return heat / (AIR_KJ_PER_KG_K + VAPOUR_KJ_PER_KG_K * ratio)


# Tables.


@published("saturation_pressure")
def test_saturation_pressure(case: dict[str, Any]) -> None:
    """ASHRAE Fundamentals chapter 1, table 3: over ice and over water."""
    found = saturation_pressure_pa(case["inputs"]["temp_c"])
    assert_allclose(found, case["printed"], rtol=case["tolerance"])


@published("saturated_ratio")
def test_humidity_ratio_at_saturation(case: dict[str, Any]) -> None:
    """Table 2; and all of the difference is the enhancement factor, which only ever adds."""
    found = humidity_ratio_at(case["inputs"]["temp_c"], 1.0, SEA_PA)
    assert_allclose(found, case["printed"], rtol=case["tolerance"])
    assert (found < case["printed"]).all()


@published("saturated_enthalpy")
def test_enthalpy_at_saturation(case: dict[str, Any]) -> None:
    """Table 2."""
    temp = case["inputs"]["temp_c"]
    found = enthalpy_kj_per_kg(temp, humidity_ratio_at(temp, 1.0, SEA_PA))
    assert_allclose(found, case["printed"], rtol=case["tolerance"])


@published("altitude")
def test_standard_atmosphere(case: dict[str, Any]) -> None:
    """Table 1."""
    found = standard_pressure_pa(case["inputs"]["altitude_m"])
    assert_allclose(found, case["printed"], rtol=0, atol=case["tolerance"])


# Values of another library's tests.


@published("ratio_of_vapour")
def test_ratio_of_vapour(case: dict[str, Any]) -> None:
    """psychrolib: humidity ratio from vapour pressure, and back."""
    given = case["inputs"]
    found = humidity_ratio(given["vapour_pa"], given["pressure_pa"])
    assert_allclose(found, case["printed"], rtol=case["tolerance"])
    assert_allclose(vapour_pressure_pa(found, given["pressure_pa"]), given["vapour_pa"], rtol=1e-12)


@published("ratio_of_wet_bulb")
def test_ratio_of_wet_bulb(case: dict[str, Any]) -> None:
    """psychrolib: humidity ratio from dry and wet bulb, and back."""
    given = case["inputs"]
    found = ratio_from_wet_bulb(given["dry_c"], given["wet_c"], given["pressure_pa"])
    assert_allclose(found, case["printed"], rtol=case["tolerance"])
    back = wet_bulb_c(given["dry_c"], found, given["pressure_pa"])
    assert_allclose(back, given["wet_c"], rtol=0, atol=1e-9)


@published("state")
def test_volume_density_enthalpy(case: dict[str, Any]) -> None:
    """psychrolib: density is dry air and water over the volume of the dry kilogram."""
    given = case["inputs"]
    volume = specific_volume_m3_per_kg(given["dry_c"], given["ratio"], given["pressure_pa"])
    heat = enthalpy_kj_per_kg(given["dry_c"], given["ratio"])
    found = [volume, (1 + given["ratio"]) / volume, heat]
    assert_allclose(found, case["printed"], rtol=case["tolerance"])


@published("dew_point")
def test_dew_point(case: dict[str, Any]) -> None:
    """psychrolib's documentation."""
    given = case["inputs"]
    found = dew_point_c(given["share"] * saturation_pressure_pa(given["dry_c"]))
    assert_allclose(found, case["printed"], rtol=0, atol=case["tolerance"])


# The handbook's examples.


@published("dry_and_wet_bulb")
def test_example_of_dry_and_wet_bulb(case: dict[str, Any]) -> None:
    """Example 1: everything about air from two thermometers."""
    dry, wet = case["inputs"]["dry_c"], case["inputs"]["wet_c"]
    ratio = ratio_from_wet_bulb(dry, wet, SEA_PA)
    found = [
        1000 * ratio,
        enthalpy_kj_per_kg(dry, ratio),
        dew_point_c(vapour_pressure_pa(ratio, SEA_PA)),
        100 * relative_humidity_share(dry, ratio, SEA_PA),
        specific_volume_m3_per_kg(dry, ratio, SEA_PA),
    ]
    assert (np.abs(np.array(found) - case["printed"]) <= case["tolerance"]).all(), found
    assert_allclose(found, case["recomputed"], rtol=1e-3)


@published("heating")
def test_example_of_heating(case: dict[str, Any]) -> None:
    """Example 2: saturated air through a heater."""
    given = case["inputs"]
    ratio = humidity_ratio_at(given["saturated_c"], 1.0, SEA_PA)
    flow = given["flow_m3_per_s"] / specific_volume_m3_per_kg(given["saturated_c"], ratio, SEA_PA)
    gained = enthalpy_kj_per_kg(given["to_c"], ratio) - enthalpy_kj_per_kg(
        given["saturated_c"], ratio
    )
    assert_allclose([flow, flow * gained], case["printed"], rtol=case["tolerance"])


@published("mixing")
def test_example_of_mixing(case: dict[str, Any]) -> None:
    """Example 4: two streams; heat and water of the mix are the means by dry air."""
    given = case["inputs"]
    cold_c, wet_c = given["cold_dry_wet_c"]
    dry = np.array([cold_c, given["warm_c"]])
    ratio = np.array(
        [
            float(ratio_from_wet_bulb(cold_c, wet_c, SEA_PA)),
            float(humidity_ratio_at(given["warm_c"], given["warm_share"], SEA_PA)),
        ]
    )
    flow = given["flow_m3_per_s"] / specific_volume_m3_per_kg(dry, ratio, SEA_PA)
    shares = flow / flow.sum()
    water = (shares * ratio).sum(keepdims=True)
    heat = (shares * enthalpy_kj_per_kg(dry, ratio)).sum(keepdims=True)
    mixed = temp_from(heat, water)
    found = [*flow, *mixed, *wet_bulb_c(mixed, water, SEA_PA)]
    assert (np.abs(np.array(found) - case["printed"]) <= case["tolerance"]).all(), found
    assert_allclose(found, case["recomputed"], rtol=1e-3)


@published("steam")
def test_example_of_steam(case: dict[str, Any]) -> None:
    """Example 5: steam brings its own heat along."""
    given = case["inputs"]
    before = ratio_from_wet_bulb(given["dry_c"], given["wet_c"], SEA_PA)
    after = humidity_ratio(saturation_pressure_pa(given["dew_point_c"]), SEA_PA)
    steam = after - before
    heat = enthalpy_kj_per_kg(given["dry_c"], before) + steam * given["steam_kj_per_kg"]
    found = [
        1000 * before,
        1000 * after,
        temp_from(heat, after),
        given["air_kg_per_s"] * steam,
    ]
    assert (np.abs(np.array(found) - case["printed"]) <= case["tolerance"]).all(), found
    assert_allclose(found, case["recomputed"], rtol=1e-3)


@published("room_load")
def test_example_of_a_room(case: dict[str, Any]) -> None:
    """Example 6: the supply that takes a room's heat and water away together."""
    given = case["inputs"]
    latent = given["vapour_kg_per_s"] * given["vapour_kj_per_kg"]
    total = given["sensible_kw"] + latent
    slope = total / given["vapour_kg_per_s"]
    ratio = float(ratio_from_wet_bulb(given["dry_c"], given["wet_c"], SEA_PA))
    heat = float(enthalpy_kj_per_kg(given["dry_c"], ratio))
    # The supply lies on the line of that slope, and its heat is linear in its water.
    supply, dry_heat = given["supply_c"], AIR_KJ_PER_KG_K * given["supply_c"]
    per_water = VAPOUR_KJ_PER_KG_AT_ZERO + VAPOUR_KJ_PER_KG_K * supply
    water = (heat - slope * ratio - dry_heat) / (per_water - slope)
    flow = total / (heat - float(enthalpy_kj_per_kg(supply, water)))
    found = [
        slope,
        wet_bulb_c(supply, water, SEA_PA),
        given["sensible_kw"] / total,
        flow,
        flow * specific_volume_m3_per_kg(supply, water, SEA_PA),
    ]
    assert (np.abs(np.array(found) - case["printed"]) <= case["tolerance"]).all(), found
    assert_allclose(found, case["recomputed"], rtol=1e-3)


# CoolProp.


@pytest.fixture(scope="module")
def grid() -> tuple[Array, Array, Array]:
    """Temperature, relative humidity, pressure: all states a room or the weather may have."""
    temp, share, pressure = np.meshgrid(
        np.arange(-10.0, 41.0, 2.5),
        np.array([0.1, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0]),
        np.array([101_325.0, 89_875.0, 70_109.0]),  # sea level, 1,000 m, 3,000 m
        indexing="ij",
    )
    return temp.ravel(), share.ravel(), pressure.ravel()


def coolprop(name: str, grid: tuple[Array, Array, Array]) -> Array:
    """A property of real humid air over the grid."""
    temp, share, pressure = grid
    return np.asarray(HAPropsSI(name, "T", temp + ZERO_C_IN_K, "P", pressure, "R", share))


def test_ratio_against_coolprop(grid: tuple[Array, Array, Array]) -> None:
    """Real air holds 0.3 to 0.54 % more water: the enhancement factor, never less."""
    ratio = humidity_ratio_at(*grid)
    lacking = 1 - ratio / coolprop("W", grid)
    assert lacking.min() > 0
    assert lacking.max() < 0.0054


def test_enthalpy_against_coolprop(grid: tuple[Array, Array, Array]) -> None:
    """What differs is the heat of the water that the ideal gas lacks; then 0.13 kJ/kg are left.

    The rest is fixed specific heats: 0.1 % of the heat of air at 40 °C and 3,000 m.
    """
    water = coolprop("W", grid)
    heat = coolprop("H", grid) / 1000
    assert_allclose(enthalpy_kj_per_kg(grid[0], water), heat, rtol=0, atol=0.13)
    lacking = 0.0054 * water * (VAPOUR_KJ_PER_KG_AT_ZERO + VAPOUR_KJ_PER_KG_K * grid[0])
    ideal = enthalpy_kj_per_kg(grid[0], humidity_ratio_at(*grid))
    assert (np.abs(ideal - heat) < lacking + 0.13).all()


def test_volume_against_coolprop(grid: tuple[Array, Array, Array]) -> None:
    """Compressibility of moist air is within 0.1 % of an ideal gas."""
    found = specific_volume_m3_per_kg(grid[0], humidity_ratio_at(*grid), grid[2])
    assert_allclose(found, coolprop("V", grid), rtol=1e-3)


def test_dew_point_against_coolprop(grid: tuple[Array, Array, Array]) -> None:
    """The enhancement factor changes by 0.1 % between air and dew point: 0.02 K."""
    found = dew_point_c(vapour_pressure_pa(humidity_ratio_at(*grid), grid[2]))
    assert_allclose(found, coolprop("D", grid) - ZERO_C_IN_K, rtol=0, atol=0.02)


def test_wet_bulb_against_coolprop(grid: tuple[Array, Array, Array]) -> None:
    """0.5 % of the water evaporated into dry air, 5 g/kg, is 0.025 g/kg or 0.03 K.

    Just about 0 °C both a wet and an iced thermometer balance, and either is right.
    """
    ratio = humidity_ratio_at(*grid)
    found, oracle = wet_bulb_c(grid[0], ratio, grid[2]), coolprop("B", grid) - ZERO_C_IN_K
    clear = np.abs(oracle) > 0.3
    assert_allclose(found[clear], oracle[clear], rtol=0, atol=0.03)
    assert_allclose(ratio_from_wet_bulb(grid[0], found, grid[2]), ratio, rtol=0, atol=1e-12)


def test_latent_heat_against_steam_tables() -> None:
    """IAPWS-95: 2500.91, 2477.19, 2453.52, 2429.81 kJ/kg at 0.01, 10, 20, 30 °C.

    The line hangs on the specific heats of the sums of heat (4.186 less 1.86), so that they close;
    real vapour leaves it by 0.06 % at 30 °C. A line of its own, 2501 - 2.381 T, would be nearer.
    """
    temp = np.array([0.01, 10.0, 20.0, 30.0])
    vapour, water = (PropsSI("H", "T", temp + ZERO_C_IN_K, "Q", q, "Water") for q in (1, 0))
    steam_tables = (np.asarray(vapour) - np.asarray(water)) / 1000
    assert_allclose(steam_tables, [2500.91, 2477.19, 2453.52, 2429.81], rtol=0, atol=0.005)
    assert_allclose(latent_heat_kj_per_kg(temp), steam_tables, rtol=6e-4)


def test_steam_from_cold_water_against_steam_tables() -> None:
    """Water of 10 °C to vapour of 100 °C takes 0.7315 kWh/kg by IAPWS-95.

    The fixed specific heat of vapour suits rooms; carried on to 100 °C it reads 0.45 % high.
    """
    vapour = PropsSI("H", "T", 100 + ZERO_C_IN_K, "Q", 1, "Water")
    water = PropsSI("H", "T", 10 + ZERO_C_IN_K, "P", SEA_PA, "Water")
    steam_tables = (vapour - water) / 3.6e6
    assert steam_tables == pytest.approx(0.7315, abs=5e-5)
    ours = VAPOUR_KJ_PER_KG_AT_ZERO + VAPOUR_KJ_PER_KG_K * 100 - WATER_KJ_PER_KG_K * 10
    assert ours / 3600 == pytest.approx(steam_tables, rel=5e-3)


# Processes in a room.


@pytest.mark.parametrize(
    ("temp_c", "share", "effectiveness", "expected"),
    [(20.0, 0.4, 0.9, (13.120, 8.624, 91.8)), (30.0, 0.3, 0.85, (19.776, 12.156, 84.2))],
)
def test_adiabatic_humidifier(
    temp_c: float, share: float, effectiveness: float, expected: tuple[float, float, float]
) -> None:
    """Air goes a share of the way to its wet bulb, and the water brings the heat to close the sum.

    Expected: temperature, g/kg and percent as computed with psychrolib 2.5.0.
    """
    ratio = humidity_ratio_at(temp_c, share, SEA_PA)
    wet = wet_bulb_c(temp_c, ratio, SEA_PA)
    after_c = temp_c - effectiveness * (temp_c - wet)
    after = ratio + effectiveness * (humidity_ratio_at(wet, 1.0, SEA_PA) - ratio)
    found = [after_c, 1000 * after, 100 * relative_humidity_share(after_c, after, SEA_PA)]
    assert_allclose(found, expected, rtol=1e-3)
    gained = enthalpy_kj_per_kg(after_c, after) - enthalpy_kj_per_kg(temp_c, ratio)
    # Not exactly: going straight towards the wet bulb leaves out the product of the two changes.
    brought = (after - ratio) * WATER_KJ_PER_KG_K * wet
    left_out = VAPOUR_KJ_PER_KG_K * (after - ratio) * (temp_c - wet) * (1 - effectiveness)
    assert_allclose(gained, brought + left_out, rtol=1e-9)


def test_wet_bulb_closes_the_sum_of_heat() -> None:
    """Air saturated at its wet bulb holds its own heat and that of the water it took up."""
    temp, ratio = np.array([5.0, 18.0, 35.0]), np.array([0.003, 0.008, 0.012])
    wet = wet_bulb_c(temp, ratio, 89_875.0)
    saturated = humidity_ratio_at(wet, 1.0, 89_875.0)
    gained = enthalpy_kj_per_kg(wet, saturated) - enthalpy_kj_per_kg(temp, ratio)
    assert_allclose(gained, (saturated - ratio) * WATER_KJ_PER_KG_K * wet, rtol=0, atol=1e-9)


def test_fresh_air_load() -> None:
    """100 m3/h of outside air at 0 °C and 90 %, to 18 °C and 90 %.

    128.53 kg/h, 650.6 W to warm it, 1.0568 kg/h and 721.6 W to wet it: computed by hand with
    CoolProp's latent heat, which is 0.05 % lower than the line here.
    """
    outside, inside = humidity_ratio_at([0.0, 18.0], 0.9, SEA_PA)
    flow = 100.0 / specific_volume_m3_per_kg(0.0, outside, SEA_PA)
    warming = enthalpy_kj_per_kg(18.0, outside) - enthalpy_kj_per_kg(0.0, outside)
    water = flow * (inside - outside)
    found = [flow, flow * warming / 3.6, water, water * latent_heat_kj_per_kg(18.0) / 3.6]
    assert_allclose(found, [128.53, 650.6, 1.0568, 721.6], rtol=5e-4)


# Always true.


def test_saturated_air_is_its_own_dew_point_and_wet_bulb() -> None:
    """From hard frost to a hot day, also across the freezing point."""
    temp = np.linspace(-30.0, 45.0, 151)
    assert_allclose(dew_point_c(saturation_pressure_pa(temp)), temp, rtol=0, atol=1e-9)
    wet = wet_bulb_c(temp, humidity_ratio_at(temp, 1.0, SEA_PA), SEA_PA)
    assert_allclose(wet, temp, rtol=0, atol=1e-9)
    freezing = np.linspace(-0.1, 0.1, 2001)
    assert (np.diff(saturation_pressure_pa(freezing)) > 0).all()
    assert_allclose(dew_point_c(saturation_pressure_pa(freezing)), freezing, rtol=0, atol=1e-6)
    ends = np.array([-100.0, -60.0, 100.0, 200.0])
    assert_allclose(dew_point_c(saturation_pressure_pa(ends)), ends, rtol=0, atol=1e-9)


def test_latent_heat_is_vapour_less_water() -> None:
    """So that a sum of heat with both closes."""
    temp = np.linspace(-10.0, 40.0, 11)
    vapour = enthalpy_kj_per_kg(temp, 1.0) - enthalpy_kj_per_kg(temp, 0.0)
    assert_allclose(latent_heat_kj_per_kg(temp), vapour - WATER_KJ_PER_KG_K * temp, rtol=1e-12)


def test_altitude_changes_water_by_the_pressure_alone() -> None:
    """The same vapour in less air: w p_air is the same."""
    pressure = standard_pressure_pa([0.0, 1000.0, 3000.0])
    vapour = 0.9 * saturation_pressure_pa(18.0)
    water = humidity_ratio_at(18.0, 0.9, pressure)
    assert_allclose(water * (pressure - vapour), water[0] * (pressure[0] - vapour), rtol=1e-12)


def test_arrays_of_any_shape() -> None:
    """Scenarios before time: shapes broadcast, and a number stays without an axis."""
    temp = np.linspace(5.0, 25.0, 24)
    pressure = np.array([[101_325.0], [89_875.0]])
    ratio = humidity_ratio_at(temp, 0.8, pressure)
    assert ratio.shape == (2, 24)
    assert wet_bulb_c(temp, ratio, pressure).shape == (2, 24)
    assert dew_point_c(vapour_pressure_pa(ratio, pressure)).shape == (2, 24)
    assert dew_point_c(0.0) == pytest.approx(-100.0)  # the end of its range
    assert wet_bulb_c(20.0, 0.02, SEA_PA) == pytest.approx(20.0)  # fog: no drier to cool to
    assert enthalpy_kj_per_kg(20.0, 0.01).shape == ()
