"""Weather files written for tests: EPW out of pvlib's TMY3 files, PVGIS out of formulas."""

from __future__ import annotations

import importlib.util
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pvlib import iotools, solarposition

Array = NDArray[np.float64]

_SPEC = importlib.util.find_spec("pvlib")
assert _SPEC is not None and _SPEC.submodule_search_locations is not None
PVLIB_DATA = Path(_SPEC.submodule_search_locations[0]) / "data"
GREENSBORO = (36.1, -79.95, 273.0, "America/New_York")
KOLKATA = (22.5, 88.4, 9.0, "Asia/Kolkata")
DAYS = pd.date_range("2023-01-01", periods=365)


def tmy3_rows(file: str = "723170TYA.CSV") -> pd.DataFrame:
    """A TMY3 file of pvlib's wheel, rows by place, as numbers."""
    table = cast(Any, iotools.read_tmy3(PVLIB_DATA / file))[0]
    return cast(pd.DataFrame, table.reset_index(drop=True))


@dataclass(frozen=True)
class Epw:
    """What an EPW file is written from; `change` gets the columns before they are written."""

    head: str = "Greensboro,NC,USA,TMY3,723170,36.10,-79.95,-5.0,273.0"
    change: Callable[[dict[str, Any]], None] = field(default=lambda columns: None)
    rows: tuple[int, int] = (0, 9000)
    leap_day: bool = False
    comment: str = "made for a test"

    def text(self) -> str:
        """The file as text: eight lines of head, then 35 cells an hour."""
        columns = epw_columns()
        self.change(columns)
        table = pd.DataFrame(columns)
        if self.leap_day:
            extra = table.iloc[58 * 24 : 59 * 24].assign(day=29)
            table = pd.concat([table.iloc[: 59 * 24], extra, table.iloc[59 * 24 :]])
        body = table.iloc[slice(*self.rows)].to_csv(header=False, index=False, lineterminator="\n")
        head = [
            f"LOCATION,{self.head}",
            "DESIGN CONDITIONS,0",
            "TYPICAL/EXTREME PERIODS,0",
            "GROUND TEMPERATURES,0",
            "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
            f"COMMENTS 1,{self.comment}",
            "COMMENTS 2",
            "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
        ]
        return "\n".join(head) + "\n" + body


def epw_columns() -> dict[str, Any]:
    """The 35 columns of an EPW file with Greensboro's weather."""
    rows = tmy3_rows()
    date = rows["Date (MM/DD/YYYY)"].str.split("/", expand=True).astype(int)
    known: dict[str, Any] = {
        "year": date[2],
        "month": date[0],
        "day": date[1],
        "hour": np.tile(np.arange(1, 25), 365),
        "minute": 0,
        "uncertainty": "?9?9?9",
        "temp": rows["temp_air"],
        "dew": rows["temp_dew"],
        "humidity": rows["relative_humidity"],
        "pressure": rows["pressure"] * 100,
        "etr": 9999,
        "etrn": 9999,
        "infrared": 9999,
        "global": rows["ghi"],
        "direct": rows["dni"],
        "diffuse": rows["dhi"],
        **{f"light_{n}": 999999 for n in range(4)},
        "way": 0,
        "wind": rows["wind_speed"],
        "total": rows["TotCld (tenths)"],
        "opaque": rows["OpqCld (tenths)"],
    }
    return known | {f"rest_{n}": 0 for n in range(35 - len(known))}


@dataclass(frozen=True)
class Pvgis:
    """A PVGIS year of a place, with temperature and light that formulas give for any moment."""

    latitude_deg: float = KOLKATA[0]
    longitude_deg: float = KOLKATA[1]
    altitude_m: float = KOLKATA[2]
    solar_noon_utc_h: float = 12 - KOLKATA[1] / 15
    offset_h: float = 0.3

    def temp_c(self, utc_h: Array) -> Array:
        """A season of 6 K and a day of 5 K about 25 °C, at hours of UTC from 1 January."""
        season = np.cos(2 * np.pi * (utc_h / 8760 - 0.55))
        return 25 + 6 * season + 5 * np.cos(np.pi / 12 * (utc_h - self.solar_noon_utc_h - 3))

    def light(self, utc_h: Array) -> tuple[Array, Array, Array]:
        """Global, direct and diffuse: clear hours, brighter with a higher sun."""
        moments = pd.Timestamp("2025-01-01", tz="UTC") + pd.to_timedelta(utc_h, unit="h")
        sun: Any = solarposition.get_solarposition(
            pd.DatetimeIndex(moments), self.latitude_deg, self.longitude_deg, method="nrel_numpy"
        )
        up = np.maximum(0, np.cos(np.radians(sun["zenith"].to_numpy())))
        direct, diffuse = 900 * up / (up + 0.15), 80 * up
        return direct * up + diffuse, direct, diffuse

    def rows(self) -> pd.DataFrame:
        """The hours of UTC in PVGIS's columns; each month is of another year."""
        utc_h = np.arange(8760.0)
        total, direct, diffuse = self.light(utc_h + self.offset_h)
        moments = pd.Timestamp("2023-01-01") + pd.to_timedelta(utc_h, unit="h")
        stamps = [f"{2005 + m.month}{m:%m%d:%H00}" for m in pd.DatetimeIndex(moments)]
        return pd.DataFrame(
            {
                "time(UTC)": stamps,
                "T2m": self.temp_c(utc_h).round(2),
                "RH": 60.0,
                "G(h)": total.round(2),
                "Gb(n)": direct.round(2),
                "Gd(h)": diffuse.round(2),
                "IR(h)": 350.0,
                "WS10m": 3.0,
                "WD10m": 180.0,
                "SP": 101000.0,
            }
        )

    def csv(self, rows: pd.DataFrame | None = None) -> str:
        """As PVGIS writes CSV, Windows line ends and notes at the end included."""
        months = [f"{m},{2005 + m}" for m in range(1, 13)]
        table = (self.rows() if rows is None else rows).to_csv(index=False, lineterminator="\r\n")
        head = [
            f"Latitude (decimal degrees): {self.latitude_deg:.3f}",
            f"Longitude (decimal degrees): {self.longitude_deg:.3f}",
            f"Elevation (m): {self.altitude_m}",
            f"Irradiance Time Offset (h): {self.offset_h}",
            "month,year",
            *months,
        ]
        return "\r\n".join(head) + "\r\n" + table + "\r\nT2m: 2-m air temperature\r\n"

    def json(self) -> str:
        """As PVGIS writes JSON."""
        place = {
            "latitude": self.latitude_deg,
            "longitude": self.longitude_deg,
            "elevation": self.altitude_m,
            "irradiance_time_offset": self.offset_h,
        }
        months = [{"month": m, "year": 2005 + m} for m in range(1, 13)]
        return json.dumps(
            {
                "inputs": {"location": place},
                "outputs": {
                    "months_selected": months,
                    "tmy_hourly": self.rows().to_dict(orient="records"),
                },
                "meta": {"inputs": {}},
            }
        )

    def epw(self) -> str:
        """As PVGIS writes EPW: rows in UTC under a head of zone 1, offset counted from hour 1."""
        rows, columns = self.rows(), epw_columns()
        columns["temp"], columns["humidity"] = rows["T2m"], rows["RH"]
        columns["pressure"], columns["wind"] = rows["SP"], rows["WS10m"]
        columns["infrared"], columns["global"] = rows["IR(h)"], rows["G(h)"]
        columns["direct"], columns["diffuse"] = rows["Gb(n)"], rows["Gd(h)"]
        columns["total"] = columns["opaque"] = 99
        body = pd.DataFrame(columns).to_csv(header=False, index=False, lineterminator="\n")
        place = f"{self.latitude_deg},{self.longitude_deg},1,{self.altitude_m}"
        head = Epw(head=f"unknown,-,unknown,ECMWF/ERA,unknown,{place}").text().split("\n")[:8]
        head[6] = f"COMMENTS 2,Irradiance Time Offset (h):{self.offset_h - 1:.4f}"
        return "\n".join(head) + "\n" + body
