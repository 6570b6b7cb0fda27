"""Sentences about the rooms of a build that must stand beside its numbers."""

from __future__ import annotations


def stagger(needed: str, one_by_one: str, supply: str) -> str:
    """Peak power above the supply, which machines one after the other would not be."""
    return (
        f"Rooms, machines and vessels at once draw up to {needed} kW, the supply is {supply} kW. "
        f"With machines and vessels one after the other {one_by_one} kW are enough: stagger them."
    )


def supply_too_small(one_by_one: str, supply: str) -> str:
    """Even staggered the supply does not suffice."""
    return (
        f"Even with machines and vessels one after the other the rooms draw up to {one_by_one} kW, "
        f"the supply is {supply} kW."
    )


def upgrade(item: str, cost: str, waiting: str) -> str:
    """The row of the capital table that enlarges the supply."""
    wait = f" and waits for {waiting}" if waiting else ""
    return f"The row for the supply is {item} ({cost}){wait}; make sure it buys enough."


def gate_months(gate: str, earliest: str, latest: str) -> str:
    """A gate with the months in which it may come."""
    return f"{gate} (month {earliest} to {latest})"


def no_upgrade() -> str:
    """No row of the capital table enlarges the supply."""
    return "No row of capital.csv is for a larger supply: ask for its cost and months of waiting."


def outside_band(room: str, crop: str, share: str, lost: str) -> str:
    """A species that is outside its band for much of the year."""
    return (
        f"{room} is outside the band of {crop} in {share} of the hours it stands there; by the "
        f"stated response that and stale air cost {lost} of its kilograms."
    )


def high_co2(room: str, hours: str, limit: str) -> str:
    """Air that people must not work in."""
    return (
        f"CO2 in {room} is above the 8-hour limit for people ({limit} ppm) in {hours} hours a "
        "year: air it out, read the meter and heed the alarm before anyone goes in."
    )


def wet_bridges(room: str, share: str) -> str:
    """Steel that goes through the lining is wet for much of the year."""
    return f"Water stands on the cold bridges of {room} in {share} of the year: mould and rust."


def units_wait(units: str) -> str:
    """Units that have run through and find no place."""
    return (
        f"On average {units} units stand ready and wait for a place: the rooms turn over more "
        "slowly at times than starts are made."
    )
