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
    uses = {machine.end_use for machine in case.machines.values()}
    burnt = {v.carrier for v in case.vessels.values()} - {"electricity"}
    items = " ".join(row.item.lower() for row in case.capital.values())
    for place, met in {
        "container": bool(case.containers),
        "floor": any(box.kind.endswith("used") for box in case.containers.values()),
        "electricity": "electricity" in case.carriers,
        "co2": bool(kinds & {"spawn_run", "fruiting"}),
        "water": "humidifying" in uses,
        "cooling": bool(uses & {"cooling", "cold_store"}),
        "heat": bool(treatments & {"hot_water", "steam", "sterilising"}),
        "pressure": bool(treatments & {"steam", "sterilising"}),
        "lime": "cold_lime" in treatments,
        "burner": bool(burnt),
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


def caution_table(case: Case) -> Table:
    """The cautions of a case as a table."""
    return Table(["Caution", "Ask"], cautions(case), left=(0, 1))
