"""What lies between a room and the weather: layers, faces, neighbours, sun and sky.

One convention holds for all areas: the inner sizes of a room after its lining. The plain layer
method leaves out insulation that metal bridges, as ISO 6946 says of itself; a steel frame needs an
allowance of its own on top, which is an input.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmcase.moist_air import ZERO_C_IN_K, Array, as_array

# Front is the end with the doors of the box; left and right are those of one who faces the doors.
FACES = ("front", "back", "left", "right", "roof", "floor")
FACE_TILTS_DEG = (90.0, 90.0, 90.0, 90.0, 0.0, 180.0)  # between the face's outward normal and up
OPPOSITE = {"front": "back", "left": "right", "roof": "floor"}
OPPOSITE |= {there: here for here, there in OPPOSITE.items()}

STEFAN_BOLTZMANN_W_PER_M2_K4 = 5.670374419e-8


def layers_m2_k_per_w(thickness_m: ArrayLike, conductivity_w_per_m_k: ArrayLike) -> Array:
    """Resistance of plane layers along the last axis in m2 K per W, without the surfaces."""
    return (as_array(thickness_m) / as_array(conductivity_w_per_m_k)).sum(axis=-1)


def u_value_w_per_m2_k(
    layers: ArrayLike,
    inner_resistance_m2_k_per_w: ArrayLike,
    outer_resistance_m2_k_per_w: ArrayLike,
) -> Array:
    """Heat through plane layers in W per m2 and K, by the formula of ISO 6946.

    Parameters
    ----------
    layers : their resistance, see `layers_m2_k_per_w`; 0 leaves the two surfaces
    inner_resistance_m2_k_per_w, outer_resistance_m2_k_per_w : of the surfaces
    """
    surfaces = as_array(inner_resistance_m2_k_per_w) + as_array(outer_resistance_m2_k_per_w)
    return 1.0 / (as_array(layers) + surfaces)


def faces_of_room(length_m: ArrayLike, width_m: ArrayLike, height_m: ArrayLike) -> Array:
    """Areas in m2 in the order of `FACES` along the last axis, from inner sizes after lining."""
    length, width, height = np.broadcast_arrays(
        as_array(length_m), as_array(width_m), as_array(height_m)
    )
    end, side, level = width * height, length * height, length * width
    return np.stack([end, end, side, side, level, level], axis=-1)


def face_bearings_deg(bearing_deg: ArrayLike) -> Array:
    """Where front, back, left and right look, 0 to 360 (0 north, 90 east), along the last axis.

    `bearing_deg` is where the door end looks. Roof and floor look nowhere: see `FACE_TILTS_DEG`.
    """
    front = as_array(bearing_deg)
    return np.stack([front, front + 180.0, front + 90.0, front - 90.0], axis=-1) % 360.0


# Rooms beside, behind and above each other.


@dataclass(frozen=True)
class PlacedRoom:
    """A room in its box: the share of the box's length it takes, and its sizes after lining."""

    name: str
    length_share: float
    length_m: float
    width_m: float
    height_m: float

    @property
    def face_areas_m2(self) -> Array:
        """Areas in the order of `FACES`."""
        return faces_of_room(self.length_m, self.width_m, self.height_m)


@dataclass(frozen=True)
class Box:
    """A box with its rooms, one behind the other from the door end; its sizes place neighbours.

    Length that no room takes lies behind the last room and counts as outside.
    """

    length_m: float
    width_m: float
    height_m: float
    rooms: tuple[PlacedRoom, ...]


@dataclass(frozen=True)
class Touch:
    """Box `other` stands against a face of `box`; each pair of boxes is named once.

    Along the length, the near end of the other box lies `offset_m` behind the door end of `box`:
    its door end, or its back where it is `turned` half round (back to back, or doors opposite).
    Across the length and in height the two start at the same edge.
    """

    box: str
    face: str
    other: str
    turned: bool = False
    offset_m: float = 0.0

    @property
    def other_face(self) -> str:
        """The face of the other box that is touched."""
        if self.turned and self.face not in ("roof", "floor"):
            return self.face
        return OPPOSITE[self.face]


class Contact(NamedTuple):
    """Two rooms with a wall between them: the same area seen from either, named once.

    `is_partition` is true for one wall inside a box, false for the walls of two boxes in a row.
    """

    room_a: str
    face_a: str
    room_b: str
    face_b: str
    area_m2: float
    is_partition: bool


@dataclass(frozen=True)
class Surroundings:
    """Per room the share of each face that is outside (order of `FACES`), and all contacts."""

    outside_share: dict[str, Array]
    contacts: tuple[Contact, ...]


def surroundings(boxes: Mapping[str, Box], touches: Sequence[Touch] = ()) -> Surroundings:
    """What each face of each room borders on.

    A floor that no other box lies under is outside here, though it may stand on the ground. Where
    two linings differ, the smaller of the two areas that touch is the contact's.

    Raises ValueError where rooms share a name or fill more than their box, a touch names an
    unknown box or face or a pair twice, or two boxes would take the same piece of a face.
    """
    _check(boxes, touches)
    outside = {room.name: np.ones(len(FACES)) for box in boxes.values() for room in box.rooms}
    contacts: list[Contact] = []
    for box in boxes.values():
        for ahead, behind in zip(box.rooms, box.rooms[1:], strict=False):
            outside[ahead.name][FACES.index("back")] = 0.0
            outside[behind.name][FACES.index("front")] = 0.0
            area = min(_area_m2(ahead, "back"), _area_m2(behind, "front"))
            contacts.append(Contact(ahead.name, "back", behind.name, "front", area, True))
    for touch in touches:
        for here, share_here, there, share_there in _touching(boxes, touch):
            face, other_face = touch.face, touch.other_face
            outside[here.name][FACES.index(face)] -= share_here
            outside[there.name][FACES.index(other_face)] -= share_there
            area = min(share_here * _area_m2(here, face), share_there * _area_m2(there, other_face))
            contacts.append(Contact(here.name, face, there.name, other_face, area, False))
    for name, shares in outside.items():
        if shares.min() < -1e-9:
            raise ValueError(f"two boxes take the same piece of the {_least(shares)} of '{name}'")
        # What rounding leaves of a face that is wholly covered.
        outside[name] = np.where(shares < 1e-9, 0.0, shares)
    return Surroundings(outside, tuple(contacts))


def _check(boxes: Mapping[str, Box], touches: Sequence[Touch]) -> None:
    names = [room.name for box in boxes.values() for room in box.rooms]
    if len(set(names)) < len(names):
        raise ValueError("two rooms have the same name")
    for name, box in boxes.items():
        if sum(room.length_share for room in box.rooms) > 1 + 1e-9:
            raise ValueError(f"the rooms of box '{name}' take more than its length")
    pairs = [frozenset((touch.box, touch.other)) for touch in touches]
    for touch, pair in zip(touches, pairs, strict=True):
        if touch.face not in FACES or not pair <= set(boxes) or len(pair) < 2:
            raise ValueError(f"unknown box or face: {touch}")
        if pairs.count(pair) > 1:
            raise ValueError(f"boxes '{touch.box}' and '{touch.other}' touch twice")


def _least(shares: Array) -> str:
    return FACES[int(shares.argmin())]


def _area_m2(room: PlacedRoom, face: str) -> float:
    return float(room.face_areas_m2[FACES.index(face)])


def _touching(
    boxes: Mapping[str, Box], touch: Touch
) -> list[tuple[PlacedRoom, float, PlacedRoom, float]]:
    """Pairs of rooms that touch, each with the share of its face that the other covers."""
    box, other = boxes[touch.box], boxes[touch.other]
    width, height = min(box.width_m, other.width_m), min(box.height_m, other.height_m)
    if touch.face in ("front", "back"):
        here, there = _end_room(box, touch.face), _end_room(other, touch.other_face)
        if here is None or there is None:
            return []
        area = width * height
        share_here = area / (box.width_m * box.height_m)
        return [(here, share_here, there, area / (other.width_m * other.height_m))]
    is_level = touch.face in ("roof", "floor")
    across_here = width / box.width_m if is_level else height / box.height_m
    across_there = width / other.width_m if is_level else height / other.height_m
    found = []
    for here, start, end in _along(box, 0.0, turned=False):
        for there, other_start, other_end in _along(other, touch.offset_m, touch.turned):
            overlap_m = min(end, other_end) - max(start, other_start)
            if overlap_m > 1e-9:
                share_here = across_here * overlap_m / (end - start)
                share_there = across_there * overlap_m / (other_end - other_start)
                found.append((here, share_here, there, share_there))
    return found


def _end_room(box: Box, face: str) -> PlacedRoom | None:
    """The room at one end of a box; none where no room reaches it."""
    is_full = sum(room.length_share for room in box.rooms) > 1 - 1e-9
    if not box.rooms or (face == "back" and not is_full):
        return None
    return box.rooms[0 if face == "front" else -1]


def _along(box: Box, offset_m: float, turned: bool) -> list[tuple[PlacedRoom, float, float]]:
    """Each room with where it starts and ends along the first box."""
    found, start = [], 0.0
    for room in box.rooms:
        end = start + room.length_share * box.length_m
        ends = (box.length_m - end, box.length_m - start) if turned else (start, end)
        found.append((room, offset_m + ends[0], offset_m + ends[1]))
        start = end
    return found


# Sun, sky, cold bridges.


def sol_air_c(
    outside_c: ArrayLike,
    irradiance_w_per_m2: ArrayLike,
    absorptance_share: ArrayLike,
    outer_w_per_m2_k: ArrayLike,
    sky_correction_k: ArrayLike = 0.0,
) -> Array:
    """Outside temperature in °C that gives an outer face the same heat as air, sun and sky do.

    ASHRAE Handbook, Fundamentals: outside air, plus absorbed sun over the outer coefficient, less
    the emissivity times what the sky lacks (`sky_deficit_w_per_m2`) over the same coefficient.
    """
    absorbed = as_array(absorptance_share) * as_array(irradiance_w_per_m2)
    return as_array(outside_c) + absorbed / as_array(outer_w_per_m2_k) - as_array(sky_correction_k)


def sky_deficit_w_per_m2(air_temp_c: ArrayLike, sky_w_per_m2: ArrayLike) -> Array:
    """Heat that a black level face at air temperature radiates beyond what the sky sends back."""
    kelvin = as_array(air_temp_c) + ZERO_C_IN_K
    return STEFAN_BOLTZMANN_W_PER_M2_K4 * kelvin**4 - as_array(sky_w_per_m2)


def bridge_surface_c(
    inside_c: ArrayLike, outside_c: ArrayLike, temperature_factor_share: ArrayLike
) -> Array:
    """Inner surface temperature in °C where steel goes through the lining.

    The factor (of ISO 10211) is 0 for a surface as cold as outside, 1 for one as warm as the room.
    """
    outside = as_array(outside_c)
    return outside + as_array(temperature_factor_share) * (as_array(inside_c) - outside)


def bridge_is_wet(
    inside_c: ArrayLike,
    outside_c: ArrayLike,
    temperature_factor_share: ArrayLike,
    dew_point_c: ArrayLike,
) -> NDArray[np.bool_]:
    """Whether water condenses on a cold bridge: its surface lies below the room's dew point."""
    return bridge_surface_c(inside_c, outside_c, temperature_factor_share) < as_array(dew_point_c)
