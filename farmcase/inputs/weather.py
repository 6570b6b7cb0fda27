"""The weather of a case: one year of hours from a file, whatever its kind.

Comes in: a file of the case folder (TMY2, TMY3, EPW, PVGIS, or monthly normals). Goes out: a
`Weather`, or a `CaseError` with every fault of the file. No network.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import astuple, dataclass, field, fields
from functools import lru_cache
from pathlib import Path, PurePath
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from farmcase.errors import CaseError, Fault
from farmcase.inputs.daylight import (
    HOURS,
    cloud_share_by_hour,
    sky_longwave_w_per_m2,
    sun_by_day,
)
from farmcase.inputs.estimate import shown
from farmcase.inputs.normals import hourly_year
from farmcase.inputs.normals_table import read_normals
from farmcase.inputs.weather_faults import faults_of
from farmcase.inputs.weather_files import RawYear, kind_of, read_rows
from farmcase.moist_air import dew_point_c, humidity_ratio_at, saturation_pressure_pa

Array = NDArray[np.float64]

NEAR_DEG = 2.0  # a file from further away is named
NEAR_M = 300.0  # pressure differs by 3.5 %, temperature by some 2 K
_KNOWN = "TMY2, TMY3, EPW, PVGIS TMY (csv, json, epw) and a table of monthly normals"


@dataclass(frozen=True)
class Weather:
    """A year of hours in local standard time; hour 0 is 00:00 to 01:00 on 1 January.

    Every array has shape (8760,), without 29 February, and cannot be written to. Radiation is the
    mean of its hour. Temperature, humidity, pressure and wind are, by kind of file:

    - TMY2, TMY3, EPW: the reading at the end of the hour, as the file gives it
    - PVGIS: the mean of the readings at both ends of the hour; its radiation, given for a moment
      of the hour, is taken at the middle of the hour from the two moments beside it
    - monthly normals: the mean of the hour

    Attributes
    ----------
    name, kind : file, and "TMY2", "TMY3", "EPW", "PVGIS" or "monthly normals"
    direct_w_per_m2 : on a surface square to the sun; the others on a flat one
    sky_w_per_m2 : long-wave radiation from the sky
    remarks : what was estimated, moved or lies far off, one sentence each
    """

    name: str
    kind: str
    air_temp_c: Array = field(repr=False)
    humidity_ratio_kg_per_kg: Array = field(repr=False)
    pressure_pa: Array = field(repr=False)
    wind_m_per_s: Array = field(repr=False)
    global_w_per_m2: Array = field(repr=False)
    direct_w_per_m2: Array = field(repr=False)
    diffuse_w_per_m2: Array = field(repr=False)
    sky_w_per_m2: Array = field(repr=False)
    remarks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for each in fields(self):
            values = getattr(self, each.name)
            if isinstance(values, np.ndarray):
                values.setflags(write=False)


@dataclass(frozen=True)
class _Site:
    latitude_deg: float
    longitude_deg: float
    utc_offset_h: float
    altitude_m: float
    seed: int
    persistence: float


def read_weather(
    folder: Path | None,
    name: str,
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float,
    time_zone: str,
    seed: int = 1,
    persistence: float = 0.0,
) -> Weather:
    """The weather of a site from a file in the case folder, or in its `reference/`.

    Read once for a file, its time of change and the site. `seed` starts the noise of a year made
    from monthly normals, `persistence` is what a day's departure leaves to the next; the other
    kinds have none.

    Raises
    ------
    CaseError with every fault of the file, or of the time zone
    """
    faults: list[Fault] = []
    path = _find(folder, name, faults)
    try:
        offset = standard_offset_h(time_zone)
    except ValueError:
        given, allowed = f"is {shown(time_zone)}", "allowed are names such as Europe/Berlin"
        remedy = "write the zone's name of the IANA list"
        faults.append(
            Fault("case.toml", None, "time zone (site.time_zone)", given, allowed, remedy)
        )
        offset = round(longitude_deg / 15)
    if path is None:
        raise CaseError(faults)
    stat = path.stat()
    site = _Site(latitude_deg, longitude_deg, offset, altitude_m, seed, persistence)
    try:
        weather = _read(path, stat.st_mtime_ns, stat.st_size, name, site)
    except CaseError as error:
        raise CaseError([*faults, *error.faults]) from None
    if faults:
        raise CaseError(faults)
    return weather


@lru_cache(maxsize=32)
def standard_offset_h(time_zone: str) -> float:
    """Hours from UTC to a zone's standard time: the lesser of its offsets in January and July 2025.

    Raises
    ------
    ValueError when there is no such zone
    """
    try:
        zone = ZoneInfo(time_zone)
    except (KeyError, ValueError, OSError):
        raise ValueError(time_zone) from None
    offsets = [dt.datetime(2025, month, 15, tzinfo=zone).utcoffset() for month in (1, 7)]
    return min(offset.total_seconds() for offset in offsets if offset is not None) / 3600


def _find(folder: Path | None, name: str, faults: list[Fault]) -> Path | None:
    pure = PurePath(name)
    inside = name and not pure.is_absolute() and ".." not in pure.parts
    for place in (folder, folder / "reference") if folder and inside else ():
        if (place / name).is_file():
            return (place / name).resolve()
    given = "is missing" if inside else "lies outside the case folder"
    allowed = "a weather file in the case folder is needed"
    faults.append(Fault(name or "weather", None, "the file", given, allowed, "put it there"))
    return None


@lru_cache(maxsize=16)
def _read(path: Path, changed: int, size: int, name: str, site: _Site) -> Weather:
    """`changed` and `size` only tell one state of a file from the next."""
    faults: list[Fault] = []
    try:
        text = _decode(path.read_bytes())
    except OSError as error:
        given, allowed = f"cannot be read ({error.strerror})", "a file that may be read is needed"
        raise CaseError(
            [Fault(name, None, "the file", given, allowed, "look at its permissions")]
        ) from None
    kind = kind_of(text)
    if kind == "monthly normals":
        return _from_normals(text, name, site)
    if not kind:
        given, remedy = (
            "is of no known kind",
            "look at the file's first lines, or download it again",
        )
        raise CaseError([Fault(name, None, "the file", given, f"known are {_KNOWN}", remedy)])
    raw = read_rows(text, kind, name, faults)
    if raw is not None:
        faults += faults_of(raw, name, site.latitude_deg)
    if raw is None or faults:
        raise CaseError(faults)
    return _from_rows(raw, name, site)


def _decode(data: bytes) -> str:
    """Text of UTF-8, or else of Latin-1, which some stations' names are in."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _from_normals(text: str, name: str, site: _Site) -> Weather:
    faults: list[Fault] = []
    normals = read_normals(text, name, site.latitude_deg, faults)
    if normals is None or faults:
        raise CaseError(faults)
    year = hourly_year(normals, *astuple(site))
    remarks = (
        "The hours are made from monthly normals: a daily course, and warm and cold spells drawn "
        f"with start number {site.seed}; days of a month have the same light.",
        "Sky radiation is estimated from dew point and the clearness of each month.",
    )
    return Weather(name=name, kind="monthly normals", **year, remarks=remarks)


def _from_rows(raw: RawYear, name: str, site: _Site) -> Weather:
    remarks = list(_place_remarks(raw, site))
    moved = _hours_moved(raw, site)
    if moved and raw.kind != "PVGIS":
        remarks.append(f"The rows are moved by {moved:+g} h to the site's standard time.")
    rows = np.flatnonzero(~((raw.months == 2) & (raw.days == 29)))
    year = {
        column: _at_mid_hours(
            values[rows], moved + (raw.light_h if "_w_per_m2" in column else raw.state_h)
        )
        for column, values in raw.columns.items()
    }
    for column in ("global_w_per_m2", "direct_w_per_m2", "diffuse_w_per_m2"):
        year[column] = np.maximum(0.0, year[column])
    share = np.minimum(1.0, year.pop("relative_humidity_percent") / 100)
    year["sky_w_per_m2"] = _sky(year, share, site, remarks)
    year.pop("cloud_share", None)
    ratio = humidity_ratio_at(year["air_temp_c"], share, year["pressure_pa"])
    return Weather(
        name=name,
        kind=raw.kind,
        humidity_ratio_kg_per_kg=ratio,
        **year,
        remarks=tuple(remarks),
    )


def _hours_moved(raw: RawYear, site: _Site) -> float:
    """By how many hours the rows' clock lags behind the site's.

    Between zones of one place it is their difference. A file from far east or west keeps its sun:
    whole hours are added, so that its noon stays the site's.
    """
    eastward_h = (raw.longitude_deg - site.longitude_deg) / 15
    return site.utc_offset_h - raw.utc_offset_h + round(eastward_h)


def _at_mid_hours(values: Array, first_h: float) -> Array:
    """Values at the middle of each hour, on straight lines between rows one hour apart, as a ring.

    `first_h` is the clock hour of the first row. Where the lag is of whole hours the rows are only
    rolled; the mean of the year is kept in any case.
    """
    places = np.arange(HOURS) + 0.5 - first_h
    before = np.floor(places).astype(np.int64)
    after_share = places - before
    left, right = values[before % HOURS], values[(before + 1) % HOURS]
    # A gap beside a row that is not asked for must not spread.
    return np.where(after_share == 0, left, left + after_share * (right - left))


def _sky(year: dict[str, Array], share: Array, site: _Site, remarks: list[str]) -> Array:
    """Long-wave radiation from the sky: as given, and estimated where it is not."""
    given = year.pop("sky_w_per_m2", np.full(HOURS, np.nan))
    missing = np.isnan(given)
    if not missing.any():
        return given
    sun = sun_by_day(site.latitude_deg, site.longitude_deg, site.utc_offset_h)
    by_month = cloud_share_by_hour(year["global_w_per_m2"], sun)
    cloud = year.get("cloud_share", np.full(HOURS, np.nan))
    unseen = np.isnan(cloud) & missing
    cloud = np.where(np.isnan(cloud), by_month, cloud)
    dew = dew_point_c(np.maximum(share, 0.01) * saturation_pressure_pa(year["air_temp_c"]))
    guess = sky_longwave_w_per_m2(year["air_temp_c"], dew, cloud, year["pressure_pa"])
    basis = "dew point and cloud cover"
    if unseen.all():
        basis = "dew point and the clearness of each month"
    elif unseen.any():
        basis += f" (in {unseen.sum():,} hours the clearness of the month)"
    hours = "" if missing.all() else f" in {missing.sum():,} hours"
    remarks.append(f"Sky radiation is estimated{hours} from {basis}.")
    return np.where(missing, guess, given)


def _place_remarks(raw: RawYear, site: _Site) -> list[str]:
    remarks = []
    north = raw.latitude_deg - site.latitude_deg
    east = (raw.longitude_deg - site.longitude_deg + 180) % 360 - 180
    if max(abs(north), abs(east) * np.cos(np.radians(site.latitude_deg))) > NEAR_DEG:
        remarks.append(
            f"The weather is of latitude {raw.latitude_deg:.1f}, longitude "
            f"{raw.longitude_deg:.1f}: far from the site ({site.latitude_deg:.1f}, "
            f"{site.longitude_deg:.1f})."
        )
    if abs(raw.altitude_m - site.altitude_m) > NEAR_M:
        remarks.append(
            f"The weather is of {raw.altitude_m:,.0f} m above the sea, the site lies at "
            f"{site.altitude_m:,.0f} m; nothing is corrected for it."
        )
    return remarks
