"""Finding, reading, writing and starting a case folder."""

from __future__ import annotations

import csv
import io
import os
import shutil
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import tomlkit

from farmcase.errors import CaseError, Fault, NotFoundError
from farmcase.inputs.case import Case, build_case
from farmcase.inputs.estimate import Estimate
from farmcase.inputs.faults import Origins, did_you_mean, listed
from farmcase.inputs.files import read_table, read_text, read_toml
from farmcase.inputs.schema import NAMED, OPTIONAL_TABLES, SINGLE, TABLES, flatten, split_path

_LATER = (
    "events.csv",
    "correlations.csv",
    "stress.csv",
    "products.csv",
    "claims.csv",
    "log.csv",
    "actuals.csv",
)


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
    origins, faults = Origins(), []
    raw = _read_toml(folder, origins, faults)
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
    case = build_case(raw, origins, faults)
    return replace(case, folder=folder, notes=notes)


def _not_needed(name: str, raw: Mapping[str, Any]) -> bool:
    return "output" in raw and name in ("labour", "substrate")


def find_case(where: str | Path) -> Path:
    """The folder of a case, from a path or a name.

    Raises
    ------
    NotFoundError with the names that are there
    """
    path = Path(where)
    if path.is_dir():
        return path.resolve()
    known: dict[str, Path] = {}
    for parent in (Path.cwd(), *Path.cwd().parents):
        cases = parent / "data" / "cases"
        if cases.is_dir():
            known.update({p.name: p for p in cases.iterdir() if p.is_dir()} | known)
    if str(where) in known:
        return known[str(where)].resolve()
    advice = did_you_mean(str(where), known, "cases")
    raise NotFoundError(f"There is no case {str(where)!r}: {advice} (known: {listed(known)}).")


def _read_toml(folder: Path, origins: Origins, faults: list[Fault]) -> dict[str, Any]:
    text = read_text(folder / "case.toml", faults)
    if text is None:
        raise CaseError(faults)
    if not text.strip():
        empty = Fault("case.toml", None, "the file", "is empty", "it holds the case", "fill it in")
        raise CaseError([empty])
    values = read_toml(text, origins, faults)
    if faults:
        raise CaseError(faults)
    raw: dict[str, Any] = {"heading": {}}
    for key, value in values.items():
        if key in SINGLE or key in NAMED:
            raw[key] = value
        elif isinstance(value, Mapping):
            known = [*SINGLE, *NAMED]
            faults.append(
                origins.at(
                    key,
                    "is not a known section",
                    f"known are {listed(known, 40)}",
                    did_you_mean(key, known, "sections"),
                )
            )
        else:
            raw["heading"][key] = value
    for build in raw.get("builds", {}).values():
        if isinstance(build, dict) and isinstance(build.get("with"), Mapping):
            build["with"] = flatten(build["with"])
    return raw


def write_case(case: Case, folder: str | Path) -> Path:
    """Write a case, with the changes made by `vary`, to a folder of its own.

    Comments and the order of rows survive. Each file is written beside its place and then moved
    there; a file that was there before is kept as `NAME.before`.

    Raises
    ------
    NotFoundError when the case was not read from a folder
    """
    if case.folder is None:
        raise NotFoundError("This case was not read from a folder, so it cannot be written.")
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    by_file: dict[str, dict[str, Any]] = {}
    for path, value in case.changes.items():
        section = split_path(path)[0]
        name = f"{section}.csv" if section in TABLES else "case.toml"
        by_file.setdefault(name, {})[path] = value
    for source in sorted(case.folder.iterdir()):
        if source.suffix not in (".csv", ".toml"):
            continue
        text = source.read_bytes().decode("utf-8-sig")
        changes = by_file.get(source.name, {})
        if changes and source.suffix == ".toml":
            text = _changed_toml(text, changes)
        elif changes:
            text = _changed_table(text, changes)
        write_text(target / source.name, text)
    return target


def write_text(path: Path, text: str) -> None:
    """Write a file whole or not at all; what stood there before is kept as `NAME.before`."""
    fresh = path.with_name(path.name + ".new")
    fresh.write_text(text, encoding="utf-8", newline="")
    if path.exists():
        shutil.copy2(path, path.with_name(path.name + ".before"))
    os.replace(fresh, path)


def _changed_toml(text: str, changes: Mapping[str, Any]) -> str:
    document = tomlkit.parse(text)
    for path, value in changes.items():
        section, identity, name = split_path(path)
        holder: Any = document
        for part in (section if section != "heading" else "", identity):
            if part:
                holder = holder.setdefault(part, tomlkit.table())
        if section == "builds" and name.startswith("with."):
            holder = holder.setdefault("with", tomlkit.table())
            name = name[5:]
        holder[name] = _plain_value(value, holder.get(name))
    return tomlkit.dumps(document)


def _plain_value(value: Any, before: Any) -> Any:
    if isinstance(value, Estimate):
        value = {k: v for k, v in value.model_dump().items() if v != ""}
    if isinstance(before, Mapping) and not isinstance(value, Mapping):
        kept = {k: v for k, v in before.items() if k in ("source", "status", "date")}
        value = {**kept, "likely": value} if kept else value
    if isinstance(value, Mapping):
        inline = tomlkit.inline_table()
        inline.update(value)
        return inline
    return list(value) if isinstance(value, tuple) else value


def _changed_table(text: str, changes: Mapping[str, Any]) -> str:
    first = text.splitlines()[0]
    semicolon = first.count(";") > first.count(",")
    delimiter = ";" if semicolon else ","
    table = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    header = [cell.strip() for cell in table[0]]
    line_of = {row[header.index("id")].strip(): row for row in table[1:] if any(row)}
    for path, value in changes.items():
        _, identity, name = split_path(path)
        parts = _cells(value)
        for suffix, part in zip(("", "_low", "_high"), parts, strict=True):
            column = name + suffix
            if column not in header and part != "":
                header.append(column)
            if column in header:
                row = line_of[identity]
                row.extend([""] * (len(header) - len(row)))
                shown = part.replace(".", ",") if semicolon else part
                row[header.index(column)] = shown if isinstance(value, int | float) else part
    table[0] = header
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    writer.writerows(row + [""] * (len(header) - len(row)) if any(row) else row for row in table)
    return out.getvalue()


def _cells(value: Any) -> tuple[str, str, str]:
    if isinstance(value, Estimate):
        value = value.model_dump()
    if isinstance(value, Mapping):
        return tuple(repr(float(value.get(k, value["likely"]))) for k in ("likely", "low", "high"))  # type: ignore[return-value]
    if isinstance(value, bool):
        return ("yes" if value else "no", "", "")
    return (repr(value) if isinstance(value, float) else str(value), "", "")
