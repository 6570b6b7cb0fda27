"""A year of 8,760 hours made from twelve monthly normals.

Days follow one another with noise, since a year of average days needs too little heat and too
little cooling: warm and cold spells do not cancel where a room is heated below one temperature and
cooled above another. The same start number gives the same year.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmcase.inputs.daylight import (
    DAYS,
    DAYS_OF_MONTH,
    HOURS,
    MONTH_OF_DAY,
    MONTH_OF_HOUR,
    cloud_share_by_hour,
    means_by_month,
    sky_longwave_w_per_m2,
    spread_radiation,
    sun_by_day,
)
from farmcase.moist_air import (
    dew_point_c,
    humidity_ratio,
    saturation_pressure_pa,
    standard_pressure_pa,
)

Array = NDArray[np.float64]

# How far below the day's highest temperature each clock hour lies, as a share of the daily range,
# 1:00 to 24:00: ASHRAE Handbook Fundamentals, ch. 14, Table 6.
BELOW_HIGHEST_SHARE = np.array(
    (
        *(0.88, 0.92, 0.95, 0.98, 1.00, 0.98, 0.91, 0.74, 0.55, 0.38, 0.23, 0.13),
        *(0.05, 0.00, 0.00, 0.06, 0.14, 0.24, 0.39, 0.50, 0.59, 0.68, 0.75, 0.82),
    )
)
# The mean day lies this far below its highest, not half: without it a month would come out warm.
MEAN_BELOW_SHARE = float(BELOW_HIGHEST_SHARE.mean())

_LONGEST_SEARCH = 40  # halvings of a range of 3: down to 3e-12
_RANGE_ROUNDS = 6


@dataclass(frozen=True)
class Normals:
    """Twelve months of a place, January first; every array has shape (12,).

    Attributes
    ----------
    daily_range_k : mean of each day's highest less its lowest temperature
    day_to_day_k : standard deviation of a year's daily means about the mean of their month
    relative_humidity_percent : mean over all hours
    """

    air_temp_c: Array
    daily_range_k: Array
    day_to_day_k: Array
    relative_humidity_percent: Array
    wind_m_per_s: Array
    global_horizontal_kwh_per_m2_day: Array


def hourly_year(
    normals: Normals,
    latitude_deg: float,
    longitude_deg: float,
    utc_offset_h: float,
    altitude_m: float,
    seed: int,
    persistence: float,
) -> dict[str, Array]:
    """The hours of a year, as arrays (8760,) named as in `weather.Weather`; all are hour means.

    Every month keeps its mean temperature, humidity, wind and radiation, and its daily range;
    `day_to_day_k` is kept on the mean of many seeds. Pressure is that of the standard atmosphere.
    Days of a month have the same radiation. `persistence` is the share of a day's departure from
    the season that the next day keeps (normals_noise_persistence of the physics table).
    """
    solar_lag_h = utc_offset_h - longitude_deg / 15
    steady, temp = _temperatures(normals, solar_lag_h, seed, persistence)
    pressure = np.full(HOURS, float(standard_pressure_pa(altitude_m)))
    share = _humidity_share(normals.relative_humidity_percent / 100, steady, temp)
    vapour = share * saturation_pressure_pa(temp)
    sun = sun_by_day(latitude_deg, longitude_deg, utc_offset_h)
    total, direct, diffuse = spread_radiation(normals.global_horizontal_kwh_per_m2_day, sun)
    return {
        "air_temp_c": temp,
        "humidity_ratio_kg_per_kg": humidity_ratio(vapour, pressure),
        "pressure_pa": pressure,
        "wind_m_per_s": normals.wind_m_per_s[MONTH_OF_HOUR],
        "global_w_per_m2": total,
        "direct_w_per_m2": direct,
        "diffuse_w_per_m2": diffuse,
        "sky_w_per_m2": sky_longwave_w_per_m2(
            temp, dew_point_c(vapour), cloud_share_by_hour(total, sun), pressure
        ),
    }


def day_profile_c(highest_c: ArrayLike, range_k: ArrayLike) -> Array:
    """Temperatures at 1:00 to 24:00 of a day, shape (..., 24), from its highest and its range."""
    highest, span = np.asarray(highest_c, dtype=float), np.asarray(range_k, dtype=float)
    return highest[..., None] - span[..., None] * BELOW_HIGHEST_SHARE


def degree_days(highest_c: ArrayLike, lowest_c: ArrayLike, base_c: float) -> Array:
    """Heating degree-days of days, in K day, from each day's highest and lowest temperature.

    The four cases of the United Kingdom's method (vesma.com/ddd/ddcalcs.htm). For a day known by
    its mean only, give the mean twice.
    """
    high, low = np.asarray(highest_c, dtype=float), np.asarray(lowest_c, dtype=float)
    mean = (high + low) / 2
    mostly_warm = (base_c - low) / 4
    mostly_cold = (base_c - low) / 2 - (high - base_c) / 4
    return np.select(
        [low >= base_c, mean > base_c, high >= base_c],
        [0.0, mostly_warm, mostly_cold],
        base_c - mean,
    )


def _temperatures(
    normals: Normals, solar_lag_h: float, seed: int, persistence: float
) -> tuple[Array, Array]:
    """Temperature without and with its daily course, (8760,) each."""
    keep_means, noise_share = _ring(persistence)
    season = keep_means @ normals.air_temp_c
    drift = _deviation(_day_means(season))
    day_to_day = np.sqrt(np.maximum(0, normals.day_to_day_k**2 - drift**2)) / noise_share
    noise = day_to_day[MONTH_OF_DAY] * _noise(seed, persistence)
    noise -= keep_means @ means_by_month(_day_means(noise))
    steady = _between_noons(season + noise)
    hours = (np.arange(24) + 0.5 - solar_lag_h) % 24
    course = MEAN_BELOW_SHARE - np.interp(hours, np.arange(1, 25), BELOW_HIGHEST_SHARE, period=24)
    # Warming and cooling from day to day widen the range a little: take that off the daily course.
    span = normals.daily_range_k.copy()
    for _ in range(_RANGE_ROUNDS):
        days = steady + span[MONTH_OF_DAY][:, None] * course
        found = means_by_month(days.max(axis=1) - days.min(axis=1))
        span = np.maximum(0, span + normals.daily_range_k - found)
    days = steady + span[MONTH_OF_DAY][:, None] * course
    return steady.ravel(), days.ravel()


def _humidity_share(wanted: Array, steady_c: Array, temp_c: Array) -> Array:
    """Relative humidity (8760,) whose monthly means are as wanted, shares 0 to 1.

    The vapour goes with the temperature without its daily course, so that it is much the same all
    day while the relative humidity falls at noon; what the coldest hours cannot hold is left out.
    """
    ratio = saturation_pressure_pa(steady_c) / saturation_pressure_pa(temp_c)
    low, high = np.zeros(12), np.full(12, 3.0)
    for _ in range(_LONGEST_SEARCH):
        middle = (low + high) / 2
        is_low = means_by_month(np.minimum(1, middle[MONTH_OF_HOUR] * ratio)) < wanted
        low, high = np.where(is_low, middle, low), np.where(is_low, high, middle)
    return np.minimum(1, ((low + high) / 2)[MONTH_OF_HOUR] * ratio)


def _noise(seed: int, persistence: float) -> Array:
    """A ring of 365 departures of mean deviation 1, each keeping part of the one before."""
    fresh = np.random.Generator(np.random.PCG64(seed)).standard_normal(DAYS)
    fresh *= np.sqrt(1 - persistence**2)
    departures, last = np.empty(DAYS), 0.0
    for _ in range(2):  # the second round starts from where the first ended: the ring closes
        for day in range(DAYS):
            last = departures[day] = persistence * last + fresh[day]
    return departures


def _between_noons(noons: Array) -> Array:
    """Hour means (365, 24) on straight lines between the values of 365 noons, as a ring."""
    along = (np.arange(24) + 0.5 - 12) / 24
    before, after = np.maximum(0, -along), np.maximum(0, along)
    ring = [np.roll(noons, 1)[:, None] * before, np.roll(noons, -1)[:, None] * after]
    return noons[:, None] * (1 - before - after) + ring[0] + ring[1]


def _day_means(noons: Array) -> Array:
    """Means of the days of `_between_noons`; the last axis but one may hold several rings."""
    return 0.75 * noons + 0.125 * (np.roll(noons, 1, axis=0) + np.roll(noons, -1, axis=0))


def _deviation(day_means: Array) -> Array:
    """Standard deviation of each month's days about the month's mean."""
    apart = day_means - means_by_month(day_means)[MONTH_OF_DAY]
    days = np.array(DAYS_OF_MONTH)
    return np.sqrt(means_by_month(apart**2) * days / (days - 1))


@lru_cache(maxsize=1)
def _ring(persistence: float) -> tuple[Array, Array]:
    """What does not depend on the place.

    Returns
    -------
    keep_means : (365, 12), from monthly means to the smoothest ring of noons (least squares of
        second differences) whose months have exactly these means
    noise_share : (12,), the deviation within a month that is left of noise of deviation 1 once
        days are averaged and each month's mean is taken off
    """
    identity = np.eye(DAYS)
    of_days = _day_means(identity)
    months = np.zeros((12, DAYS))
    months[MONTH_OF_DAY, np.arange(DAYS)] = 1
    averaging = months @ of_days / np.array(DAYS_OF_MONTH)[:, None]
    bend = np.roll(identity, 1, axis=0) - 2 * identity + np.roll(identity, -1, axis=0)
    system = np.block([[bend.T @ bend, averaging.T], [averaging, np.zeros((12, 12))]])
    wanted = np.vstack([np.zeros((DAYS, 12)), np.eye(12)])
    keep_means: Array = np.linalg.solve(system, wanted)[:DAYS].astype(float)
    apart = np.arange(DAYS)
    alike = persistence**apart + persistence ** (DAYS - apart)
    alike = (alike / alike[0])[(apart[:, None] - apart) % DAYS]
    left = of_days - of_days @ keep_means @ averaging
    spread = np.einsum("ij,ij->i", left @ alike, left)
    days = np.array(DAYS_OF_MONTH)
    return keep_means, np.sqrt(means_by_month(spread) * days / (days - 1))
