"""Where in a build each danger lies: rooms, plant and vessels beside their cautions."""

from __future__ import annotations

from farmcase.inputs.reference import reference_table
from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.model.room_inputs import ELECTRICITY
from farmcase.model.shell import physics
from farmcase.output.tables import Table
from farmcase.words import rooms as say
from farmcase.words.numbers import plain

# Places of the table of cautions, by what a vessel does.
_TREATMENTS = {
    "hot_water": ("heat",),
    "steam": ("heat", "pressure"),
    "sterilising": ("heat", "pressure"),
    "cold_lime": ("lime",),
}
_SPRAYS = ("fog", "ultrasonic", "pad")  # steam is too hot to carry legionella


def risk_places(outcome: Outcome, build: str) -> dict[str, list[str]]:
    """The places of the cautions that rooms and vessels of a build call for.

    Returns
    -------
    place -> which rooms, plant or vessels call for it, as a reader calls them
    """
    found = outcome[build]
    case, places = found.inputs.case, dict[str, list[str]]()

    def at(place: str, name: str) -> None:
        if name not in places.setdefault(place, []):
            places[place].append(name)

    for room, label in _gassy_rooms(found).items():
        del room
        at("co2", label)
    for name, air in case.climate.items():
        room = case.rooms[name].label or name
        if air.humidifier in _SPRAYS:
            at("water", room)
        if air.heating == "heater" and air.heat_carrier != ELECTRICITY:
            at("burner", room)
        if air.cooling != "none" or air.heating == "heat_pump":
            at("cooling", room)
    for name, vessel in case.vessels.items():
        for place in _TREATMENTS[vessel.treatment]:
            at(place, vessel.label or name)
        if vessel.carrier != ELECTRICITY:
            at("burner", vessel.label or name)
    if ELECTRICITY in case.carriers:
        at("electricity", say.WHOLE_SITE)
    return places


def _gassy_rooms(build: BuildOutcome) -> dict[str, str]:
    """Rooms for the spawn run, and rooms with hours above the limit; these say how many."""
    case, years = build.inputs.case, build.physical.rooms
    locale, limit = case.heading.locale, physics(case)["co2_limit_8_h_ppm"]
    hours = dict(zip(years.names, years.warnings[0, :, 0], strict=True)) if years else {}
    found = {}
    for name, room in case.rooms.items():
        label, over = room.label or name, float(hours.get(name, 0.0))
        if over > 0:
            found[name] = say.over_limit(label, plain(over, locale), plain(limit, locale))
        elif room.kind == "spawn_run":
            found[name] = label
    return found


def risk_table(outcome: Outcome, build: str, *places: str) -> Table:
    """Cautions of a build where the risk is: which room or vessel, what to mind, whom to ask.

    Parameters
    ----------
    places : of the table of cautions, as "co2" or "water"; all that the build calls for where
        none is named
    """
    found = risk_places(outcome, build)
    wanted = [place for place in found if not places or place in places]
    rows = [
        [", ".join(found[place]), row["text"], row["defer_to"]]
        for place in wanted
        for row in reference_table("cautions", outcome.case.folder).values()
        if row["place"] == place
    ]
    return Table(list(say.RISK_HEADING), rows, caption=outcome[build].label, left=(0, 1, 2))
