"""Radiation of an hourly year where none was measured: sun by day, direct, diffuse, long-wave.

In: monthly means as plain numbers. Out: arrays of 8,760 hours from 1 January, local standard time,
W/m2. The sun's place in the sky that faces of rooms need is in `climate/sun`; here it serves only
to spread a day's radiation over its hours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DAYS_OF_MONTH = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
DAYS, HOURS = 365, 8760
MONTH_OF_DAY = np.repeat(np.arange(12), DAYS_OF_MONTH)
MONTH_OF_HOUR = np.repeat(MONTH_OF_DAY, 24)
MONTH_STARTS = np.concatenate([[0], np.cumsum(DAYS_OF_MONTH)[:-1]])

NOON_FROM_J2000 = 9132.0  # days from 2000-01-01 12:00 UT to 2025-01-01 12:00
SOLAR_CONSTANT_W_PER_M2 = 1367.0  # Duffie and Beckman, Solar Engineering, ch. 1 [memory]
STEFAN_BOLTZMANN_W_PER_M2_K4 = 5.670374419e-8  # CODATA
LOWEST_SUN_COSINE = 0.087  # below 5 degrees direct light is counted as diffuse
ZERO_C_IN_K = 273.15


def means_by_month(values: Array) -> Array:
    """Twelve means of an array of 365 days or 8,760 hours."""
    per_day = values.size // DAYS
    sums = np.add.reduceat(values, MONTH_STARTS * per_day)
    return sums / (np.array(DAYS_OF_MONTH) * per_day)


@dataclass(frozen=True)
class SunByDay:
    """The sun at the middle of each hour, with one declination for the whole day.

    Angles in radians; `hour_angle` and `cos_zenith` are (365, 24), the others (365,).
    `outside` is the radiation on a flat surface above the air.
    """

    hour_angle: Array
    cos_zenith: Array
    sunset_angle: Array
    outside_kwh_per_m2_day: Array
    outside_w_per_m2: Array


def sun_by_day(latitude_deg: float, longitude_deg: float, utc_offset_h: float) -> SunByDay:
    """Declination, equation of time and distance at noon of each day of 2025.

    Low-precision formulas of the Astronomical Almanac, as in Michalsky (1988), Solar Energy 40(3)
    [memory; checked against pvlib's SPA].
    """
    days = NOON_FROM_J2000 + np.arange(DAYS) - utc_offset_h / 24
    anomaly = np.radians(357.528 + 0.9856003 * days)
    mean_longitude = np.radians(280.460 + 0.9856474 * days)
    longitude = mean_longitude + np.radians(1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly))
    tilt = np.radians(23.439 - 0.0000004 * days)
    declination = np.arcsin(np.sin(tilt) * np.sin(longitude))
    right_ascension = np.arctan2(np.cos(tilt) * np.sin(longitude), np.cos(longitude))
    ahead = (mean_longitude - right_ascension + np.pi) % (2 * np.pi) - np.pi
    distance = 1.00014 - 0.01671 * np.cos(anomaly) - 0.00014 * np.cos(2 * anomaly)
    clock_h = np.arange(24) + 0.5 + longitude_deg / 15 - utc_offset_h
    hour_angle = (np.pi / 12) * (clock_h - 12) + ahead[:, None]
    latitude = np.radians(latitude_deg)
    up = np.sin(latitude) * np.sin(declination)
    across = np.cos(latitude) * np.cos(declination)
    sunset = np.arccos(np.clip(-np.tan(latitude) * np.tan(declination), -1, 1))
    outside = SOLAR_CONSTANT_W_PER_M2 / distance**2
    daily_kwh = np.maximum(0, 0.024 / np.pi * outside * (sunset * up + across * np.sin(sunset)))
    cos_zenith = up[:, None] + across[:, None] * np.cos(hour_angle)
    return SunByDay(hour_angle, cos_zenith, sunset, daily_kwh, outside)


def spread_radiation(global_kwh_per_m2_day: Array, sun: SunByDay) -> tuple[Array, Array, Array]:
    """Global, direct normal and diffuse radiation of 8,760 hours from twelve daily means.

    Every day of a month has the same clearness, so that each month keeps its mean exactly. The day
    is shaped after Collares-Pereira and Rabl (1979), its diffuse part after Liu and Jordan (1960),
    and parted after Erbs, Klein and Duffie (1982) for monthly means; all as in Duffie and Beckman,
    Solar Engineering of Thermal Processes, 2.12 to 2.14 [memory]. Global equals
    direct x cosine of the zenith + diffuse in every hour.
    """
    outside = means_by_month(sun.outside_kwh_per_m2_day)
    clearness = np.divide(global_kwh_per_m2_day, outside, out=np.zeros(12), where=outside > 0)
    daily_wh = 1000 * clearness[MONTH_OF_DAY] * sun.outside_kwh_per_m2_day
    cos_hour, lean = np.cos(sun.hour_angle), np.sin(sun.sunset_angle - np.pi / 3)[:, None]
    is_day = np.maximum(0, cos_hour - np.cos(sun.sunset_angle)[:, None])
    skewed = (0.409 + 0.5016 * lean) + (0.6609 - 0.4767 * lean) * cos_hour
    total = daily_wh[:, None] * _shares(is_day * skewed)
    share = _diffuse_share(clearness[MONTH_OF_DAY], sun.sunset_angle)
    diffuse = np.minimum(total, (daily_wh * share)[:, None] * _shares(is_day))
    direct = (total - diffuse) / np.maximum(sun.cos_zenith, LOWEST_SUN_COSINE)
    direct = np.minimum(direct, sun.outside_w_per_m2[:, None])
    diffuse = total - direct * np.maximum(sun.cos_zenith, 0)
    return total.ravel(), direct.ravel(), diffuse.ravel()


def _shares(weights: Array) -> Array:
    """Each hour's share of its day; nil on a day without sun."""
    sums = weights.sum(axis=1, keepdims=True)
    return np.divide(weights, sums, out=np.zeros_like(weights), where=sums > 0)


def _diffuse_share(clearness: Array, sunset_angle: Array) -> Array:
    """Diffuse share of a month's radiation; the formula holds for clearness 0.3 to 0.8."""
    k = np.minimum(clearness, 0.8)
    low_sun = 1.391 + k * (-3.560 + k * (4.189 - 2.137 * k))
    high_sun = 1.311 + k * (-3.022 + k * (3.427 - 1.821 * k))
    return np.clip(np.where(sunset_angle <= np.radians(81.4), low_sun, high_sun), 0, 1)


def cloud_share_by_hour(global_w_per_m2: Array, sun: SunByDay) -> Array:
    """Share of the sky under cloud, (8760,) with one value for each month, from its radiation.

    What is not sunshine is cloud; sunshine after Angstrom and Prescott, global / outside the air =
    0.25 + 0.50 x sunshine (Allen et al. 1998, FAO Irrigation and Drainage Paper 56, eq. 35, for
    places without a fit of their own).
    """
    outside = means_by_month(sun.outside_kwh_per_m2_day) / 0.024
    found = means_by_month(global_w_per_m2)
    clearness = np.divide(found, outside, out=np.zeros(12), where=outside > 0)
    return np.clip(1 - (clearness - 0.25) / 0.50, 0, 1)[MONTH_OF_HOUR]


def sky_longwave_w_per_m2(
    air_temp_c: Array, dew_point_c: Array, cloud_share: Array, pressure_pa: Array
) -> Array:
    """Long-wave radiation that a flat surface gets from the sky, 8,760 hours.

    Clear sky after Berdahl and Martin (1984), Solar Energy 32(5); a clouded share closes 0.784 of
    what is open (California ACM 2013, equation 76). Coefficients read in github cse-sim/cse, pull
    request 50 and issue 19, where 0.47 and 0.9 are named too. With clouds from the month's
    clearness it lies 2 % above the sky radiation of PVGIS at 45 N 8 E, sample of pvlib's tests
    [computed].
    """
    dew = dew_point_c / 100
    night = 0.013 * np.cos(2 * np.pi * (np.arange(HOURS) % 24 + 0.5) / 24)
    thin = 0.00012 * (pressure_pa / 100 - 1000)
    clear = np.clip(0.711 + 0.56 * dew + 0.73 * dew**2 + night + thin, 0, 1)
    emissivity = clear + (1 - clear) * 0.784 * cloud_share
    return emissivity * STEFAN_BOLTZMANN_W_PER_M2_K4 * (air_temp_c + ZERO_C_IN_K) ** 4
