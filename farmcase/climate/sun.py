"""The sun: where it stands, what falls on a face, what a panel makes of it.

In: place, angles in degrees and radiation in W/m2 as plain numbers and arrays; the last axis is
the 8,760 hours from 1 January, local standard time. Out: arrays of the same hours. Azimuths run
clockwise from north (east 90, south 180); a tilt of 0 looks up, 90 is a wall. Nothing raises.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmcase.moist_air import standard_pressure_pa

Array = NDArray[np.float64]

HOURS = 8760
FIRST_HOUR_FROM_J2000 = 9131.5  # days from 2000-01-01 12:00 UT to 2025-01-01 00:00
TEST_CONDITIONS_W_PER_M2 = 1000.0  # the radiation at which a panel's kWp is stated, IEC 61215
MEAN_AIR_TEMP_C = 12.0  # for the bending of light only: 20 K more or less move the sun by 0.04°


def sun_position(
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float,
    utc_offset_h: float,
    minutes: float = 30.0,
) -> tuple[Array, Array]:
    """Zenith and azimuth of the sun in degrees, at `minutes` after the start of each hour.

    The year is 2025, no leap year; in another year the risen sun stands up to 0.3° elsewhere. The
    zenith is as seen, the bending of light by the air included.
    """
    hours = np.arange(HOURS) + minutes / 60 - utc_offset_h
    days = FIRST_HOUR_FROM_J2000 + hours / 24
    return sun_at(days, latitude_deg, longitude_deg, altitude_m)


def sun_at(
    days_from_j2000: ArrayLike, latitude_deg: float, longitude_deg: float, altitude_m: float
) -> tuple[Array, Array]:
    """Zenith and azimuth in degrees at days after 2000-01-01 12:00 UT, within 0.02° to 2050.

    Low-precision formulas of the Astronomical Almanac, as in Michalsky (1988), Solar Energy 40(3);
    refraction as in Reda and Andreas (2008), NREL/TP-560-34302, eq. 42. [memory; checked against
    pvlib's SPA]
    """
    days = np.asarray(days_from_j2000, dtype=float)
    anomaly = np.radians(357.528 + 0.9856003 * days)
    mean_longitude = 280.460 + 0.9856474 * days
    longitude = np.radians(mean_longitude + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly))
    tilt = np.radians(23.439 - 0.0000004 * days)
    right_ascension = np.arctan2(np.cos(tilt) * np.sin(longitude), np.cos(longitude))
    declination = np.arcsin(np.sin(tilt) * np.sin(longitude))
    sidereal = np.radians(280.46062 + 360.98564737 * days + longitude_deg)
    hour_angle = sidereal - right_ascension
    latitude = np.radians(latitude_deg)
    east = -np.cos(declination) * np.sin(hour_angle)
    north = np.sin(declination) * np.cos(latitude) - np.cos(declination) * np.cos(
        hour_angle
    ) * np.sin(latitude)
    up = np.sin(declination) * np.sin(latitude) + np.cos(declination) * np.cos(hour_angle) * np.cos(
        latitude
    )
    elevation = np.degrees(np.arctan2(up, np.hypot(east, north)))
    azimuth = np.degrees(np.arctan2(east, north)) % 360
    return 90 - elevation - _refraction_deg(elevation, altitude_m), azimuth


def _refraction_deg(elevation_deg: Array, altitude_m: float) -> Array:
    """How much higher the sun appears than it stands; nil where it is wholly below the horizon."""
    seen = np.maximum(elevation_deg, -0.8333)
    density = standard_pressure_pa(altitude_m) / 101_000 * 283 / (273 + MEAN_AIR_TEMP_C)
    bend = density * 1.02 / (60 * np.tan(np.radians(seen + 10.3 / (seen + 5.11))))
    return np.where(elevation_deg >= -0.8333, bend, 0.0)


def face_irradiance(
    zenith_deg: Array,
    azimuth_deg: Array,
    global_w_per_m2: Array,
    direct_w_per_m2: Array,
    diffuse_w_per_m2: Array,
    tilt_deg: ArrayLike,
    face_azimuth_deg: ArrayLike,
    albedo: float,
) -> Array:
    """Radiation on faces in W/m2, shape (faces, hours), with a sky equally bright all over.

    Direct light on the face, the share of the sky and of the ground that it sees (Liu and Jordan
    1963); no shade. `direct` is on a surface square to the sun.

    Parameters
    ----------
    zenith_deg, azimuth_deg : of the sun, shape (hours,)
    global_w_per_m2, direct_w_per_m2, diffuse_w_per_m2 : shape (hours,)
    tilt_deg, face_azimuth_deg : of the faces, shape (faces,)
    albedo : share of light that the ground throws back, 0 to 1
    """
    tilt = np.radians(np.atleast_1d(np.asarray(tilt_deg, dtype=float)))[:, None]
    turn = np.radians(np.atleast_1d(np.asarray(face_azimuth_deg, dtype=float)))[:, None]
    zenith, azimuth = np.radians(zenith_deg), np.radians(azimuth_deg)
    # cos(azimuth - turn) as a sum of products, so that no cosine of faces x hours is needed
    north = np.sin(zenith) * np.cos(azimuth)
    east = np.sin(zenith) * np.sin(azimuth)
    incidence = np.cos(tilt) * np.cos(zenith) + np.sin(tilt) * (
        np.cos(turn) * north + np.sin(turn) * east
    )
    sky, ground = (1 + np.cos(tilt)) / 2, (1 - np.cos(tilt)) / 2
    direct = direct_w_per_m2 * np.maximum(incidence, 0)
    return direct + diffuse_w_per_m2 * sky + global_w_per_m2 * (albedo * ground)


def solar_kwh_per_kwp(irradiance_w_per_m2: Array, performance_share: float) -> Array:
    """What 1 kWp of panels yields in each hour, in kWh, same shape as the radiation on them.

    `performance_share` covers heat, inverter, dirt and wiring together.
    """
    return irradiance_w_per_m2 / TEST_CONDITIONS_W_PER_M2 * performance_share
