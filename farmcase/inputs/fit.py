"""What must fit: racks in rooms, rooms in containers, months in the months looked ahead."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path, PurePath
from typing import Any

from farmcase.errors import CaseError, Fault
from farmcase.inputs.building import CLIMATE_KINDS, Room
from farmcase.inputs.estimate import shown
from farmcase.inputs.reference import inner_sizes_m, reference_table
from farmcase.inputs.room_checks import time_zones
from farmcase.inputs.site_weather import weather_of_site
from farmcase.inputs.view import View

# A start-up year and a settled year are run: the last of their 24 months must still be seen.
_MONTHS_RUN = 24
_SMALLEST_PLACE_M = 0.02


def fit_faults(view: View) -> list[Fault]:
    """Every fault of size, place or time that one build has."""
    return [*_rooms(view), *_shares(view), *_months(view), *_weather(view)]


def _rooms(view: View) -> Iterable[Fault]:
    for name, room in view.records("rooms").items():
        path = f"rooms.{name}"
        if not room.container:
            if room.kind in CLIMATE_KINDS and "output" not in view.raw:
                given, allowed = "stands in no container", "air is followed in containers only"
                yield view.origins.at(path, given, allowed, "name its container")
            elif room.area_m2 is None:
                given, allowed = "has neither a container nor an area", "one of them is needed"
                yield view.origins.at(path, given, allowed, "add container or area_m2")
            elif room.rack_rows:
                yield from _racks_along(view, path, room, room.area_m2**0.5)
            continue
        container = view.parts.get("containers", {}).get(room.container)
        kinds = reference_table("containers", view.origins.folder)
        if container is None or container.kind not in kinds:
            continue
        sizes = inner_sizes_m(kinds[container.kind])
        if sizes is None:
            given = f"is {shown(container.kind)}, whose inner sizes are not all there"
            allowed, remedy = "three lengths in metres are needed", "fill in its reference row"
            yield view.origins.at(f"containers.{room.container}.kind", given, allowed, remedy)
            continue
        yield from _room_in_box(view, path, room, sizes)


def _room_in_box(
    view: View, path: str, room: Room, sizes: tuple[float, float, float]
) -> Iterable[Fault]:
    length = sizes[0] * room.length_share - 2 * room.lining_m
    width = sizes[1] - 2 * room.lining_m
    if length <= 0:
        given, allowed = f"is {room.length_share:g}", "the lining alone is thicker than that"
        yield view.origins.at(f"{path}.length_share", given, allowed, "make the room longer")
        return
    if not room.rack_rows:
        yield from _no_racks(view, path, room)
        return
    wanted = room.rack_rows * room.rack_depth_m + room.aisle_m
    if wanted > width + 1e-9:
        given = (
            f"is too much: {room.rack_rows} rows of {room.rack_depth_m:g} m and an aisle of "
            f"{room.aisle_m:g} m take {wanted:.2f} m"
        )
        allowed = f"the room is {width:.2f} m wide inside its lining"
        remedy = "take fewer rows, shallower racks or a narrower aisle"
        blamed = view.blamed(path, "rack_depth_m", "aisle_m", "rack_rows", "insulation_m")
        yield view.origins.at(blamed, given, allowed, remedy)
    yield from _racks_along(view, path, room, length)


def _no_racks(view: View, path: str, room: Room) -> Iterable[Fault]:
    if room.kind in ("fruiting", "spawn_run"):
        given, allowed = "has no racks", f"a {room.kind.replace('_', ' ')} room needs places"
        yield view.origins.at(path, given, allowed, "add rack_rows and the sizes of its racks")


def _racks_along(view: View, path: str, room: Room, length: float) -> Iterable[Fault]:
    """Racks on which not one place fits."""
    sizes = {
        "rack_levels": (room.rack_levels, 1),
        "place_width_m": (room.place_width_m, _SMALLEST_PLACE_M),
        "place_depth_m": (room.place_depth_m, _SMALLEST_PLACE_M),
    }
    for name, (size, least) in sizes.items():
        if size < least:
            given, allowed = f"is {size:g}", f"a room with racks needs {least:g} or more"
            yield view.origins.at(f"{path}.{name}", given, allowed, "measure it on the racks")
    if room.place_depth_m > room.rack_depth_m + 1e-9:
        given, allowed = f"is {room.place_depth_m:g}", f"the rack is {room.rack_depth_m:g} m deep"
        yield view.origins.at(f"{path}.place_depth_m", given, allowed, "make the rack deeper")
    left = length - room.end_clearance_m
    if room.place_width_m > left + 1e-9:
        given, allowed = f"is {room.place_width_m:g}", f"{max(0, left):.2f} m of length are left"
        yield view.origins.at(f"{path}.place_width_m", given, allowed, "make the room longer")


def _shares(view: View) -> Iterable[Fault]:
    """Rooms of one container that together are longer than it is."""
    rooms: dict[str, list[tuple[str, Room]]] = {}
    for name, room in view.records("rooms").items():
        if room.container:
            rooms.setdefault(room.container, []).append((name, room))
    for container, inside in rooms.items():
        total = sum(room.length_share for _, room in inside)
        if total > 1 + 1e-9:
            changed = [(n, r) for n, r in inside if f"rooms.{n}.length_share" in view.changed]
            name, room = (changed or inside)[-1]
            given = (
                f"is {room.length_share:g}, with the other rooms of {shown(container)} "
                f"that makes {total:g}"
            )
            path = f"rooms.{name}.length_share"
            allowed = "the rooms of one container share at most 1"
            yield view.origins.at(path, given, allowed, "shorten a room or add a container")


def _months(view: View) -> Iterable[Fault]:
    """Months that lie beyond the months looked ahead."""
    horizon = _whole(view.raw["heading"].get("horizon_months"))
    if horizon is None:
        return
    start = _whole(view.raw["builds"][view.build].get("production_start_month"))
    last = horizon - _MONTHS_RUN + 1
    if start is not None and start > last:
        allowed = f"two years of growing fit into {horizon} months up to month {last}"
        path = f"builds.{view.build}.production_start_month"
        remedy = "start earlier or raise horizon_months"
        yield view.origins.at(path, f"is {start}", allowed, remedy)
    for section, field in _DATED:
        for identity, values in view.mine(section).items():
            month = _whole(values.get(field))
            if month is not None and month > horizon:
                allowed = f"the case ends with month {horizon} (horizon_months)"
                remedy = "bring it forward or raise horizon_months"
                path = f"{section}.{identity}.{field}"
                yield view.origins.at(path, f"is {month}", allowed, remedy)


_DATED = (
    ("loans", "drawn_month"),
    ("leases", "starts_month"),
    ("shares", "paid_in_month"),
    ("shares", "withdrawn_month"),
    ("moves", "month"),
    ("capital", "month_paid"),
    ("overheads", "starts_month"),
    ("income", "starts_month"),
)


def _whole(value: Any) -> int | None:
    """A whole number from raw values; None where there is none."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e6:
        return None
    return int(value) if float(value).is_integer() else None


def _weather(view: View) -> Iterable[Fault]:
    folder, name = view.origins.folder, view.raw.get("site", {}).get("weather")
    if folder is None or not isinstance(name, str) or not name:
        return
    path = PurePath(name)
    inside = not path.is_absolute() and ".." not in path.parts
    places = (folder, folder / "reference") if inside else ()
    if not any(os.path.isfile(os.path.join(place, name)) for place in places):
        allowed = "a file in the case folder is needed"
        remedy = "put the file there, or correct its name"
        yield view.origins.at("site.weather", f"is {shown(name)}", allowed, remedy)
        return
    yield from _in_weather(view, folder)


def _in_weather(view: View, folder: Path) -> Iterable[Fault]:
    """The faults of the file itself, for a site that could be read; a file is read once."""
    site = view.parts.get("site")
    if site is None or site.time_zone not in time_zones():
        return
    try:
        weather_of_site(folder, site)
    except CaseError as error:
        yield from error.faults
