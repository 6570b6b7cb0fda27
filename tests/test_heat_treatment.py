"""Heat treatment: published energies, balances by hand, and smooth capacities."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

import farmcase as fc
from farmcase.energy import heat_treatment as h
from farmcase.model.shell import physics
from farmcase.model.utilities import treat
from farmcase.output import farm_tables
from farmcase.words.numbers import plain

PUBLISHED = Path(__file__).parent / "published"
FILES = {p.stem: json.loads(p.read_text(encoding="utf-8")) for p in PUBLISHED.glob("*.json")}
HEAT = {name: s for name, s in sorted(FILES.items()) if s.get("subject") == "heat_treatment"}
TRIED: set[str] = set()
KWH = 3600.0  # kJ


def published(kind: str) -> pytest.MarkDecorator:
    """Run a test for every published case of a kind."""
    TRIED.add(kind)
    found = [
        pytest.param(case, id=f"{name} {case['id']}")
        for name, source in HEAT.items()
        for case in source["cases"]
        if case["kind"] == kind
    ]
    return pytest.mark.parametrize("case", found)


def load(**changes: Any) -> h.Load:
    """One kilogram of dry straw at 15 °C with nothing else, and what is changed of that."""
    plain = {
        "dry_kg": 1.0,
        "substrate_water_kg": 0.0,
        "dry_kj_per_kg_k": 1.4,
        "bath_l": 0.0,
        "kept_water_share": 0.0,
        "kept_water_c": 15.0,
        "steam_l": 0.0,
        "condensate_l": 0.0,
        "start_c": 15.0,
        "treat_to_c": 75.0,
        "heated": 1.0,
    }
    return h.Load(**{k: np.asarray(v, float) for k, v in {**plain, **changes}.items()})


def vessels(**changes: Any) -> h.Vessels:
    """A vessel of 10 kW without losses, and what is changed of that."""
    plain = {
        "rated_kw": 10.0,
        "efficiency_share": 0.8,
        "loss_kw": 0.0,
        "fill_h": 0.5,
        "hold_h": 1.0,
        "empty_h": 0.75,
        "hours_available_per_week": 40.0,
        "most_batches_per_week": 100.0,
    }
    return h.Vessels(**{k: np.asarray(v, float) for k, v in {**plain, **changes}.items()})


def moist(given: dict[str, Any], **changes: Any) -> h.Load:
    """Substrate of published moistures, one kilogram dry."""
    moisture = np.array(given["moisture"])
    named = {name: given[name] for name in ("start_c", "treat_to_c", "dry_kj_per_kg_k")}
    return load(substrate_water_kg=moisture / (1 - moisture), **named, **changes)


def test_every_published_case_is_tried() -> None:
    """No case lies in a file without a test that uses it, and each says where it was read."""
    assert {case["kind"] for source in HEAT.values() for case in source["cases"]} == TRIED
    for source in HEAT.values():
        assert source["source"] and source["read_at"] and source["mark"].startswith("found")
        for case in source["cases"]:
            assert case["place"] and case["tolerance_reason"]
            assert ("recomputed" in case) == bool(case.get("reason"))


# Published energies.


@published("floor")
def test_sensible_floor(case: dict[str, Any]) -> None:
    """Heat of moist straw per kilogram dry, 15 to 75 °C."""
    heat = KWH * h.warming_heat_kwh(moist(case["inputs"]))
    assert_allclose(heat, case["recomputed"], rtol=0, atol=case["tolerance"])


@published("efficiency")
def test_hot_air_at_its_efficiency_takes_what_was_measured(case: dict[str, Any]) -> None:
    """Grimm, Sonntag and Rahmann: 1,068 kJ/kg dry is the floor at 52 to 63 % efficiency."""
    given = case["inputs"]
    heat = h.warming_heat_kwh(moist(given))
    fuel = KWH * h.batch_fuel_kwh(heat, np.array(given["efficiency_share"]))
    assert_allclose(fuel, case["printed"], rtol=0, atol=case["tolerance"])


@published("ratio")
def test_an_autoclave_measured_lies_far_above_its_floor(case: dict[str, Any]) -> None:
    """About four times hot air; the heat that warms straw of 65 % water to 121 °C is a quarter."""
    given = case["inputs"]
    measured = given["hot_air_kj_per_kg"] / (1 - given["less_share"])
    assert measured == pytest.approx(case["recomputed"], abs=case["tolerance"])
    wet = {"substrate_water_kg": 0.65 / 0.35, "dry_kj_per_kg_k": 1.4}
    floor = KWH * h.warming_heat_kwh(
        load(**wet, start_c=given["start_c"], treat_to_c=given["treat_to_c"])
    )
    assert 0.2 < floor / measured < 0.3
    # Were all the rest steam let off, it would be 1.25 kg for each kg dry (by hand).
    steam = (measured - floor) / h.steam_kj_per_kg(np.asarray(15.0), np.asarray(121.0))
    assert steam == pytest.approx((4272 - 973) / (2707.4 - 62.8), rel=2e-3)


@published("lime")
def test_cold_lime_takes_no_heat_on_the_farm(case: dict[str, Any]) -> None:
    """The published 270 kJ/kg dry make the lime; the bath itself is not heated."""
    assert case["printed"] == 270
    heated = h.heated_vessels(["cold_lime", "hot_water", "steam", "sterilising"])
    assert heated.tolist() == [0, 1, 1, 1]
    cold = load(bath_l=500, treat_to_c=75, heated=heated[0])
    batch = h.follow_batch(cold, vessels(rated_kw=0, loss_kw=1, efficiency_share=1))
    assert batch.heat_kwh == 0 and batch.fuel_kwh == 0 and batch.heat_up_hours == 0
    assert batch.hours == 2.25 and batch.water_l == 500


@published("steam")
def test_steam(case: dict[str, Any]) -> None:
    """Heat of saturated steam against IAPWS."""
    given = case["inputs"]
    found = h.steam_kj_per_kg(np.array(given["start_c"]), np.array(given["steam_c"])) / KWH
    assert_allclose(found, case["recomputed"], rtol=0, atol=case["tolerance"])


# By hand.


def test_a_bath_by_hand() -> None:
    """60 kg of straw of 10 % water in 1,000 L, half of it kept at 50 °C, to 75 °C."""
    bath = load(dry_kg=54, substrate_water_kg=6, bath_l=1000, kept_water_share=0.5, kept_water_c=50)
    by_hand = (54 * 1.4 * 60 + 6 * 4.186 * 60 + 500 * 4.186 * 60 + 500 * 4.186 * 25) / 3600
    assert h.warming_heat_kwh(bath) == pytest.approx(by_hand, rel=1e-12)
    assert h.new_water_l(bath) == 500


def test_kept_water_saves_heat_and_water() -> None:
    """The more warm water is kept, the less heat and new water a batch takes."""
    shares = np.linspace(0, 0.9, 10)
    bath = load(bath_l=1000, kept_water_share=shares, kept_water_c=60)
    assert (np.diff(h.warming_heat_kwh(bath)) < 0).all()
    assert_allclose(h.new_water_l(bath), 1000 * (1 - shares))


def test_condensate_that_runs_off_is_heated_for_nothing() -> None:
    """Each litre costs its warming; kept in the circle it costs none."""
    drained = h.warming_heat_kwh(load(condensate_l=10)) - h.warming_heat_kwh(load())
    assert drained == pytest.approx(10 * 4.186 * 60 / 3600, rel=1e-12)


def test_heating_up_against_the_steps_of_a_clock() -> None:
    """Small steps of dh/dt = P - L h / W take as long and draw as much as the formula says."""
    charge, power, loss = load(bath_l=1000), 8.0, 3.0
    warming = float(h.warming_heat_kwh(charge))
    warmed, hours, step = 0.0, 0.0, 1e-4
    while warmed < warming:
        middle = warmed + step / 2 * (power - loss * warmed / warming)
        warmed += step * (power - loss * middle / warming)
        hours += step
    batch = h.follow_batch(charge, vessels(loss_kw=loss))
    assert batch.heat_up_hours == pytest.approx(hours, abs=2 * step)
    assert batch.heat_kwh == pytest.approx(power * hours + loss * 1.0, abs=2 * step * power)
    assert batch.fuel_kwh == pytest.approx(batch.heat_kwh / 0.8, rel=1e-12)


def test_without_loss_a_batch_is_its_warming() -> None:
    """Heat over power is the time, and the formula with losses comes down to it."""
    charge = load(bath_l=1000)
    batch = h.follow_batch(charge, vessels())
    warming = h.warming_heat_kwh(charge)
    assert batch.heat_kwh == pytest.approx(warming, rel=1e-12)
    assert batch.heat_up_hours == pytest.approx(warming / 8, rel=1e-12)
    nearly = h.follow_batch(charge, vessels(loss_kw=1e-6))
    assert nearly.heat_up_hours == pytest.approx(batch.heat_up_hours, rel=1e-6)
    assert batch.hours == pytest.approx(0.5 + 1.0 + 0.75 + warming / 8, rel=1e-12)


def test_a_vessel_too_weak_for_its_losses_does_no_batch() -> None:
    """Its heating up has no end; nothing becomes a number that is none."""
    batch = h.follow_batch(load(bath_l=1000), vessels(loss_kw=8.0))
    assert np.isinf(batch.heat_up_hours) and batch.batches_per_week == 0
    assert np.isfinite([batch.heat_kwh, batch.fuel_kwh, batch.water_l]).all()
    powerless = h.follow_batch(load(bath_l=1000), vessels(rated_kw=0))
    assert powerless.batches_per_week == 0


# Capacity.


def test_batches_are_what_hours_allow_and_at_most_the_plan() -> None:
    """Parts of a batch count; no hours, no batches; a batch of no time up to the plan."""
    found = h.batches_per_week(
        np.array([8.0, 3.0, 0.0, 5.0]), np.array([40, 40, 40, 0.0]), np.array([3, 50, 7, 9.0])
    )
    assert_allclose(found, [3, 40 / 3, 7, 0])
    assert_allclose(h.units_per_week(np.array([[2.0, 1.5]]), np.array([[18.0, 10.0]])), [51])


def test_capacity_is_smooth() -> None:
    """Steps of 1 % in power or load move the batches a week by about as much, never by leaps."""
    scale = np.arange(0.6, 1.6, 0.01)
    power = h.follow_batch(load(bath_l=1000), vessels(rated_kw=10 * scale, loss_kw=1))
    bath = h.follow_batch(load(bath_l=1000 * scale), vessels(loss_kw=1))
    for batches in (power.batches_per_week, bath.batches_per_week[::-1]):
        steps = np.diff(batches) / batches[:-1]
        assert (steps > 0).all() and steps.max() < 0.025


def test_all_vessels_and_groups_at_once() -> None:
    """An array of groups and vessels gives what each gives alone."""
    baths, powers = np.array([[500.0, 800.0], [900.0, 100.0]]), np.array([6.0, 12.0])
    together = h.follow_batch(load(bath_l=baths), vessels(rated_kw=powers, loss_kw=0.5))
    for g in range(2):
        for v in range(2):
            alone = h.follow_batch(
                load(bath_l=baths[g, v]), vessels(rated_kw=powers[v], loss_kw=0.5)
            )
            for whole, part in zip(together, alone, strict=True):
                assert whole[g, v] == pytest.approx(float(part), rel=1e-12)


def test_the_case_runs_its_vessel_by_these_formulas(small_case: fc.Case) -> None:
    """Heat of a batch lies between what warms it, summed by hand, and that with the vessel's loss.

    What is paid for is heat over efficiency; the week's batches are the fewer of hours and plan.
    """
    outcome = fc.evaluate(small_case)
    case = outcome["self_build"].inputs.case
    vessel, crop = case.vessels["kettle"], case.crops["grey_oyster"]
    batch = treat(outcome["self_build"].inputs).batch
    wet = vessel.units_per_batch.likely * crop.unit_wet_kg.likely
    water = wet * crop.moisture_share.likely
    rise = vessel.treat_to_c.likely - vessel.start_c.likely
    bath, kept = vessel.water_l_per_batch.likely, vessel.kept_water_share.likely
    warming = (wet - water) * physics(case)["substrate_dry_specific_heat_kj_per_kg_k"] * rise
    warming += (water + bath * (1 - kept)) * 4.186 * rise
    warming += bath * kept * 4.186 * (vessel.treat_to_c.likely - vessel.kept_water_c.likely)
    hours = float(batch.hours[0, 0])
    lost = vessel.loss_kw.likely * hours
    heat, fuel = float(batch.heat_kwh[0, 0]), float(batch.fuel_kwh[0, 0])
    assert warming / 3600 < heat < warming / 3600 + lost
    assert fuel == pytest.approx(heat / vessel.efficiency_share.likely)
    fewest = min(vessel.batches_per_week.likely, vessel.hours_available_per_week.likely / hours)
    assert float(batch.batches_per_week[0, 0]) == pytest.approx(fewest)
    row = farm_tables.vessel_table(outcome, "self_build").rows[0]
    locale = case.heading.locale
    assert row[3] == plain(heat, locale, 1) and row[8] == plain(fewest, locale, 1)
