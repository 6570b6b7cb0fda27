"""Hourly weather files as raw rows: TMY2, TMY3, EPW and PVGIS, known by what they hold.

Rows are taken by their place in the file, never by their date: the months of a typical year come
from different years, TMY3 labels an hour by its end and EPW is read with labels at its start.
"""

from __future__ import annotations

import io
import json
import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from farmcase.errors import Fault
from farmcase.inputs.estimate import shorten

Array = NDArray[np.float64]

NEEDED = (
    "air_temp_c",
    "relative_humidity_percent",
    "pressure_pa",
    "wind_m_per_s",
    "global_w_per_m2",
    "direct_w_per_m2",
    "diffuse_w_per_m2",
)
MAY_LACK = ("cloud_share", "sky_w_per_m2")


@dataclass(frozen=True)
class RawYear:
    """The rows of an hourly file, not yet checked.

    Attributes
    ----------
    kind : "TMY2", "TMY3", "EPW" or "PVGIS"
    utc_offset_h : hours from UTC to the clock of the rows
    months, days : of each row, shape (rows,), whole numbers
    columns : arrays (rows,) by the names of `NEEDED` and `MAY_LACK`, NaN where nothing stands
    first_line : line of the first row in the file; None where there are no lines
    state_h, light_h : what clock hour of 1 January the first row's temperature, and its radiation,
        stand for: 0.5 is the mean of the first hour
    """

    kind: str
    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    utc_offset_h: float
    months: NDArray[np.int64]
    days: NDArray[np.int64]
    columns: dict[str, Array] = field(repr=False)
    first_line: int | None
    state_h: float = 0.5
    light_h: float = 0.5


def kind_of(text: str) -> str:
    """Which kind of weather file a text is, "" where none is known."""
    first, _, rest = text.partition("\n")
    second = rest.partition("\n")[0]
    if first.startswith("LOCATION,"):
        return "PVGIS EPW" if _is_pvgis_epw(text) else "EPW"
    if second.startswith("Date (MM/DD/YYYY),Time (HH:MM)"):
        return "TMY3"
    if _TMY2_HEAD.match(first):
        return "TMY2"
    if first.startswith("Latitude (decimal degrees)") and "\ntime(UTC)," in text:
        return "PVGIS CSV"
    if text.lstrip().startswith("{") and '"tmy_hourly"' in text:
        return "PVGIS JSON"
    columns = {cell.strip(' "') for cell in re.split("[,;]", first.lower())}
    return "monthly normals" if columns & _OF_NORMALS else ""


_OF_NORMALS = {"air_temp_c", "daily_range_k", "global_horizontal_kwh_per_m2_day"}


def read_rows(text: str, kind: str, name: str, faults: list[Fault]) -> RawYear | None:
    """The rows of a file of a known kind, or None with a fault."""
    try:
        with warnings.catch_warnings():
            # A column of mixed kinds is no matter here: what is no number becomes a gap.
            warnings.simplefilter("ignore")
            return _READERS[kind](text)
    except _WrongCount as error:
        faults.append(wrong_count(name, error.rows))
    except Exception as error:  # whatever a reader trips over, the user gets one sentence
        reason = shorten(" ".join(str(error).split()) or type(error).__name__, 60)
        given = f"begins like {kind} but cannot be read ({reason})"
        allowed = "an unchanged file with every row and column is needed"
        faults.append(Fault(name, None, "the file", given, allowed, "download it again"))
    return None


def wrong_count(name: str, rows: int) -> Fault:
    """The fault of a file that does not hold one year of hours."""
    given = f"has {rows:,} hours"
    allowed = "a year of 8,760 is needed (8,784 with 29 February)"
    remedy = "add the missing rows or take out those too many"
    return Fault(name, None, "the file", given, allowed, remedy)


class _WrongCount(Exception):
    """A file whose reader stops at the number of rows."""

    def __init__(self, rows: int) -> None:
        self.rows = rows
        super().__init__(str(rows))


def _numbers(values: Any, missing: float | None = None, factor: float = 1.0) -> Array:
    """A column as floats; NaN for text and for numbers from `missing` on (below it if negative)."""
    import pandas as pd

    found = pd.to_numeric(pd.Series(values), errors="coerce").to_numpy(dtype=float, copy=True)
    if missing is not None:
        found[found <= missing if missing < 0 else found >= missing] = np.nan
    return found * factor


def _whole(values: Any) -> NDArray[np.int64]:
    return np.nan_to_num(_numbers(values)).astype(np.int64)


def _tmy3(text: str) -> RawYear:
    from pvlib.iotools import read_tmy3

    table, head = cast(Any, read_tmy3(io.StringIO(text)))
    dates = table["Date (MM/DD/YYYY)"].str.split("/", expand=True)
    names = ["temp_air", "relative_humidity", "pressure", "wind_speed", "ghi", "dni", "dhi"]
    columns = {
        own: _numbers(table[theirs], -900, 100 if own == "pressure_pa" else 1)  # mbar
        for own, theirs in zip(NEEDED, names, strict=True)
    }
    columns["cloud_share"] = _numbers(table["OpqCld (tenths)"], -900, 0.1)
    place = head["latitude"], head["longitude"], head["altitude"], head["TZ"]
    return RawYear("TMY3", *place, _whole(dates[0]), _whole(dates[1]), columns, 3)


# Station number, city, state, hours from UTC, then degrees and minutes north and east, altitude.
_TMY2_HEAD = re.compile(
    r"\s?\d{5} .{1,24} ?[A-Z]{2}\s+(-?\d+)"
    r"\s+([NS])\s*(\d+)\s+(\d+)\s+([EW])\s*(\d+)\s+(\d+)\s+(-?\d+)"
)
# First and last letter, missing from, factor: Marion and Urban (1995), NREL/SP-463-7668, table 3-2.
_TMY2_FIELDS = {
    "air_temp_c": (67, 71, 9999, 0.1),
    "relative_humidity_percent": (79, 82, 999, 1),
    "pressure_pa": (84, 88, 9999, 100),
    "wind_m_per_s": (95, 98, 999, 0.1),
    "global_w_per_m2": (17, 21, 9999, 1),
    "direct_w_per_m2": (23, 27, 9999, 1),
    "diffuse_w_per_m2": (29, 33, 9999, 1),
    "cloud_share": (63, 65, 99, 0.1),
}


def _tmy2(text: str) -> RawYear:
    """Cut by place: pvlib's reader takes no text and fails at a station's name of two words."""
    head, *rows = [line for line in text.split("\n") if line.strip()]
    found = _TMY2_HEAD.match(head)
    if found is None:
        raise ValueError("no head")
    offset, north, lat, lat_minutes, east, lon, lon_minutes, altitude = found.groups()
    latitude = (int(lat) + int(lat_minutes) / 60) * (1 if north == "N" else -1)
    longitude = (int(lon) + int(lon_minutes) / 60) * (1 if east == "E" else -1)
    columns = {
        own: _numbers([row[start:end] for row in rows], missing, factor)
        for own, (start, end, missing, factor) in _TMY2_FIELDS.items()
    }
    months, days = _whole([row[3:5] for row in rows]), _whole([row[5:7] for row in rows])
    return RawYear(
        "TMY2", latitude, longitude, float(altitude), float(offset), months, days, columns, 2
    )


# pvlib's name, and from which number on the format calls a value missing.
_EPW_FIELDS = {
    "air_temp_c": ("temp_air", 99.9),
    "relative_humidity_percent": ("relative_humidity", 999),
    "pressure_pa": ("atmospheric_pressure", 999_999),
    "wind_m_per_s": ("wind_speed", 999),
    "global_w_per_m2": ("ghi", 9999),
    "direct_w_per_m2": ("dni", 9999),
    "diffuse_w_per_m2": ("dhi", 9999),
}


def _epw(text: str) -> RawYear:
    from pvlib.iotools import read_epw

    table, head = cast(Any, read_epw(io.StringIO(text)))
    warm = table["temp_air"]
    columns = {own: _numbers(table[name], top) for own, (name, top) in _EPW_FIELDS.items()}
    # Kelvin lie above the mark for a missing temperature: only the mark itself is a gap.
    columns["air_temp_c"] = np.where(_numbers(warm) == 99.9, np.nan, _numbers(warm))
    columns["cloud_share"] = _numbers(table["opaque_sky_cover"], 11, 0.1)
    sky = _numbers(table["ghi_infrared"], 9999)
    columns["sky_w_per_m2"] = np.where(sky > 0, sky, np.nan)
    place = head["latitude"], head["longitude"], head["altitude"], head["TZ"]
    return RawYear("EPW", *place, _whole(table["month"]), _whole(table["day"]), columns, 9)


def _is_pvgis_epw(text: str) -> bool:
    head = "\n".join(text.split("\n")[:8])
    return "ECMWF/ERA" in head and ("Sensor Point System" in head or "Irradiance Time" in head)


def _pvgis_epw(text: str) -> RawYear:
    """PVGIS writes the same rows as in its other formats, in UTC, whatever zone the head names.

    Its offset counts from the hour's number, 1 to 24, so it is one hour below the other formats'.
    Found by laying pvlib's three samples of one place side by side.
    """
    raw = _epw(text)
    found = re.search(r"Irradiance Time Offset \(h\):\s*(-?[\d.]+)", text[:4000])
    offset = float(found.group(1)) + 1 if found else 0.0
    place = raw.latitude_deg, raw.longitude_deg, raw.altitude_m, 0.0
    return RawYear("PVGIS", *place, raw.months, raw.days, raw.columns, 9, 0.0, offset)


def _pvgis(table: Any, place: Any, offset: float, first_line: int | None) -> RawYear:
    names = ["temp_air", "relative_humidity", "pressure", "wind_speed", "ghi", "dni", "dhi"]
    columns = {own: _numbers(table[name]) for own, name in zip(NEEDED, names, strict=True)}
    columns["sky_w_per_m2"] = _numbers(table["IR(h)"])
    where = place["latitude"], place["longitude"], place["elevation"], 0.0
    months, days = table.index.month.to_numpy(np.int64), table.index.day.to_numpy(np.int64)
    return RawYear("PVGIS", *where, months, days, columns, first_line, 0.0, offset)


def _pvgis_csv(text: str) -> RawYear:
    from pvlib.iotools import read_pvgis_tmy

    lines = text.split("\n")
    row = re.compile(r"\d{8}:\d{4},")
    rows = [number for number, line in enumerate(lines) if row.match(line)]
    if len(rows) != 8760:  # pvlib reads 8,760 lines whatever they hold
        raise _WrongCount(len(rows))
    for number in rows:  # an empty cell would stop pvlib; a gap is named later
        lines[number] = re.sub(r",(?=,|\s*$)", ",nan", lines[number])
    source = io.BytesIO("\n".join(lines).encode())
    table, head = cast(Any, read_pvgis_tmy(source, pvgis_format="csv"))
    place = head["inputs"]
    return _pvgis(table, place, place.get("irradiance time offset", 0.0), rows[0] + 1)


def _pvgis_json(text: str) -> RawYear:
    from pvlib.iotools import read_pvgis_tmy

    rows = len(json.loads(text)["outputs"]["tmy_hourly"])
    if rows == 0:
        raise _WrongCount(rows)
    table, head = cast(Any, read_pvgis_tmy(io.StringIO(text), pvgis_format="json"))
    place = head["inputs"]["location"]
    return _pvgis(table, place, place.get("irradiance_time_offset", 0.0), None)


_READERS: dict[str, Callable[[str], RawYear]] = {
    "TMY2": _tmy2,
    "TMY3": _tmy3,
    "EPW": _epw,
    "PVGIS EPW": _pvgis_epw,
    "PVGIS CSV": _pvgis_csv,
    "PVGIS JSON": _pvgis_json,
}
