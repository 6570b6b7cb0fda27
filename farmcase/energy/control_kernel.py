"""An hour of one room: what its plant does, step by step, and what that takes.

Control is ideal and solved within the step: the heater gives just what holds the set point, up to
its power; then heat recovery is bypassed, outside air is brought in and the cooling runs, each
only as far as needed.
"""

from __future__ import annotations

from farmcase.compiled import compiled
from farmcase.energy import air_kernel as air
from farmcase.energy import fields_kernel as of

RESPIRATION_J_PER_KG = 2805.0e6 / (6.0 * 44.0095)  # glucose: 2,805 kJ/mol and 6 CO2, from memory
CO2_OVER_AIR = 44.0095 / 28.966  # molar masses
KWH = 3.6e6  # J


@compiled
def coefficient_of_heating(p, site, inside_c, outside_c):
    """Heat given per electricity taken, from the share of Carnot that fits the rated point."""
    hot = inside_c + site[of.CONDENSER] + 273.15
    cold = outside_c - site[of.EVAPORATOR] + 273.15
    value = p[of.HEAT_CARNOT] * hot / max(hot - cold, site[of.LEAST_LIFT])
    if -5.0 <= outside_c <= 5.0:
        value *= 1.0 - site[of.DEFROST]
    return max(1.0, value)


@compiled
def coefficient_of_cooling(p, site, inside_c, outside_c):
    """Heat taken out per electricity, from the share of Carnot that fits the rated point."""
    cold = inside_c - site[of.COOL_EVAPORATOR] + 273.15
    hot = outside_c + site[of.COOL_CONDENSER] + 273.15
    return max(0.5, p[of.COOL_CARNOT] * cold / max(hot - cold, site[of.LEAST_LIFT]))


@compiled
def fresh_air_kg_per_s(p, site, outside, density, co2_kg_per_s):
    """Fan flow that holds the CO2 set point, leak, most of the fan [kg of dry air/s]."""
    leak = (p[of.LEAKAGE] * p[of.VOLUME] + p[of.DOOR]) / 3600.0 * density
    head = (p[of.CO2_MOST] - site[of.CO2_OUTSIDE]) * 1e-6 * CO2_OVER_AIR
    wanted = co2_kg_per_s / head - leak if head > 0.0 else 1e9
    least = p[of.FRESH_LEAST] / 3600.0 * density
    most = max(least, p[of.FRESH_MOST] / 3600.0 * density)
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
    aim_c = p[of.COOL_TO]
    coil_c = max(aim_c - site[of.COIL_DROP], site[of.COIL_LEAST])
    heat = air.DRY_AIR + s[air.RATIO] * air.VAPOUR
    gives = air.latent(aim_c)
    over = s[air.RATIO] - air.ratio_at(air.saturation(coil_c)[0], s[air.PRESSURE])
    per_watt = max(0.0, over) / (heat * max(aim_c - coil_c, 0.5))
    sensible = air.coil_sensible_w(s, fixed, aim_c, per_watt)
    most = p[of.COOL] * 1000.0 / (1.0 + per_watt * gives)
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
    if temp_c < p[of.HEAT_TO] and p[of.HEATING] > 0.0:
        heat = air.imbalance(s, fixed, p[of.HEAT_TO], 0.0, 0.0, 0.0)[0]
        most = p[of.HEAT] * 1000.0
        if heat <= most:
            return p[of.HEAT_TO], heat, 0.0, 0.0
        return air.settle(s, fixed, most, 0.0, 0.0), most, 0.0, 0.0
    if temp_c <= p[of.COOL_TO]:
        return temp_c, 0.0, 0.0, 0.0
    if s[air.RECOVERY] > 0.0 and outside[of.OUT_C] < temp_c:
        temp_c = _tune(s, fixed, air.RECOVERY, s[air.RECOVERY], 0.0, p[of.COOL_TO], gains, 0.0)
    if p[of.OUTSIDE_COOLS] > 0.0 and temp_c > p[of.COOL_TO] and outside[of.OUT_C] < temp_c:
        temp_c = _tune(s, fixed, air.FAN, s[air.FAN], most_flow, p[of.COOL_TO], gains, w_per_flow)
    if temp_c > p[of.COOL_TO] + 1e-3 and p[of.COOL] > 0.0:
        temp_c, sensible, dried = _cool(p, site, s, fixed)
        return temp_c, 0.0, sensible, dried
    return temp_c, 0.0, 0.0, 0.0


@compiled
def _humidifier(p, site, s, outside, is_open):
    # how much the humidifier may give in this step, and what comes with it
    s[air.HUMID_TO] = p[of.HUMIDIFY_TO]
    s[air.STEAM] = 1.0 if p[of.HUMIDIFIER] == of.STEAM else 0.0
    s[air.HUMID_HEAT] = p[of.HUMIDIFIER_KWH] * KWH
    s[air.MOST_HUMID] = 0.0
    if is_open and p[of.HUMIDIFIER] > 0.0:
        s[air.MOST_HUMID] = p[of.HUMIDIFY] / 3600.0
        if p[of.HUMIDIFIER] == of.PAD:
            wets = s[air.FAN] * site[of.PAD_SHARE] * outside[of.OUT_PAD]
            s[air.MOST_HUMID] = min(s[air.MOST_HUMID], wets)


@compiled
def room_hour(p, site, outside, sun, load, others_w, state, row, s, fixed, steps, hour, is_open):
    """Take one room through one hour; fills `row` (see HOUR) and moves `state` on."""
    density = outside[of.OUT_PA] / (287.042 * (outside[of.OUT_C] + 273.15))
    density /= 1.0 + 1.607858 * outside[of.OUT_RATIO]
    base_flow, leak, most_flow = fresh_air_kg_per_s(p, site, outside, density, load[of.L_CO2])
    lights = 0.0
    if is_open:
        since = (hour - p[of.LIGHTS_FROM]) % 24.0
        lights = p[of.LIGHTS] * 1000.0 * min(1.0, max(0.0, p[of.LIGHTS_HOURS] - since))
    else:
        base_flow, most_flow = 0.0, 0.0
    w_per_flow = p[of.FAN_W] / density
    sunny = -p[of.SKY] * outside[of.OUT_SKY]
    for face in range(6):
        sunny += p[of.SUN + face] * sun[face]
    fixed_gains = sunny + others_w + (p[of.MIXING] * 1000.0 if is_open else 0.0)
    gains = fixed_gains + lights * (1.0 - site[of.LIGHTS_TO_MASS])
    respired = load[of.L_CO2] * RESPIRATION_J_PER_KG
    s[air.SECONDS] = 3600.0 / steps
    s[air.AIR_KG], s[air.LOSS] = p[of.AIR_KG], p[of.LOSS]
    s[air.MASS] = p[of.MASS] + load[of.L_MASS]
    s[air.SURFACE] = p[of.SURFACE] + load[of.L_SURFACE]
    s[air.EVAPORATION] = load[of.L_EVAPORATION]
    s[air.OUTSIDE_C], s[air.OUTSIDE_RATIO] = outside[of.OUT_C], outside[of.OUT_RATIO]
    s[air.PRESSURE], s[air.LEAK] = outside[of.OUT_PA], leak
    s[air.MASS_GAINS] = respired + lights * site[of.LIGHTS_TO_MASS]
    row[:] = 0.0
    row[of.H_MASS] = s[air.MASS]
    for _ in range(steps):
        s[air.AIR_C], s[air.MASS_C], s[air.RATIO] = (
            state[of.T_AIR],
            state[of.T_MASS],
            state[of.W_AIR],
        )
        s[air.FAN], s[air.RECOVERY] = base_flow, p[of.RECOVERY]
        s[air.GAINS] = gains + base_flow * w_per_flow
        _humidifier(p, site, s, outside, is_open)
        done = _act(p, site, s, fixed, outside, most_flow, gains, w_per_flow, is_open)
        _record(p, site, s, fixed, done, outside, load[of.L_CO2], state, row)
        row[of.H_FANS] += s[air.FAN] * w_per_flow * s[air.SECONDS] / KWH
        row[of.H_FRESH_M3] += (s[air.FAN] + leak) / density * s[air.SECONDS]
    fans = p[of.MIXING] if is_open else 0.0
    row[of.H_MACHINES] = row[of.H_FANS] + fans + lights / 1000.0
    row[of.H_FANS] += fans
    row[of.H_LIGHTS] = lights / 1000.0
    row[of.H_ENVELOPE] += sunny / 1000.0
    row[of.H_OTHERS] = others_w / 1000.0
    row[of.H_RESPIRATION] = respired / 1000.0
    row[of.H_HEAT_LEFT] -= (
        row[of.H_MACHINES]
        + row[of.H_ENVELOPE]
        + row[of.H_OTHERS]
        + row[of.H_RESPIRATION]
        + row[of.H_FRESH]
    )
    row[of.H_AIR] /= steps
    row[of.H_HUMIDITY] /= steps
    row[of.H_CO2] /= steps
    row[of.H_AIR_END], row[of.H_MASS_END], row[of.H_RATIO_END] = (
        state[of.T_AIR],
        state[of.T_MASS],
        state[of.W_AIR],
    )
    row[of.H_CO2_END] = state[of.C_AIR]
    bridge_c = outside[of.OUT_C] + site[of.BRIDGE] * (state[of.T_AIR] - outside[of.OUT_C])
    if state[of.W_AIR] > air.ratio_at(air.saturation(bridge_c)[0], outside[of.OUT_PA]):
        row[of.H_WET] = 1.0


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
    row[of.H_ENVELOPE] += s[air.LOSS] * (s[air.OUTSIDE_C] - temp_c) * hours
    row[of.H_FRESH] += fresh * hours
    row[of.H_HEATING] += heat * hours
    row[of.H_COOLING] += coil * hours
    row[of.H_HUMIDIFIER_HEAT] += humid * hours
    row[of.H_CONDENSATE_HEAT] += drained * hours
    row[of.H_SUBSTRATE_HEAT] += drawn * hours
    row[of.H_HEAT_LEFT] += stored / KWH + (coil + drained - heat - humid - drawn) * hours
    water = flow * (s[air.OUTSIDE_RATIO] - ratio)
    row[of.H_FRESH_WATER] += water * seconds
    row[of.H_EVAPORATED] += evaporated * seconds
    row[of.H_HUMIDIFIER] += added * seconds
    row[of.H_COIL] += dried * seconds
    row[of.H_CONDENSED] += fallen * seconds
    left = water + evaporated + added - dried - fallen
    row[of.H_WATER_LEFT] += s[air.AIR_KG] * (ratio - s[air.RATIO]) - left * seconds
    held = s[air.AIR_KG] / seconds
    co2 = (
        held * state[of.C_AIR] + flow * site[of.CO2_OUTSIDE] + co2_kg_per_s / CO2_OVER_AIR * 1e6
    ) / (held + flow)
    brought = flow * (site[of.CO2_OUTSIDE] - co2) * 1e-6 * CO2_OVER_AIR * seconds
    row[of.H_CO2_MADE] += co2_kg_per_s * seconds
    row[of.H_CO2_FRESH] += brought
    change = s[air.AIR_KG] * (co2 - state[of.C_AIR]) * 1e-6 * CO2_OVER_AIR
    row[of.H_CO2_LEFT] += change - brought - co2_kg_per_s * seconds
    if heat > 0.0:
        per = p[of.HEATER_EFFICIENCY]
        if p[of.HEATING] == of.HEAT_PUMP:
            per = coefficient_of_heating(p, site, temp_c, outside[of.OUT_C])
        row[of.H_HEATING_INPUT] += heat / per * hours
    if coil > 0.0:
        row[of.H_COOLING_INPUT] += (
            coil / coefficient_of_cooling(p, site, temp_c, outside[of.OUT_C]) * hours
        )
    row[of.H_HUMIDIFYING] += added * seconds * p[of.HUMIDIFIER_KWH]
    vapour = ratio * s[air.PRESSURE] / (air.MASS_RATIO + ratio)
    row[of.H_AIR] += temp_c
    row[of.H_HUMIDITY] += vapour / air.saturation(temp_c)[0]
    row[of.H_CO2] += co2
    state[of.T_AIR], state[of.T_MASS], state[of.W_AIR], state[of.C_AIR] = temp_c, mass_c, ratio, co2
