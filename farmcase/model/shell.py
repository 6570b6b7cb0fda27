"""What lies between the rooms of a build and the weather: sizes, layers, faces and neighbours."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.climate.containers import RoomSize, inner_sizes, rack_places
from farmcase.climate.envelope import (
    FACES,
    Box,
    PlacedRoom,
    Surroundings,
    Touch,
    faces_of_room,
    surroundings,
    u_value_w_per_m2_k,
)
from farmcase.inputs.building import Room
from farmcase.inputs.case import Case
from farmcase.inputs.reference import inner_sizes_m, reference_table
from farmcase.model.gather import BuildInputs

Floats = NDArray[np.float64]
_LAYER_FACE = {"roof": "roof", "floor": "floor"}  # the rest are walls
_RSI = {"roof": "rsi_up", "floor": "rsi_down"}


@lru_cache(maxsize=64)
def physics(case: Case) -> Mapping[str, float]:
    """Likely values of the table of physics, by id."""
    rows = reference_table("physics", case.folder)
    return {name: float(row["likely"]) for name, row in rows.items()}


def room_sizes(case: Case) -> dict[str, RoomSize]:
    """Inner sizes and places of every room of a case (or of one build of it)."""
    sizes = {}
    for name, room in case.rooms.items():
        length, width, height = _inner(case, room)
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


def _box(case: Case, container: str) -> tuple[float, float, float]:
    kind = reference_table("containers", case.folder)[case.containers[container].kind]
    sizes = inner_sizes_m(kind)
    assert sizes is not None  # checked when the case was read
    return sizes


def _inner(case: Case, room: Room) -> tuple[float, float, float]:
    if not room.container:
        side = float(np.sqrt(room.area_m2 or 0.0))
        return side, side, float("nan")  # a covered area has no height to go by
    box = _box(case, room.container)
    return inner_sizes(box, room.length_share, room.lining_m, room.floor_lining_m)


def enclosed_rooms(case: Case) -> list[str]:
    """The rooms that stand in a box, in the order of the case; they are followed by the hour."""
    return [name for name, room in case.rooms.items() if room.container]


def neighbours(case: Case) -> Surroundings:
    """What each face of each enclosed room borders on."""
    sizes = room_sizes(case)
    boxes = {}
    for container in case.containers:
        inside = tuple(
            PlacedRoom(
                name,
                case.rooms[name].length_share,
                sizes[name].length_m,
                sizes[name].width_m,
                sizes[name].height_m,
            )
            for name in enclosed_rooms(case)
            if case.rooms[name].container == container
        )
        boxes[container] = Box(*_box(case, container), inside)
    touches, pairs = [], set()
    for container, box in case.containers.items():
        for face, other in box.touches.items():
            if other in boxes and frozenset((container, other)) not in pairs:
                pairs.add(frozenset((container, other)))
                touches.append(Touch(container, face, other))
    return surroundings(boxes, touches)


class Walls(NamedTuple):
    """Faces of the enclosed rooms of a build; S scenarios, R rooms, six faces in their order."""

    area_m2: Floats  # (R, 6)
    outside_m2: Floats  # (R, 6)
    u_w_per_m2_k: Floats  # (S or 1, R, 6) bridging included
    contact_w_per_k: Floats  # (S or 1, R, R)
    lining_j_per_k: Floats  # (R,)


def walls(inputs: BuildInputs) -> Walls:
    """Areas, conductances and lining mass of the rooms of a build.

    Raises
    ------
    ValueError when boxes cannot stand as they are said to
    """
    case, names = inputs.case, enclosed_rooms(inputs.case)
    sizes, around = room_sizes(case), neighbours(case)
    area = np.array(
        [faces_of_room(sizes[n].length_m, sizes[n].width_m, sizes[n].height_m) for n in names]
    ).reshape(len(names), 6)
    outside = area * np.array([around.outside_share[n] for n in names]).reshape(len(names), 6)
    layers = [_layers(inputs, name) for name in names]
    table = physics(case)
    inner = np.array([table[_RSI.get(face, "rsi_horizontal")] for face in FACES])
    bridges = [_of(inputs, "climate", n, "bridging_w_per_m2_k") for n in names]
    bridging = np.stack(np.broadcast_arrays(*bridges), axis=-1)
    layered = np.broadcast_arrays(*[shell + lining for shell, lining in layers])
    resistance = np.stack(layered, axis=1)
    u_value = u_value_w_per_m2_k(resistance, inner, table["rse"]) + bridging[:, :, None]
    contacts = _contacts(inputs, names, around, layers)
    lining = np.array([_lining_mass(case, n, area[i]) for i, n in enumerate(names)])
    return Walls(area, outside, u_value, contacts, lining)


def _of(inputs: BuildInputs, section: str, record: str, name: str) -> Floats:
    return inputs.value(f"{section}.{record}.{name}")


def _layers(inputs: BuildInputs, name: str) -> tuple[Floats, Floats]:
    """Resistance of shell (S or 1, 6) and of lining (1, 6) of a room, surfaces left out [m2K/W]."""
    case, room = inputs.case, inputs.case.rooms[name]
    materials = reference_table("materials", case.folder)
    shells = reference_table("shells", case.folder).values()
    kind = case.containers[room.container].kind
    shell = reference_table("containers", case.folder)[kind]["shell"]
    ageing = _of(inputs, "containers", room.container, "foam_ageing_scale")
    of_shell = np.zeros((ageing.size, 6))
    of_lining = np.zeros((1, 6))
    for i, face in enumerate(FACES):
        for row in shells:
            if row["shell"] == shell and row["face"] == _LAYER_FACE.get(face, "wall"):
                material = materials[row["material"]]
                scale = ageing if material["use"] == "insulation" else 1.0
                conductivity = float(material["conductivity_w_per_m_k"]) * scale
                of_shell[:, i] += float(row["thickness_m"]) / conductivity
        thick = room.insulation_m
        if face == "floor" and room.floor_insulation_m is not None:
            thick = room.floor_insulation_m
        for material, thickness in ((room.insulation, thick), (room.inner_face, room.inner_face_m)):
            if material and thickness:
                of_lining[0, i] += thickness / float(materials[material]["conductivity_w_per_m_k"])
    return of_shell, of_lining


def _contacts(
    inputs: BuildInputs,
    names: list[str],
    around: Surroundings,
    layers: list[tuple[Floats, Floats]],
) -> Floats:
    case, table = inputs.case, physics(inputs.case)
    materials = reference_table("materials", case.folder)
    size = max((shell.shape[0] for shell, _ in layers), default=1)
    found = np.zeros((size, len(names), len(names)))
    for contact in around.contacts:
        a, b = names.index(contact.room_a), names.index(contact.room_b)
        faces = FACES.index(contact.face_a), FACES.index(contact.face_b)
        between = layers[a][1][:, faces[0]] + layers[b][1][:, faces[1]]
        if contact.is_partition:
            box = case.containers[case.rooms[contact.room_a].container]
            if box.partition and box.partition_m:
                conductivity = float(materials[box.partition]["conductivity_w_per_m_k"])
                between = between + box.partition_m / conductivity
        else:
            between = between + layers[a][0][:, faces[0]] + layers[b][0][:, faces[1]]
        still = table["rsi_horizontal"]  # of the air on either side
        flow = contact.area_m2 * u_value_w_per_m2_k(between, still, still)
        found[:, a, b] += flow
        found[:, b, a] += flow
    return found


def _lining_mass(case: Case, name: str, area_m2: Floats) -> float:
    """Warmth held by the inner face of a room and by its racks [J/K].

    Where nothing is lined it is the innermost sheet of the box that goes with the room.
    """
    room = case.rooms[name]
    materials = reference_table("materials", case.folder)
    face, thickness = room.inner_face, room.inner_face_m
    if not (face and thickness):
        kind = reference_table("containers", case.folder)[case.containers[room.container].kind]
        rows = reference_table("shells", case.folder).values()
        inner = [r for r in rows if r["shell"] == kind["shell"] and r["face"] == "wall"][-1]
        face, thickness = inner["material"], float(inner["thickness_m"])
    row, steel = materials[face], materials["steel"]
    sheet = float(row["density_kg_per_m3"]) * float(row["specific_heat_j_per_kg_k"]) * thickness
    places = room_sizes(case)[name].places
    racks = places * physics(case)["rack_kg_per_place"] * float(steel["specific_heat_j_per_kg_k"])
    return sheet * float(area_m2.sum()) + racks
