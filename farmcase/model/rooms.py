"""What the rooms of a build hold, and what the cohorts are told about them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from farmcase.climate.containers import RoomSize, fill_share, inner_sizes, rack_places
from farmcase.crop.cohorts import MONTHS, CohortInputs
from farmcase.inputs.case import Case
from farmcase.inputs.growing import Room
from farmcase.inputs.reference import reference_table
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.money.sales import weekly_limits

Floats = NDArray[np.float64]
LENGTHS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], float)


def room_sizes(case: Case) -> dict[str, RoomSize]:
    """Inner sizes and places of every room of a case (or of one build of it)."""
    kinds = reference_table("containers", case.folder)
    sizes = {}
    for name, room in case.rooms.items():
        length, width, height = _inner(case, room, kinds)
        places = rack_places(
            length,
            room.rack_rows,
            room.rack_levels,
            room.rack_depth_m,
            room.end_clearance_m,
            room.place_width_m,
            room.place_depth_m,
        )
        sizes[name] = RoomSize(length, width, height, places)
    return sizes


def _inner(
    case: Case, room: Room, kinds: Mapping[str, Mapping[str, str]]
) -> tuple[float, float, float]:
    if not room.container:
        side = float(np.sqrt(room.area_m2 or 0.0))
        return side, side, float("nan")  # a covered area has no height to go by
    kind = kinds[case.containers[room.container].kind]
    box = tuple(float(kind[f"internal_{side}_m"]) for side in ("length", "width", "height"))
    return inner_sizes((box[0], box[1], box[2]), room.length_share, room.lining_m)


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
    return broadcast(inputs.value(path)[:, None], inputs.size)[:, 0] / 7


def cohort_inputs(inputs: BuildInputs) -> CohortInputs:
    case, size = inputs.case, inputs.size
    crops = inputs.records("crops")
    fruiting = _places(inputs, "fruiting")
    sources = source_of_crops(inputs)
    own = np.array([source == "own" for source in sources])
    runs_spawn = np.array([source != "ready_to_fruit" for source in sources])
    vessels = inputs.column("vessels", "units_per_batch") * inputs.column(
        "vessels", "batches_per_week"
    )
    assert case.starts is not None
    loss = 1 - (1 - inputs.by_crop("spawn_run_loss_share") * runs_spawn) * (1 - _failed(inputs))
    one = np.ones(size)
    return CohortInputs(
        wanted_per_day=_per_day(inputs, "starts.wanted_units_per_week") * one,
        vessel_per_day=_fewest(vessels.sum(1) / 7, own.any()) * one,
        hours_per_day=_per_day(inputs, "starts.hours_available_per_week") * one,
        hours_per_unit=case.starts.planned_hours_per_unit * one,
        store_kg=_fewest(np.array([_store_kg(inputs)]), _store_kg(inputs) > 0) * one,
        days_held=broadcast(inputs.value("store.days_held")[:, None], size)[:, 0] * one,
        demand_kg_per_day=broadcast(_demand(inputs), size) * np.ones((size, 1, 1)),
        spawn_places=_fewest(
            np.array([sum(_places(inputs, "spawn_run").values())]), runs_spawn.any()
        )
        * one,
        fruiting_places=np.tile(list(fruiting.values()), (size, 1)),
        start_share=np.tile(_start_shares(inputs, list(fruiting)), (size, 1, 1, 1)),
        pace=_pace(inputs, list(fruiting)),
        empty_share=np.tile(_empty(inputs, list(fruiting)), (size, 1, 1)),
        cleaning_days=broadcast(inputs.column("plan", "cleaning_days"), size) + 0.0,
        kg_per_unit=np.tile([c.planned_kg_per_unit for c in crops.values()], (size, 1)),
        spawn_days=broadcast(inputs.by_crop("spawn_run_days") * runs_spawn, size) + 0.0,
        first_days=broadcast(inputs.by_crop("first_flush_days"), size) + 0.0,
        interval_days=broadcast(inputs.by_crop("flush_interval_days"), size) + 0.0,
        clear_days=broadcast(inputs.by_crop("clear_days"), size) + 0.0,
        flushes=np.tile(np.array([c.flushes_kept for c in crops.values()], np.int64), (size, 1)),
        loss_share=broadcast(loss, size) + 0.0,
        prepared_here=np.tile(own.astype(float), (size, 1)),
    )


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


def _pace(inputs: BuildInputs, rooms: list[str]) -> Floats:
    plan = inputs.records("plan")
    by_month = np.array([plan[room].pace_share_by_month for room in rooms])
    scale = inputs.column("plan", "pace_scale")
    return broadcast(scale[:, :, None] * by_month, inputs.size) + 0.0


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
