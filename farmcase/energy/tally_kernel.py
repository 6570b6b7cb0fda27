"""What the rooms of a build leave behind, added up by month as the hours go by."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from farmcase.compiled import compiled
from farmcase.crop import fields_kernel as of
from farmcase.energy import fields_kernel as at

USES = ("fans", "lights", "humidifying", "heating", "cooling")
TALLY = ("humidifier_l", "drained_l", "air_temp_c", "relative_humidity_share", "band_hours")
OTHER, FRUITING, SPAWN_RUN, COLD_STORE = range(4)
SETTLED = 12  # month from which the second year counts


class Site(NamedTuple):
    """What all scenarios of a build share; R rooms."""

    outside: np.ndarray  # (8760, see energy/fields_kernel.OUTSIDE)
    sun_w_per_m2: np.ndarray  # (R, 8760, 6)
    constants: np.ndarray  # see energy/fields_kernel.SITE
    kinds: np.ndarray  # (R,)
    spawn_share: np.ndarray  # (R,) share of the spawn-run places that a room has
    store_share: np.ndarray  # (R,) share of the cold store that a room has
    heat_is_electric: np.ndarray  # (R,)
    open_share: np.ndarray  # (R, 12) 0 in closed months
    band: np.ndarray  # (8760,) tariff band of each hour
    solar_kwh_per_kw: np.ndarray  # (P, 8760)
    month_of_day: np.ndarray  # (730,) month since the first starts
    calendar: np.ndarray  # (730,) calendar month
    month_start_h: np.ndarray  # (25,)
    first_hour: int  # of the year, at which production begins
    steps: int


class Scenario(NamedTuple):
    """What one scenario changes."""

    rooms: np.ndarray  # (R, see energy/fields_kernel.ROOM)
    contact_w_per_k: np.ndarray  # (R, R)
    base_kw: np.ndarray  # (24,) machines at a steady load
    solar_kw: np.ndarray  # (P,)


class Tally(NamedTuple):
    """What the rooms of one scenario leave behind; months since the first starts."""

    kwh: np.ndarray  # (R, 5, 24) see USES; heating is what the heater takes, of its carrier
    by_month: np.ndarray  # (R, 5, 24) see TALLY; temperature and humidity summed over hours
    crop_hours: np.ndarray  # (R, C) hours of the settled year in which a crop stood in the room
    band_hours: np.ndarray  # (R, C) those within its band
    warnings: np.ndarray  # (R, 3) hours over the 8 h and 15 min CO2 limits, with wet cold bridges
    load_kwh: np.ndarray  # (B, 24) electricity taken by rooms and machines
    used_kwh: np.ndarray  # (B, 24) of it, own solar
    sent_kwh: np.ndarray  # (B, 24) own solar that nobody here used
    rooms_peak_kw: np.ndarray  # (24,) highest hour of the rooms alone
    residual: np.ndarray  # (R, 3) sum of the hours' imbalance: kWh, kg of water, kg of CO2


@compiled
def tally_room(site, plan, state, tally, r, row, month, settled):
    kwh = tally.kwh[r]
    for use in range(5):
        kwh[use, month] += row[at.H_FANS + use]
    by_month = tally.by_month[r]
    by_month[0, month] += row[at.H_HUMIDIFIER]
    by_month[1, month] += row[at.H_COIL] + row[at.H_CONDENSED]
    by_month[2, month] += row[at.H_AIR]
    by_month[3, month] += row[at.H_HUMIDITY]
    for k, column in enumerate((at.H_HEAT_LEFT, at.H_WATER_LEFT, at.H_CO2_LEFT)):
        tally.residual[r, k] += abs(row[column])
    if settled:
        limits = site.constants
        tally.warnings[r, 0] += row[at.H_CO2] > limits[at.LIMIT_8_H]
        tally.warnings[r, 1] += row[at.H_CO2] > limits[at.LIMIT_15_MIN]
        tally.warnings[r, 2] += row[at.H_WET]
    if site.kinds[r] != FRUITING:
        return
    most, fits_most = 0.0, False
    for c in range(plan.crops.shape[0]):
        crop = plan.crops[c]
        if state.units[r, c] <= 0.0:
            continue
        fits = (
            crop[of.FRUIT_LOW] <= row[at.H_AIR] <= crop[of.FRUIT_HIGH]
            and row[at.H_HUMIDITY] >= crop[of.HUMID_LOW] - 1e-9  # held at it is within it
        )
        if state.units[r, c] > most:
            most, fits_most = state.units[r, c], fits
        if settled:
            tally.crop_hours[r, c] += 1.0
            tally.band_hours[r, c] += fits
    by_month[4, month] += fits_most


@compiled
def tally_site(site, scenario, tally, electric_kwh, h, month):
    band = site.band[h]
    load = electric_kwh + scenario.base_kw[month]
    made = 0.0
    for p in range(scenario.solar_kw.size):
        made += scenario.solar_kw[p] * site.solar_kwh_per_kw[p, h]
    used = min(load, made)
    tally.load_kwh[band, month] += load
    tally.used_kwh[band, month] += used
    tally.sent_kwh[band, month] += made - used
    tally.rooms_peak_kw[month] = max(tally.rooms_peak_kw[month], electric_kwh)
