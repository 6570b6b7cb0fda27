"""Where boxes, rooms, racks and places lie, seen from above, in metres.

The same sizes and the same whole places as in `containers`; only the order of rooms along a box
and the ends at which doors stand are supposed here. A box lies along x with its own doors at the
right; y grows downwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

_DOOR_M = 0.9


@dataclass(frozen=True)
class Rect:
    """A box seen from above; x and y are its corner of least x and y."""

    x_m: float
    y_m: float
    length_m: float
    width_m: float

    def holds(self, other: Rect, slack_m: float = 1e-6) -> bool:
        """Whether another lies wholly inside."""
        return (
            other.x_m >= self.x_m - slack_m
            and other.y_m >= self.y_m - slack_m
            and other.x_m + other.length_m <= self.x_m + self.length_m + slack_m
            and other.y_m + other.width_m <= self.y_m + self.width_m + slack_m
        )


@dataclass(frozen=True)
class Racks:
    """Racks of a room as entered in the case."""

    rows: int
    levels: int
    depth_m: float
    end_clearance_m: float
    place_width_m: float
    place_depth_m: float


@dataclass(frozen=True)
class RoomPlan:
    """One room: its inner floor, racks, the places of one level, aisle and door.

    `door` is the side on which the door stands ("left", "right", "below"), "" for none; the
    doorway goes through the wall from the room to what lies behind it.
    """

    name: str
    floor: Rect
    levels: int = 0
    racks: tuple[Rect, ...] = ()
    places: tuple[Rect, ...] = ()
    aisle: Rect | None = None
    door: str = ""
    doorway: Rect | None = None

    @property
    def places_counted(self) -> int:
        """Places on all levels."""
        return len(self.places) * self.levels


@dataclass(frozen=True)
class BoxPlan:
    """A container: its outside, its inside, its rooms; or a covered area, which is one room."""

    name: str
    outside: Rect
    inside: Rect
    rooms: tuple[RoomPlan, ...]
    is_area: bool = False
    door_width_m: float = 0.0


@dataclass(frozen=True)
class RoomSizes:
    """What a room brings to the plan: its share of the box, lining, use and racks."""

    name: str
    length_share: float
    lining_m: float
    is_lobby: bool = False
    racks: Racks | None = field(default=None)


def lay_out_box(
    name: str,
    external_m: tuple[float, float],
    internal_m: tuple[float, float],
    door_width_m: float,
    rooms: Sequence[RoomSizes],
) -> BoxPlan:
    """The rooms of a container, one after the other along its length.

    A lobby stands in the middle and the rooms beside it open to it; without one the first room
    opens at the left end and all others to the right. What the box is longer outside than its
    walls explain lies at the left end, where the machine of an insulated box was.

    Parameters
    ----------
    external_m, internal_m : length and width of the box outside and inside
    door_width_m : width of the box's own doors
    """
    outside = Rect(0.0, 0.0, *external_m)
    wall = (external_m[1] - internal_m[1]) / 2
    both_ends = external_m[0] - internal_m[0]
    inside = Rect(both_ends - min(both_ends / 2, 2 * wall), wall, *internal_m)
    order = _lobby_in_the_middle(rooms)
    lobby = next((i for i, room in enumerate(order) if room.is_lobby), None)
    plans, x = [], inside.x_m
    for i, room in enumerate(order):
        length = internal_m[0] * room.length_share
        part = Rect(x, inside.y_m, length, internal_m[1])
        x += length
        plans.append(_lay_out_room(room, part, _door_side(i, len(order), lobby)))
    return BoxPlan(name, outside, inside, _with_doorways(plans, outside), False, door_width_m)


def _with_doorways(plans: Sequence[RoomPlan], outside: Rect) -> tuple[RoomPlan, ...]:
    """Rooms with a doorway from their floor to that of the next room, or to the outside."""
    found = []
    for i, room in enumerate(plans):
        floor, aisle = room.floor, room.aisle or room.floor
        if room.door == "below":
            wide = min(_DOOR_M, floor.length_m)
            left, top = floor.x_m + (floor.length_m - wide) / 2, floor.y_m + floor.width_m
            way = Rect(left, top, wide, outside.y_m + outside.width_m - top)
        else:
            wide = min(_DOOR_M, aisle.width_m)
            top = aisle.y_m + (aisle.width_m - wide) / 2
            if room.door == "left":
                behind = plans[i - 1].floor if i else Rect(outside.x_m, 0, 0, 0)
                near, far = behind.x_m + behind.length_m, floor.x_m
            else:
                last = i == len(plans) - 1
                near = floor.x_m + floor.length_m
                far = outside.x_m + outside.length_m if last else plans[i + 1].floor.x_m
            way = Rect(near, top, far - near, wide)
        found.append(replace(room, doorway=way))
    return tuple(found)


def lay_out_area(name: str, area_m2: float, racks: Racks | None = None) -> BoxPlan:
    """A covered area as a square."""
    side = math.sqrt(area_m2)
    square = Rect(0.0, 0.0, side, side)
    room = _lay_out_room(RoomSizes(name, 1.0, 0.0, racks=racks), square, "")
    return BoxPlan(name, square, square, (room,), is_area=True)


def _lobby_in_the_middle(rooms: Sequence[RoomSizes]) -> list[RoomSizes]:
    others = [room for room in rooms if not room.is_lobby]
    middle = (len(others) + 1) // 2
    return [*others[:middle], *(room for room in rooms if room.is_lobby), *others[middle:]]


def _door_side(place: int, count: int, lobby: int | None) -> str:
    if lobby is None:
        return "left" if place == 0 and count > 1 else "right"
    if place == lobby:
        return "below"
    return "right" if place < lobby else "left"


def _lay_out_room(room: RoomSizes, part: Rect, door: str) -> RoomPlan:
    """A room inside its part of the box, less the lining on every side."""
    thick = room.lining_m
    floor = Rect(
        part.x_m + thick, part.y_m + thick, part.length_m - 2 * thick, part.width_m - 2 * thick
    )
    racks = room.racks
    if racks is None or not racks.rows or not racks.levels:
        return RoomPlan(room.name, floor, door=door)
    above = math.ceil(racks.rows / 2)
    tops = [floor.y_m + i * racks.depth_m for i in range(above)]
    bottom = floor.y_m + floor.width_m
    tops += [bottom - (i + 1) * racks.depth_m for i in range(racks.rows - above)]
    start = floor.x_m + (racks.end_clearance_m if door == "left" else 0.0)
    length = floor.length_m - racks.end_clearance_m
    rects = tuple(Rect(start, top, length, racks.depth_m) for top in tops)
    upper, lower = floor.y_m + above * racks.depth_m, bottom - (racks.rows - above) * racks.depth_m
    aisle = Rect(floor.x_m, upper, floor.length_m, lower - upper)
    places = tuple(place for rack in rects for place in _places(rack, racks, door))
    return RoomPlan(room.name, floor, racks.levels, rects, places, aisle, door)


def _places(rack: Rect, racks: Racks, door: str) -> list[Rect]:
    """Whole places of one level of a rack, counted from the end away from the door."""
    if not (racks.place_width_m > 0 and racks.place_depth_m > 0):
        return []
    along = math.floor(rack.length_m / racks.place_width_m + 1e-9)
    deep = math.floor(racks.depth_m / racks.place_depth_m + 1e-9)
    spare = (racks.depth_m - deep * racks.place_depth_m) / 2
    wide, across = racks.place_width_m, racks.place_depth_m
    end = rack.x_m + rack.length_m
    xs = [end - (i + 1) * wide if door == "left" else rack.x_m + i * wide for i in range(along)]
    ys = [rack.y_m + spare + j * across for j in range(deep)]
    return [Rect(x, y, wide, across) for x in xs for y in ys]
