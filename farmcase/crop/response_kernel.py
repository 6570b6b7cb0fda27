"""What a crop does with temperature and air, stage by stage: scalar rates for the kernels.

Spawn run: a rate on substrate temperature. Pinning: a window that must be met. Fruiting: slower
when cool, fewer kilograms outside the band, and fewer in stale air.
"""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def growth_share(temp_c, least_c, best_c, most_c):
    """Growth of mycelium at a substrate temperature, as a share of the best.

    Source: Rosso, Lobry and Flandrois 1993, J Theor Biol 162:447-463 (cardinal temperatures).
    """
    if temp_c <= least_c or temp_c >= most_c or best_c <= least_c or best_c >= most_c:
        return 0.0
    above = (temp_c - most_c) * (temp_c - least_c) ** 2
    near = (best_c - least_c) * (temp_c - best_c)
    far = (best_c - most_c) * (best_c + least_c - 2.0 * temp_c)
    return max(0.0, above / ((best_c - least_c) * (near - far)))


@compiled
def within_share(temp_c, low_c, high_c, below_k, above_k):
    """1 within a band, falling in a straight line to 0 over so many kelvin below and above it."""
    if temp_c < low_c:
        return max(0.0, 1.0 - (low_c - temp_c) / below_k)
    if temp_c > high_c:
        return max(0.0, 1.0 - (temp_c - high_c) / above_k)
    return 1.0


@compiled
def fruiting_pace(temp_c, stop_c, full_c):
    """Pace of fruiting: 0 at the stop, 1 from the temperature at which the stated days hold."""
    return min(1.0, max(0.0, (temp_c - stop_c) / (full_c - stop_c)))


@compiled
def stale_air_share(co2_ppm, limit_ppm, loss_per_1000_ppm):
    """Share of the yield left in air with more CO2 than the limit."""
    return max(0.0, 1.0 - loss_per_1000_ppm * max(0.0, co2_ppm - limit_ppm) / 1000.0)


@compiled
def damage_per_day(core_c, cold_c, heat_c, share_per_k_day):
    """Rate at which units are lost [1/day] while the core is beyond what it stands."""
    return share_per_k_day * (max(0.0, core_c - heat_c) + max(0.0, cold_c - core_c))


@compiled
def respiration_scale(temp_c, reference_c, q10, best_c, most_c):
    """Respiration at a temperature over that at its reference.

    Grows by `q10` for each 10 K up to the best temperature for growth, then falls in a straight
    line to nothing where growth ends, so that a room cannot heat itself without end.
    """
    scale = q10 ** ((min(temp_c, best_c) - reference_c) / 10.0)
    return scale * min(1.0, max(0.0, (most_c - temp_c) / max(0.1, most_c - best_c)))
