"""The floor plan of a build, drawn to scale as SVG from the same geometry as the places."""

from __future__ import annotations

from farmcase.climate.floorplan import BoxPlan, Racks, RoomSizes, lay_out_area, lay_out_box
from farmcase.inputs.building import Room
from farmcase.inputs.case import Case
from farmcase.inputs.reference import reference_table
from farmcase.output.plan_shapes import Sheet, draw_box
from farmcase.output.theme import Picture
from farmcase.words import floor_plan as say
from farmcase.words.numbers import plain

_WIDE = 760.0  # width of the longest box on the page
_MOST_SCALE = 74.0  # px for a metre at most
_EDGE, _TOP, _GAP = 46.0, 66.0, 26.0
_LABELS = 84.0  # height under a box that its dimensions and names take


def floor_plan(case: Case, build: str) -> Picture:
    """The boxes, rooms, racks and places of one build from above, to scale.

    The order of the rooms along a box and the ends with the doors are supposed; sizes and places
    are those of the case.
    """
    boxes = build_plan(case, build)
    heading = case.heading
    title = say.title(case.builds[build].label, _counts(case, build, boxes, heading.locale))
    if not boxes:
        return Picture(Sheet(_WIDE, _TOP, title, say.NO_ROOMS).svg(), title)
    longest = max(box.outside.length_m for box in boxes)
    scale = min(_MOST_SCALE, _WIDE / longest)
    width = max(_WIDE, longest * scale) + 2 * _EDGE
    placed, bottom = _arrange(boxes, scale, width)
    sheet = Sheet(width, bottom + 34.0, title, say.NOTE)
    for box, x, y in placed:
        draw_box(sheet, box, _labels(case, build), x, y, scale, heading.locale)
    sheet.scale_bar(_EDGE, bottom, scale, heading.locale)
    return Picture(sheet.svg(), title)


def build_plan(case: Case, build: str) -> list[BoxPlan]:
    """The boxes and covered areas of one build, laid out in metres."""
    mine = case.for_build(build)
    kinds = reference_table("containers", case.folder)
    plans = []
    for name, container in mine.containers.items():
        kind = kinds[container.kind]
        rooms = [
            _sizes(room_name, room)
            for room_name, room in mine.rooms.items()
            if room.container == name
        ]
        outside, inside = (
            (float(kind[f"{side}_length_m"]), float(kind[f"{side}_width_m"]))
            for side in ("external", "internal")
        )
        plans.append(lay_out_box(name, outside, inside, float(kind["door_width_m"]), rooms))
    for name, room in mine.rooms.items():
        if not room.container:
            plans.append(lay_out_area(name, room.area_m2 or 0.0, _racks(room)))
    return plans


def _sizes(name: str, room: Room) -> RoomSizes:
    return RoomSizes(name, room.length_share, room.lining_m, room.kind == "lobby", _racks(room))


def _racks(room: Room) -> Racks | None:
    if not room.rack_rows:
        return None
    return Racks(
        room.rack_rows,
        room.rack_levels,
        room.rack_depth_m,
        room.end_clearance_m,
        room.place_width_m,
        room.place_depth_m,
    )


def _labels(case: Case, build: str) -> dict[str, tuple[str, str]]:
    """Label and kind of every box and room."""
    mine = case.for_build(build)
    boxes = {n: (box.label or n.replace("_", " "), "box") for n, box in mine.containers.items()}
    rooms = {n: (r.label or n.replace("_", " "), r.kind) for n, r in mine.rooms.items()}
    return {**boxes, **rooms}


def _counts(case: Case, build: str, boxes: list[BoxPlan], locale: str) -> list[tuple[str, str]]:
    """Places by kind of room."""
    counts: dict[str, int] = {}
    kinds = _labels(case, build)
    for box in boxes:
        for room in box.rooms:
            kind = kinds[room.name][1]
            counts[kind] = counts.get(kind, 0) + room.places_counted
    return [(plain(n, locale), kind) for kind, n in counts.items() if n]


def _arrange(
    boxes: list[BoxPlan], scale: float, width: float
) -> tuple[list[tuple[BoxPlan, float, float]], float]:
    """Corner of each box on the page: beside one another while they fit, the longest first."""
    order = sorted(boxes, key=lambda box: (box.is_area, -box.outside.length_m))
    placed, x, y, tall = [], _EDGE, _TOP + 30.0, 0.0
    for box in order:
        long, high = box.outside.length_m * scale, box.outside.width_m * scale
        if x > _EDGE and x + long > width - _EDGE:
            x, y, tall = _EDGE, y + tall + _LABELS + _GAP, 0.0
        placed.append((box, x, y))
        x, tall = x + long + 2 * _GAP, max(tall, high)
    return placed, y + tall + _LABELS
