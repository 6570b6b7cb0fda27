"""What the air of a room needs: CO2 and fresh air, respiration, fans, heat pump and cooling coil.

CO2 is counted in moles, so that its volume follows the temperature and pressure of the air. Heat
and water of respiration hang on the same CO2 and cannot disagree with it. All functions take plain
numbers or arrays that broadcast and return arrays; nothing raises.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from farmcase.moist_air import (
    AIR_KJ_PER_KG_K,
    VAPOUR_KJ_PER_KG_AT_ZERO,
    ZERO_C_IN_K,
    Array,
    as_array,
    humidity_ratio_at,
)

GAS_J_PER_MOL_K = 8.314462618
CO2_G_PER_MOL = 44.0095
WATER_G_PER_MOL = 18.01528
# Sugar burnt with six of oxygen to six of CO2 and six of liquid water, per mole of sugar.
RESPIRATION_KJ_PER_MOL = 2805.0
CO2_PER_SUGAR = 6
MILLION = 1e6


def co2_m3_per_g(temp_c: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """Volume in m3 that 1 g of CO2 adds to air of a temperature and pressure (ideal gas)."""
    kelvin = as_array(temp_c) + ZERO_C_IN_K
    return GAS_J_PER_MOL_K * kelvin / (as_array(pressure_pa) * CO2_G_PER_MOL)


def steady_co2_ppm(
    outside_ppm: ArrayLike,
    co2_g_per_h: ArrayLike,
    fresh_air_m3_per_h: ArrayLike,
    temp_c: ArrayLike,
    pressure_pa: ArrayLike,
) -> Array:
    """CO2 in ppm by volume that a room settles at; fresh air above 0, in m3 of that air."""
    added_m3_per_h = as_array(co2_g_per_h) * co2_m3_per_g(temp_c, pressure_pa)
    return as_array(outside_ppm) + MILLION * added_m3_per_h / as_array(fresh_air_m3_per_h)


def co2_after(
    start_ppm: ArrayLike, steady_ppm: ArrayLike, air_changes_per_h: ArrayLike, hours: ArrayLike
) -> Array:
    """CO2 in ppm after a time, on its way from a start to the steady level; up or down."""
    steady = as_array(steady_ppm)
    left_share = np.exp(-as_array(air_changes_per_h) * as_array(hours))
    return steady + (as_array(start_ppm) - steady) * left_share


def fresh_air_m3_per_h(
    co2_g_per_h: ArrayLike,
    set_ppm: ArrayLike,
    outside_ppm: ArrayLike,
    temp_c: ArrayLike,
    pressure_pa: ArrayLike,
    leak_m3_per_h: ArrayLike = 0.0,
    least_m3_per_h: ArrayLike = 0.0,
    most_m3_per_h: ArrayLike = np.inf,
) -> Array:
    """Fresh air in m3/h that fans must bring to hold a CO2 level, leaks counted, within limits.

    The most there is where the level wanted is not above outside: no flow can hold it.
    """
    added_m3_per_h = as_array(co2_g_per_h) * co2_m3_per_g(temp_c, pressure_pa)
    room = (as_array(set_ppm) - as_array(outside_ppm)) / MILLION
    needed = np.where(room > 0, added_m3_per_h / np.where(room > 0, room, 1.0), np.inf)
    return np.clip(
        needed - as_array(leak_m3_per_h), as_array(least_m3_per_h), as_array(most_m3_per_h)
    )


def respiration_heat_kj(co2_g: ArrayLike) -> Array:
    """Heat in kJ that comes with CO2 in g when sugar is respired (10.62 kJ per g)."""
    moles = as_array(co2_g) / CO2_G_PER_MOL
    return moles * (RESPIRATION_KJ_PER_MOL / CO2_PER_SUGAR)


def respiration_water_g(co2_g: ArrayLike) -> Array:
    """Liquid water in g that comes with CO2 in g when sugar is respired: mole for mole."""
    return as_array(co2_g) * (WATER_G_PER_MOL / CO2_G_PER_MOL)


def respiration_factor(temp_c: ArrayLike, reference_c: ArrayLike, q10: ArrayLike) -> Array:
    """How many times the rate at a reference temperature, growing `q10` times each 10 K."""
    return as_array(q10) ** ((as_array(temp_c) - as_array(reference_c)) / 10.0)


def fan_power_w(
    flow_m3_per_s: ArrayLike, pressure_pa: ArrayLike, efficiency_share: ArrayLike
) -> Array:
    """Electricity in W for a flow against a pressure; the efficiency is of fan, motor and drive."""
    return as_array(flow_m3_per_s) * as_array(pressure_pa) / as_array(efficiency_share)


# Heat pump and cooling: a share of the ideal cycle between two coils. The inside coil is warmer
# (heating) or colder (cooling) than the room by one approach, the outside coil colder or warmer
# than the outside air by another.


def heating_cop(
    carnot_share: ArrayLike,
    inside_c: ArrayLike,
    outside_c: ArrayLike,
    inside_approach_k: ArrayLike,
    outside_approach_k: ArrayLike,
    least_lift_k: ArrayLike,
) -> Array:
    """Heat to the room over electricity: share * Tc / (Tc - Te), both in K at the coils.

    The lift Tc - Te is taken as no less than `least_lift_k`: a compressor works against some lift
    even where the ideal cycle would need none. A fixed share reads high far from the rated point:
    against the field regression of Staffell et al. (2012) by up to 18 % at lifts of 15 and 60 K
    from air to water, when fitted at 30 K.
    """
    hot_k = as_array(inside_c) + as_array(inside_approach_k) + ZERO_C_IN_K
    cold_k = as_array(outside_c) - as_array(outside_approach_k) + ZERO_C_IN_K
    return as_array(carnot_share) * hot_k / np.maximum(hot_k - cold_k, as_array(least_lift_k))


def cooling_eer(
    carnot_share: ArrayLike,
    inside_c: ArrayLike,
    outside_c: ArrayLike,
    inside_approach_k: ArrayLike,
    outside_approach_k: ArrayLike,
    least_lift_k: ArrayLike,
) -> Array:
    """Heat from the room, drying included, over electricity: share * Te / (Tc - Te)."""
    cold_k = as_array(inside_c) - as_array(inside_approach_k) + ZERO_C_IN_K
    hot_k = as_array(outside_c) + as_array(outside_approach_k) + ZERO_C_IN_K
    return as_array(carnot_share) * cold_k / np.maximum(hot_k - cold_k, as_array(least_lift_k))


def heating_carnot_share(
    rated_cop: ArrayLike,
    rated_inside_c: ArrayLike,
    rated_outside_c: ArrayLike,
    inside_approach_k: ArrayLike,
    outside_approach_k: ArrayLike,
    least_lift_k: ArrayLike,
) -> Array:
    """Share of the ideal cycle at which `heating_cop` gives the one rated point."""
    ideal = heating_cop(
        1.0, rated_inside_c, rated_outside_c, inside_approach_k, outside_approach_k, least_lift_k
    )
    return as_array(rated_cop) / ideal


def cooling_carnot_share(
    rated_eer: ArrayLike,
    rated_inside_c: ArrayLike,
    rated_outside_c: ArrayLike,
    inside_approach_k: ArrayLike,
    outside_approach_k: ArrayLike,
    least_lift_k: ArrayLike,
) -> Array:
    """Share of the ideal cycle at which `cooling_eer` gives the one rated point."""
    ideal = cooling_eer(
        1.0, rated_inside_c, rated_outside_c, inside_approach_k, outside_approach_k, least_lift_k
    )
    return as_array(rated_eer) / ideal


def coil_sensible_share(
    room_c: ArrayLike, ratio: ArrayLike, pressure_pa: ArrayLike, apparatus_c: ArrayLike
) -> Array:
    """Share of a cooling coil's work that cools air; the rest takes water out of it.

    The air leaves on the straight line from the room's state to saturation at the coil's apparatus
    dew point. 1 where the room's air is drier than that, or no warmer than the coil.
    """
    cooled_k = as_array(room_c) - as_array(apparatus_c)
    dried = np.maximum(as_array(ratio) - humidity_ratio_at(apparatus_c, 1.0, pressure_pa), 0.0)
    sensible = AIR_KJ_PER_KG_K * np.maximum(cooled_k, 0.0)
    total = sensible + VAPOUR_KJ_PER_KG_AT_ZERO * dried
    return np.where(sensible > 0, sensible / np.where(sensible > 0, total, 1.0), 1.0)
