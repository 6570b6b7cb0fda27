"""What is said of the combinations that were explored."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from babel.numbers import format_decimal

from farmcase.words.verdict import CARRY_ON

PLACE = "the values to explore"
COST_TO_BUILD = "Cost to build"
ON_THE_FRONT = "Ways that no other beats, the cheapest first"


def no_values(name: str) -> str:
    """A column without a value."""
    return f"{name!r} has no values to try; give at least one."


def too_many(count: int, most: int) -> str:
    """More combinations than are run."""
    return (
        f"These values make {count:,} combinations, and at most {most:,} are run; give fewer "
        "values, or explore in two steps."
    )


def path_twice(path: str, first: str, second: str) -> str:
    """One input that two columns would set."""
    return f"{path!r} is set by {first!r} and by {second!r}; leave it in one of them."


def value_text(value: Any, unit: str, locale: str) -> str:
    """One value that was tried, with its unit."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        number = format_decimal(value, format="#,##0.####", locale=locale)
        return f"{number} {unit}".strip() if unit != "share" else number
    if isinstance(value, tuple | list):
        return ", ".join(value_text(part, "", locale) for part in value)
    return str(value).replace("_", " ")


def way_text(build: str, parts: Sequence[tuple[str, str]]) -> str:
    """A way to build: the build, and label and value of what was varied."""
    said = "; ".join(f"{label}: {value}" for label, value in parts)
    return f"{build} ({said})" if said else build


def all_with(parts: Sequence[tuple[str, str]]) -> str:
    """What all ways on the front have in common."""
    return f"All of them: {'; '.join(f'{label}: {value}' for label, value in parts)}"


def more_ways(count: int) -> str:
    """Ways on the front that the key leaves out."""
    return f"and {count} more, in the table (column on_front)"


def front_title(count: int, ways: int, measure: str, ends: Sequence[tuple[str, str, str]]) -> str:
    """How many ways are on the front, and its two ends: build, cost and measure of each."""
    (cheap, cost, value), (best, best_cost, best_value) = ends[0], ends[-1]
    lead = f"{count} of {ways} ways to build are not beaten on both cost and {measure}"
    if count == 1:
        lead = f"Only one of {ways} ways to build is not beaten on both cost and {measure}"
        return f"{lead}: {cheap} for {cost} ({value})"
    return f"{lead}: from {cheap} for {cost} ({value}) to {best} for {best_cost} ({best_value})"


def none_pays(ways: int, best: str, cost: str, value: str) -> str:
    """No way is worth more than doing nothing."""
    return (
        f"None of {ways} ways to build is worth more than nil, so {CARRY_ON[0].lower()}"
        f"{CARRY_ON[1:]}; the least is lost with {best} for {cost} ({value})"
    )


def none_known(ways: int, measure: str) -> str:
    """No way has the measure at all."""
    return f"None of {ways} ways to build has a {measure}"


NONE_VALID = "None of the combinations is a valid case"


def explore_note(faulty: int, carry_on: bool) -> str:
    """How to read the picture, and what is not in it."""
    among = ", carrying on as now among them" if carry_on else ""
    note = (
        "Filled and numbered: no other way costs as little and is as good or better"
        f"{among}. Hollow: beaten. Cost is before grant, with contingency, own hours and consents; "
        "replacements left out."
    )
    if faulty:
        note += f" Not drawn: {faulty} rows that are no valid case (column fault)."
    return note
