"""What is moved together, in words."""

from __future__ import annotations

LABELS = {
    "price": "all prices",
    "yield": "the yield",
    "wage": "all wages, own hours included",
    "tariff": "the price of energy",
}


def build_cost(build: str) -> str:
    """The cost of what only one build buys."""
    return f"the cost of building, {build}"


def group_of_rows(field: str, name: str, count: int) -> str:
    """A number of several rows that hang together."""
    return f"{field}, {name} ({count} rows)"


_ALL = {"plan": "rooms", "crops": "crops", "containers": "boxes"}


def all_of_them(field: str, section: str) -> str:
    """A number that all rooms, crops or boxes share."""
    return f"{field}, all {_ALL[section]}"


def all_rooms(field: str, kind: str) -> str:
    """A number of the air of all rooms of a kind."""
    return f"{field}, all {kind.replace('_', ' ')} rooms"
