"""One step of the air of one room: heat, moisture and CO2, solved together.

Backward Euler. The mass of the room (bags, racks, lining) is eliminated, every moisture term is
written as a function of the one unknown air temperature, and that scalar equation is solved by
Newton's method within a bracket. Total enthalpy is what is balanced: water vapour carries
2,501 kJ/kg and 1.86 kJ/(kg K), liquid water 4.186 kJ/(kg K), dry air 1.006 kJ/(kg K) (ASHRAE
Handbook Fundamentals ch. 1), so that a sum over the hourly table must close to rounding.
"""

from __future__ import annotations

import math

from farmcase.compiled import compiled
from farmcase.energy.saturation_kernel import saturation
from farmcase.moist_air import (
    AIR_KJ_PER_KG_K,
    VAPOUR_KJ_PER_KG_AT_ZERO,
    VAPOUR_KJ_PER_KG_K,
    WATER_KJ_PER_KG_K,
    WATER_TO_AIR_MASS,
)

DRY_AIR = 1000.0 * AIR_KJ_PER_KG_K  # J/(kg K)
VAPOUR = 1000.0 * VAPOUR_KJ_PER_KG_K  # J/(kg K)
LIQUID = 1000.0 * WATER_KJ_PER_KG_K  # J/(kg K)
VAPOUR_AT_0_C = 1000.0 * VAPOUR_KJ_PER_KG_AT_ZERO  # J/kg
MASS_RATIO = WATER_TO_AIR_MASS  # water over dry air, by molar mass

# The numbers of a step, in the order of the array they stand in.
STEP = (
    "air_c",
    "mass_c",
    "ratio",
    "seconds",
    "air_kg",
    "mass_j_per_k",
    "surface_w_per_k",
    "loss_w_per_k",
    "evaporation_kg_per_s",
    "outside_c",
    "outside_ratio",
    "pressure_pa",
    "gains_w",
    "mass_gains_w",
    "humid_to_share",
    "most_humid_kg_per_s",
    "humid_heat_j_per_kg",
    "steam",
    "fan_kg_per_s",
    "leak_kg_per_s",
    "recovery_share",
)
(
    AIR_C,
    MASS_C,
    RATIO,
    SECONDS,
    AIR_KG,
    MASS,
    SURFACE,
    LOSS,
    EVAPORATION,
    OUTSIDE_C,
    OUTSIDE_RATIO,
    PRESSURE,
    GAINS,
    MASS_GAINS,
    HUMID_TO,
    MOST_HUMID,
    HUMID_HEAT,
    STEAM,
    FAN,
    LEAK,
    RECOVERY,
) = range(len(STEP))

# What is worked out once for a step and then stays while the temperature is sought.
FIXED = ("a", "b", "d", "rest", "share", "mass_latent", "kept_ratio")
A, B, D, REST, SHARE, MASS_LATENT, MASS_RATIO_AT = range(len(FIXED))


@compiled
def ratio_at(vapour_pa, pressure_pa):
    """Humidity ratio [kg/kg] of a vapour pressure."""
    return MASS_RATIO * vapour_pa / (pressure_pa - vapour_pa)


@compiled
def latent(temp_c):
    """Heat to turn liquid water into vapour of the same temperature [J/kg]."""
    return VAPOUR_AT_0_C + (VAPOUR - LIQUID) * temp_c


@compiled
def enthalpy(temp_c, ratio):
    """Enthalpy of moist air [J per kg of dry air]."""
    return DRY_AIR * temp_c + ratio * (VAPOUR_AT_0_C + VAPOUR * temp_c)


@compiled
def prepare(s, fixed):
    """What does not change while the air temperature of the step is sought."""
    saturated = ratio_at(saturation(s[MASS_C])[0], s[PRESSURE])
    flow = s[FAN] + s[LEAK]
    stored = s[AIR_KG] / s[SECONDS]
    mass = s[MASS] / s[SECONDS]
    heat = DRY_AIR + s[OUTSIDE_RATIO] * VAPOUR
    sensible = (flow - s[RECOVERY] * s[FAN]) * heat
    share = s[SURFACE] / (mass + s[SURFACE])
    air = stored * (DRY_AIR + s[RATIO] * VAPOUR)
    fixed[A] = stored + flow + s[EVAPORATION]
    fixed[B] = stored * s[RATIO] + flow * s[OUTSIDE_RATIO] + s[EVAPORATION] * saturated
    fixed[D] = air + s[LOSS] + sensible + s[SURFACE] * (1.0 - share)
    fixed[REST] = (
        air * s[AIR_C]
        + (s[LOSS] + sensible) * s[OUTSIDE_C]
        + s[GAINS]
        + share * (mass * s[MASS_C] + s[MASS_GAINS])
    )
    fixed[SHARE] = share
    fixed[MASS_LATENT] = latent(s[MASS_C])
    fixed[MASS_RATIO_AT] = saturated


@compiled
def moisture(s, fixed, temp_c, dried):
    """Humidifier, condensation and evaporation [kg/s] at an air temperature, and their slopes.

    `dried` is what the cooling coil takes out. Returns humidifier, condensation, evaporation, and
    the slopes of the first two with temperature.
    """
    vapour, slope = saturation(temp_c)
    have = fixed[B] - dried
    added, fallen, added_slope, fallen_slope = 0.0, 0.0, 0.0, 0.0
    pressure = s[PRESSURE]
    if s[MOST_HUMID] > 0.0:
        wanted = s[HUMID_TO] * vapour
        added = fixed[A] * ratio_at(wanted, pressure) - have
        added_slope = fixed[A] * MASS_RATIO * pressure / (pressure - wanted) ** 2
        added_slope *= s[HUMID_TO] * slope
        if added <= 0.0:
            added, added_slope = 0.0, 0.0
        elif added >= s[MOST_HUMID]:
            added, added_slope = s[MOST_HUMID], 0.0
    spare = have + added - fixed[A] * ratio_at(vapour, pressure)
    if spare > 0.0:
        fallen = spare
        fallen_slope = (
            added_slope - fixed[A] * MASS_RATIO * pressure / (pressure - vapour) ** 2 * slope
        )
    left = (have + added - fallen) / fixed[A]
    evaporated = s[EVAPORATION] * (fixed[MASS_RATIO_AT] - left)
    return added, fallen, evaporated, added_slope, fallen_slope


@compiled
def _humid_latent(s, temp_c):
    """What a kilogram from the humidifier takes from the air as it joins it [J/kg], and its slope.

    Fog, ultrasonic and pad give liquid at room temperature, warmed by what drives them; steam
    comes at 100 °C.
    """
    if s[STEAM] > 0.0:
        return -VAPOUR * (100.0 - temp_c), VAPOUR
    return latent(temp_c) - s[HUMID_HEAT], VAPOUR - LIQUID


@compiled
def imbalance(s, fixed, temp_c, heat_w, sensible_w, dried):
    """Heat that is missing at an air temperature [W], and its slope [W/K].

    `heat_w` is the heater's, `sensible_w` and `dried` what the cooling coil takes out.
    """
    added, fallen, evaporated, added_slope, fallen_slope = moisture(s, fixed, temp_c, dried)
    takes, takes_slope = _humid_latent(s, temp_c)
    gives = latent(temp_c)
    from_mass = fixed[SHARE] * fixed[MASS_LATENT] - VAPOUR * (s[MASS_C] - temp_c)
    missing = (
        fixed[D] * temp_c
        - fixed[REST]
        + evaporated * from_mass
        + added * takes
        - fallen * gives
        - heat_w
        + sensible_w
    )
    slope = (
        fixed[D]
        + evaporated * VAPOUR
        - s[EVAPORATION] / fixed[A] * (added_slope - fallen_slope) * from_mass
        + added_slope * takes
        + added * takes_slope
        - fallen_slope * gives
        - fallen * (VAPOUR - LIQUID)
    )
    return missing, slope


@compiled
def settle(s, fixed, heat_w, sensible_w, dried):
    """The air temperature at which the heat of the step is in balance [°C]."""
    low, high = -90.0, 95.0
    temp_c = min(max(s[AIR_C], low), high)
    for _ in range(80):
        missing, slope = imbalance(s, fixed, temp_c, heat_w, sensible_w, dried)
        if abs(missing) < 1e-8:
            return temp_c
        if missing > 0.0:
            high = temp_c
        else:
            low = temp_c
        step = temp_c - missing / slope if slope > 0.0 else low
        if step <= low or step >= high:
            step = 0.5 * (low + high)
        if step == temp_c or high - low < 1e-13:
            return step
        temp_c = step
    return temp_c


@compiled
def coil(s, fixed, temp_c, saturated, per_ratio):
    """What a coil takes out to hold a temperature: sensible heat [W] and water [kg/s].

    For each joule of sensible heat it takes `per_ratio` of what the ratio of the air at the end of
    the step is above `saturated`. Going by the air at its beginning it would take more than there
    is.
    """
    low, high, dried, sensible = 0.0, 1e3, 0.0, 0.0
    gives = latent(temp_c)
    takes, _ = _humid_latent(s, temp_c)
    from_mass = fixed[SHARE] * fixed[MASS_LATENT] - VAPOUR * (s[MASS_C] - temp_c)
    for _ in range(60):
        sensible = -imbalance(s, fixed, temp_c, 0.0, 0.0, dried)[0]
        added, fallen, _, added_slope, _ = moisture(s, fixed, temp_c, dried)
        over = (fixed[B] - dried + added - fallen) / fixed[A] - saturated
        bend = 0.0
        if over <= 0.0 or sensible <= 0.0:
            left, slope = dried, 1.0
        else:
            left = dried - per_ratio * sensible * over
            if fallen > 0.0:
                slope = 1.0 + per_ratio * over * gives
            elif added_slope > 0.0:
                slope = 1.0 + per_ratio * over * takes
            else:
                slope = over * s[EVAPORATION] * from_mass + sensible
                slope = 1.0 + per_ratio * slope / fixed[A]
                bend = -per_ratio * s[EVAPORATION] * from_mass / fixed[A] ** 2
        if abs(left) < 1e-14 or high - low < 1e-16:
            break
        if left > 0.0:
            high = dried
        else:
            low = dried
        # exact as long as humidifier and condensation stay as they are: at most of second degree
        root = slope * slope - 4.0 * bend * left
        step = dried - 2.0 * left / (slope + math.sqrt(root)) if root > 0.0 else low
        if step <= low or step >= high:
            step = 0.5 * (low + high)
        dried = step
    return sensible, dried
