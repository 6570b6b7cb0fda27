"""Words on the floor plan."""

from __future__ import annotations

from collections.abc import Sequence

NOTE = (
    "To scale, from above, one level of the racks drawn; thick black: the box's own doors. "
    "Order of the rooms and their doors are supposed."
)
NO_ROOMS = "This build has no rooms: its output is given."
_USES = {
    "fruiting": "units in fruiting",
    "spawn_run": "units in the spawn run",
    "cold_store": "crates in the cold store",
    "lobby": "units in the lobby",
    "prep": "units where they are prepared",
}


def title(build: str, counts: Sequence[tuple[str, str]]) -> str:
    """What the plan shows: the places of a build by kind of room."""
    said = [f"{count} {_USES[kind]}" for count, kind in counts]
    if not said:
        return build
    parts = said[0] if len(said) == 1 else ", ".join(said[:-1]) + " and " + said[-1]
    return f"{build}: places for {parts}"


def on_levels(count: str, levels: int) -> str:
    """Places of one room."""
    return f"{count} places on {levels} levels" if levels > 1 else f"{count} places on one level"


def metres(number: str) -> str:
    """A length."""
    return f"{number} m"


def square_metres(number: str) -> str:
    """A floor area."""
    return f"{number} m²"


def box(label: str, length: str) -> str:
    """A box with its outside length."""
    return f"{label}, {length} outside"
