"""The sun in the sky and on faces, against a printed example and pvlib (SPA, transposition)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from pvlib import irradiance, solarposition

from farmcase.climate.sun import face_irradiance, solar_kwh_per_kwp, sun_at, sun_position
from farmcase.inputs.daylight import SOLAR_CONSTANT_W_PER_M2, sun_by_day

PUBLISHED = Path(__file__).parent / "published"
SPA: dict[str, Any] = json.loads((PUBLISHED / "nrel_spa.json").read_text(encoding="utf-8"))
PLACES = [
    (53.5, 8.6, 5.0, 1.0),
    (36.1, -79.95, 273.0, -5.0),
    (-35.0, 145.0, 100.0, 10.0),
    (22.5, 88.4, 9.0, 5.5),
    (66.0, 25.0, 200.0, 2.0),
    (-66.0, -60.0, 0.0, -4.0),
    (0.0, 30.0, 1200.0, 3.0),
]


def spa(place: tuple[float, float, float, float], year: int = 2025) -> pd.DataFrame:
    """The sun at the middle of each hour by pvlib's SPA."""
    latitude, longitude, altitude, offset = place
    moments = pd.date_range(f"{year}-01-01 00:30", f"{year + 1}-01-01", freq="h", tz="UTC")
    moments = moments[~((moments.month == 2) & (moments.day == 29))]
    found: Any = solarposition.get_solarposition(
        moments - pd.Timedelta(hours=offset), latitude, longitude, altitude, method="nrel_numpy"
    )
    return found


def apart_deg(zenith: Any, azimuth: Any, other_zenith: Any, other_azimuth: Any) -> np.ndarray:
    """Angle between two directions, by their chord (exact where it is small)."""
    z, a, y, b = (np.radians(np.asarray(x)) for x in (zenith, azimuth, other_zenith, other_azimuth))
    one = np.array([np.sin(z) * np.cos(a), np.sin(z) * np.sin(a), np.cos(z)])
    two = np.array([np.sin(y) * np.cos(b), np.sin(y) * np.sin(b), np.cos(y)])
    return np.degrees(2 * np.arcsin(np.sqrt(((one - two) ** 2).sum(axis=0)) / 2))


# Where it stands.


@pytest.mark.parametrize("case", SPA["cases"], ids=lambda case: case["id"])
def test_sun_of_the_spa_example(case: dict[str, Any]) -> None:
    """NREL/TP-560-34302, worked example [memory]: pvlib to the print, ours to 0.02 degrees."""
    given, printed = case["inputs"], case["printed"]
    moment = pd.DatetimeIndex([given["moment_utc"]], tz="UTC")
    place = given["latitude_deg"], given["longitude_deg"]
    found: Any = solarposition.get_solarposition(
        moment,
        *place,
        altitude=given["altitude_m"],
        pressure=given["pressure_pa"],
        temperature=given["air_temp_c"],
        delta_t=given["delta_t_s"],
    )
    assert found["apparent_zenith"].iloc[0] == pytest.approx(
        printed["zenith_deg"], abs=case["tolerance"]
    )
    assert found["azimuth"].iloc[0] == pytest.approx(printed["azimuth_deg"], abs=case["tolerance"])
    days = (pd.Timestamp(given["moment_utc"]) - pd.Timestamp("2000-01-01 12:00")) / pd.Timedelta(
        days=1
    )
    zenith, azimuth = sun_at([days], *place, given["altitude_m"])
    assert_allclose(zenith, printed["zenith_deg"], rtol=0, atol=case["own_tolerance"])
    assert_allclose(azimuth, printed["azimuth_deg"], rtol=0, atol=case["own_tolerance"])
    one, none = np.ones(1), np.zeros(1)
    on_face = face_irradiance(
        zenith, azimuth, none, one, none, given["tilt_deg"], given["face_azimuth_deg"], 0.0
    )
    incidence = np.degrees(np.arccos(on_face[0]))
    assert_allclose(incidence, printed["incidence_deg"], rtol=0, atol=case["own_tolerance"])


@pytest.mark.parametrize("place", PLACES, ids=str)
def test_sun_of_the_year_against_spa(place: tuple[float, float, float, float]) -> None:
    """Every hour of 2025, day and night: within 0.05 degrees of pvlib's SPA."""
    zenith, azimuth = sun_position(*place)
    found = spa(place)
    assert zenith.shape == azimuth.shape == (8760,)
    assert apart_deg(zenith, azimuth, found["apparent_zenith"], found["azimuth"]).max() < 0.05


def test_sun_of_other_years_differs_little() -> None:
    """At most 0.3 degrees while the sun is up, over a whole leap cycle."""
    zenith, azimuth = sun_position(*PLACES[0])
    for year in (2026, 2027, 2028, 2029):
        found = spa(PLACES[0], year)
        apart = apart_deg(zenith, azimuth, found["apparent_zenith"], found["azimuth"])
        assert apart[zenith < 90].max() < 0.3


def test_minutes_move_the_sun() -> None:
    """The sun at the end of an hour is the sun at the start of the next."""
    end, start = sun_position(*PLACES[1], minutes=60.0), sun_position(*PLACES[1], minutes=0.0)
    assert_allclose(end[0][:-1], start[0][1:], rtol=0, atol=1e-9)
    assert_allclose(end[1][:-1], start[1][1:], rtol=0, atol=1e-9)


@pytest.mark.parametrize("place", PLACES, ids=str)
def test_sun_by_day_is_the_same_sun(place: tuple[float, float, float, float]) -> None:
    """The one that spreads monthly light holds a declination for a day: within 0.4 degrees."""
    latitude, longitude, _, offset = place
    sun, found = sun_by_day(latitude, longitude, offset), spa(place)
    zenith = np.degrees(np.arccos(sun.cos_zenith.ravel()))
    is_up = found["zenith"].to_numpy() < 90
    assert np.abs(zenith - found["zenith"].to_numpy())[is_up].max() < 0.4
    outside: Any = irradiance.get_extra_radiation(
        np.arange(1, 366), solar_constant=SOLAR_CONSTANT_W_PER_M2, epoch_year=2025
    )
    assert_allclose(sun.outside_w_per_m2, outside, rtol=2e-3)
    flat = outside * np.maximum(0, sun.cos_zenith.T).sum(axis=0) / 1000
    # Hours summed at their middles are off by what sunrise and sunset cut from theirs.
    assert_allclose(sun.outside_kwh_per_m2_day, flat, rtol=0.01, atol=0.03)


# What falls on a face.


def test_isotropic_wall_under_an_even_sky() -> None:
    """pvlib 0.16.1, isotropic: 200 W/m2 all diffuse, albedo 0.2, upright: 120."""
    one = np.ones(1)
    walls = face_irradiance(60 * one, 180 * one, 200 * one, 0 * one, 200 * one, [90], [0], 0.2)
    assert_allclose(walls, [[120.0]], rtol=0, atol=1e-9)


def test_isotropic_south_wall_in_the_sun() -> None:
    """pvlib 0.16.1, isotropic: zenith 60, direct 600, global 500, diffuse 200, south: 669.615."""
    one = np.ones(1)
    wall = face_irradiance(
        60 * one, 180 * one, 500 * one, 600 * one, 200 * one, [90, 0], [180, 0], 0.2
    )
    assert_allclose(wall, [[669.615], [500.0]], rtol=0, atol=1e-3)


def test_faces_against_pvlib() -> None:
    """Twelve faces of all slopes in a thousand hours: as pvlib's isotropic model."""
    dice = np.random.default_rng(4)
    zenith, azimuth = dice.uniform(0, 95, 1000), dice.uniform(0, 360, 1000)
    total, direct, diffuse = dice.uniform(0, 900, (3, 1000))
    tilt, turn = dice.uniform(0, 180, 12), dice.uniform(0, 360, 12)
    ours = face_irradiance(zenith, azimuth, total, direct, diffuse, tilt, turn, 0.25)
    assert ours.shape == (12, 1000)
    for face, (slope, way) in enumerate(zip(tilt, turn, strict=True)):
        theirs: Any = irradiance.get_total_irradiance(
            slope, way, zenith, azimuth, direct, total, diffuse, albedo=0.25
        )
        assert_allclose(ours[face], theirs["poa_global"], rtol=0, atol=1e-9)


def test_four_walls_go_with_the_sun() -> None:
    """East leads in the morning, west in the afternoon; south of the equator the north wall."""
    for place, sunny in ((PLACES[1], 2), (PLACES[2], 0)):
        zenith, azimuth = sun_position(*place)
        direct = np.where(zenith < 88, 500.0, 0.0)
        none = np.zeros(8760)
        walls = face_irradiance(zenith, azimuth, none, direct, none, [90] * 4, [0, 90, 180, 270], 0)
        by_hour = walls.reshape(4, 365, 24).mean(axis=1)
        assert by_hour[1, 8] > by_hour[3, 8] and by_hour[1, 16] < by_hour[3, 16]
        assert int(by_hour.sum(axis=1)[[0, 2]].argmax()) * 2 == sunny


def test_a_panel_yields_its_share() -> None:
    """1,000 W/m2 is what its kWp is stated at: 0.8 kWh in an hour at a share of 0.8."""
    assert_allclose(solar_kwh_per_kwp(np.array([0.0, 500.0, 1000.0]), 0.8), [0, 0.4, 0.8])
