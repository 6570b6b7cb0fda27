"""The reference tables: facts of the trade with source and status.

A case's own `reference/` goes before the checkout's `data/reference`, and that before the copy in
the installed package.
"""

from __future__ import annotations

import csv
import math
from functools import cache
from pathlib import Path

from farmcase.errors import CaseError, Fault, NotFoundError

_PACKAGE = Path(__file__).resolve().parents[1]


def reference_folder() -> Path:
    """Where the reference tables are: the checkout's, or the installed copy."""
    for folder in (_PACKAGE.parent / "data" / "reference", _PACKAGE / "reference"):
        if folder.is_dir():
            return folder
    raise NotFoundError("The reference tables are missing: install farmcase again.")


def reference_table(name: str, case_folder: Path | None = None) -> dict[str, dict[str, str]]:
    """A reference table as rows of text by id; rows of the case's own table replace ours.

    Raises
    ------
    NotFoundError when there is no such table
    CaseError when the case's own table cannot be read
    """
    rows = dict(_shipped(name))
    own = case_folder / "reference" / f"{name}.csv" if case_folder else None
    if own and own.is_file():
        try:
            rows.update(_rows(own))
        except (UnicodeDecodeError, KeyError, csv.Error):
            given, allowed = "cannot be read", "a CSV table in UTF-8 with a column id is needed"
            raise CaseError(
                [Fault(f"reference/{name}.csv", None, "the file", given, allowed, "save it so")]
            ) from None
    if not rows:
        raise NotFoundError(f"There is no reference table {name!r}.")
    return rows


@cache
def _shipped(name: str) -> dict[str, dict[str, str]]:
    path = reference_folder() / f"{name}.csv"
    return _rows(path) if path.is_file() else {}


def _rows(path: Path) -> dict[str, dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def inner_sizes_m(kind: dict[str, str]) -> tuple[float, float, float] | None:
    """Internal length, width and height of a kind of container, or None where one is missing."""
    try:
        sizes = [float(kind[f"internal_{side}_m"]) for side in ("length", "width", "height")]
    except (KeyError, TypeError, ValueError):
        return None
    if not all(0 < size < math.inf for size in sizes):
        return None
    return sizes[0], sizes[1], sizes[2]


def whole_materials(case_folder: Path | None = None) -> set[str]:
    """The materials of which conductivity, density and specific heat are all there."""
    return {
        name for name, row in reference_table("materials", case_folder).items() if _is_whole(row)
    }


_OF_A_MATERIAL = ("conductivity_w_per_m_k", "density_kg_per_m3", "specific_heat_j_per_kg_k")


def _is_whole(material: dict[str, str]) -> bool:
    try:
        return all(0 < float(material[column]) < math.inf for column in _OF_A_MATERIAL)
    except (KeyError, TypeError, ValueError):
        return False


def known_shells(case_folder: Path | None = None) -> set[str]:
    """The shells of containers of which walls, roof and floor are all there."""
    faces: dict[str, set[str]] = {}
    for row in reference_table("shells", case_folder).values():
        faces.setdefault(row.get("shell") or "", set()).add(row.get("face") or "")
    return {shell for shell, found in faces.items() if {"wall", "roof", "floor"} <= found}


def threshold(name: str, end: str, case_folder: Path | None = None) -> float:
    """The low or the high end of a row of the table of thresholds."""
    return float(reference_table("thresholds", case_folder)[name][end])


def most_fill_share(case_folder: Path | None = None) -> float:
    """Share of a growing room's volume above which substrate makes it hard to air."""
    return threshold("room_fill_share", "high", case_folder)
