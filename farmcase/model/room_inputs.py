"""What the room year is told about a build: weather, sun, walls, plant, panels, tariff bands."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.climate.envelope import (
    FACE_TILTS_DEG,
    FACES,
    face_bearings_deg,
    sky_deficit_w_per_m2,
)
from farmcase.climate.fresh_air import cooling_carnot_share, heating_carnot_share
from farmcase.climate.sun import face_irradiance, solar_kwh_per_kwp, sun_position
from farmcase.energy.fields_kernel import ROOM, SITE
from farmcase.energy.room_year import month_calendar
from farmcase.energy.tally_kernel import COLD_STORE, FRUITING, OTHER, SPAWN_RUN, Scenario, Site
from farmcase.energy.tariff import Band, band_index, clock_of_year
from farmcase.inputs.building import Climate
from farmcase.inputs.case import Case
from farmcase.inputs.site_weather import weather_of_site
from farmcase.inputs.weather import Weather, standard_offset_h
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.shell import Walls, enclosed_rooms, physics, room_sizes, walls
from farmcase.model.utilities import machine_kw_by_month
from farmcase.moist_air import DRY_AIR_J_PER_KG_K, humidity_ratio_at, wet_bulb_c

Floats = NDArray[np.float64]
ELECTRICITY = "electricity"
_KIND = {"fruiting": FRUITING, "spawn_run": SPAWN_RUN, "cold_store": COLD_STORE}
_HEATING = ("none", "heater", "heat_pump")
_HUMIDIFIER = {"none": 0, "fog": 1, "ultrasonic": 1, "pad": 2, "steam": 3}
_ROOM_AIR_K = 288.15  # the mass of air in a room is that of 15 °C


def weather_of(case: Case) -> Weather:
    """The weather of a case, read once.

    Raises
    ------
    CaseError listing every fault of the file
    """
    assert case.site is not None
    return weather_of_site(case.folder, case.site)


class Sky(NamedTuple):
    """Air, sun and sky of a place by the hour, and where the sun stands."""

    outside: Floats  # (8760, see energy/fields_kernel.OUTSIDE)
    zenith_deg: Floats
    azimuth_deg: Floats
    weather: Weather


@lru_cache(maxsize=16)
def sky_of(case: Case) -> Sky:
    """What all builds of a case stand under."""
    weather, site = weather_of(case), case.site
    assert site is not None
    pressure = weather.pressure_pa
    wet_c = wet_bulb_c(weather.air_temp_c, weather.humidity_ratio_kg_per_kg, pressure)
    pad = humidity_ratio_at(wet_c, 1.0, pressure) - weather.humidity_ratio_kg_per_kg
    deficit = sky_deficit_w_per_m2(weather.air_temp_c, weather.sky_w_per_m2)
    columns = (weather.air_temp_c, weather.humidity_ratio_kg_per_kg, pressure, deficit, pad)
    zenith, azimuth = sun_position(
        site.latitude_deg, site.longitude_deg, site.altitude_m, standard_offset_h(site.time_zone)
    )
    return Sky(np.ascontiguousarray(np.stack(columns, axis=1)), zenith, azimuth, weather)


def _irradiance(sky: Sky, tilt_deg: Floats, bearing_deg: Floats, albedo: float) -> Floats:
    weather = sky.weather
    return face_irradiance(
        sky.zenith_deg,
        sky.azimuth_deg,
        weather.global_w_per_m2,
        weather.direct_w_per_m2,
        weather.diffuse_w_per_m2,
        tilt_deg,
        bearing_deg,
        albedo,
    )


@lru_cache(maxsize=64)
def _sun_on_rooms(case: Case) -> Floats:
    """Sun on the six faces of each enclosed room, (R, 8760, 6); the floor has none."""
    assert case.site is not None
    sky, albedo = sky_of(case), case.site.ground_albedo
    names = enclosed_rooms(case)
    found = np.zeros((len(names), 8760, 6))
    by_box = {}
    for name, box in case.containers.items():
        bearings = np.concatenate([face_bearings_deg(box.door_bearing_deg), [0.0, 0.0]])
        faces = _irradiance(sky, np.array(FACE_TILTS_DEG), bearings, albedo).T.copy()
        faces[:, 5] = 0.0
        by_box[name] = faces
    for i, name in enumerate(names):
        found[i] = by_box[case.rooms[name].container]
    return found


@lru_cache(maxsize=64)
def site_of(case: Case, first_month: int, steps_per_hour: int) -> Site:
    """What all scenarios of a build share.

    Parameters
    ----------
    case : as the build sees it
    first_month : calendar month of the first starts, 0 for January
    """
    names, table = enclosed_rooms(case), physics(case)
    assert case.site is not None
    months, calendar, begins, first = month_calendar(first_month)
    sizes = room_sizes(case)
    constants = dict(table) | {"co2_outside_ppm": case.site.co2_outside_ppm}
    return Site(
        outside=sky_of(case).outside,
        sun_w_per_m2=_sun_on_rooms(case),
        constants=np.array([constants[name] for name in SITE]),
        kinds=np.array([_KIND.get(case.rooms[n].kind, OTHER) for n in names], np.int64),
        spawn_share=_shares(
            {n: sizes[n].places for n in names if _is(case, n, "spawn_run")}, names
        ),
        store_share=_shares(
            {n: sizes[n].places for n in names if _is(case, n, "cold_store")}, names
        ),
        heat_is_electric=np.array(
            [float(case.climate[n].heat_carrier == ELECTRICITY) for n in names]
        ),
        open_share=1.0 - np.array([case.climate[n].closed_by_month for n in names]),
        band=_bands(case),
        solar_kwh_per_kw=_panels(case),
        month_of_day=months.astype(np.int64),
        calendar=calendar.astype(np.int64),
        month_start_h=begins,
        first_hour=first,
        steps=steps_per_hour,
    )


def _is(case: Case, name: str, kind: str) -> bool:
    return case.rooms[name].kind == kind


def _shares(places: dict[str, int], names: list[str]) -> Floats:
    total = sum(places.values())
    return np.array([places.get(name, 0) / total if total else 0.0 for name in names])


def _bands(case: Case) -> NDArray[np.int64]:
    assert case.site is not None
    clock = clock_of_year(case.site.time_zone, int(case.heading.start_month[:4]))
    bands: list[Band] = [(b.from_hour, b.to_hour, b.days, ()) for b in case.bands.values()]
    return band_index(clock, bands)


def _panels(case: Case) -> Floats:
    assert case.site is not None
    sky, rows = sky_of(case), []
    for panel in case.solar.values():
        tilt, bearing = np.array([panel.tilt_deg]), np.array([panel.bearing_deg])
        sun = _irradiance(sky, tilt, bearing, case.site.ground_albedo)[0]
        rows.append(solar_kwh_per_kwp(sun, 1.0))
    return np.array(rows).reshape(len(rows), 8760)


def scenarios(inputs: BuildInputs) -> list[Scenario]:
    """Rooms, walls, machines and panels, scenario by scenario."""
    shape = walls(inputs)
    rooms = np.ascontiguousarray(_rooms(inputs, shape))
    contacts = np.ascontiguousarray(broadcast(shape.contact_w_per_k, inputs.size))
    base = np.ascontiguousarray(broadcast(machine_kw_by_month(inputs, ELECTRICITY), inputs.size))
    solar = inputs.column("solar", "peak_kw") * inputs.column("solar", "performance_share")
    solar = np.ascontiguousarray(broadcast(solar, inputs.size))
    return [Scenario(rooms[i], contacts[i], base[i], solar[i]) for i in range(inputs.size)]


_OF_CLIMATE = tuple(n for n in ROOM if n in Climate.specs())


def _sun_and_sky(inputs: BuildInputs, names: list[str], shape: Walls) -> tuple[Floats, Floats]:
    """Heat taken in for each W/m2 of sun on a face, and given off to the sky by the roof [m2]."""
    case, table = inputs.case, physics(inputs.case)
    boxes = list(inputs.records("containers"))
    mine = [boxes.index(case.rooms[name].container) for name in names]
    paint = np.array([table[f"absorptance_{case.containers[boxes[i]].paint}"] for i in mine])
    roof = inputs.column("containers", "roof_sun_share")[:, mine]
    wall = inputs.column("containers", "walls_sun_share")[:, mine]
    wall, roof = np.broadcast_arrays(wall, roof)
    reaches = np.stack([wall, wall, wall, wall, roof, np.zeros_like(roof)], axis=-1)
    taken = shape.outside_m2 * shape.u_w_per_m2_k / table["outer_surface_w_per_m2_k"]
    sky = taken[..., 4] * table["roof_emissivity"] * roof
    return taken * paint[:, None] * reaches, sky


def _rooms(inputs: BuildInputs, shape: Walls) -> Floats:
    """The numbers of every room as the kernel has them, (S, R, see ROOM)."""
    case, names = inputs.case, enclosed_rooms(inputs.case)
    table, sizes = physics(case), room_sizes(case)
    volume = np.array([[sizes[n].volume_m3 for n in names]])
    pressure = float(sky_of(case).outside[:, 2].mean())
    order = [list(inputs.records("climate")).index(name) for name in names]
    records = [case.climate[name] for name in names]
    climate = {n: inputs.column("climate", n)[:, order] for n in _OF_CLIMATE}
    sun, sky = _sun_and_sky(inputs, names, shape)
    known = {
        "air_kg": volume * pressure / (DRY_AIR_J_PER_KG_K * _ROOM_AIR_K),
        "volume_m3": volume,
        "loss_w_per_k": (shape.outside_m2 * shape.u_w_per_m2_k).sum(-1),
        "mass_j_per_k": shape.lining_j_per_k[None],
        "surface_w_per_k": shape.area_m2.sum(-1)[None] * table["inner_convection_w_per_m2_k"],
        "door_m3_per_h": inputs.column("climate", "door_openings_per_day")[:, order]
        * table["door_volumes_per_opening"]
        * volume
        / 24,
        "fan_w_per_m3_per_s": (
            inputs.column("climate", "fan_pressure_pa")
            / inputs.column("climate", "fan_efficiency_share")
        )[:, order],
        "lights_from_hour": np.array([[r.lights_from_hour for r in records]]),
        "outside_air_cools": np.array([[float(r.outside_air_cools) for r in records]]),
        "cool_kw": climate["cool_kw"] * np.array([r.cooling != "none" for r in records]),
        "heating": np.array([[float(_HEATING.index(r.heating)) for r in records]]),
        "heat_carnot_share": heating_carnot_share(
            inputs.column("climate", "rated_cop")[:, order],
            table["heat_pump_rated_inside_c"],
            table["heat_pump_rated_outside_c"],
            table["heat_pump_condenser_approach_k"],
            table["heat_pump_evaporator_approach_k"],
            table["heat_pump_least_lift_k"],
        ),
        "cool_carnot_share": cooling_carnot_share(
            inputs.column("climate", "rated_eer")[:, order],
            table["cooling_rated_inside_c"],
            table["cooling_rated_outside_c"],
            table["cooling_evaporator_approach_k"],
            table["cooling_condenser_approach_k"],
            table["heat_pump_least_lift_k"],
        ),
        "humidifier": np.array([[float(_HUMIDIFIER[r.humidifier]) for r in records]]),
        "sky_m2": sky,
    }
    known |= {f"sun_{face}_m2": sun[..., i] for i, face in enumerate(FACES)}
    columns = [known[n] if n in known else climate[n] for n in ROOM]
    return np.stack([broadcast(column, inputs.size) for column in columns], axis=2)
