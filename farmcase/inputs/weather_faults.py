"""What may be wrong with weather: counts, calendar, gaps, units, hemisphere, clock."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmcase.errors import Fault
from farmcase.inputs.daylight import DAYS_OF_MONTH
from farmcase.inputs.weather_files import NEEDED, RawYear, wrong_count

Array = NDArray[np.float64]

MONTH_NAMES = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
TROPICS_DEG = 15  # nearer to the equator a year has no plain cold half
MOST_HOURS_OFF = 1.5  # afternoon clouds move the middle of the light by less


@dataclass(frozen=True)
class Limits:
    """What a column of weather may hold, and what other units look like."""

    label: str
    low: float
    high: float
    unit: str


LIMITS = {
    "air_temp_c": Limits("air temperature", -70, 60, "°C"),
    "relative_humidity_percent": Limits("relative humidity", 0, 110, "%"),
    "pressure_pa": Limits("air pressure", 45_000, 110_000, "Pa"),
    "wind_m_per_s": Limits("wind", 0, 75, "m/s"),
    "global_w_per_m2": Limits("global radiation", -5, 1_700, "W/m2"),
    "direct_w_per_m2": Limits("direct radiation", -5, 1_500, "W/m2"),
    "diffuse_w_per_m2": Limits("diffuse radiation", -5, 1_200, "W/m2"),
}


def faults_of(raw: RawYear, name: str, latitude_deg: float) -> list[Fault]:
    """Every fault of the rows of a file."""
    faults = [] if raw.months.size in (8760, 8784) else [wrong_count(name, raw.months.size)]
    for column in NEEDED:
        faults += _column_faults(raw, name, column)
    if faults:
        return faults
    faults = list(_calendar_fault(raw, name))
    if not faults:
        temps = [float(raw.columns["air_temp_c"][raw.months == m].mean()) for m in range(1, 13)]
        faults += hemisphere_fault(name, np.array(temps), latitude_deg)
        faults += _clock_fault(raw, name)
    return faults


def _column_faults(raw: RawYear, name: str, column: str) -> Iterator[Fault]:
    values, limits = raw.columns[column], LIMITS[column]
    gaps = np.flatnonzero(np.isnan(values))
    what = f"the column {limits.label}"
    if gaps.size:
        given = (
            f"has no number in {gaps.size:,} of {values.size:,} hours, first in row {gaps[0] + 1:,}"
        )
        remedy = "fill it from the hours beside it, or take another file"
        line = None if raw.first_line is None else raw.first_line + int(gaps[0])
        yield Fault(name, line, what, given, "every hour needs one", remedy)
    known = values[~np.isnan(values)]
    fault = range_fault(name, None, what, column, known)
    if fault:
        yield fault


def range_fault(
    name: str,
    line: int | None,
    what: str,
    column: str,
    values: Array,
    limits: Limits | None = None,
) -> Fault | None:
    """The fault of values outside what nature shows, with the unit they look like."""
    if values.size == 0:
        return None
    limits = limits or LIMITS[column]
    low, high = float(values.min()), float(values.max())
    allowed = f"allowed are {limits.low:,g} to {limits.high:,g} {limits.unit}"
    if column == "relative_humidity_percent" and low >= 0 and high <= 1:
        given = f"is never above {high:g}" if values.size > 1 else f"is {high:g}"
        return Fault(name, line, what, given, "percent from 0 to 100 are needed", _TIMES_100)
    if limits.low <= low and high <= limits.high:
        return None
    worst = low if low < limits.low else high
    given = f"holds {worst:,.6g}" if values.size > 1 else f"is {worst:,.6g}"
    return Fault(name, line, what, given, allowed, _remedy(column, float(np.median(values))))


_TIMES_100 = "it looks like a share of 1: multiply by 100"


def _remedy(column: str, middle: float) -> str:
    if column == "air_temp_c" and middle > 200:
        return "it looks like kelvin: take off 273.15"
    if column == "air_temp_c" and middle > 20:
        return "it looks like Fahrenheit: take off 32 and divide by 1.8"
    if column == "pressure_pa" and 450 <= middle <= 1_100:
        return "it looks like hPa (mbar): multiply by 100"
    if column == "pressure_pa" and 45 <= middle <= 110:
        return "it looks like kPa: multiply by 1,000"
    if column == "pressure_pa" and 4_500_000 <= middle <= 11_000_000:
        return "it looks like Pa in a file that holds mbar: divide by 100"
    return "look at its unit and correct it"


def _calendar_fault(raw: RawYear, name: str) -> Iterator[Fault]:
    """Noon of each day stands on its date, whichever end of an hour the labels mark."""
    is_leap_day = (raw.months == 2) & (raw.days == 29)
    rows = np.flatnonzero(~is_leap_day)
    if rows.size != 8760:
        given = f"has {raw.months.size:,} hours, {is_leap_day.sum()} of them on 29 February"
        allowed = "8,760 hours beside those of 29 February are needed"
        yield Fault(name, None, "the file", given, allowed, "give every other day of the year")
        return
    noons = rows[12::24]
    months = np.repeat(np.arange(1, 13), DAYS_OF_MONTH)
    days = np.concatenate([np.arange(1, n + 1) for n in DAYS_OF_MONTH])
    wrong = np.flatnonzero((raw.months[noons] != months) | (raw.days[noons] != days))
    if wrong.size:
        row, day = int(noons[wrong[0]]), int(wrong[0])
        found = f"{raw.days[row]} {MONTH_NAMES[max(raw.months[row], 1) - 1]}"
        line = None if raw.first_line is None else raw.first_line + row
        given = f"is of {found} at noon of day {day + 1}"
        allowed = f"{days[day]} {MONTH_NAMES[months[day] - 1]} must stand there"
        remedy = "put the hours in order from 1 January"
        yield Fault(name, line, "the row", given, allowed, remedy)


def hemisphere_fault(name: str, monthly_c: Array, latitude_deg: float) -> Iterator[Fault]:
    """The fault of a coldest quarter in the warm half of the site's year."""
    if abs(latitude_deg) <= TROPICS_DEG:
        return
    quarters = monthly_c + np.roll(monthly_c, 1) + np.roll(monthly_c, -1)
    coldest = int(quarters.argmin())
    is_summer_north = 3 <= coldest <= 8
    if is_summer_north == (latitude_deg > 0):
        here, there = ("north", "south") if latitude_deg > 0 else ("south", "north")
        given = f"is coldest around {MONTH_NAMES[coldest]}, as {there} of the equator"
        allowed = f"the site lies {here} of it (latitude {latitude_deg:g})"
        remedy = "take a file of the site, or correct the sign of the latitude"
        yield Fault(name, None, "the weather", given, allowed, remedy)


def _clock_fault(raw: RawYear, name: str) -> Iterator[Fault]:
    """The middle of the year's light lies at solar noon; else the clock of the rows is another."""
    light = raw.columns["global_w_per_m2"]
    light = light[: light.size // 24 * 24].reshape(-1, 24).mean(axis=0)
    if light.sum() <= 0:
        return
    clock = np.arange(24) + raw.light_h
    middle = np.angle((light * np.exp(1j * np.pi / 12 * clock)).sum()) * 12 / np.pi
    noon = 12 - raw.longitude_deg / 15 + raw.utc_offset_h
    late = (middle - noon + 12) % 24 - 12
    if abs(late) > MOST_HOURS_OFF:
        given = f"has its light {abs(late):.0f} h {'after' if late > 0 else 'before'} the sun"
        allowed = f"hours of UTC{raw.utc_offset_h:+g} are needed, as the file says"
        remedy = "correct the time zone or the longitude in the file's head, or its rows"
        yield Fault(name, None, "the file", given, allowed, remedy)
