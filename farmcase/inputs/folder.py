"""Finding, reading and writing a case folder."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from farmcase.errors import CaseError, Fault, NotFoundError
from farmcase.inputs.case import Case, build_case, in_order, row_faults
from farmcase.inputs.estimate import shorten
from farmcase.inputs.faults import Origins, did_you_mean, listed
from farmcase.inputs.files import read_table, read_text, read_toml
from farmcase.inputs.schema import NAMED, OPTIONAL_TABLES, SINGLE, TABLES, flatten, split_path
from farmcase.inputs.writing import changed_content, write_bytes

_LATER = (
    "events.csv",
    "correlations.csv",
    "stress.csv",
    "products.csv",
    "claims.csv",
    "log.csv",
    "actuals.csv",
)
_LEFT_BY_WRITING = (".before", ".new")


def open_case(where: str | Path) -> Case:
    """Read a case folder.

    Parameters
    ----------
    where : path of the folder, or the name of a folder in `data/cases` of the working folder or
        one of its parents

    Raises
    ------
    NotFoundError when no folder is there
    CaseError listing every fault in the folder
    """
    folder = find_case(where)
    origins, faults = Origins(folder=folder), []
    values = _read_toml(folder, origins, faults)
    raw = _by_section(values or {}, origins, faults)
    for name, model in TABLES.items():
        path = folder / f"{name}.csv"
        if not path.is_file() and (name in OPTIONAL_TABLES or _not_needed(name, raw)):
            continue
        origins.places[name] = (f"{name}.csv", None)
        text = read_text(path, faults)
        if text is not None:
            raw[name] = read_table(name, text, model, origins, faults)
    unread = [name for name in _LATER if (folder / name).is_file()]
    notes = tuple(f"{name} is kept but not read by this version." for name in unread)
    if values is None:
        raise CaseError(in_order([*faults, *row_faults(raw, origins)]))
    return replace(build_case(raw, origins, faults), notes=notes)


def _not_needed(name: str, raw: Mapping[str, Any]) -> bool:
    return "output" in raw and name in ("labour", "substrate")


def find_case(where: str | Path) -> Path:
    """The folder of a case, from a path or a name.

    Raises
    ------
    NotFoundError with the names that are there
    """
    if os.path.isdir(where):
        return Path(where).resolve()
    known: dict[str, Path] = {}
    for parent in (Path.cwd(), *Path.cwd().parents):
        cases = parent / "data" / "cases"
        if cases.is_dir():
            known.update({p.name: p for p in cases.iterdir() if p.is_dir()} | known)
    if str(where) in known:
        return known[str(where)].resolve()
    advice = did_you_mean(str(where), known, "cases")
    name = shorten(repr(str(where)), 100)
    raise NotFoundError(f"There is no case {name}: {advice} (known: {listed(known)}).")


def _read_toml(folder: Path, origins: Origins, faults: list[Fault]) -> dict[str, Any] | None:
    text = read_text(folder / "case.toml", faults)
    if text is None:
        return None
    if not text.strip():
        allowed = "it holds the case"
        faults.append(Fault("case.toml", None, "the file", "is empty", allowed, "fill it in"))
        return None
    return read_toml(text, origins, faults)


def _by_section(values: Mapping[str, Any], origins: Origins, faults: list[Fault]) -> dict[str, Any]:
    """The values of case.toml by section, the lines above the first section under `heading`."""
    raw: dict[str, Any] = {"heading": {}}
    for key, value in values.items():
        if key in SINGLE or key in NAMED:
            raw[key] = value
        elif isinstance(value, Mapping):
            known = [*SINGLE, *NAMED]
            allowed, advice = f"known are {listed(known)}", did_you_mean(key, known, "sections")
            if key in TABLES:
                advice = f"move it to {key}.csv"
            faults.append(origins.at(key, "is not a known section", allowed, advice))
        else:
            raw["heading"][key] = value
    builds = raw.get("builds", {})
    for build in builds.values() if isinstance(builds, Mapping) else ():
        if isinstance(build, dict) and isinstance(build.get("with"), Mapping):
            build["with"] = flatten(build["with"])
    return raw


def write_case(case: Case, folder: str | Path) -> Path:
    """Write a case, with the changes made by `vary`, to a folder of its own.

    Comments, the order of rows and files of the user's own survive. Each file is written beside
    its place and then moved there; where one of another content stood there before, it is kept as
    `NAME.before`. A file that is to stay as it is, is not touched.

    Raises
    ------
    NotFoundError when the case was not read from a folder
    """
    if case.folder is None:
        raise NotFoundError("This case was not read from a folder, so it cannot be written.")
    target = Path(folder).resolve()
    by_file: dict[str, dict[str, Any]] = {}
    for path, value in case.changes.items():
        section = split_path(path)[0]
        name = f"{section}.csv" if section in TABLES else "case.toml"
        by_file.setdefault(name, {})[path] = value
    contents = {
        source.relative_to(case.folder): changed_content(source, by_file.get(source.name, {}))
        if source.parent == case.folder
        else source.read_bytes()
        for source in _files(case.folder, target)
    }
    for name, content in contents.items():
        write_bytes(target / name, content)
    return target


def _files(folder: Path, target: Path) -> list[Path]:
    """The files of a case folder that make the case, not those a write left or the target's."""
    inside = target != folder and target.is_relative_to(folder)
    return [
        path
        for path in sorted(folder.rglob("*"))
        if path.is_file()
        and path.suffix not in _LEFT_BY_WRITING
        and not (inside and path.is_relative_to(target))
    ]
