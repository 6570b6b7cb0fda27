"""The envelope: layers, faces, neighbours, sun and sky, each against values worked out by hand.

Published hand calculations lie in `tests/published/`. The values of container walls follow the
formula of ISO 6946 with the layers written beside them.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from farmcase.climate.envelope import (
    FACE_TILTS_DEG,
    FACES,
    OPPOSITE,
    Box,
    Contact,
    PlacedRoom,
    Surroundings,
    Touch,
    bridge_is_wet,
    bridge_surface_c,
    face_bearings_deg,
    faces_of_room,
    layers_m2_k_per_w,
    sky_deficit_w_per_m2,
    sol_air_c,
    surroundings,
    u_value_w_per_m2_k,
)
from farmcase.moist_air import dew_point_c, saturation_pressure_pa

PUBLISHED = Path(__file__).parent / "published"
FILES = [json.loads(p.read_text(encoding="utf-8")) for p in sorted(PUBLISHED.glob("*.json"))]
CASES = [case for file in FILES if file.get("subject") == "envelope" for case in file["cases"]]

# m2K/W, ISO 6946: horizontal flow, up, down (the split is from memory), outside.
HORIZONTAL, UP, DOWN, OUTSIDE = 0.13, 0.10, 0.17, 0.04


# Layers.


@pytest.mark.parametrize("case", [pytest.param(case, id=case["id"]) for case in CASES])
def test_published_u_values(case: dict[str, Any]) -> None:
    """Two published hand calculations, to the printed digit."""
    given = case["inputs"]
    layers = layers_m2_k_per_w(given["thickness_m"], given["conductivity_w_per_m_k"])
    found = u_value_w_per_m2_k(layers, *given["surfaces_m2_k_per_w"])
    assert case["kind"] == "u_value"
    assert_allclose(found, case["printed"], rtol=0, atol=case["tolerance"])


@pytest.mark.parametrize(
    ("layers", "inner", "expected"),
    [
        # steel, 50 mm foil-faced PIR, 9 mm plywood: R 2.51199
        ([(0.0016, 50), (0.05, 0.022), (0.009, 0.13)], HORIZONTAL, 0.398091),
        # roof: 2 mm steel, 80 mm PIR, 3 mm plastic
        ([(0.002, 50), (0.08, 0.022), (0.003, 0.2)], UP, 0.26375),
        # floor: 28 mm plywood, 50 mm PIR
        ([(0.028, 0.13), (0.05, 0.022)], DOWN, 0.37063),
        # 75 mm of spray foam on steel
        ([(0.0016, 50), (0.075, 0.026)], HORIZONTAL, 0.32737),
        # bare steel
        ([(0.0016, 50)], HORIZONTAL, 5.881246),
    ],
)
def test_u_values_of_container_faces(
    layers: list[tuple[float, float]], inner: float, expected: float
) -> None:
    """The formula of ISO 6946, and once more by hand."""
    thickness, conductivity = np.array(layers).T
    found = u_value_w_per_m2_k(layers_m2_k_per_w(thickness, conductivity), inner, OUTSIDE)
    by_hand = 1 / (inner + sum(d / k for d, k in layers) + OUTSIDE)
    assert found == pytest.approx(expected, rel=2e-5)
    assert found == pytest.approx(by_hand, rel=1e-12)


def test_u_value_of_many_builds_at_once() -> None:
    """Layers are the last axis; thicker is never worse; no layer leaves the two surfaces."""
    thickness = np.array([[0.0016, mm / 1000, 0.009] for mm in (25, 50, 75, 100)])
    found = u_value_w_per_m2_k(layers_m2_k_per_w(thickness, [50, 0.022, 0.13]), HORIZONTAL, OUTSIDE)
    assert found.shape == (4,)
    assert (np.diff(found) < 0).all()
    assert u_value_w_per_m2_k(layers_m2_k_per_w([], []), HORIZONTAL, OUTSIDE) == pytest.approx(
        1 / 0.17
    )


# Faces.


def test_faces_of_a_room() -> None:
    """5.8 m long, 2.2 m wide, 2.25 m high: two ends, two sides, roof, floor."""
    found = faces_of_room(5.8, 2.2, 2.25)
    assert_allclose(found, [4.95, 4.95, 13.05, 13.05, 12.76, 12.76])
    assert faces_of_room([5.8, 2.9], 2.2, 2.25).shape == (2, 6)
    assert len(FACES) == len(FACE_TILTS_DEG) == 6
    assert [OPPOSITE[OPPOSITE[face]] for face in FACES] == list(FACES)


def test_bearings_of_faces() -> None:
    """Doors to the south: who faces them looks north and has the west face to the left."""
    assert_allclose(face_bearings_deg(180.0), [180.0, 0.0, 270.0, 90.0])
    assert_allclose(face_bearings_deg(0.0), [0.0, 180.0, 90.0, 270.0])
    assert_allclose(face_bearings_deg(350.0), [350.0, 170.0, 80.0, 260.0])
    assert face_bearings_deg([0.0, 90.0, 45.0]).shape == (3, 4)


# Neighbours.


def box_of(*rooms: tuple[str, float], length_m: float = 12.0, height_m: float = 2.5) -> Box:
    """A box 2.4 m wide without lining, so that all areas add up exactly."""
    placed = tuple(
        PlacedRoom(name, share, share * length_m, 2.4, height_m) for name, share in rooms
    )
    return Box(length_m, 2.4, height_m, placed)


def share_of(found: Surroundings, room: str) -> dict[str, float]:
    """Shares outside of one room by face."""
    return dict(zip(FACES, found.outside_share[room].tolist(), strict=True))


def assert_areas_close(boxes: dict[str, Box], found: Surroundings) -> None:
    """What is outside and what touches another room is together each face."""
    for box in boxes.values():
        for room in box.rooms:
            for index, face in enumerate(FACES):
                touched = sum(
                    contact.area_m2
                    for contact in found.contacts
                    if (room.name, face)
                    in ((contact.room_a, contact.face_a), (contact.room_b, contact.face_b))
                )
                area = room.face_areas_m2[index]
                outside = found.outside_share[room.name][index] * area
                assert outside + touched == pytest.approx(area), (room.name, face)


def test_one_room_alone_is_outside_all_round() -> None:
    """A box with one room."""
    found = surroundings({"box": box_of(("fruiting", 1.0))})
    assert_allclose(found.outside_share["fruiting"], np.ones(6))
    assert found.contacts == ()


def test_three_rooms_in_a_box() -> None:
    """The middle one has neither end outside; two walls of the box's section part them."""
    boxes = {"box": box_of(("prep", 0.2), ("spawn", 0.3), ("fruiting", 0.5))}
    found = surroundings(boxes)
    sides = {"left": 1.0, "right": 1.0, "roof": 1.0, "floor": 1.0}
    assert share_of(found, "prep") == {"front": 1.0, "back": 0.0, **sides}
    assert share_of(found, "spawn") == {"front": 0.0, "back": 0.0, **sides}
    assert share_of(found, "fruiting") == {"front": 0.0, "back": 1.0, **sides}
    assert found.contacts == (
        Contact("prep", "back", "spawn", "front", 2.4 * 2.5, True),
        Contact("spawn", "back", "fruiting", "front", 2.4 * 2.5, True),
    )
    assert_areas_close(boxes, found)


def test_two_boxes_side_by_side() -> None:
    """Halves beside 0.3 and 0.7 of a box of 12 m: overlaps of 3.6, 2.4 and 6 m make the face."""
    boxes = {
        "one": box_of(("a", 0.5), ("b", 0.5)),
        "two": box_of(("c", 0.3), ("d", 0.7)),
    }
    found = surroundings(boxes, [Touch("one", "right", "two")])
    beside = {(c.room_a, c.room_b): c.area_m2 for c in found.contacts if not c.is_partition}
    assert beside == pytest.approx({("a", "c"): 9.0, ("a", "d"): 6.0, ("b", "d"): 15.0})
    assert sum(beside.values()) == pytest.approx(12.0 * 2.5)
    assert {(c.face_a, c.face_b) for c in found.contacts if not c.is_partition} == {
        ("right", "left")
    }
    for room, face in (("a", "right"), ("b", "right"), ("c", "left"), ("d", "left")):
        assert share_of(found, room)[face] == 0.0
    assert share_of(found, "a")["left"] == share_of(found, "d")["right"] == 1.0
    assert_areas_close(boxes, found)


def test_a_short_and_a_high_box_beside_a_long_one() -> None:
    """6 m beside 12 m, and 2.9 m beside 2.5 m high: only the common part touches."""
    boxes = {"long": box_of(("a", 0.75), ("b", 0.25)), "short": box_of(("c", 1.0), length_m=6.0)}
    found = surroundings(boxes, [Touch("long", "left", "short")])
    assert share_of(found, "a")["left"] == pytest.approx(1 / 3)
    assert share_of(found, "b")["left"] == 1.0
    assert share_of(found, "c")["right"] == 0.0
    assert_areas_close(boxes, found)
    boxes["short"] = box_of(("c", 1.0), length_m=6.0, height_m=2.9)
    found = surroundings(boxes, [Touch("long", "left", "short", offset_m=6.0)])
    assert share_of(found, "a")["left"] == pytest.approx(2 / 3)
    assert share_of(found, "b")["left"] == 0.0
    assert share_of(found, "c")["right"] == pytest.approx(0.4 / 2.9)
    assert_areas_close(boxes, found)


def test_stacked_boxes() -> None:
    """The upper floor lies on the lower roof."""
    boxes = {"below": box_of(("a", 0.6), ("b", 0.4)), "above": box_of(("c", 1.0))}
    found = surroundings(boxes, [Touch("below", "roof", "above")])
    stacked = {(c.room_a, c.room_b): c.area_m2 for c in found.contacts if not c.is_partition}
    assert stacked == pytest.approx({("a", "c"): 0.6 * 12 * 2.4, ("b", "c"): 0.4 * 12 * 2.4})
    assert share_of(found, "a")["roof"] == share_of(found, "b")["roof"] == 0.0
    assert share_of(found, "c")["floor"] == 0.0
    assert share_of(found, "a")["floor"] == share_of(found, "c")["roof"] == 1.0
    assert_areas_close(boxes, found)


def test_boxes_turned_half_round() -> None:
    """Back to back the last rooms touch; side by side the first touches the last."""
    boxes = {"one": box_of(("a", 0.5), ("b", 0.5)), "two": box_of(("c", 0.3), ("d", 0.7))}
    found = surroundings(boxes, [Touch("one", "back", "two", turned=True)])
    assert found.contacts[-1] == Contact("b", "back", "d", "back", 2.4 * 2.5, False)
    assert_areas_close(boxes, found)
    found = surroundings(boxes, [Touch("one", "left", "two", turned=True)])
    beside = {(c.room_a, c.room_b): c.area_m2 for c in found.contacts if not c.is_partition}
    assert beside == pytest.approx({("a", "d"): 15.0, ("b", "c"): 9.0, ("b", "d"): 6.0})
    assert share_of(found, "c")["left"] == 0.0
    assert_areas_close(boxes, found)


def test_boxes_in_a_row() -> None:
    """The doors of the second open onto the back of the first."""
    boxes = {"one": box_of(("a", 0.5), ("b", 0.5)), "two": box_of(("c", 1.0), height_m=2.9)}
    found = surroundings(boxes, [Touch("one", "back", "two")])
    assert found.contacts[-1] == Contact("b", "back", "c", "front", 2.4 * 2.5, False)
    assert share_of(found, "c")["front"] == pytest.approx(0.4 / 2.9)
    assert_areas_close(boxes, found)


def test_length_without_a_room_is_outside() -> None:
    """0.4 of a box taken: its back end touches nobody, its side only where there is a room."""
    boxes = {"one": box_of(("a", 0.4)), "two": box_of(("b", 1.0))}
    touches = [Touch("one", "right", "two")]
    assert share_of(surroundings(boxes, touches), "b")["left"] == pytest.approx(0.6)
    found = surroundings(boxes, [Touch("one", "back", "two")])
    assert found.contacts == ()
    assert share_of(found, "a")["back"] == 1.0


def test_linings_leave_the_smaller_area() -> None:
    """A room lined by 0.1 m beside a bare one: nothing outside between them, the smaller area."""
    lined = Box(6.0, 2.4, 2.5, (PlacedRoom("a", 1.0, 5.8, 2.2, 2.3),))
    found = surroundings(
        {"one": lined, "two": box_of(("b", 1.0), length_m=6.0)}, [Touch("one", "left", "two")]
    )
    assert found.contacts[0].area_m2 == pytest.approx(5.8 * 2.3)
    assert share_of(found, "a")["left"] == share_of(found, "b")["right"] == 0.0


@pytest.mark.parametrize(
    ("boxes", "touches", "fault"),
    [
        ({"one": box_of(("a", 0.5), ("a", 0.5))}, [], "same name"),
        ({"one": box_of(("a", 0.6), ("b", 0.5))}, [], "more than its length"),
        ({"one": box_of(("a", 1.0))}, [Touch("one", "left", "two")], "unknown box"),
        ({"one": box_of(("a", 1.0))}, [Touch("one", "left", "one")], "unknown box"),
        (
            {"one": box_of(("a", 1.0)), "two": box_of(("b", 1.0))},
            [Touch("one", "top", "two")],
            "unknown box or face",
        ),
        (
            {"one": box_of(("a", 1.0)), "two": box_of(("b", 1.0))},
            [Touch("one", "left", "two"), Touch("two", "right", "one")],
            "touch twice",
        ),
        (
            {"one": box_of(("a", 1.0)), "two": box_of(("b", 1.0)), "three": box_of(("c", 1.0))},
            [Touch("one", "left", "two"), Touch("one", "left", "three")],
            "same piece of the left of 'a'",
        ),
    ],
)
def test_what_cannot_stand_is_refused(
    boxes: dict[str, Box], touches: list[Touch], fault: str
) -> None:
    """Names twice, too much in a box, unknown neighbours, two boxes in one spot."""
    with pytest.raises(ValueError, match=fault):
        surroundings(boxes, touches)


# Sun and sky.


def test_sol_air_of_a_dark_and_a_light_roof() -> None:
    """30 °C, 800 W/m2, absorptance over coefficient 0.052 and 0.026, sky 4 K: 67.6 and 46.8 °C.

    Formula of ASHRAE Fundamentals (equations 28 to 30 as quoted in a vendor's help); the two
    quotients are from memory.
    """
    outer = 17.0
    found = sol_air_c(30.0, 800.0, np.array([0.052, 0.026]) * outer, outer, 4.0)
    assert_allclose(found, [67.6, 46.8], rtol=1e-9)


def test_sol_air_of_a_wall_at_night_is_the_air() -> None:
    """No sun, and a wall sees ground and sky alike: no correction."""
    assert_allclose(sol_air_c([-5.0, 12.0], 0.0, 0.7, 25.0), [-5.0, 12.0])


def test_what_the_sky_lacks() -> None:
    """Stefan and Boltzmann: 315.66 W/m2 at 0 °C; ASHRAE's roof under a clear sky.

    The handbook (from memory) takes 63 W/m2 and a coefficient of 17 and calls that about 4 K.
    """
    assert_allclose(sky_deficit_w_per_m2(0.0, [0.0, 215.66, 315.66]), [315.66, 100, 0], atol=0.01)
    correction = 1.0 * sky_deficit_w_per_m2(0.0, 315.66 - 63.0) / 17.0
    assert correction == pytest.approx(4.0, abs=0.5)
    assert sol_air_c(10.0, 0.0, 0.9, 17.0, correction) == pytest.approx(10.0 - 63 / 17, abs=0.01)


# Cold bridges.


def test_a_cold_bridge_gets_wet_in_frost() -> None:
    """Room of 15 °C and 90 %, dew point 13.4 °C; a steel frame that keeps 60 % of the difference.

    0.6 * (15 - To) + To reaches 13.4 °C at To = 11 °C: wet below, dry above.
    """
    dew = dew_point_c(0.9 * saturation_pressure_pa(15.0))
    assert dew == pytest.approx(13.4, abs=0.05)
    outside = np.array([-10.0, 0.0, 10.5, 11.5, 20.0])
    assert_allclose(bridge_surface_c(15.0, outside, 0.6), [5.0, 9.0, 13.2, 13.6, 17.0])
    assert bridge_is_wet(15.0, outside, 0.6, dew).tolist() == [True, True, True, False, False]
    assert not bridge_is_wet(15.0, outside, 1.0, dew).any()
