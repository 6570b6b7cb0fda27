"""Moist air: water in air, its heat, its volume, and the temperatures that go with them.

In: temperatures in °C, pressures in Pa, relative humidity as a share, humidity ratio in kg of
water per kg of dry air; plain numbers or arrays of any shapes that broadcast. Out: an array of
the broadcast shape. Imports no other floor.

Air and vapour are ideal gases (ASHRAE Handbook, Fundamentals, chapter 1; saturation pressure after
Hyland and Wexler). That leaves out the enhancement factor, so that water at saturation comes out
0.4 to 0.5 % below the handbook's table of real moist air; a room's humidity is not known better.

Nothing raises: inputs are checked where they are read. The range is that of the saturation
formula, -100 to 200 °C, and vapour pressure below the pressure of the air.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

ZERO_C_IN_K = 273.15
TRIPLE_POINT_C = 0.01
WATER_TO_AIR_MASS = 0.621945  # molar mass of water over that of dry air
DRY_AIR_J_PER_KG_K = 287.042  # gas constant of dry air
AIR_KJ_PER_KG_K = 1.006
VAPOUR_KJ_PER_KG_K = 1.86
WATER_KJ_PER_KG_K = 4.186
ICE_KJ_PER_KG_K = 2.1
VAPOUR_KJ_PER_KG_AT_ZERO = 2501.0  # over water at 0 °C
SUBLIMATION_KJ_PER_KG_AT_ZERO = 2830.0  # over ice at 0 °C

# Powers of temperature -1 to 3 (and 4 over ice), last the factor of its logarithm.
_OVER_ICE = (
    -5.6745359e3,
    6.3925247,
    -9.6778430e-3,
    6.2215701e-7,
    2.0747825e-9,
    -9.4840240e-13,
    4.1635019,
)
_OVER_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)

_COLDEST_C, _HOTTEST_C = -100.0, 200.0
_NEWTON_STEPS = 6  # from 0 °C to either end of the range
_HALVINGS = 48  # from 150 K down to 1e-12 K


def as_array(numbers: ArrayLike) -> Array:
    """Numbers as an array of floats."""
    return np.asarray(numbers, dtype=float)


def saturation_pressure_pa(temp_c: ArrayLike) -> Array:
    """Vapour pressure of saturated air in Pa: over ice below the triple point, else over water.

    The handbook parts the branches at 0 °C, where they differ by 1e-4; they meet at 0.01 °C.
    """
    return np.exp(_log_pressure_and_slope(as_array(temp_c) + ZERO_C_IN_K)[0])


def _log_pressure_and_slope(kelvin: Array) -> tuple[Array, Array]:
    is_ice = kelvin < TRIPLE_POINT_C + ZERO_C_IN_K
    c = [np.where(is_ice, ice, water) for ice, water in zip(_OVER_ICE, _OVER_WATER, strict=True)]
    powers = c[1] + kelvin * (c[2] + kelvin * (c[3] + kelvin * (c[4] + kelvin * c[5])))
    of_powers = c[2] + kelvin * (2 * c[3] + kelvin * (3 * c[4] + kelvin * 4 * c[5]))
    log = c[0] / kelvin + powers + c[6] * np.log(kelvin)
    return log, (c[6] - c[0] / kelvin) / kelvin + of_powers


def humidity_ratio(vapour_pa: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """Water in kg per kg of dry air at a vapour pressure."""
    vapour = as_array(vapour_pa)
    return WATER_TO_AIR_MASS * vapour / (as_array(pressure_pa) - vapour)


def humidity_ratio_at(
    temp_c: ArrayLike, relative_humidity_share: ArrayLike, pressure_pa: ArrayLike
) -> Array:
    """Water in kg per kg of dry air at a temperature and relative humidity (1 is saturated)."""
    share = as_array(relative_humidity_share)
    return humidity_ratio(share * saturation_pressure_pa(temp_c), pressure_pa)


def vapour_pressure_pa(ratio: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """Vapour pressure in Pa of air with a humidity ratio."""
    water = as_array(ratio)
    return as_array(pressure_pa) * water / (WATER_TO_AIR_MASS + water)


def relative_humidity_share(temp_c: ArrayLike, ratio: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """Vapour pressure over that of saturation; above 1 where the air holds fog."""
    return vapour_pressure_pa(ratio, pressure_pa) / saturation_pressure_pa(temp_c)


def enthalpy_kj_per_kg(temp_c: ArrayLike, ratio: ArrayLike) -> Array:
    """Heat content in kJ per kg of dry air, nil for dry air and liquid water at 0 °C."""
    temp = as_array(temp_c)
    water = as_array(ratio)
    return AIR_KJ_PER_KG_K * temp + water * (VAPOUR_KJ_PER_KG_AT_ZERO + VAPOUR_KJ_PER_KG_K * temp)


def specific_volume_m3_per_kg(temp_c: ArrayLike, ratio: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """Volume in m3 of the moist air that holds 1 kg of dry air."""
    kelvin = as_array(temp_c) + ZERO_C_IN_K
    moist = 1.0 + as_array(ratio) / WATER_TO_AIR_MASS
    return DRY_AIR_J_PER_KG_K * kelvin * moist / as_array(pressure_pa)


def latent_heat_kj_per_kg(temp_c: ArrayLike) -> Array:
    """Heat in kJ that turns 1 kg of water at a temperature into vapour at the same temperature.

    It is vapour less water with the specific heats above, so that sums of heat close exactly; the
    steam tables lie up to 0.06 % lower at 30 °C.
    """
    temp = as_array(temp_c)
    return VAPOUR_KJ_PER_KG_AT_ZERO - (WATER_KJ_PER_KG_K - VAPOUR_KJ_PER_KG_K) * temp


def standard_pressure_pa(altitude_m: ArrayLike) -> Array:
    """Pressure of the standard atmosphere in Pa at an altitude in m (up to 11,000)."""
    return 101_325.0 * (1.0 - 2.25577e-5 * as_array(altitude_m)) ** 5.2559


def dew_point_c(vapour_pa: ArrayLike) -> Array:
    """Temperature in °C at which a vapour pressure is that of saturation; -100 for dry air.

    Newton's method in 1/T, in which the logarithm of the pressure is nearly a straight line.
    """
    coldest_k, hottest_k = _COLDEST_C + ZERO_C_IN_K, _HOTTEST_C + ZERO_C_IN_K
    target = np.log(np.maximum(as_array(vapour_pa), saturation_pressure_pa(_COLDEST_C)))
    kelvin = np.full(target.shape, ZERO_C_IN_K)
    for _ in range(_NEWTON_STEPS):
        log, slope = _log_pressure_and_slope(kelvin)
        inverse = 1.0 / kelvin - (target - log) / (slope * kelvin**2)
        kelvin = 1.0 / np.clip(inverse, 1.0 / hottest_k, 1.0 / coldest_k)
    return kelvin - ZERO_C_IN_K


def ratio_from_wet_bulb(temp_c: ArrayLike, wet_bulb_c: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """Water in kg per kg of dry air from the temperatures of a dry and a wet thermometer.

    Below 0 °C the wet thermometer is taken to be iced. Negative where no air has such a pair.
    """
    temp, wet = as_array(temp_c), as_array(wet_bulb_c)
    is_ice = wet < 0.0
    latent = np.where(is_ice, SUBLIMATION_KJ_PER_KG_AT_ZERO, VAPOUR_KJ_PER_KG_AT_ZERO)
    liquid = np.where(is_ice, ICE_KJ_PER_KG_K, WATER_KJ_PER_KG_K)
    saturated = humidity_ratio_at(wet, 1.0, pressure_pa)
    gained = (latent + (VAPOUR_KJ_PER_KG_K - liquid) * wet) * saturated
    return (gained - AIR_KJ_PER_KG_K * (temp - wet)) / (
        latent + VAPOUR_KJ_PER_KG_K * temp - liquid * wet
    )


def wet_bulb_c(temp_c: ArrayLike, ratio: ArrayLike, pressure_pa: ArrayLike) -> Array:
    """Temperature in °C to which water cools in this air; the air's own where it is saturated.

    It is what a fog, ultrasonic or pad humidifier can cool the air to. Where both a wet and an iced
    thermometer balance, within 0.4 K of 0 °C, it is either of the two.
    """
    temp, water, pressure = np.broadcast_arrays(
        as_array(temp_c), as_array(ratio), as_array(pressure_pa)
    )
    low, high = np.full(temp.shape, _COLDEST_C), temp
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        is_below = ratio_from_wet_bulb(temp, middle, pressure) < water
        low, high = np.where(is_below, middle, low), np.where(is_below, high, middle)
    return (low + high) / 2.0
