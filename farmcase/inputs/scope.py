"""The scope list: for every build, what has its own row, is in the price, is there, or is blank."""

from __future__ import annotations

from farmcase.inputs.case import Case
from farmcase.inputs.reference import reference_table

OWN_ROW = "own_row"


def scope_state(case: Case, build: str) -> dict[str, str]:
    """Each item of the scope list with its state for a build; "" where nothing is said.

    States are own_row (a row of capital.csv names it), in_price, already_have, not_needed.
    """
    rows = case.for_build(build).capital.values()
    own = {row.scope for row in rows if row.scope}
    said = case.builds[build].scope
    items = reference_table("scope", case.folder)
    return {item: OWN_ROW if item in own else said.get(item, "") for item in items}


def scope_gaps(case: Case, build: str) -> list[str]:
    """The labels of the items of which a build says nothing."""
    items = reference_table("scope", case.folder)
    return [items[i]["label"] for i, state in scope_state(case, build).items() if not state]
