"""What the rooms of a build hold, and what its cohorts are told."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmcase.climate.containers import fill_share
from farmcase.crop.cohort_kernel import FARM, MONTHS, Plan
from farmcase.crop.fields_kernel import CROP
from farmcase.energy.air_kernel import DRY_AIR
from farmcase.inputs.case import Case
from farmcase.inputs.growing import Crop
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.shell import physics, room_sizes
from farmcase.money.sales import weekly_limits

Floats = NDArray[np.float64]
LENGTHS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], float)


def source_of_crops(inputs: BuildInputs) -> list[str]:
    recipes = {row.recipe: row.substrate_source for row in inputs.records("substrate").values()}
    return [recipes.get(crop.recipe, "own") for crop in inputs.records("crops").values()]


def _places(inputs: BuildInputs, kind: str) -> dict[str, float]:
    sizes = room_sizes(inputs.case)
    return {
        name: float(sizes[name].places)
        for name, room in inputs.records("rooms").items()
        if room.kind == kind
    }


def _per_day(inputs: BuildInputs, path: str) -> Floats:
    return inputs.value(path) / 7


def plans(inputs: BuildInputs, vessel_per_week: Floats) -> list[Plan]:
    """What the cohorts are told, scenario by scenario.

    Parameters
    ----------
    inputs : the build
    vessel_per_week : (S,) units that the vessels can treat; infinite without one that is needed
    """
    size, crops = inputs.size, inputs.records("crops")
    fruiting = _places(inputs, "fruiting")
    runs_spawn = np.array([source != "ready_to_fruit" for source in source_of_crops(inputs)])
    assert inputs.case.starts is not None
    spawn = np.array([sum(_places(inputs, "spawn_run").values())])
    farm = {
        "wanted_per_day": _per_day(inputs, "starts.wanted_units_per_week"),
        "vessel_per_day": vessel_per_week / 7,
        "hours_per_day": _per_day(inputs, "starts.hours_available_per_week"),
        "hours_per_unit": np.array([inputs.case.starts.planned_hours_per_unit]),
        "store_kg": _fewest(np.array([_store_kg(inputs)]), _store_kg(inputs) > 0),
        "days_held": inputs.value("store.days_held"),
        "spawn_places": _fewest(spawn, runs_spawn.any()),
    }
    of_farm = np.stack([broadcast(farm[name], size) for name in FARM], axis=1)
    of_crops = _crop_numbers(inputs, runs_spawn)
    cleaning = broadcast(inputs.column("plan", "cleaning_days"), size)
    pace = broadcast(inputs.column("plan", "pace_scale"), size)
    demand = broadcast(_demand(inputs), size)
    usable = 1.0 - _empty(inputs, list(fruiting))
    climate = inputs.records("climate")
    is_open = 1.0 - np.array([climate[room].closed_by_month for room in fruiting])
    shares, places = _start_shares(inputs, list(fruiting)), np.array(list(fruiting.values()))
    flush_kg = _flush_kg(list(crops.values()))
    return [
        Plan(
            np.ascontiguousarray(of_farm[i]),
            np.ascontiguousarray(of_crops[i]),
            places,
            np.ascontiguousarray(cleaning[i]),
            np.ascontiguousarray(pace[i]),
            shares,
            usable,
            is_open,
            np.ascontiguousarray(demand[i]),
            flush_kg,
        )
        for i in range(size)
    ]


def _flush_kg(crops: list[Crop]) -> Floats:
    """Planned kilograms of each flush of a unit, (C, K)."""
    most = max(len(crop.flush_shares) for crop in crops)
    found = np.zeros((len(crops), most))
    for i, crop in enumerate(crops):
        kept = np.array(crop.flush_shares[: crop.flushes_kept])
        found[i, : kept.size] = crop.planned_kg_per_unit * kept / kept.sum()
    return found


def _crop_numbers(inputs: BuildInputs, runs_spawn: NDArray[np.bool_]) -> Floats:
    """The numbers of every crop as the kernel has them, (S, C, see CROP)."""
    size, table = inputs.size, physics(inputs.case)
    crops = list(inputs.records("crops").values())
    own = np.array([source == "own" for source in source_of_crops(inputs)])
    wet, moist = inputs.by_crop("unit_wet_kg"), inputs.by_crop("moisture_share")
    dry_heat = table["substrate_dry_specific_heat_kj_per_kg_k"]
    heat = (1 - moist) * dry_heat + moist * table["water_specific_heat_kj_per_kg_k"]
    surface = table["mass_transfer_w_per_m2_k"] * table["mass_surface_m2_per_kg"]
    per_area = table["inner_convection_w_per_m2_k"] / DRY_AIR
    known = {
        "spawn_run_days": inputs.by_crop("spawn_run_days") * runs_spawn,
        "flushes_kept": np.array([[crop.flushes_kept for crop in crops]], float),
        "loss_share": 1
        - (1 - inputs.by_crop("spawn_run_loss_share") * runs_spawn) * (1 - _failed(inputs)),
        "prepared_here": own[None].astype(float),
        "planned_kg_per_unit": np.array([[crop.planned_kg_per_unit for crop in crops]]),
        "unit_j_per_k": wet * heat * 1000,
        "unit_surface_w_per_k": wet * surface,
        "unit_evaporation_kg_per_s": inputs.by_crop("wet_area_m2_per_unit") * per_area,
        "co2_g_per_h_spawn_run": wet * inputs.by_crop("co2_g_per_kg_h_spawn_run"),
        "co2_g_per_h_fruiting": wet * inputs.by_crop("co2_g_per_kg_h_fruiting"),
    }
    columns = [known[n] if n in known else inputs.by_crop(n) for n in CROP]
    return np.stack([broadcast(column, size) for column in columns], axis=2)


def _fewest(limit: Floats, applies: bool | np.bool_) -> Floats:
    """A limit, or none where it does not apply."""
    return limit if applies else np.full(1, np.inf)


def _store_kg(inputs: BuildInputs) -> float:
    places = _places(inputs, "cold_store")
    rooms = inputs.records("rooms")
    return sum(count * rooms[name].kg_per_place for name, count in places.items())


def _failed(inputs: BuildInputs) -> Floats:
    """Share of bought-in units that fail on arrival, by crop."""
    failed = inputs.column("substrate", "failed_share")
    rows = list(inputs.records("substrate").values())
    crops = list(inputs.records("crops").values())
    columns = []
    for crop in crops:
        mine = [
            failed[:, i]
            for i, row in enumerate(rows)
            if row.recipe == crop.recipe and row.role == "block"
        ]
        columns.append(mine[0] if mine else np.zeros(failed.shape[0]))
    return np.stack(columns, axis=1)


def production_calendar(inputs: BuildInputs) -> NDArray[np.int64]:
    return (int(inputs.calendar[inputs.start]) + np.arange(MONTHS)) % 12


def season_shares(inputs: BuildInputs, calendar: NDArray[np.int64]) -> Floats:
    """Share of each outlet's limit in each month, (O, T)."""
    seasons = inputs.records("seasons")
    rows = [
        np.array(seasons[name].shares)[calendar] if name else np.ones(calendar.size)
        for name in inputs.texts("sales", "season")
    ]
    return np.array(rows).reshape(len(rows), calendar.size)


def _demand(inputs: BuildInputs) -> Floats:
    """Kilograms a day that outlets take of each crop by month of production."""
    calendar = production_calendar(inputs)
    limits = weekly_limits(
        inputs.column("sales", "most_kg_per_week"),
        season_shares(inputs, calendar),
        inputs.column("sales", "build_up_months"),
        np.ones(MONTHS),
    )
    crops = inputs.texts("sales", "crop")
    first = np.array([grade == "first" for grade in inputs.texts("sales", "grade")])
    member = np.array([[c == name for c in crops] for name in inputs.records("crops")])
    return (limits[:, None] * (member & first)[None, :, :, None]).sum(2)


def _start_shares(inputs: BuildInputs, rooms: list[str]) -> Floats:
    plan, crops = inputs.records("plan"), list(inputs.records("crops"))
    none = (0.0,) * 12
    return np.array(
        [[plan[room].start_share_by_month.get(crop, none) for crop in crops] for room in rooms]
    ).reshape(len(rooms), len(crops), 12)


def _empty(inputs: BuildInputs, rooms: list[str]) -> Floats:
    plan = inputs.records("plan")
    return np.array([plan[room].empty_days_by_month for room in rooms]) / LENGTHS


def filled_rooms(case: Case) -> dict[str, float]:
    """Share of the volume of each fruiting room that substrate takes when all places are used.

    Only where the crops of the room say how dense their units are; the fullest counts.
    """
    sizes = room_sizes(case)
    filled = {}
    for name, plan in case.plan.items():
        if name not in sizes:
            continue
        shares = [
            fill_share(
                sizes[name].places,
                case.crops[crop].unit_wet_kg.likely,
                case.crops[crop].bulk_density_kg_per_m3 or float("inf"),
                sizes[name].volume_m3,
            )
            for crop in plan.start_share_by_month
            if case.crops[crop].bulk_density_kg_per_m3
        ]
        if shares:
            filled[name] = max(shares)
    return filled
