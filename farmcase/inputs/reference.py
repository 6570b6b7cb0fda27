"""The reference tables: facts of the trade with source and status.

A case's own `reference/` goes before the checkout's `data/reference`, and that before the copy in
the installed package.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

from farmcase.errors import NotFoundError

_PACKAGE = Path(__file__).resolve().parents[1]


def reference_folder() -> Path:
    """Where the reference tables are: the checkout's, or the installed copy."""
    for folder in (_PACKAGE.parent / "data" / "reference", _PACKAGE / "reference"):
        if folder.is_dir():
            return folder
    raise NotFoundError("The reference tables are missing: install farmcase again.")


@cache
def reference_table(name: str, case_folder: Path | None = None) -> dict[str, dict[str, str]]:
    """A reference table as rows of text by id; rows of the case's own table replace ours.

    Raises
    ------
    NotFoundError when there is no such table
    """
    rows: dict[str, dict[str, str]] = {}
    folders = [reference_folder()] + ([case_folder / "reference"] if case_folder else [])
    for folder in folders:
        path = folder / f"{name}.csv"
        if path.is_file():
            with path.open(encoding="utf-8-sig", newline="") as file:
                rows.update({row["id"]: row for row in csv.DictReader(file)})
    if not rows:
        raise NotFoundError(f"There is no reference table {name!r}.")
    return rows


def container_kinds() -> set[str]:
    """The ids of the kinds of container."""
    return set(reference_table("containers"))


def scope_items() -> set[str]:
    """The ids of everything a farm must buy, have or do without."""
    return set(reference_table("scope"))


def species_known() -> set[str]:
    """The names of the species in the reference table."""
    return {row["species"] for row in reference_table("species").values()}
