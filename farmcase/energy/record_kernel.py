"""What an hour of a room leaves behind, step by step, and by how much it does not close."""

from __future__ import annotations

from farmcase.climate.fresh_air import (
    CO2_G_PER_MOL,
    CO2_PER_SUGAR,
    RESPIRATION_KJ_PER_MOL,
)
from farmcase.compiled import compiled
from farmcase.energy import air_kernel as air
from farmcase.energy import fields_kernel as of
from farmcase.moist_air import ZERO_C_IN_K

RESPIRATION_J_PER_KG = 1e6 * RESPIRATION_KJ_PER_MOL / (CO2_PER_SUGAR * CO2_G_PER_MOL)
CO2_OVER_AIR = CO2_G_PER_MOL / 28.966  # by molar mass, of dry air in ASHRAE Fundamentals ch. 1
KWH = 3.6e6  # J


@compiled
def coefficient_of_heating(p, site, inside_c, outside_c):
    """Heat given per electricity taken, from the share of Carnot that fits the rated point."""
    hot = inside_c + site[of.CONDENSER] + ZERO_C_IN_K
    cold = outside_c - site[of.EVAPORATOR] + ZERO_C_IN_K
    value = p[of.HEAT_CARNOT] * hot / max(hot - cold, site[of.LEAST_LIFT])
    if site[of.DEFROST_LOW] <= outside_c <= site[of.DEFROST_HIGH]:
        value *= 1.0 - site[of.DEFROST]
    return max(1.0, value)


@compiled
def coefficient_of_cooling(p, site, inside_c, outside_c):
    """Heat taken out per electricity, from the share of Carnot that fits the rated point."""
    cold = inside_c - site[of.COOL_EVAPORATOR] + ZERO_C_IN_K
    hot = outside_c + site[of.COOL_CONDENSER] + ZERO_C_IN_K
    return max(0.5, p[of.COOL_CARNOT] * cold / max(hot - cold, site[of.LEAST_LIFT]))


@compiled
def step(p, site, s, fixed, done, outside, co2_kg_per_s, state, row):
    """Move the state on by a step and add what flowed to the hour."""
    temp_c, heat, sensible, dried = done
    added, fallen, evaporated, _, _ = air.moisture(s, fixed, temp_c, dried)
    flow = s[air.FAN] + s[air.LEAK]
    ratio = (fixed[air.B] - dried + added - fallen) / fixed[air.A]
    mass = s[air.MASS] / s[air.SECONDS]
    mass_c = (
        mass * s[air.MASS_C]
        + s[air.SURFACE] * temp_c
        + s[air.MASS_GAINS]
        - evaporated * fixed[air.MASS_LATENT]
    ) / (mass + s[air.SURFACE])
    coil = sensible + dried * air.latent(temp_c)
    _heat(s, row, temp_c, mass_c, ratio, heat, coil, added, fallen + dried, evaporated)
    _water(s, row, ratio, flow, added, fallen, dried, evaporated)
    state[of.C_AIR] = _co2(site, s, row, flow, co2_kg_per_s, state[of.C_AIR])
    _plant(p, site, s, row, outside, temp_c, heat, coil, added)
    vapour = ratio * s[air.PRESSURE] / (air.MASS_RATIO + ratio)
    row[of.H_AIR] += temp_c
    row[of.H_HUMIDITY] += vapour / air.saturation(temp_c)[0]
    row[of.H_CO2] += state[of.C_AIR]
    state[of.T_AIR], state[of.T_MASS], state[of.W_AIR] = temp_c, mass_c, ratio


@compiled
def _heat(s, row, temp_c, mass_c, ratio, heat, coil, added, drained, evaporated):
    hours = s[air.SECONDS] / KWH
    own = air.enthalpy(temp_c, ratio)
    outer = air.enthalpy(s[air.OUTSIDE_C], s[air.OUTSIDE_RATIO])
    recovered = s[air.RECOVERY] * s[air.FAN] * (air.DRY_AIR + s[air.OUTSIDE_RATIO] * air.VAPOUR)
    fresh = (s[air.FAN] + s[air.LEAK]) * (outer - own)
    fresh += recovered * (temp_c - s[air.OUTSIDE_C])
    carried = air.LIQUID * temp_c + s[air.HUMID_HEAT]
    if s[air.STEAM] > 0.0:
        carried = air.VAPOUR_AT_0_C + air.VAPOUR * 100.0
    humid = added * carried
    away = drained * air.LIQUID * temp_c
    drawn = evaporated * air.LIQUID * s[air.MASS_C]
    stored = s[air.AIR_KG] * (own - air.enthalpy(s[air.AIR_C], s[air.RATIO]))
    stored += s[air.MASS] * (mass_c - s[air.MASS_C])
    row[of.H_ENVELOPE] += s[air.LOSS] * (s[air.OUTSIDE_C] - temp_c) * hours
    row[of.H_FRESH] += fresh * hours
    row[of.H_HEATING] += heat * hours
    row[of.H_COOLING] += coil * hours
    row[of.H_HUMIDIFIER_HEAT] += humid * hours
    row[of.H_CONDENSATE_HEAT] += away * hours
    row[of.H_SUBSTRATE_HEAT] += drawn * hours
    row[of.H_HEAT_LEFT] += stored / KWH + (coil + away - heat - humid - drawn) * hours


@compiled
def _water(s, row, ratio, flow, added, fallen, dried, evaporated):
    seconds = s[air.SECONDS]
    fresh = flow * (s[air.OUTSIDE_RATIO] - ratio)
    row[of.H_FRESH_WATER] += fresh * seconds
    row[of.H_EVAPORATED] += evaporated * seconds
    row[of.H_HUMIDIFIER] += added * seconds
    row[of.H_COIL] += dried * seconds
    row[of.H_CONDENSED] += fallen * seconds
    left = fresh + evaporated + added - dried - fallen
    row[of.H_WATER_LEFT] += s[air.AIR_KG] * (ratio - s[air.RATIO]) - left * seconds


@compiled
def _co2(site, s, row, flow, made_kg_per_s, before_ppm):
    seconds, held = s[air.SECONDS], s[air.AIR_KG] / s[air.SECONDS]
    outside_ppm = site[of.CO2_OUTSIDE]
    after_ppm = held * before_ppm + flow * outside_ppm + made_kg_per_s / CO2_OVER_AIR * 1e6
    after_ppm /= held + flow
    brought = flow * (outside_ppm - after_ppm) * 1e-6 * CO2_OVER_AIR * seconds
    change = s[air.AIR_KG] * (after_ppm - before_ppm) * 1e-6 * CO2_OVER_AIR
    row[of.H_CO2_MADE] += made_kg_per_s * seconds
    row[of.H_CO2_FRESH] += brought
    row[of.H_CO2_LEFT] += change - brought - made_kg_per_s * seconds
    return after_ppm


@compiled
def _plant(p, site, s, row, outside, temp_c, heat, coil, added):
    hours = s[air.SECONDS] / KWH
    if heat > 0.0:
        per = p[of.HEATER_EFFICIENCY]
        if p[of.HEATING] == of.HEAT_PUMP:
            per = coefficient_of_heating(p, site, temp_c, outside[of.OUT_C])
        row[of.H_HEATING_INPUT] += heat / per * hours
    if coil > 0.0:
        per = coefficient_of_cooling(p, site, temp_c, outside[of.OUT_C])
        row[of.H_COOLING_INPUT] += coil / per * hours
    row[of.H_HUMIDIFYING] += added * s[air.SECONDS] * p[of.HUMIDIFIER_KWH]


@compiled
def hour(site, s, outside, load, lights_w, mixing_w, sunny_w, others_w, state, row, steps):
    """What flowed evenly through the hour, the means, and the state at its end."""
    row[of.H_MASS] = s[air.MASS]
    row[of.H_FANS] += mixing_w / 1000.0
    row[of.H_LIGHTS] = lights_w / 1000.0
    row[of.H_MACHINES] = row[of.H_FANS] + row[of.H_LIGHTS]
    row[of.H_ENVELOPE] += sunny_w / 1000.0
    row[of.H_OTHERS] = others_w / 1000.0
    row[of.H_RESPIRATION] = load[of.L_CO2] * RESPIRATION_J_PER_KG / 1000.0
    row[of.H_HEAT_LEFT] -= row[of.H_MACHINES] + row[of.H_ENVELOPE] + row[of.H_OTHERS]
    row[of.H_HEAT_LEFT] -= row[of.H_RESPIRATION] + row[of.H_FRESH]
    row[of.H_AIR] /= steps
    row[of.H_HUMIDITY] /= steps
    row[of.H_CO2] /= steps
    row[of.H_AIR_END], row[of.H_MASS_END] = state[of.T_AIR], state[of.T_MASS]
    row[of.H_RATIO_END], row[of.H_CO2_END] = state[of.W_AIR], state[of.C_AIR]
    bridge_c = outside[of.OUT_C] + site[of.BRIDGE] * (state[of.T_AIR] - outside[of.OUT_C])
    if state[of.W_AIR] > air.ratio_at(air.saturation(bridge_c)[0], outside[of.OUT_PA]):
        row[of.H_WET] = 1.0
