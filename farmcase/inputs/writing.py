"""The files of a case with some of their values changed, and how they are put in their place."""

from __future__ import annotations

import csv
import io
import os
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit

from farmcase.inputs.estimate import ORIGIN_PARTS, Estimate
from farmcase.inputs.files import format_number, is_semicolon
from farmcase.inputs.schema import split_path

_BOM = b"\xef\xbb\xbf"


def changed_content(source: Path, changes: Mapping[str, Any]) -> bytes:
    """What a file of the case holds with some paths of it changed."""
    content = source.read_bytes()
    if not changes:
        return content
    text = content.decode("utf-8-sig")
    text = (changed_toml if source.suffix == ".toml" else changed_table)(text, changes)
    return (_BOM if content.startswith(_BOM) else b"") + text.encode()


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file whole or not at all; what else stood there before is kept as `NAME.before`."""
    if path.is_file() and path.read_bytes() == content:
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(path.name + ".new")
    try:
        fresh.write_bytes(content)
        if path.exists():
            shutil.copy2(path, path.with_name(path.name + ".before"))
        os.replace(fresh, path)
    finally:
        fresh.unlink(missing_ok=True)


def changed_toml(text: str, changes: Mapping[str, Any]) -> str:
    """The text of case.toml with some paths changed; comments stay."""
    document = tomlkit.parse(text)
    for path, value in changes.items():
        section, identity, name = split_path(path)
        holder: Any = document
        for part in (section if section != "heading" else "", identity):
            if part:
                holder = holder.setdefault(part, tomlkit.table())
        if section == "builds" and name.startswith("with."):
            holder, name = _where(holder.setdefault("with", tomlkit.table()), name[5:])
        holder[name] = _plain_value(value, holder.get(name))
    return tomlkit.dumps(document)


def _where(changes: Any, path: str) -> tuple[Any, str]:
    """The table under `with` that holds a path, written whole or in parts, and the key there."""
    if path not in changes:
        for key in changes:
            if path.startswith(f"{key}.") and isinstance(changes[key], Mapping):
                return _where(changes[key], path[len(key) + 1 :])
    return changes, path


def _plain_value(value: Any, before: Any) -> Any:
    if isinstance(value, Estimate):
        value = {k: v for k, v in value.model_dump().items() if v != ""}
    if isinstance(before, Mapping) and not isinstance(value, Mapping):
        kept = {k: v for k, v in before.items() if k in ORIGIN_PARTS}
        value = {**kept, "likely": value} if kept else value
    if isinstance(value, Mapping):
        inline = tomlkit.inline_table()
        for key, part in value.items():
            inline.append(key, _plain_value(part, None))
        return inline
    return list(value) if isinstance(value, tuple) else value


def changed_table(text: str, changes: Mapping[str, Any]) -> str:
    """The text of a table with some paths changed, in its own way of writing numbers."""
    semicolon = is_semicolon(text)
    delimiter = ";" if semicolon else ","
    table = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    first = next(i for i, cells in enumerate(table) if any(cells))
    header = table[first] = [cell.strip() for cell in table[first]]
    place = header.index("id")
    rows = {cells[place].strip(): cells for cells in table[first + 1 :] if any(cells)}
    for path, value in changes.items():
        _, identity, name = split_path(path)
        parts = zip(("", "_low", "_high"), _cells(value, semicolon), strict=True)
        for suffix, part in parts:
            if name + suffix not in header and part:
                header.append(name + suffix)
            if name + suffix in header:
                row = rows[identity]
                row.extend([""] * (len(header) - len(row)))
                row[header.index(name + suffix)] = part
    out = io.StringIO()
    ending = "\r\n" if "\r\n" in text else "\n"
    writer = csv.writer(out, delimiter=delimiter, lineterminator=ending)
    writer.writerows(c + [""] * (len(header) - len(c)) if any(c) else c for c in table)
    return out.getvalue()


def _cells(value: Any, semicolon: bool) -> tuple[str, str, str]:
    """What stands in the cells of a field: likely, low, high."""
    if isinstance(value, Estimate):
        value = value.model_dump()
    if isinstance(value, Mapping):
        likely, low, high = (value.get(k, value["likely"]) for k in ("likely", "low", "high"))
        return (
            format_number(likely, semicolon),
            format_number(low, semicolon),
            format_number(high, semicolon),
        )
    if isinstance(value, bool):
        return ("yes" if value else "no", "", "")
    return (format_number(value, semicolon) if isinstance(value, float) else str(value), "", "")
