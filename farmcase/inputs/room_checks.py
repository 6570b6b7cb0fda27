"""What must hold of rooms that are followed by the hour: their air, their plant, the clock."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from zoneinfo import available_timezones

from farmcase.errors import Fault
from farmcase.inputs.building import CLIMATE_KINDS, Climate
from farmcase.inputs.estimate import shown
from farmcase.inputs.faults import did_you_mean, listed
from farmcase.inputs.order import Order, end_text, order_faults
from farmcase.inputs.view import View

ELECTRICITY = "electricity"
# The field that says which plant, the words with which it counts, what must then be above nil.
_PLANT = (
    ("heating", ("heater", "heat_pump"), "heat_kw"),
    ("heating", ("heat_pump",), "rated_cop"),
    ("cooling", ("unit",), "cool_kw"),
    ("cooling", ("unit",), "rated_eer"),
    ("humidifier", ("fog", "ultrasonic", "pad", "steam"), "humidify_l_per_h"),
)
_FRESH_AIR = Order("fresh_air_least_m3_per_h", "fresh_air_most_m3_per_h")
_SET_POINTS = Order("heat_to_c", "cool_to_c", is_strict=True)


def room_faults(view: View) -> list[Fault]:
    """Every fault of air, plant and clock that one build has."""
    return [*_sections(view), *_carriers(view), *_air(view), *_clock(view)]


def _is_followed(view: View) -> bool:
    """Whether the rooms are run; a case that gives its output leaves them out."""
    return "output" not in view.raw


def _sections(view: View) -> Iterable[Fault]:
    """A section for the air of each room that needs one, and none for what has no air."""
    at, rooms, climates = view.origins.at, view.raw.get("rooms", {}), view.raw.get("climate", {})
    for name, room in view.mine("rooms").items():
        needs_one = _is_followed(view) and room.get("kind") in CLIMATE_KINDS
        if needs_one and climates and name not in climates:
            allowed = "each fruiting room, spawn-run room and cold store needs a section"
            yield at(f"rooms.{name}", "has no climate", allowed, f"add a section [climate.{name}]")
    for name in climates:
        if name not in rooms:
            allowed, advice = f"rooms are {listed(rooms)}", did_you_mean(name, rooms, "rooms")
            yield at(f"climate.{name}", "is for no room", allowed, advice)
        elif not rooms[name].get("container") and rooms[name].get("kind") not in CLIMATE_KINDS:
            given, allowed = "is for a room in no container", "air is followed in containers only"
            yield at(f"climate.{name}", given, allowed, "name the container, or remove the section")


def _carriers(view: View) -> Iterable[Fault]:
    """Carriers that rooms and tariff bands lean on."""
    at, carriers = view.origins.at, view.raw.get("carriers", {})
    if _is_followed(view) and carriers and ELECTRICITY not in carriers:
        given = f"hold no {ELECTRICITY} (known are {listed(carriers, 50)})"
        allowed, remedy = "rooms that are followed need it", f"add [carriers.{ELECTRICITY}]"
        yield at("carriers", given, allowed, remedy)
    for name, values in view.raw.get("climate", {}).items():
        carrier = values.get("heat_carrier")
        if isinstance(carrier, str) and carrier not in {ELECTRICITY, *carriers}:
            yield view.unknown(f"climate.{name}.heat_carrier", carrier, carriers)
    for name, values in view.raw.get("bands", {}).items():
        carrier, path = values.get("carrier"), f"bands.{name}.carrier"
        if isinstance(carrier, str) and carrier not in {ELECTRICITY, *carriers}:
            yield view.unknown(path, carrier, carriers)
        elif isinstance(carrier, str) and carrier != ELECTRICITY:
            allowed = f"only {ELECTRICITY} is followed by the hour"
            remedy = "remove the band: this carrier has one price"
            yield at(path, f"is {shown(carrier)}", allowed, remedy)


def _air(view: View) -> Iterable[Fault]:
    """Plant that can do something, set points and fresh air in order."""
    mine, site = view.mine("rooms"), view.parts.get("site")
    for name, air in view.records("climate").items():
        if name not in mine:
            continue
        path = f"climate.{name}"
        for plant, words, field in _PLANT:
            if getattr(air, plant) in words and getattr(air, field).low <= 0:
                yield _too_little(view, path, air, plant, field)
        orders = [_FRESH_AIR] if air.heating == "none" else [_FRESH_AIR, _SET_POINTS]
        yield from order_faults(view, path, air, orders)
        if site is not None and air.co2_most_ppm.low <= site.co2_outside_ppm:
            given = f"is {end_text(air.co2_most_ppm, 'low')}"
            outside = f"{site.co2_outside_ppm:g}"
            allowed = f"it must be more than the {outside} of the air outside (co2_outside_ppm)"
            yield view.origins.at(f"{path}.co2_most_ppm", given, allowed, "raise it")


def _too_little(view: View, path: str, air: Climate, plant: str, field: str) -> Fault:
    """Plant of a kind whose power or rating is nil."""
    word, number = shown(getattr(air, plant)), end_text(getattr(air, field), "low")
    blamed = view.blamed(path, field, plant)
    given = f"is {number} and {plant} is {word}"
    if blamed != f"{path}.{field}":
        given = f"is {word} and {field} is {number}"
    allowed = f"with {plant} = {word} {field} must be above 0"
    return view.origins.at(blamed, given, allowed, "take it from the data sheet")


@cache
def time_zones() -> frozenset[str]:
    return frozenset(available_timezones())


def _clock(view: View) -> Iterable[Fault]:
    site = view.parts.get("site")
    if site is not None and site.time_zone not in time_zones():
        given = f"is {shown(site.time_zone)}"
        allowed = "allowed are names of the IANA list such as Europe/Dublin"
        advice = did_you_mean(site.time_zone, time_zones(), "time zones")
        yield view.origins.at("site.time_zone", given, allowed, advice)
