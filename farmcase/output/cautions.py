"""The cautions that a case calls for, from the reference table, and whom to ask."""

from __future__ import annotations

from farmcase.inputs.case import Case
from farmcase.inputs.reference import reference_table
from farmcase.output.tables import Table

_ALWAYS = ("working_alone", "doors", "spores", "lifting", "food", "planning", "money")


def caution_places(case: Case) -> set[str]:
    """Where in the work a case meets danger: the places of the cautions it calls for."""
    places: set[str] = set(_ALWAYS)
    treatments = {vessel.treatment for vessel in case.vessels.values()}
    kinds = {room.kind for room in case.rooms.values()}
    seen = [case.for_build(name) for name in case.builds]
    uses = {machine.end_use for machine in case.machines.values()}
    airs = [air for each in seen for air in each.climate.values()]
    burnt = {v.carrier for v in case.vessels.values()}
    burnt |= {air.heat_carrier for air in airs if air.heating == "heater"}
    items = " ".join(row.item.lower() for row in case.capital.values())
    for place, met in {
        "container": bool(case.containers),
        "floor": any(box.kind.endswith("used") for box in case.containers.values()),
        "electricity": "electricity" in case.carriers,
        "co2": bool(kinds & {"spawn_run", "fruiting"}),
        "water": "humidifying" in uses or any(a.humidifier != "none" for a in airs),
        "cooling": bool(uses & {"cooling", "cold_store"}) or any(a.cooling != "none" for a in airs),
        "heat": bool(treatments & {"hot_water", "steam", "sterilising"}),
        "pressure": bool(treatments & {"steam", "sterilising"}),
        "lime": "cold_lime" in treatments,
        "burner": bool(burnt - {"electricity"}),
        "foam": "foam" in items,
    }.items():
        if met:
            places.add(place)
    return places


def cautions(case: Case) -> list[tuple[str, str]]:
    """Each caution of the case in a sentence or two, with whom to ask."""
    places = caution_places(case)
    rows = reference_table("cautions", case.folder).values()
    return [(row["text"], row["defer_to"]) for row in rows if row["place"] in places]


def caution_table(case: Case, *places: str) -> Table:
    """The cautions of a case as a table; with places, only those that belong there."""
    if not places:
        return Table(["Caution", "Ask"], cautions(case), left=(0, 1))
    wanted = caution_places(case) & set(places)
    rows = reference_table("cautions", case.folder).values()
    found = [(row["text"], row["defer_to"]) for row in rows if row["place"] in wanted]
    return Table(["Caution", "Ask"], found, left=(0, 1))
