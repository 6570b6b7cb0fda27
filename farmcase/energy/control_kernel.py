"""An hour of one room: what its plant does, step by step, and what that takes.

Control is ideal and solved within the step: the heater gives just what holds the set point, up to
its power; then heat recovery is bypassed, outside air is brought in and the cooling runs, each
only as far as needed.
"""

from __future__ import annotations

from farmcase.compiled import compiled
from farmcase.energy import air_kernel as air

# The numbers of a room, in the order of the array they stand in.
ROOM = (
    "air_kg",
    "volume_m3",
    "loss_w_per_k",
    "mass_j_per_k",
    "surface_w_per_k",
    "leakage_changes_per_h",
    "door_m3_per_h",
    "fresh_air_least_m3_per_h",
    "fresh_air_most_m3_per_h",
    "fan_w_per_m3_per_s",
    "mixing_fans_kw",
    "lights_kw",
    "lights_hours_per_day",
    "lights_from_hour",
    "heat_recovery_share",
    "outside_air_cools",
    "co2_most_ppm",
    "heat_to_c",
    "cool_to_c",
    "heat_kw",
    "cool_kw",
    "heating",
    "heater_efficiency_share",
    "heat_carnot_share",
    "cool_carnot_share",
    "humidify_to_share",
    "humidify_l_per_h",
    "humidifier_kwh_per_l",
    "humidifier",
    "sky_m2",
    "sun_front_m2",
    "sun_back_m2",
    "sun_left_m2",
    "sun_right_m2",
    "sun_roof_m2",
    "sun_floor_m2",
)
(
    AIR_KG,
    VOLUME,
    LOSS,
    MASS,
    SURFACE,
    LEAKAGE,
    DOOR,
    FRESH_LEAST,
    FRESH_MOST,
    FAN_W,
    MIXING,
    LIGHTS,
    LIGHTS_HOURS,
    LIGHTS_FROM,
    RECOVERY,
    OUTSIDE_COOLS,
    CO2_MOST,
    HEAT_TO,
    COOL_TO,
    HEAT,
    COOL,
    HEATING,
    HEATER_EFFICIENCY,
    HEAT_CARNOT,
    COOL_CARNOT,
    HUMIDIFY_TO,
    HUMIDIFY,
    HUMIDIFIER_KWH,
    HUMIDIFIER,
    SKY,
    SUN,
) = range(len(ROOM) - 5)
NO_HEAT, HEATER, HEAT_PUMP = range(3)
NO_HUMIDIFIER, FOG, PAD, STEAM = range(4)

# Constants of the physics table, in the order of the array they stand in.
SITE = (
    "co2_outside_ppm",
    "heat_pump_condenser_approach_k",
    "heat_pump_evaporator_approach_k",
    "cooling_evaporator_approach_k",
    "cooling_condenser_approach_k",
    "heat_pump_least_lift_k",
    "defrost_loss_share",
    "coil_apparatus_drop_k",
    "coil_apparatus_least_c",
    "lights_heat_to_mass_share",
    "pad_effectiveness_share",
    "bridge_temperature_factor",
    "co2_limit_8_h_ppm",
    "co2_limit_15_min_ppm",
    "store_co2_mg_per_kg_h_at_0_c",
    "store_q10",
    "mushroom_specific_heat_kj_per_kg_k",
    "store_evaporation_per_s",
)
(
    CO2_OUTSIDE,
    CONDENSER,
    EVAPORATOR,
    COOL_EVAPORATOR,
    COOL_CONDENSER,
    LEAST_LIFT,
    DEFROST,
    COIL_DROP,
    COIL_LEAST,
    LIGHTS_TO_MASS,
    PAD_SHARE,
    BRIDGE,
    LIMIT_8_H,
    LIMIT_15_MIN,
    STORE_CO2,
    STORE_Q10,
    MUSHROOM_HEAT,
    STORE_EVAPORATION,
) = range(len(SITE))

# The air outside, in the order of the array it stands in.
OUTSIDE = ("temp_c", "ratio", "pressure_pa", "sky_deficit_w_per_m2", "pad_rise")
OUT_C, OUT_RATIO, OUT_PA, OUT_SKY, OUT_PAD = range(len(OUTSIDE))

# What stands in a room, in the order of the array it stands in.
LOAD = ("mass_j_per_k", "surface_w_per_k", "evaporation_kg_per_s", "co2_kg_per_s")
L_MASS, L_SURFACE, L_EVAPORATION, L_CO2 = range(len(LOAD))

# The state of a room.
T_AIR, T_MASS, W_AIR, C_AIR = range(4)

# What an hour of a room leaves, in the order of the columns of the hourly table.
HOUR = (
    "air_temp_c",
    "relative_humidity_share",
    "co2_ppm",
    "air_temp_end_c",
    "mass_temp_end_c",
    "humidity_ratio_end",
    "co2_end_ppm",
    "mass_j_per_k",
    "envelope_kwh",
    "other_rooms_kwh",
    "fresh_air_kwh",
    "respiration_kwh",
    "machines_kwh",
    "heating_kwh",
    "cooling_kwh",
    "humidifier_heat_kwh",
    "condensate_heat_kwh",
    "substrate_water_heat_kwh",
    "moved_crop_kwh",
    "heat_residual_kwh",
    "fresh_water_kg",
    "evaporated_kg",
    "humidifier_kg",
    "coil_kg",
    "condensed_kg",
    "water_residual_kg",
    "co2_made_kg",
    "co2_fresh_kg",
    "co2_residual_kg",
    "fans_electric_kwh",
    "lights_electric_kwh",
    "humidifying_electric_kwh",
    "heating_input_kwh",
    "cooling_electric_kwh",
    "fresh_air_m3",
    "units_standing",
    "wet_bridge",
)
(
    H_AIR,
    H_HUMIDITY,
    H_CO2,
    H_AIR_END,
    H_MASS_END,
    H_RATIO_END,
    H_CO2_END,
    H_MASS,
    H_ENVELOPE,
    H_OTHERS,
    H_FRESH,
    H_RESPIRATION,
    H_MACHINES,
    H_HEATING,
    H_COOLING,
    H_HUMIDIFIER_HEAT,
    H_CONDENSATE_HEAT,
    H_SUBSTRATE_HEAT,
    H_MOVED,
    H_HEAT_LEFT,
    H_FRESH_WATER,
    H_EVAPORATED,
    H_HUMIDIFIER,
    H_COIL,
    H_CONDENSED,
    H_WATER_LEFT,
    H_CO2_MADE,
    H_CO2_FRESH,
    H_CO2_LEFT,
    H_FANS,
    H_LIGHTS,
    H_HUMIDIFYING,
    H_HEATING_INPUT,
    H_COOLING_INPUT,
    H_FRESH_M3,
    H_UNITS,
    H_WET,
) = range(len(HOUR))

RESPIRATION_J_PER_KG = 2805.0e6 / (6.0 * 44.0095)  # glucose: 2,805 kJ/mol and 6 CO2, from memory
CO2_OVER_AIR = 44.0095 / 28.966  # molar masses
KWH = 3.6e6  # J


@compiled
def coefficient_of_heating(p, site, inside_c, outside_c):
    """Heat given per electricity taken, from the share of Carnot that fits the rated point."""
    hot = inside_c + site[CONDENSER] + 273.15
    cold = outside_c - site[EVAPORATOR] + 273.15
    value = p[HEAT_CARNOT] * hot / max(hot - cold, site[LEAST_LIFT])
    if -5.0 <= outside_c <= 5.0:
        value *= 1.0 - site[DEFROST]
    return max(1.0, value)


@compiled
def coefficient_of_cooling(p, site, inside_c, outside_c):
    """Heat taken out per electricity, from the share of Carnot that fits the rated point."""
    cold = inside_c - site[COOL_EVAPORATOR] + 273.15
    hot = outside_c + site[COOL_CONDENSER] + 273.15
    return max(0.5, p[COOL_CARNOT] * cold / max(hot - cold, site[LEAST_LIFT]))


@compiled
def fresh_air_kg_per_s(p, site, outside, density, co2_kg_per_s):
    """Fan flow [kg dry air/s] that holds the CO2 set point, within the least and most of the fan."""
    leak = (p[LEAKAGE] * p[VOLUME] + p[DOOR]) / 3600.0 * density
    head = (p[CO2_MOST] - site[CO2_OUTSIDE]) * 1e-6 * CO2_OVER_AIR
    wanted = co2_kg_per_s / head - leak if head > 0.0 else 1e9
    least = p[FRESH_LEAST] / 3600.0 * density
    most = max(least, p[FRESH_MOST] / 3600.0 * density)
    return min(max(wanted, least), most), leak, most


@compiled
def _tune(s, fixed, which, near, far, aim_c, gains, w_per_flow):
    # the value of a fan flow or of heat recovery between two ends at which the air has a
    # temperature; the far end where even that does not reach it
    s[which] = far
    if which == air.FAN:
        s[air.GAINS] = gains + far * w_per_flow
    air.prepare(s, fixed)
    end_c = air.settle(s, fixed, 0.0, 0.0, 0.0)
    if end_c >= aim_c:
        return end_c
    warm, cool = near, far
    for _ in range(40):
        s[which] = 0.5 * (warm + cool)
        if which == air.FAN:
            s[air.GAINS] = gains + s[which] * w_per_flow
        air.prepare(s, fixed)
        end_c = air.settle(s, fixed, 0.0, 0.0, 0.0)
        if abs(end_c - aim_c) < 1e-3:
            break
        if end_c > aim_c:
            warm = s[which]
        else:
            cool = s[which]
    return end_c


@compiled
def _cool(p, site, s, fixed):
    # the coil holds the set point, or gives all it can; returns temperature, sensible heat, water
    aim_c = p[COOL_TO]
    coil_c = max(aim_c - site[COIL_DROP], site[COIL_LEAST])
    heat = air.DRY_AIR + s[air.RATIO] * air.VAPOUR
    gives = air.latent(aim_c)
    over = s[air.RATIO] - air.ratio_at(air.saturation(coil_c)[0], s[air.PRESSURE])
    per_watt = max(0.0, over) / (heat * max(aim_c - coil_c, 0.5))
    sensible = air.coil_sensible_w(s, fixed, aim_c, per_watt)
    most = p[COOL] * 1000.0 / (1.0 + per_watt * gives)
    if sensible <= most:
        return aim_c, sensible, per_watt * sensible
    dried = per_watt * most
    return air.settle(s, fixed, 0.0, most, dried), most, dried


@compiled
def _act(p, site, s, fixed, outside, most_flow, gains, w_per_flow, is_open):
    # what the plant does in a step; returns temperature, heat given, sensible heat and water out
    air.prepare(s, fixed)
    temp_c = air.settle(s, fixed, 0.0, 0.0, 0.0)
    if not is_open:
        return temp_c, 0.0, 0.0, 0.0
    if temp_c < p[HEAT_TO] and p[HEATING] > 0.0:
        heat = air.imbalance(s, fixed, p[HEAT_TO], 0.0, 0.0, 0.0)[0]
        most = p[HEAT] * 1000.0
        if heat <= most:
            return p[HEAT_TO], heat, 0.0, 0.0
        return air.settle(s, fixed, most, 0.0, 0.0), most, 0.0, 0.0
    if temp_c <= p[COOL_TO]:
        return temp_c, 0.0, 0.0, 0.0
    if s[air.RECOVERY] > 0.0 and outside[OUT_C] < temp_c:
        temp_c = _tune(s, fixed, air.RECOVERY, s[air.RECOVERY], 0.0, p[COOL_TO], gains, 0.0)
    if p[OUTSIDE_COOLS] > 0.0 and temp_c > p[COOL_TO] and outside[OUT_C] < temp_c:
        temp_c = _tune(s, fixed, air.FAN, s[air.FAN], most_flow, p[COOL_TO], gains, w_per_flow)
    if temp_c > p[COOL_TO] + 1e-3 and p[COOL] > 0.0:
        temp_c, sensible, dried = _cool(p, site, s, fixed)
        return temp_c, 0.0, sensible, dried
    return temp_c, 0.0, 0.0, 0.0


@compiled
def _humidifier(p, site, s, outside, is_open):
    # how much the humidifier may give in this step, and what comes with it
    s[air.HUMID_TO] = p[HUMIDIFY_TO]
    s[air.STEAM] = 1.0 if p[HUMIDIFIER] == STEAM else 0.0
    s[air.HUMID_HEAT] = p[HUMIDIFIER_KWH] * KWH
    s[air.MOST_HUMID] = 0.0
    if is_open and p[HUMIDIFIER] > 0.0:
        s[air.MOST_HUMID] = p[HUMIDIFY] / 3600.0
        if p[HUMIDIFIER] == PAD:
            wets = s[air.FAN] * site[PAD_SHARE] * outside[OUT_PAD]
            s[air.MOST_HUMID] = min(s[air.MOST_HUMID], wets)


@compiled
def room_hour(p, site, outside, sun, load, others_w, state, row, s, fixed, steps, hour, is_open):
    """Take one room through one hour; fills `row` (see HOUR) and moves `state` on."""
    density = outside[OUT_PA] / (287.042 * (outside[OUT_C] + 273.15))
    density /= 1.0 + 1.607858 * outside[OUT_RATIO]
    base_flow, leak, most_flow = fresh_air_kg_per_s(p, site, outside, density, load[L_CO2])
    lights = 0.0
    if is_open:
        since = (hour - p[LIGHTS_FROM]) % 24.0
        lights = p[LIGHTS] * 1000.0 * min(1.0, max(0.0, p[LIGHTS_HOURS] - since))
    else:
        base_flow, most_flow = 0.0, 0.0
    w_per_flow = p[FAN_W] / density
    sunny = -p[SKY] * outside[OUT_SKY]
    for face in range(6):
        sunny += p[SUN + face] * sun[face]
    fixed_gains = sunny + others_w + (p[MIXING] * 1000.0 if is_open else 0.0)
    gains = fixed_gains + lights * (1.0 - site[LIGHTS_TO_MASS])
    respired = load[L_CO2] * RESPIRATION_J_PER_KG
    s[air.SECONDS] = 3600.0 / steps
    s[air.AIR_KG], s[air.LOSS] = p[AIR_KG], p[LOSS]
    s[air.MASS] = p[MASS] + load[L_MASS]
    s[air.SURFACE] = p[SURFACE] + load[L_SURFACE]
    s[air.EVAPORATION] = load[L_EVAPORATION]
    s[air.OUTSIDE_C], s[air.OUTSIDE_RATIO] = outside[OUT_C], outside[OUT_RATIO]
    s[air.PRESSURE], s[air.LEAK] = outside[OUT_PA], leak
    s[air.MASS_GAINS] = respired + lights * site[LIGHTS_TO_MASS]
    row[:] = 0.0
    row[H_MASS] = s[air.MASS]
    for _ in range(steps):
        s[air.AIR_C], s[air.MASS_C], s[air.RATIO] = state[T_AIR], state[T_MASS], state[W_AIR]
        s[air.FAN], s[air.RECOVERY] = base_flow, p[RECOVERY]
        s[air.GAINS] = gains + base_flow * w_per_flow
        _humidifier(p, site, s, outside, is_open)
        done = _act(p, site, s, fixed, outside, most_flow, gains, w_per_flow, is_open)
        _record(p, site, s, fixed, done, outside, load[L_CO2], state, row)
        row[H_FANS] += s[air.FAN] * w_per_flow * s[air.SECONDS] / KWH
        row[H_FRESH_M3] += (s[air.FAN] + leak) / density * s[air.SECONDS]
    fans = p[MIXING] if is_open else 0.0
    row[H_MACHINES] = row[H_FANS] + fans + lights / 1000.0
    row[H_FANS] += fans
    row[H_LIGHTS] = lights / 1000.0
    row[H_ENVELOPE] += sunny / 1000.0
    row[H_OTHERS] = others_w / 1000.0
    row[H_RESPIRATION] = respired / 1000.0
    row[H_HEAT_LEFT] -= (
        row[H_MACHINES] + row[H_ENVELOPE] + row[H_OTHERS] + row[H_RESPIRATION] + row[H_FRESH]
    )
    row[H_AIR] /= steps
    row[H_HUMIDITY] /= steps
    row[H_CO2] /= steps
    row[H_AIR_END], row[H_MASS_END], row[H_RATIO_END] = state[T_AIR], state[T_MASS], state[W_AIR]
    row[H_CO2_END] = state[C_AIR]
    bridge_c = outside[OUT_C] + site[BRIDGE] * (state[T_AIR] - outside[OUT_C])
    if state[W_AIR] > air.ratio_at(air.saturation(bridge_c)[0], outside[OUT_PA]):
        row[H_WET] = 1.0


@compiled
def _record(p, site, s, fixed, done, outside, co2_kg_per_s, state, row):
    """Move the state on by a step and add what flowed to the hour."""
    temp_c, heat, sensible, dried = done
    added, fallen, evaporated, _, _ = air.moisture(s, fixed, temp_c, dried)
    seconds, flow = s[air.SECONDS], s[air.FAN] + s[air.LEAK]
    ratio = (fixed[air.B] - dried + added - fallen) / fixed[air.A]
    mass = s[air.MASS] / seconds
    mass_c = (
        mass * s[air.MASS_C]
        + s[air.SURFACE] * temp_c
        + s[air.MASS_GAINS]
        - evaporated * fixed[air.MASS_LATENT]
    ) / (mass + s[air.SURFACE])
    recovered = s[air.RECOVERY] * s[air.FAN] * (air.DRY_AIR + s[air.OUTSIDE_RATIO] * air.VAPOUR)
    own = air.enthalpy(temp_c, ratio)
    fresh = flow * (air.enthalpy(s[air.OUTSIDE_C], s[air.OUTSIDE_RATIO]) - own)
    fresh += recovered * (temp_c - s[air.OUTSIDE_C])
    steam = air.VAPOUR_AT_0_C + air.VAPOUR * 100.0
    liquid = air.LIQUID * temp_c + s[air.HUMID_HEAT]
    humid = added * (steam if s[air.STEAM] > 0.0 else liquid)
    coil = sensible + dried * air.latent(temp_c)
    stored = s[air.AIR_KG] * (own - air.enthalpy(s[air.AIR_C], s[air.RATIO]))
    stored += s[air.MASS] * (mass_c - s[air.MASS_C])
    drained = (fallen + dried) * air.LIQUID * temp_c
    drawn = evaporated * air.LIQUID * s[air.MASS_C]
    hours = seconds / KWH
    row[H_ENVELOPE] += s[air.LOSS] * (s[air.OUTSIDE_C] - temp_c) * hours
    row[H_FRESH] += fresh * hours
    row[H_HEATING] += heat * hours
    row[H_COOLING] += coil * hours
    row[H_HUMIDIFIER_HEAT] += humid * hours
    row[H_CONDENSATE_HEAT] += drained * hours
    row[H_SUBSTRATE_HEAT] += drawn * hours
    row[H_HEAT_LEFT] += stored / KWH + (coil + drained - heat - humid - drawn) * hours
    water = flow * (s[air.OUTSIDE_RATIO] - ratio)
    row[H_FRESH_WATER] += water * seconds
    row[H_EVAPORATED] += evaporated * seconds
    row[H_HUMIDIFIER] += added * seconds
    row[H_COIL] += dried * seconds
    row[H_CONDENSED] += fallen * seconds
    left = water + evaporated + added - dried - fallen
    row[H_WATER_LEFT] += s[air.AIR_KG] * (ratio - s[air.RATIO]) - left * seconds
    held = s[air.AIR_KG] / seconds
    co2 = (held * state[C_AIR] + flow * site[CO2_OUTSIDE] + co2_kg_per_s / CO2_OVER_AIR * 1e6) / (
        held + flow
    )
    brought = flow * (site[CO2_OUTSIDE] - co2) * 1e-6 * CO2_OVER_AIR * seconds
    row[H_CO2_MADE] += co2_kg_per_s * seconds
    row[H_CO2_FRESH] += brought
    change = s[air.AIR_KG] * (co2 - state[C_AIR]) * 1e-6 * CO2_OVER_AIR
    row[H_CO2_LEFT] += change - brought - co2_kg_per_s * seconds
    if heat > 0.0:
        per = p[HEATER_EFFICIENCY]
        if p[HEATING] == HEAT_PUMP:
            per = coefficient_of_heating(p, site, temp_c, outside[OUT_C])
        row[H_HEATING_INPUT] += heat / per * hours
    if coil > 0.0:
        row[H_COOLING_INPUT] += (
            coil / coefficient_of_cooling(p, site, temp_c, outside[OUT_C]) * hours
        )
    row[H_HUMIDIFYING] += added * seconds * p[HUMIDIFIER_KWH]
    vapour = ratio * s[air.PRESSURE] / (air.MASS_RATIO + ratio)
    row[H_AIR] += temp_c
    row[H_HUMIDITY] += vapour / air.saturation(temp_c)[0]
    row[H_CO2] += co2
    state[T_AIR], state[T_MASS], state[W_AIR], state[C_AIR] = temp_c, mass_c, ratio, co2
