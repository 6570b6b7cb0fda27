"""The kernels use what the published checks try: each formula of theirs beside the array function.

Tables, examples and standards are checked on `moist_air`, `climate/envelope` and
`climate/fresh_air`; here the compiled scalars are held against these, so that what is checked is
what runs.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

import farmcase as fc
from farmcase.climate.envelope import bridge_is_wet, sol_air_c
from farmcase.climate.fresh_air import (
    cooling_eer,
    fan_power_w,
    fresh_air_m3_per_h,
    heating_cop,
    respiration_factor,
)
from farmcase.crop.response_kernel import respiration_scale
from farmcase.energy import air_kernel as air
from farmcase.energy import control_kernel, record_kernel
from farmcase.energy.fields_kernel import CO2_MOST, CO2_OUTSIDE, FRESH_MOST, ROOM, SITE
from farmcase.model.gather import BuildInputs
from farmcase.model.hours import told_to_rooms
from farmcase.model.shell import enclosed_rooms, physics, walls
from farmcase.moist_air import (
    dew_point_c,
    enthalpy_kj_per_kg,
    humidity_ratio,
    latent_heat_kj_per_kg,
    saturation_pressure_pa,
    standard_pressure_pa,
    vapour_pressure_pa,
)

TEMPS = np.array([-25.0, -10, -0.3, 0.0, 0.2, 4, 12.7, 21, 35.4, 60])
SEA_PA = 101_325.0


@pytest.fixture(scope="module")
def table(small_case: fc.Case) -> dict[str, float]:
    """The table of physics."""
    return dict(physics(small_case))


def constants(table: dict[str, float]) -> np.ndarray:
    """The table as the kernels have it."""
    return np.array([table[name] for name in SITE])


def test_saturation_is_the_formula() -> None:
    """Within 1e-9, and its slope within what a difference of the formula can tell."""
    for temp in np.concatenate([TEMPS, np.linspace(-40, 60, 403)]):
        value, slope = air.saturation(temp)
        assert value == pytest.approx(float(saturation_pressure_pa(temp)), rel=1e-9), temp
        ends = saturation_pressure_pa(np.array([temp - 1e-3, temp + 1e-3]))
        assert slope == pytest.approx(float(ends[1] - ends[0]) / 2e-3, rel=1e-6), temp


@pytest.mark.parametrize("ratio", [0.0, 0.004, 0.013])
def test_heat_and_humidity_are_those_of_moist_air(ratio: float) -> None:
    """Enthalpy, latent heat and humidity ratio, to rounding."""
    for temp in TEMPS:
        assert air.enthalpy(temp, ratio) == pytest.approx(
            1000 * float(enthalpy_kj_per_kg(temp, ratio)), rel=1e-12, abs=1e-9
        )
        assert air.latent(temp) == pytest.approx(1000 * float(latent_heat_kj_per_kg(temp)))
    assert air.ratio_at(1234.0, SEA_PA) == pytest.approx(float(humidity_ratio(1234.0, SEA_PA)))


@pytest.mark.parametrize("outside_c", [-12.0, -5.0, 0.0, 5.0, 5.1, 18.0])
def test_heat_pump_is_the_checked_formula(table: dict[str, float], outside_c: float) -> None:
    """The share of the ideal cycle, less defrosting between its limits."""
    room = np.zeros(len(ROOM))
    room[ROOM.index("heat_carnot_share")] = 0.45
    found = record_kernel.coefficient_of_heating(room, constants(table), 16.0, outside_c)
    plain = heating_cop(
        0.45,
        16.0,
        outside_c,
        table["heat_pump_condenser_approach_k"],
        table["heat_pump_evaporator_approach_k"],
        table["heat_pump_least_lift_k"],
    )
    frosts = table["defrost_low_c"] <= outside_c <= table["defrost_high_c"]
    loss = table["defrost_loss_share"] if frosts else 0.0
    assert found == pytest.approx(float(plain) * (1 - loss), rel=1e-12)


@pytest.mark.parametrize("outside_c", [8.0, 25.0, 35.0, 42.0])
def test_cooling_is_the_checked_formula(table: dict[str, float], outside_c: float) -> None:
    """The share of the ideal cycle between the coils."""
    room = np.zeros(len(ROOM))
    room[ROOM.index("cool_carnot_share")] = 0.42
    found = record_kernel.coefficient_of_cooling(room, constants(table), 16.0, outside_c)
    plain = cooling_eer(
        0.42,
        16.0,
        outside_c,
        table["cooling_evaporator_approach_k"],
        table["cooling_condenser_approach_k"],
        table["heat_pump_least_lift_k"],
    )
    assert found == pytest.approx(float(plain), rel=1e-12)


def test_fresh_air_holds_what_the_checked_formula_asks(table: dict[str, float]) -> None:
    """Kilograms of dry air of the kernel against cubic metres at room and outside conditions alike.

    The formula counts moles of air with their water, the kernel dry air: in dry air they are one.
    """
    room, site = np.zeros(len(ROOM)), constants(table)
    room[CO2_MOST], room[FRESH_MOST] = 1200.0, 1e6
    density = SEA_PA / (287.042 * 293.15)
    outside = np.array([20.0, 0.0, SEA_PA, 0.0, 0.0])
    flow, leak, _ = control_kernel.fresh_air_kg_per_s(room, site, outside, density, 45e-3 / 3600)
    asked = fresh_air_m3_per_h(45.0, 1200.0, site[CO2_OUTSIDE], 20.0, SEA_PA)
    assert leak == 0.0
    assert flow / density * 3600 == pytest.approx(float(asked), rel=1e-4)  # 28.966 g/mol rounded


def test_breath_grows_as_the_checked_formula() -> None:
    """Up to the best temperature for growth; beyond it the kernel lets it fall."""
    for temp in (4.0, 16.0, 20.0, 26.9):
        plain = float(respiration_factor(temp, 20.0, 2.2))
        assert respiration_scale(temp, 20.0, 2.2, 27.0, 35.0) == pytest.approx(plain, rel=1e-12)


def test_fans_draw_what_the_checked_formula_says(small_case: fc.Case) -> None:
    """Electricity of a room's fan in an hour without mixing fans: flow, pressure, efficiency."""
    hours = fc.evaluate(small_case)["bought_unit"].rooms["fruiting_right"]
    climate = small_case.for_build("bought_unit").climate["fruiting_right"]
    leak = climate.leakage_changes_per_h.likely * volume(small_case, "fruiting_right")
    flow = (hours["fresh_air_m3"] - leak).to_numpy() / 3600
    pressure, efficiency = climate.fan_pressure_pa.likely, climate.fan_efficiency_share.likely
    drawn = fan_power_w(flow, pressure, efficiency) / 1000 + climate.mixing_fans_kw.likely
    assert_allclose(hours["fans_electric_kwh"], drawn, rtol=1e-9, atol=1e-12)


def volume(case: fc.Case, room: str) -> float:
    """Inner volume of a room of the second build [m3]."""
    inputs = BuildInputs(case, "bought_unit", {})
    _, _, made = told_to_rooms(inputs)
    place = enclosed_rooms(inputs.case).index(room)
    return float(made[0].rooms[place, ROOM.index("volume_m3")])


def test_bridges_are_wet_by_the_checked_formula(small_case: fc.Case) -> None:
    """Below the dew point of the room at the end of each hour, but where rounding decides."""
    hours = fc.evaluate(small_case)["bought_unit"].rooms["fruiting_left"]
    assert small_case.site is not None
    pressure = float(standard_pressure_pa(small_case.site.altitude_m))
    vapour = vapour_pressure_pa(hours["humidity_ratio_end"].to_numpy(), pressure)
    factor = physics(small_case)["bridge_temperature_factor"]
    wet = bridge_is_wet(
        hours["air_temp_end_c"].to_numpy(),
        hours["outside_temp_c"].to_numpy(),
        factor,
        dew_point_c(vapour),
    )
    assert (wet == (hours["wet_bridge"] > 0)).all()


def test_heat_through_a_face_is_that_of_sol_air(small_case: fc.Case) -> None:
    """U times area times the sol-air excess is what the kernel takes in for sun and gives off."""
    inputs = BuildInputs(small_case, "bought_unit", {})
    site, _, made = told_to_rooms(inputs)
    shape, table = walls(inputs), physics(small_case)
    place = enclosed_rooms(inputs.case).index("fruiting_right")
    paint = table[f"absorptance_{inputs.case.containers['box_second'].paint}"]
    box = inputs.case.containers["box_second"]
    noon = int(np.argmax(site.sun_w_per_m2[place, :, 4]))
    outside_c, deficit = site.outside[noon, 0], site.outside[noon, 3]
    room, sun = made[0].rooms[place], site.sun_w_per_m2[place, noon]
    taken = room[ROOM.index("sun_front_m2") : ROOM.index("sun_front_m2") + 6]
    kernel = (taken * sun).sum() - room[ROOM.index("sky_m2")] * deficit
    reach = np.array([*[box.walls_sun_share.likely] * 4, box.roof_sun_share.likely, 0.0])
    lost = table["roof_emissivity"] * deficit * box.roof_sun_share.likely
    sky = np.array([0, 0, 0, 0, lost / table["outer_surface_w_per_m2_k"], 0])
    above = sol_air_c(outside_c, sun * reach, paint, table["outer_surface_w_per_m2_k"], sky)
    through = (shape.outside_m2 * shape.u_w_per_m2_k[0])[place] * (above - outside_c)
    assert kernel == pytest.approx(float(through.sum()), rel=1e-12)


@pytest.mark.parametrize(
    ("insulation", "thickness_m", "face", "face_m", "expected"),
    [
        # ISO 6946 formula, worked by hand in the notes on physics (marked computed): 1.6 mm steel,
        # 50 mm at 0.022, 9 mm at 0.13, surfaces 0.13 and 0.04; bare 1.6 mm steel.
        ("pir_foil_board", 0.05, "plywood", 0.009, 0.398091),
        ("", 0.0, "", 0.0, 5.881246),
    ],
)
def test_walls_of_a_room_have_the_worked_u_value(
    small_folder: Path,
    insulation: str,
    thickness_m: float,
    face: str,
    face_m: float,
    expected: float,
) -> None:
    """The same numbers through the case: a plain steel box, no allowance for bridges."""
    at = "rooms.fruiting_right"
    case = fc.open_case(small_folder).vary(
        {
            f"{at}.insulation": insulation,
            f"{at}.insulation_m": thickness_m,
            f"{at}.inner_face": face,
            f"{at}.inner_face_m": face_m,
            "climate.fruiting_right.bridging_w_per_m2_k": 0.0,
        }
    )
    inputs = BuildInputs(case, "bought_unit", {})
    place = enclosed_rooms(inputs.case).index("fruiting_right")
    assert_allclose(walls(inputs).u_w_per_m2_k[0, place, :4], expected, rtol=2e-6)
