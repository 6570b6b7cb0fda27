"""An hour of one room: what its plant does, step by step, and what that takes.

Control is ideal and solved within the step: the heater gives just what holds the set point, up to
its power; then heat recovery is bypassed, outside air is brought in and the cooling runs, each
only as far as needed.
"""

from __future__ import annotations

from farmcase.compiled import compiled
from farmcase.energy import air_kernel as air
from farmcase.energy import fields_kernel as of
from farmcase.energy import record_kernel as record
from farmcase.moist_air import DRY_AIR_J_PER_KG_K, ZERO_C_IN_K


@compiled
def fresh_air_kg_per_s(p, site, outside, density, co2_kg_per_s):
    """Fan flow that holds the CO2 set point, leak, most of the fan [kg of dry air/s]."""
    leak = (p[of.LEAKAGE] * p[of.VOLUME] + p[of.DOOR]) / 3600.0 * density
    head = (p[of.CO2_MOST] - site[of.CO2_OUTSIDE]) * 1e-6 * record.CO2_OVER_AIR
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
def _dries(s, fixed, temp_c, coil_c, dried):
    # water a coil takes from the air it leaves behind for each watt of sensible heat [kg/J]: on the
    # line from that air to saturation at the coil
    added, fallen, _, _, _ = air.moisture(s, fixed, temp_c, dried)
    over = (fixed[air.B] - dried + added - fallen) / fixed[air.A]
    over -= air.ratio_at(air.saturation(coil_c)[0], s[air.PRESSURE])
    heat = air.DRY_AIR + s[air.RATIO] * air.VAPOUR
    return max(0.0, over) / (heat * max(temp_c - coil_c, 0.5))


@compiled
def _cool(p, site, s, fixed):
    # the coil holds the set point, or gives all it can; returns temperature, sensible heat, water
    aim_c, most = p[of.COOL_TO], p[of.COOL] * 1000.0
    coil_c = max(aim_c - site[of.COIL_DROP], site[of.COIL_LEAST])
    heat = air.DRY_AIR + s[air.RATIO] * air.VAPOUR
    saturated = air.ratio_at(air.saturation(coil_c)[0], s[air.PRESSURE])
    sensible, dried = air.coil(s, fixed, aim_c, saturated, 1.0 / (heat * max(aim_c - coil_c, 0.5)))
    gives = air.latent(aim_c)
    if sensible + dried * gives <= most:
        return aim_c, sensible, dried
    # All it can: false position on the water; the end that stays is weighed down.
    low, high = 0.0, most / gives
    low_left, high_left, temp_c = 0.0, high, aim_c
    dried = 0.0
    for _ in range(60):
        sensible = most - dried * gives
        temp_c = air.settle(s, fixed, 0.0, sensible, dried)
        left = dried - sensible * _dries(s, fixed, temp_c, coil_c, dried)
        if abs(left) < 1e-14 or high - low < 1e-16:
            break
        if left < 0.0:
            low, low_left, high_left = dried, left, 0.5 * high_left
        else:
            high, high_left, low_left = dried, left, 0.5 * low_left
        dried = low + (high - low) * low_left / (low_left - high_left)
    return temp_c, sensible, dried


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
    s[air.HUMID_HEAT] = p[of.HUMIDIFIER_KWH] * record.KWH
    s[air.MOST_HUMID] = 0.0
    if is_open and p[of.HUMIDIFIER] > 0.0:
        s[air.MOST_HUMID] = p[of.HUMIDIFY] / 3600.0
        if p[of.HUMIDIFIER] == of.PAD:
            wets = s[air.FAN] * site[of.PAD_SHARE] * outside[of.OUT_PAD]
            s[air.MOST_HUMID] = min(s[air.MOST_HUMID], wets)


@compiled
def _set_hour(p, site, outside, load, leak, lights_w, s, steps):
    # what stays the same in every step of the hour
    s[air.SECONDS] = 3600.0 / steps
    s[air.AIR_KG], s[air.LOSS] = p[of.AIR_KG], p[of.LOSS]
    s[air.MASS] = p[of.MASS] + load[of.L_MASS]
    s[air.SURFACE] = p[of.SURFACE] + load[of.L_SURFACE]
    s[air.EVAPORATION] = load[of.L_EVAPORATION]
    s[air.OUTSIDE_C], s[air.OUTSIDE_RATIO] = outside[of.OUT_C], outside[of.OUT_RATIO]
    s[air.PRESSURE], s[air.LEAK] = outside[of.OUT_PA], leak
    respired = load[of.L_CO2] * record.RESPIRATION_J_PER_KG
    s[air.MASS_GAINS] = respired + lights_w * site[of.LIGHTS_TO_MASS]


@compiled
def _sun_and_sky(p, outside, sun):  # heat through the faces besides that from the air outside [W]
    heat = -p[of.SKY] * outside[of.OUT_SKY]
    for face in range(6):
        heat += p[of.SUN + face] * sun[face]
    return heat


@compiled
def room_hour(p, site, outside, sun, load, others_w, state, row, s, fixed, steps, hour, is_open):
    """Take one room through one hour; fills `row` (see HOUR) and moves `state` on."""
    density = outside[of.OUT_PA] / (DRY_AIR_J_PER_KG_K * (outside[of.OUT_C] + ZERO_C_IN_K))
    density /= 1.0 + outside[of.OUT_RATIO] / air.MASS_RATIO
    base_flow, leak, most_flow = fresh_air_kg_per_s(p, site, outside, density, load[of.L_CO2])
    lights, mixing = 0.0, 0.0
    if is_open:
        since = (hour - p[of.LIGHTS_FROM]) % 24.0
        lights = p[of.LIGHTS] * 1000.0 * min(1.0, max(0.0, p[of.LIGHTS_HOURS] - since))
        mixing = p[of.MIXING] * 1000.0
    else:
        base_flow, most_flow = 0.0, 0.0
    w_per_flow = p[of.FAN_W] / density
    sunny = _sun_and_sky(p, outside, sun)
    gains = sunny + others_w + mixing + lights * (1.0 - site[of.LIGHTS_TO_MASS])
    _set_hour(p, site, outside, load, leak, lights, s, steps)
    for k in range(row.size):
        row[k] = 0.0
    for _ in range(steps):
        s[air.AIR_C], s[air.MASS_C] = state[of.T_AIR], state[of.T_MASS]
        s[air.RATIO] = state[of.W_AIR]
        s[air.FAN], s[air.RECOVERY] = base_flow, p[of.RECOVERY]
        s[air.GAINS] = gains + base_flow * w_per_flow
        _humidifier(p, site, s, outside, is_open)
        done = _act(p, site, s, fixed, outside, most_flow, gains, w_per_flow, is_open)
        record.step(p, site, s, fixed, done, outside, load[of.L_CO2], state, row)
        row[of.H_FANS] += s[air.FAN] * w_per_flow * s[air.SECONDS] / record.KWH
        row[of.H_FRESH_M3] += (s[air.FAN] + leak) / density * s[air.SECONDS]
    record.hour(site, s, outside, load, lights, mixing, sunny, others_w, state, row, steps)
