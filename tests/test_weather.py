"""Weather of a case: files of four kinds, monthly normals, and every fault in one sentence."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from pvlib import iotools
from weather_texts import GREENSBORO, KOLKATA, PVLIB_DATA, Epw, Pvgis, tmy3_rows

from farmcase.climate.sun import face_irradiance, sun_position
from farmcase.errors import CaseError
from farmcase.inputs.daylight import (
    DAYS_OF_MONTH,
    cloud_share_by_hour,
    means_by_month,
    sky_longwave_w_per_m2,
    spread_radiation,
    sun_by_day,
)
from farmcase.inputs.normals import Normals, day_profile_c, degree_days, hourly_year
from farmcase.inputs.reference import reference_table
from farmcase.inputs.weather import Weather, read_weather, standard_offset_h
from farmcase.moist_air import relative_humidity_share

PUBLISHED = Path(__file__).parent / "published"
CASES: list[dict[str, Any]] = [
    case
    for path in sorted(PUBLISHED.glob("*.json"))
    for source in [json.loads(path.read_text(encoding="utf-8"))]
    if source.get("subject") == "weather"
    for case in source["cases"]
]
ARRAYS = [f.name for f in fields(Weather) if f.name not in ("name", "kind", "remarks")]
SANDPOINT = (55.317, -160.517, 7.0, "America/Anchorage")
MIAMI = (25.8, -80.27, 2.0, "America/New_York")


def published(kind: str) -> pytest.MarkDecorator:
    """Run a test for every published case of a kind."""
    found = [pytest.param(case, id=case["id"]) for case in CASES if case["kind"] == kind]
    assert found
    return pytest.mark.parametrize("case", found)


def closure_w_per_m2(weather: Weather, site: Any, minutes: float = 30.0) -> float:
    """Root mean square of global less direct x cosine of the zenith less diffuse."""
    latitude, longitude, altitude, zone = site
    zenith, _ = sun_position(latitude, longitude, altitude, standard_offset_h(zone), minutes)
    upright = np.maximum(0, np.cos(np.radians(zenith)))
    left = weather.global_w_per_m2 - weather.direct_w_per_m2 * upright - weather.diffuse_w_per_m2
    return float(np.sqrt(np.mean(left**2)))


def written(folder: Path, name: str, text: str, encoding: str = "utf-8") -> str:
    """The name of a file written into a folder."""
    (folder / name).write_bytes(text.encode(encoding))
    return name


def sentences(folder: Path, name: str, site: Any = GREENSBORO) -> list[str]:
    """The faults of reading a file."""
    with pytest.raises(CaseError) as caught:
        read_weather(folder, name, *site)
    return [fault.sentence() for fault in caught.value.faults]


@pytest.fixture(scope="module")
def greensboro() -> Weather:
    """A TMY3 year of pvlib's wheel."""
    return read_weather(PVLIB_DATA, "723170TYA.CSV", *GREENSBORO)


# Files as they are.


@published("file_facts")
def test_facts_of_weather_files(case: dict[str, Any]) -> None:
    """pvlib 0.16.1, wheel: means, sums and counts of two TMY3 files [computed]."""
    given, printed = case["inputs"], case["printed"]
    site = given["latitude_deg"], given["longitude_deg"], given["altitude_m"], given["time_zone"]
    weather = read_weather(PVLIB_DATA, given["file"], *site)
    temp = weather.air_temp_c
    assert weather.kind == "TMY3" and temp.shape == (8760,)
    found = {
        "mean_c": temp.mean(),
        "global_kwh": weather.global_w_per_m2.sum() / 1000,
        "degree_hours_15": np.maximum(0, 15 - temp).sum(),
        "hours_10_to_30": ((temp >= 10) & (temp <= 30)).sum(),
    }
    for name, value in printed.items():
        assert found[name] == pytest.approx(value, abs=case["tolerance"]), name


@published("labels")
def test_hours_of_tmy3_go_with_the_sun(case: dict[str, Any]) -> None:
    """Right-labelled: the light of a row fell in the hour before its label."""
    given, bounds = case["inputs"], case["printed"]
    site = given["latitude_deg"], given["longitude_deg"], given["altitude_m"], given["time_zone"]
    weather = read_weather(PVLIB_DATA, given["file"], *site)
    assert closure_w_per_m2(weather, site) < bounds["at_mid_hour"]
    assert closure_w_per_m2(weather, site, 60.0) > bounds["at_its_end"]


def test_hours_of_epw_are_those_of_tmy3(tmp_path: Path, greensboro: Weather) -> None:
    """pvlib reads EPW with labels at the start of the hour; the same rows are the same hours."""
    name = written(tmp_path, "greensboro.epw", Epw().text())
    weather = read_weather(tmp_path, name, *GREENSBORO)
    assert weather.kind == "EPW"
    for each in ARRAYS:
        assert_allclose(getattr(weather, each), getattr(greensboro, each), rtol=1e-12, err_msg=each)
    assert closure_w_per_m2(weather, GREENSBORO) < 3
    assert closure_w_per_m2(weather, GREENSBORO, 60.0) > 10


def test_rows_go_by_place_not_by_date(greensboro: Weather) -> None:
    """The months of a typical year come from many years: a sort by date would shuffle them."""
    rows = tmy3_rows()
    years = rows["Date (MM/DD/YYYY)"].str[-4:].astype(int)
    assert years.nunique() > 5 and not years.is_monotonic_increasing
    assert_array_equal(greensboro.air_temp_c, rows["temp_air"])


def test_tmy2_as_pvlib_reads_it() -> None:
    """12839.tm2 of pvlib's wheel: our cut by place gives what pvlib's reader gives."""
    weather = read_weather(PVLIB_DATA, "12839.tm2", *MIAMI)
    rows = cast(Any, iotools.read_tmy2(PVLIB_DATA / "12839.tm2"))[0]
    assert weather.kind == "TMY2"
    assert weather.air_temp_c.mean() == pytest.approx(24.31, abs=0.005)
    assert_allclose(weather.air_temp_c, rows["DryBulb"] / 10, rtol=1e-12)
    assert_allclose(weather.pressure_pa, rows["Pressure"] * 100, rtol=1e-12)
    assert_allclose(weather.wind_m_per_s, rows["Wspd"] / 10, rtol=1e-12)
    for ours, theirs in (("global", "GHI"), ("direct", "DNI"), ("diffuse", "DHI")):
        assert_array_equal(getattr(weather, f"{ours}_w_per_m2"), rows[theirs])
    humidity = relative_humidity_share(
        weather.air_temp_c, weather.humidity_ratio_kg_per_kg, weather.pressure_pa
    )
    assert_allclose(100 * humidity, rows["RHum"], rtol=1e-9)


def test_tmy2_of_a_station_of_two_words(tmp_path: Path) -> None:
    """A name that pvlib's reader stumbles over."""
    text = (PVLIB_DATA / "12839.tm2").read_text().replace("MIAMI     ", "MIAMI BEACH", 1)
    weather = read_weather(tmp_path, written(tmp_path, "beach.tm2", text), *MIAMI)
    assert weather.air_temp_c.mean() == pytest.approx(24.31, abs=0.005)


def test_a_latin_1_file_is_read(tmp_path: Path) -> None:
    """A station's name in Latin-1, on which pvlib's own opening of the file fails."""
    text = Epw(head="Saint-Étienne,-,FRA,TMY3,1,36.10,-79.95,-5.0,273.0").text()
    name = written(tmp_path, "latin.epw", text, "latin-1")
    with pytest.raises(UnicodeDecodeError):
        iotools.read_epw(tmp_path / name)
    assert read_weather(tmp_path, name, *GREENSBORO).air_temp_c.size == 8760


def test_29_february_is_dropped(tmp_path: Path, greensboro: Weather) -> None:
    """A file of 8,784 hours is the same year without its leap day."""
    weather = read_weather(
        tmp_path, written(tmp_path, "leap.epw", Epw(leap_day=True).text()), *GREENSBORO
    )
    assert_array_equal(weather.air_temp_c, greensboro.air_temp_c)


def test_a_kind_is_known_by_what_the_file_holds(tmp_path: Path) -> None:
    """A wrong ending is no matter; a sub-folder reference/ is looked into."""
    (tmp_path / "reference").mkdir()
    name = written(tmp_path / "reference", "weather.txt", Epw().text())
    assert read_weather(tmp_path, name, *GREENSBORO).kind == "EPW"


# PVGIS.


@pytest.mark.parametrize("form", ["csv", "json", "epw"])
def test_pvgis_is_taken_to_local_time(tmp_path: Path, form: str) -> None:
    """UTC, at a zone of five and a half hours: temperature and light stand at their mid-hours."""
    year = Pvgis()
    name = written(tmp_path, f"kolkata.{form}", getattr(year, form)())
    weather = read_weather(tmp_path, name, *KOLKATA)
    mid_hours: Any = np.arange(8760) + 0.5 - 5.5
    assert weather.kind == "PVGIS"
    # A straight line over an hour misses a daily wave of 5 K by at most 0.043 K.
    assert_allclose(weather.air_temp_c, year.temp_c(mid_hours), rtol=0, atol=0.06)
    total, direct, _ = year.light(mid_hours)
    assert np.sqrt(np.mean((weather.global_w_per_m2 - total) ** 2)) < 8
    assert weather.global_w_per_m2.sum() == pytest.approx(total.sum(), rel=1e-3)
    assert weather.direct_w_per_m2.sum() == pytest.approx(direct.sum(), rel=5e-3)
    assert closure_w_per_m2(weather, KOLKATA) < 8
    for minutes in (0.0, 60.0):
        assert closure_w_per_m2(weather, KOLKATA, minutes) > 25
    assert_array_equal(weather.sky_w_per_m2, 350.0)
    assert weather.remarks == ()


def test_pvgis_formats_agree(tmp_path: Path) -> None:
    """One place in the three formats is one year."""
    year = Pvgis(latitude_deg=45.0, longitude_deg=8.0, altitude_m=250.0, solar_noon_utc_h=11.5)
    site = (45.0, 8.0, 250.0, "Europe/Rome")
    csv, *others = (
        read_weather(tmp_path, written(tmp_path, f"x.{form}", getattr(year, form)()), *site)
        for form in ("csv", "json", "epw")
    )
    for other in others:
        for each in ARRAYS:
            assert_allclose(getattr(other, each), getattr(csv, each), rtol=1e-9, atol=1e-9)


# Zones and places.


@pytest.mark.parametrize(
    ("zone", "hours"),
    [
        ("Europe/Dublin", 0),
        ("Europe/Berlin", 1),
        ("Asia/Kolkata", 5.5),
        ("Australia/Sydney", 10),
        ("America/New_York", -5),
        ("America/St_Johns", -3.5),
    ],
)
def test_standard_time(zone: str, hours: float) -> None:
    """Never summer time, whichever hemisphere; Dublin's winter counts as standard (IANA, CIA)."""
    assert standard_offset_h(zone) == hours


def test_a_file_of_the_next_zone_is_rolled(tmp_path: Path, greensboro: Weather) -> None:
    """Rows at UTC-5 for a site on UTC-6: an hour earlier on the clock, and it is said."""
    weather = read_weather(PVLIB_DATA, "723170TYA.CSV", 36.1, -80.5, 273.0, "America/Chicago")
    assert_array_equal(weather.air_temp_c, np.roll(greensboro.air_temp_c, -1))
    assert "The rows are moved by -1 h to the site's standard time." in weather.remarks
    assert closure_w_per_m2(weather, (36.1, -80.5, 273.0, "America/Chicago")) < 6


def test_a_file_from_far_away_keeps_its_noon_and_is_named() -> None:
    """Weather of Greensboro for Sicily: noon stays noon, distance and height are remarked."""
    weather = read_weather(PVLIB_DATA, "723170TYA.CSV", 37.0, 14.0, 900.0, "Europe/Rome")
    light = weather.global_w_per_m2.reshape(365, 24).mean(axis=0)
    assert int(light.argmax()) in (11, 12)
    assert any("far from the site" in remark for remark in weather.remarks)
    assert any("above the sea" in remark for remark in weather.remarks)


def test_remarks_of_a_near_file(greensboro: Weather) -> None:
    """What was estimated is said, and nothing else."""
    assert greensboro.remarks == ("Sky radiation is estimated from dew point and cloud cover.",)


def test_sky_radiation_of_a_file_is_taken(tmp_path: Path) -> None:
    """EPW's own long-wave radiation; hours marked missing are estimated and counted."""

    def change(columns: dict[str, Any]) -> None:
        columns["infrared"] = np.where(np.arange(8760) < 10, 9999, 301)

    name = written(tmp_path, "sky.epw", Epw(change=change).text())
    weather = read_weather(tmp_path, name, *GREENSBORO)
    assert_array_equal(weather.sky_w_per_m2[10:], 301)
    assert (np.abs(weather.sky_w_per_m2[:10] - 300) < 100).all()
    assert "estimated in 10 hours" in weather.remarks[0]


# Read once, never changed.


def test_a_file_is_read_once(tmp_path: Path) -> None:
    """The same file and site give the same object; a changed file is read again."""
    name = written(tmp_path, "normals.csv", normals_text())
    first = read_weather(tmp_path, name, *HARBOUR)
    assert read_weather(tmp_path, name, *HARBOUR) is first
    written(tmp_path, name, normals_text(NORMALS | {"air_temp_c": [x + 1 for x in TEMPS]}))
    assert read_weather(tmp_path, name, *HARBOUR).air_temp_c.mean() == pytest.approx(
        first.air_temp_c.mean() + 1
    )


def test_arrays_cannot_be_written(greensboro: Weather) -> None:
    """They are shared by all who read the file."""
    for each in ARRAYS:
        values = getattr(greensboro, each)
        assert values.shape == (8760,) and np.isfinite(values).all()
        with pytest.raises(ValueError, match="read-only"):
            values[0] = 0


# Faults of files.


def shifted(hours: int) -> Callable[[dict[str, Any]], None]:
    """All weather, but not the dates, some hours later."""

    def change(columns: dict[str, Any]) -> None:
        for name in ("temp", "humidity", "global", "direct", "diffuse"):
            columns[name] = np.roll(columns[name], hours)

    return change


def scaled(name: str, factor: float, shift: float = 0.0) -> Callable[[dict[str, Any]], None]:
    """A column in another unit."""

    def change(columns: dict[str, Any]) -> None:
        columns[name] = columns[name] * factor + shift

    return change


def marked(name: str, rows: slice, mark: Any) -> Callable[[dict[str, Any]], None]:
    """A column with something else in some rows."""

    def change(columns: dict[str, Any]) -> None:
        columns[name] = columns[name].astype(object)
        columns[name].iloc[rows] = mark

    return change


BAD_EPW = {
    "8,759 rows": (Epw(rows=(0, 8759)), ["has 8,759 hours", "8,760", "missing rows"]),
    "half a year": (Epw(rows=(0, 4000)), ["has 4,000 hours"]),
    "29 February but no 1 January": (
        Epw(rows=(24, 9000), leap_day=True),
        ["has 8,760 hours, 24 of them on 29 February", "8,760 hours beside those"],
    ),
    "a gap": (
        Epw(change=marked("temp", slice(100, 103), "")),
        ["line 109", "air temperature", "no number in 3 of 8,760 hours, first in row 101"],
    ),
    "a mark for missing": (
        Epw(change=marked("humidity", slice(7, 8), 999)),
        ["line 16", "relative humidity", "in 1 of 8,760 hours"],
    ),
    "a word": (
        Epw(change=marked("wind", slice(0, 1), "calm")),
        ["line 9", "column wind", "first in row 1"],
    ),
    "humidity as a share": (
        Epw(change=scaled("humidity", 0.01)),
        ["relative humidity", "never above 1", "percent", "multiply by 100"],
    ),
    "pressure in hPa": (Epw(change=scaled("pressure", 0.01)), ["air pressure", "Pa", "hPa (mbar)"]),
    "kelvin": (Epw(change=scaled("temp", 1, 273.15)), ["air temperature", "kelvin", "273.15"]),
    "Fahrenheit": (Epw(change=scaled("temp", 1.8, 32)), ["air temperature", "Fahrenheit"]),
    "light in kilojoules": (Epw(change=scaled("global", 3.6)), ["global radiation", "W/m2"]),
    "the other hemisphere": (
        Epw(change=shifted(182 * 24)),
        ["coldest around", "as south of the equator", "sign of the latitude"],
    ),
    "light five hours early": (
        Epw(change=shifted(-5)),
        ["light 5 h before the sun", "UTC-5", "time zone"],
    ),
    "days out of order": (
        Epw(change=marked("day", slice(24, 48), 3)),
        ["line 45", "3 January at noon of day 2", "2 January must stand"],
    ),
}


@pytest.mark.parametrize("bad", BAD_EPW)
def test_a_fault_of_a_file_is_one_sentence(tmp_path: Path, bad: str) -> None:
    """File, what, given, allowed, remedy; one fault for one mistake."""
    epw, parts = BAD_EPW[bad]
    found = sentences(tmp_path, written(tmp_path, "bad.epw", epw.text()))
    assert len(found) == 1 and found[0].startswith("bad.epw") and found[0].endswith(".")
    for part in parts:
        assert part in found[0]


def test_all_faults_are_listed_at_once(tmp_path: Path) -> None:
    """Count, gap, two units and the time zone in one go."""

    def change(columns: dict[str, Any]) -> None:
        scaled("humidity", 0.01)(columns)
        scaled("pressure", 0.01)(columns)
        marked("temp", slice(5, 6), "")(columns)

    name = written(tmp_path, "bad.epw", Epw(change=change, rows=(0, 8759)).text())
    found = sentences(tmp_path, name, (*GREENSBORO[:3], "Mars/North"))
    assert len(found) == 5
    for part in ("8,759", "air temperature", "multiply by 100", "hPa", "'Mars/North'"):
        assert any(part in sentence for sentence in found)


def test_missing_marks_of_tmy3_and_tmy2_are_gaps(tmp_path: Path) -> None:
    """-9900 and 9999 stand for no reading; they must not become cold or bright."""
    text = (PVLIB_DATA / "723170TYA.CSV").read_text().replace(",993,A,7,", ",-9900,A,7,", 1)
    found = sentences(tmp_path, written(tmp_path, "bad.csv", text))
    assert len(found) == 1 and "line 3: the column air pressure has no number" in found[0]
    lines = (PVLIB_DATA / "12839.tm2").read_text().split("\n")
    lines[2] = lines[2][:67] + "9999" + lines[2][71:]
    found = sentences(tmp_path, written(tmp_path, "bad.tm2", "\n".join(lines)), MIAMI)
    assert len(found) == 1 and "line 3: the column air temperature" in found[0]


def test_faults_of_pvgis(tmp_path: Path) -> None:
    """A row short, an empty cell, and humidity in shares, in PVGIS's CSV."""
    year, rows = Pvgis(), Pvgis().rows()
    name = written(tmp_path, "short.csv", year.csv(rows.iloc[:-1]))
    assert "has 8,759 hours" in sentences(tmp_path, name, KOLKATA)[0]
    rows["T2m"] = rows["T2m"].astype(object)
    rows.loc[11, "T2m"] = ""
    rows["RH"] = 0.6
    name = written(tmp_path, "gap.csv", year.csv(rows))
    gap, share = sentences(tmp_path, name, KOLKATA)
    assert "line 30: the column air temperature has no number in 1 of 8,760 hours" in gap
    assert (tmp_path / name).read_text().split("\n")[29].startswith("20060101:1100,,")
    assert "share of 1" in share


@pytest.mark.parametrize(
    ("name", "text", "parts"),
    [
        ("missing.epw", None, ["is missing", "put it there"]),
        ("../outside.epw", None, ["outside the case folder"]),
        ("", None, ["outside the case folder"]),
        ("poem.txt", "Roses are red,\nviolets are blue\n", ["no known kind", "PVGIS", "EPW"]),
        ("empty.csv", "", ["no known kind"]),
        ("torn.epw", Epw().text()[:40], ["begins like EPW", "download it again"]),
        ("torn.json", Pvgis().json()[:90_000], ["begins like PVGIS JSON"]),
        ("torn.csv", "Latitude (decimal degrees): 45\ntime(UTC),T2m\n", ["has 0 hours"]),
    ],
)
def test_a_file_that_is_none(tmp_path: Path, name: str, text: str | None, parts: list[str]) -> None:
    """Missing, elsewhere, of another kind, or torn."""
    if text is not None:
        written(tmp_path, name, text)
    found = sentences(tmp_path, name)
    assert len(found) == 1
    for part in parts:
        assert part in found[0]


def test_no_folder_no_file() -> None:
    """A case without a folder has no weather file; none is found elsewhere."""
    with pytest.raises(CaseError, match="is missing"):
        read_weather(None, "723170TYA.CSV", *GREENSBORO)


# Monthly normals: the table.

HARBOUR = (53.5, 8.6, 5.0, "Europe/Berlin")
TEMPS = [2.0, 2.5, 5.0, 8.8, 13.0, 16.0, 18.2, 18.0, 15.0, 10.5, 6.0, 3.2]
NORMALS: dict[str, list[Any]] = {
    "month": list(range(1, 13)),
    "air_temp_c": TEMPS,
    "daily_range_k": [4.5, 5.0, 6.5, 8.0, 8.5, 8.3, 8.2, 8.0, 7.2, 6.0, 4.6, 4.2],
    "day_to_day_k": [3.8, 3.6, 3.2, 3.0, 3.1, 2.8, 2.7, 2.6, 2.5, 2.9, 3.3, 3.7],
    "relative_humidity_percent": [88, 86, 82, 76, 74, 75, 76, 77, 80, 84, 88, 90],
    "wind_m_per_s": [5.5, 5.1, 5.0, 4.5, 4.2, 4.1, 4.0, 3.9, 4.2, 4.7, 5.0, 5.3],
    "global_horizontal_kwh_per_m2_day": [0.6, 1.2, 2.4, 3.9, 5.1, 5.2, 5, 4.3, 3, 1.7, 0.8, 0.5],
    "source": ["made up for a test"] * 12,
    "status": ["guess"] * 12,
}


def normals_text(columns: dict[str, list[Any]] = NORMALS, separator: str = ",") -> str:
    """A table of normals."""
    rows = zip(*columns.values(), strict=True)
    lines = [separator.join(columns), *(separator.join(map(str, row)) for row in rows)]
    text = "\n".join(lines) + "\n"
    return text.replace(".", ",") if separator == ";" else text


def normals_of(columns: dict[str, list[Any]] = NORMALS) -> Normals:
    """The same as the record that the year is made from."""
    return Normals(**{f.name: np.array(columns[f.name], dtype=float) for f in fields(Normals)})


@pytest.mark.parametrize("separator", [",", ";"])
def test_normals_are_read(tmp_path: Path, separator: str) -> None:
    """Comma or semicolon, the latter with decimal commas; the remarks name the start number."""
    name = written(tmp_path, "normals.csv", normals_text(separator=separator))
    weather = read_weather(tmp_path, name, *HARBOUR, seed=7)
    assert weather.kind == "monthly normals"
    assert_allclose(means_by_month(weather.air_temp_c), TEMPS, rtol=0, atol=1e-10)
    assert "start number 7" in weather.remarks[0] and "estimated" in weather.remarks[1]
    assert closure_w_per_m2(weather, HARBOUR) < 1


def changed(column: str, place: int, value: Any) -> dict[str, list[Any]]:
    """The normals with one cell changed."""
    values = list(NORMALS[column])
    values[place] = value
    return NORMALS | {column: values}


def without(column: str) -> dict[str, list[Any]]:
    """The normals without a column."""
    return {name: values for name, values in NORMALS.items() if name != column}


HALF_YEAR_ON = {"air_temp_c": TEMPS[6:] + TEMPS[:6]}
LIGHT = "global_horizontal_kwh_per_m2_day"
BAD_NORMALS: dict[str, tuple[dict[str, list[Any]], list[str]]] = {
    "no daily range": (without("daily_range_k"), ["line 1", "'daily_range_k' is missing", "mean"]),
    "no deviation": (without("day_to_day_k"), ["line 1", "'day_to_day_k' is missing", "standard"]),
    "no source": (without("source"), ["'source' is missing"]),
    "unknown column": (NORMALS | {"windy": [1] * 12}, ["'windy'", "is not known", "allowed are"]),
    "eleven months": (
        {name: values[:11] for name, values in NORMALS.items()},
        ["has 11 rows", "12 months"],
    ),
    "a month twice": (changed("month", 3, 3), ["line 5", "is '3'", "4 must stand there"]),
    "an empty cell": (changed("wind_m_per_s", 0, ""), ["line 2", "wind_m_per_s is empty"]),
    "a word": (changed("air_temp_c", 1, "cold"), ["line 3", "'cold'", "a number"]),
    "negative range": (changed("daily_range_k", 2, -4), ["line 4", "is -4", "0.1 to 40"]),
    "no spells": (changed("day_to_day_k", 2, 0), ["line 4", "day_to_day_k is 0", "0.1 to 15"]),
    "negative wind": (changed("wind_m_per_s", 2, -1), ["line 4", "is -1"]),
    "negative light": (changed(LIGHT, 11, -0.5), ["line 13", "is -0.5", "at this latitude"]),
    "light in MJ": (changed(LIGHT, 11, 1.8), ["line 13", "is 1.8", "divide by 3.6"]),
    "humidity above 100": (
        changed("relative_humidity_percent", 4, 101),
        ["line 6", "is 101", "1 to 100"],
    ),
    "humidity as a share": (
        changed("relative_humidity_percent", 4, 0.74),
        ["line 6", "is 0.74", "percent", "multiply by 100"],
    ),
    "kelvin": (changed("air_temp_c", 4, 286.2), ["line 6", "is 286.2", "kelvin"]),
    "Fahrenheit": (changed("air_temp_c", 6, 48.2), ["line 8", "is 48.2", "Fahrenheit"]),
    "empty source": (changed("source", 4, ""), ["line 6", "the source is empty"]),
    "unknown status": (changed("status", 4, "hope"), ["line 6", "'hope'", "measured"]),
    "the other hemisphere": (NORMALS | HALF_YEAR_ON, ["coldest around July", "north"]),
}


@pytest.mark.parametrize("bad", BAD_NORMALS)
def test_a_fault_of_normals_is_one_sentence(tmp_path: Path, bad: str) -> None:
    """Line, what, given, allowed, remedy."""
    columns, parts = BAD_NORMALS[bad]
    name = written(tmp_path, "normals.csv", normals_text(columns))
    found = sentences(tmp_path, name, HARBOUR)
    assert len(found) == 1 and found[0].startswith("normals.csv")
    for part in parts:
        assert part in found[0]


def test_all_faults_of_normals_at_once(tmp_path: Path) -> None:
    """Three cells wrong: three sentences."""
    columns = changed("wind_m_per_s", 0, "x") | {
        "daily_range_k": [-1, *NORMALS["daily_range_k"][1:]],
        "status": ["hope", *NORMALS["status"][1:]],
    }
    found = sentences(tmp_path, written(tmp_path, "normals.csv", normals_text(columns)), HARBOUR)
    assert len(found) == 3 and all("line 2" in sentence for sentence in found)


# Monthly normals: the year.


@published("daily_profile")
def test_daily_profile(case: dict[str, Any]) -> None:
    """ASHRAE Fundamentals ch. 14 Table 6: three hours, and a mean that is not half way."""
    given = case["inputs"]
    day = day_profile_c(given["highest_c"], given["range_k"])
    hours = np.array(given["clock_hours"]) - 1
    assert_allclose(day[hours], case["printed"], rtol=0, atol=case["tolerance"])
    assert day.mean() == pytest.approx(case["mean"], abs=case["tolerance"])


@published("degree_days")
def test_degree_days(case: dict[str, Any]) -> None:
    """vesma.com, Building Services Engineering p. 66, CBS: days by highest and lowest, or mean."""
    given = case["inputs"]
    found = degree_days(given["highest_c"], given["lowest_c"], given["base_c"])
    assert_allclose(found, case["printed"], rtol=0, atol=case["tolerance"])


def made(seed: int = 1, normals: Normals | None = None, site: Any = HARBOUR) -> dict[str, Any]:
    """A year from normals."""
    latitude, longitude, altitude, zone = site
    offset = standard_offset_h(zone)
    keeps = float(reference_table("physics")["normals_noise_persistence"]["likely"])
    return hourly_year(normals or normals_of(), latitude, longitude, offset, altitude, seed, keeps)


def deviations(temp: Any) -> Any:
    """Standard deviation of each month's daily means."""
    days = temp.reshape(365, 24).mean(axis=1)
    starts = np.cumsum(DAYS_OF_MONTH)[:-1]
    return np.array([month.std(ddof=1) for month in np.split(days, starts)])


@pytest.mark.parametrize("seed", [1, 2, 99])
def test_months_keep_their_means(seed: int) -> None:
    """Temperature, light and wind to rounding, humidity to a thousandth of a point, range too."""
    year, normals = made(seed), normals_of()
    temp = year["air_temp_c"]
    assert_allclose(means_by_month(temp), normals.air_temp_c, rtol=0, atol=1e-10)
    range_k = np.ptp(temp.reshape(365, 24), axis=1)
    assert_allclose(means_by_month(range_k), normals.daily_range_k, rtol=0, atol=0.05)
    light = 0.024 * means_by_month(year["global_w_per_m2"])
    assert_allclose(light, normals.global_horizontal_kwh_per_m2_day, rtol=1e-12)
    assert_allclose(means_by_month(year["wind_m_per_s"]), normals.wind_m_per_s, rtol=1e-12)
    share = relative_humidity_share(temp, year["humidity_ratio_kg_per_kg"], year["pressure_pa"])
    wanted = normals.relative_humidity_percent
    assert_allclose(100 * means_by_month(share), wanted, rtol=0, atol=1e-3)
    assert share.max() <= 1 + 1e-12


def test_days_differ_as_stated() -> None:
    """Each month's daily means spread as entered, on the mean of the squares of many years.

    A month of days that keep 0.75 of the last holds some 8 free ones, so one year's deviation is
    known to 25 %; 100 years leave 2.5 % (three times that is allowed), 20 years and 12 months 1.6.
    """
    found = np.array([deviations(made(seed)["air_temp_c"]) for seed in range(100)])
    stated = np.array(NORMALS["day_to_day_k"])
    assert_allclose(np.sqrt((found**2).mean(axis=0)), stated, rtol=0.075)
    twenty = np.sqrt((found[:20] ** 2).mean(axis=0))
    assert (twenty / stated).mean() == pytest.approx(1, abs=0.048)


def test_one_seed_one_year() -> None:
    """The same start number gives the same year to the last bit; another gives another."""
    one, same, other = made(1), made(1), made(2)
    for name, values in one.items():
        assert_array_equal(values, same[name])
    assert np.abs(one["air_temp_c"] - other["air_temp_c"]).max() > 3


def test_the_year_closes_as_a_ring() -> None:
    """31 December runs into 1 January without a jump, since the year repeats; so do midnights."""
    steps = np.abs(np.diff(made()["air_temp_c"], append=made()["air_temp_c"][0]))
    assert steps[-1] < 1.5 and steps.reshape(365, 24)[:, 23].max() < 1.5


def test_warmest_hour_follows_the_sun() -> None:
    """Where the clock runs late (Galicia on Berlin's time) the warmest hour comes late."""
    for site, hour in ((HARBOUR, 14), ((42.9, -8.5, 260.0, "Europe/Madrid"), 16)):
        course = made(site=site)["air_temp_c"].reshape(365, 24).mean(axis=0)
        assert abs(int(course.argmax()) - hour) <= 1


def real_and_made(seeds: range, day_to_day: float = 1.0) -> tuple[Any, Any]:
    """What rooms feel of Greensboro's year, and of years made from its own monthly means."""
    latitude, longitude, altitude, zone = GREENSBORO
    rows, weather = tmy3_rows(), read_weather(PVLIB_DATA, "723170TYA.CSV", *GREENSBORO)
    temp = weather.air_temp_c
    normals = Normals(
        air_temp_c=means_by_month(temp),
        daily_range_k=means_by_month(np.ptp(temp.reshape(365, 24), axis=1)),
        day_to_day_k=deviations(temp) * day_to_day,
        relative_humidity_percent=means_by_month(rows["relative_humidity"].to_numpy(float)),
        wind_m_per_s=means_by_month(weather.wind_m_per_s),
        global_horizontal_kwh_per_m2_day=0.024 * means_by_month(weather.global_w_per_m2),
    )
    zenith, azimuth = sun_position(latitude, longitude, altitude, standard_offset_h(zone))

    def felt(year: Any) -> Any:
        temp, water = year["air_temp_c"], 1000 * year["humidity_ratio_kg_per_kg"]
        total, direct, diffuse = (year[f"{x}_w_per_m2"] for x in ("global", "direct", "diffuse"))
        tilt, turn = [0, 90, 90, 90, 90], [0, 0, 90, 180, 270]
        faces = face_irradiance(zenith, azimuth, total, direct, diffuse, tilt, turn, 0.2)
        return np.array(
            [
                np.maximum(0, 15 - temp).sum(),
                np.maximum(0, temp - 18).sum(),
                np.maximum(0, temp - 24).sum(),
                np.maximum(0, water - 11.6).sum(),
                np.maximum(0, 11.6 - water).sum(),
                year["sky_w_per_m2"].mean(),
                *faces.sum(axis=1),
            ]
        )

    real = felt({name: getattr(weather, name) for name in ARRAYS})
    return real, np.mean([felt(made(s, normals, GREENSBORO)) for s in seeds], axis=0)


def test_a_made_year_is_felt_like_the_real_one() -> None:
    """Greensboro from its own normals, ten start numbers: degree-hours, moisture, sky and faces.

    Tolerances: 3 % for cold and warm hours, 6 % for the hot ones and for moisture to be taken out
    or put in at 18 °C and 90 %, 4 % for radiation.
    """
    real, ours = real_and_made(range(10))
    assert_allclose(ours[:2], real[:2], rtol=0.03)
    assert_allclose(ours[2:5], real[2:5], rtol=0.06)
    assert_allclose(ours[5:], real[5:], rtol=0.04)


def test_a_year_of_average_days_falls_short() -> None:
    """Why there is noise: without it heat is short by 5 %, cooling by 8 to 14 %."""
    real, plain = real_and_made(range(1), day_to_day=0.0)
    short = 1 - plain / real
    assert short[0] > 0.05 and short[1] > 0.08 and short[2] > 0.14 and short[3] > 0.14


# Light and sky.


def test_spread_light_closes_and_stays_in_the_day() -> None:
    """Global = direct x cosine + diffuse in every hour; nil at night; never above the air's."""
    sun = sun_by_day(64.0, 25.0, 2.0)
    outside = means_by_month(sun.outside_kwh_per_m2_day)
    for clearness in (0.05, 0.35, 0.75):
        total, direct, diffuse = spread_radiation(clearness * outside, sun)
        upright = np.maximum(0, sun.cos_zenith.ravel())
        assert_allclose(total, direct * upright + diffuse, rtol=0, atol=1e-9)
        assert min(total.min(), direct.min(), diffuse.min()) >= 0
        assert total[sun.cos_zenith.ravel() < -0.02].max() == 0
        assert (direct <= np.repeat(sun.outside_w_per_m2, 24)).all()
        assert_allclose(0.024 * means_by_month(total), clearness * outside, rtol=1e-12)


def test_a_clearer_month_has_more_direct_light() -> None:
    """Erbs, Klein and Duffie (1982) [memory]: at clearness 0.5 some 40 % of the light is diffuse.

    The formula by hand at 0.5: low sun 0.391, high sun 0.429.
    """
    sun = sun_by_day(40.0, 0.0, 0.0)
    outside = means_by_month(sun.outside_kwh_per_m2_day)
    total, _, diffuse = spread_radiation(0.5 * outside, sun)
    share = means_by_month(diffuse) / means_by_month(total)
    assert share[11] == pytest.approx(0.391, abs=0.02)
    assert share[5] == pytest.approx(0.429, abs=0.02)


def test_clouds_from_light() -> None:
    """FAO paper 56, eq. 35: a quarter of the outside light is all cloud, three quarters none."""
    sun = sun_by_day(40.0, 0.0, 0.0)
    outside = np.repeat(means_by_month(sun.outside_kwh_per_m2_day) / 0.024, np.array(DAYS_OF_MONTH))
    for clearness, cloud in ((0.25, 1.0), (0.5, 0.5), (0.75, 0.0), (0.1, 1.0)):
        found = cloud_share_by_hour(np.repeat(clearness * outside, 24), sun)
        assert_allclose(found, cloud, rtol=0, atol=1e-9)


def test_sky_radiation_by_hand() -> None:
    """Berdahl and Martin (1984) at dew point 10 °C: 0.7743, +0.013 at midnight; clouds close 78 %.

    Hand sum at 20 °C: 418.74 W/m2 of a black body (5.670374e-8 x 293.15^4).
    """
    same = np.ones(8760)
    clear = sky_longwave_w_per_m2(20 * same, 10 * same, 0 * same, 100_000 * same)
    grey = sky_longwave_w_per_m2(20 * same, 10 * same, same, 100_000 * same)
    assert clear.mean() == pytest.approx(0.7743 * 418.74, rel=1e-4)
    assert clear[0] - clear[11] == pytest.approx(2 * 0.013 * np.cos(np.pi / 24) * 418.74, rel=1e-3)
    assert grey.mean() == pytest.approx((0.7743 + 0.2257 * 0.784) * 418.74, rel=1e-3)


# Speed.


def test_normals_need_no_pvlib() -> None:
    """pvlib alone takes longer to import than the year to make: only files ask for it."""
    code = (
        "import sys; from farmcase.inputs import weather, normals; "
        "from farmcase.climate import sun; "
        "assert not {'pvlib', 'scipy'} & set(sys.modules), 'imported'"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
