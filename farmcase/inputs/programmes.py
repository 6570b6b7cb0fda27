"""Grant and loan programmes: what each pays, under which rules, and what it asks to see.

One TOML file for each programme, in `data/reference/programmes/`; a file of the same name in the
case's own `reference/programmes/` goes before it, so that another council or another year can be
written down beside the case. Nothing of a programme stands in code.
"""

from __future__ import annotations

import csv
import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from farmcase.errors import CaseError, Fault, NotFoundError
from farmcase.inputs.estimate import shorten
from farmcase.inputs.programme_rules import MEMORY, Programme
from farmcase.inputs.reference import reference_folder
from farmcase.words.contents import CONTENTS, KINDS

FOLDER = "programmes"


def programme_names(case_folder: Path | None = None) -> list[str]:
    """The programmes there are: those of the reference data, and the case's own."""
    return sorted(_paths(case_folder))


def read_programme(name: str, case_folder: Path | None = None) -> Programme:
    """A programme by the name of its file.

    Raises
    ------
    NotFoundError when there is none of that name
    CaseError listing what is wrong with the file
    """
    paths = _paths(case_folder)
    if name not in paths:
        known = ", ".join(sorted(paths))
        raise NotFoundError(f"There is no programme {name!r}; known are {known}.")
    if paths[name].is_relative_to(_shipped()):
        return _read(paths[name])
    return _fresh(paths[name], case_folder)


def declaration_table(case_folder: Path | None = None) -> dict[str, dict[str, str]]:
    """Declarations of public aid by id: label, currency, amount, years, sentence and source.

    Raises
    ------
    CaseError when an amount or a number of years of the case's own table is none
    """
    rows = _table("declarations", case_folder)
    for name, row in rows.items():
        for column in ("amount", "years"):
            if not re.fullmatch(r"\d{1,12}(\.\d{1,2})?", row.get(column) or ""):
                given, path = f"is {row.get(column)!r}", Path("declarations.csv")
                raise CaseError([_fault(path, f"{name}, {column}", given, "allowed is a number")])
    return rows


def kind_of_scope(case_folder: Path | None = None) -> dict[str, str]:
    """Items of the scope list that are no equipment, with the kind of cost that they are.

    Raises
    ------
    CaseError when the case's own table names an unknown kind
    """
    kinds = {name: row.get("kind") for name, row in _table("item_kinds", case_folder).items()}
    for name, kind in kinds.items():
        if kind not in KINDS:
            allowed = f"allowed are {', '.join(KINDS)}"
            raise CaseError([_fault(Path("item_kinds.csv"), name, f"is {kind!r}", allowed)])
    return {name: kind for name, kind in kinds.items() if kind}


def _shipped() -> Path:
    return reference_folder() / FOLDER


def _folders(case_folder: Path | None) -> list[Path]:
    own = [case_folder / "reference" / FOLDER] if case_folder else []
    return [_shipped(), *own]


def _paths(case_folder: Path | None) -> dict[str, Path]:
    folders = _folders(case_folder)
    return {path.stem: path for folder in folders for path in sorted(folder.glob("*.toml"))}


def _table(name: str, case_folder: Path | None) -> dict[str, dict[str, str]]:
    rows: dict[str, dict[str, str]] = {}
    for folder in _folders(case_folder):
        path = folder / f"{name}.csv"
        if path.is_file():
            try:
                with path.open(encoding="utf-8-sig", newline="") as file:
                    rows.update({row["id"]: row for row in csv.DictReader(file)})
            except (UnicodeDecodeError, KeyError, csv.Error):
                allowed = "a CSV table in UTF-8 with a column id is needed"
                raise CaseError([_fault(path, "the file", "cannot be read", allowed)]) from None
    return rows


@cache
def _read(path: Path) -> Programme:
    return _fresh(path, None)


def _fresh(path: Path, case_folder: Path | None) -> Programme:
    """The programme in a file; the case's own may change between two calls."""
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise CaseError(
            [_fault(path, "the file", f"cannot be read ({error})", "TOML in UTF-8 is needed")]
        ) from None
    try:
        programme = Programme.model_validate(raw)
    except ValidationError as error:
        raise CaseError([_of_pydantic(path, dict(e)) for e in error.errors()]) from None
    faults = _loose_ends(path, programme, set(declaration_table(case_folder)))
    if faults:
        raise CaseError(faults)
    return programme


def _of_pydantic(path: Path, error: dict[str, Any]) -> Fault:
    place = ".".join(str(part) for part in error["loc"])
    given = (
        "is missing" if error["type"] == "missing" else f"is {shorten(repr(error['input']), 60)}"
    )
    return _fault(path, place, given, error["msg"][:1].lower() + error["msg"][1:])


def _fault(path: Path, what: str, given: str, allowed: str) -> Fault:
    remedy = "write it as in the files of data/reference/programmes"
    return Fault(f"{FOLDER}/{path.name}", None, what, given, allowed, remedy)


def _loose_ends(path: Path, programme: Programme, known_declarations: set[str]) -> list[Fault]:
    """Keys that name nothing: sources, kinds of cost, contents, declarations; unordered bands."""
    faults = []
    for place, fact in programme.all_facts().items():
        if fact.is_from_memory != (fact.source == MEMORY):
            allowed = f'the source is "{MEMORY}" where the mark is memory, and nowhere else'
            faults.append(_fault(path, f"{place}.source", f"is {fact.source!r}", allowed))
        elif fact.source not in {MEMORY, *programme.sources}:
            allowed = "allowed are the keys under [sources]"
            faults.append(_fault(path, f"{place}.source", f"is {fact.source!r}", allowed))
    for section, known in (("funds", KINDS), ("checklist", CONTENTS)):
        for name in sorted(set(getattr(programme, section)) - set(known)):
            allowed = f"allowed are {', '.join(known)}"
            faults.append(_fault(path, f"{section}.{name}", "is not known", allowed))
    for name in sorted(set(CONTENTS) - set(programme.checklist)):
        allowed = "every content has a line, be it not_seen"
        faults.append(_fault(path, f"checklist.{name}", "is missing", allowed))
    ends = [b.up_to for b in programme.rules.quotes.bands] if programme.rules.quotes else [None]
    limits = [end for end in ends if end is not None]
    if ends[-1] is not None or None in ends[:-1] or limits != sorted(set(limits)):
        allowed = "values rise, and the last band alone has none"
        faults.append(_fault(path, "rules.quotes.bands", "are out of order", allowed))
    for name in sorted(set(programme.declarations) - known_declarations):
        allowed = "allowed are the rows of declarations.csv"
        faults.append(_fault(path, "declarations", f"name {name!r}", allowed))
    return faults
