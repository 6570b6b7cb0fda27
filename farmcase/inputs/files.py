"""The files of a case folder as raw values, with the line each came from."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from pathlib import Path
from typing import Any, get_args

from farmcase.errors import Fault
from farmcase.inputs.estimate import Estimate, Record
from farmcase.inputs.faults import Origins, did_you_mean, listed

_KEY = re.compile(r'\s*("(?:[^"\\]|\\.)*"|[A-Za-z0-9_.-]+)\s*=')
_SECTION = re.compile(r"\s*\[([^\[\]]+)\]\s*(#.*)?$")
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+")
_ID = re.compile(r"[a-z0-9_]+")


def read_text(path: Path, faults: list[Fault]) -> str | None:
    """The text of a UTF-8 file (a byte-order mark is dropped), or None with a fault."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        given, allowed, remedy = "is missing", "the case needs this file", "add it to the folder"
    except UnicodeDecodeError as error:
        given = f"is not UTF-8 text (byte {error.start})"
        allowed, remedy = "allowed is UTF-8", "save it again as 'CSV UTF-8' or as UTF-8 text"
    except OSError as error:
        given, allowed, remedy = (
            f"cannot be read ({error.strerror})",
            "it must be readable",
            "check",
        )
    faults.append(Fault(path.name, None, "the file", given, allowed, remedy))
    return None


def read_toml(text: str, origins: Origins, faults: list[Fault]) -> dict[str, Any]:
    """case.toml as nested raw values; notes the line of each key."""
    _note_lines(text, origins)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        found = re.search(r"at line (\d+)", message)
        line = int(found.group(1)) if found else None
        shown = text.splitlines()[line - 1].strip() if line else ""
        comma = re.search(r"=\s*[+-]?\d+,\d", shown)
        remedy = (
            "write the decimal sign as a point: 9.5"
            if comma
            else "check quotation marks, brackets and that no key stands twice"
        )
        reason = message.split(" (at")[0].lower()
        given = f"cannot be read at {shown!r} ({reason})"
        faults.append(Fault("case.toml", line, "the file", given, "allowed is TOML", remedy))
        return {}


def _note_lines(text: str, origins: Origins) -> None:
    section, depth = "", 0
    for number, line in enumerate(text.splitlines(), start=1):
        header = _SECTION.match(line) if depth == 0 else None
        if header:
            section = ".".join(part.strip().strip('"') for part in header.group(1).split("."))
            origins.places.setdefault(section, ("case.toml", number))
            continue
        key = _KEY.match(line) if depth == 0 else None
        if key:
            name = key.group(1).strip('"')
            path = f"{section}.{name}" if section else name
            origins.places.setdefault(path, ("case.toml", number))
        bare = re.sub(r'"[^"]*"|#.*', "", line)
        depth = max(0, depth + sum(bare.count(c) for c in "[{") - sum(bare.count(c) for c in "]}"))


def read_table(
    name: str, text: str, model: type[Record], origins: Origins, faults: list[Fault]
) -> dict[str, dict[str, Any]]:
    """A CSV table as raw rows by id; comma or semicolon, the latter with decimal commas."""
    file = f"{name}.csv"
    if not text.strip():
        faults.append(Fault(file, None, "the file", "is empty", "a header and rows", "fill it in"))
        return {}
    first = text.splitlines()[0]
    semicolon = first.count(";") > first.count(",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=";" if semicolon else ",")
    header = [cell.strip() for cell in next(reader)]
    rows: dict[str, dict[str, Any]] = {}
    known = _check_header(file, header, model, faults)
    count = 0
    for cells in reader:
        if not any(cell.strip() for cell in cells):
            continue
        count += 1
        line = reader.line_num
        if len(cells) != len(header):
            faults.append(_wrong_length(file, line, len(cells), len(header)))
            continue
        row = dict(zip(header, (cell.strip() for cell in cells), strict=True))
        identity = row.pop("id", "")
        if not _ID.fullmatch(identity) or identity in rows:
            faults.append(_wrong_id(file, line, identity, identity in rows, origins, name))
            continue
        origins.places[f"{name}.{identity}"] = (file, line)
        rows[identity] = _raw_row({k: v for k, v in row.items() if k in known}, model, semicolon)
    if count == 0:
        faults.append(
            Fault(file, 1, "the table", "has a header but no rows", "at least one row", "add one")
        )
    return rows


def columns_of(model: type[Record]) -> list[str]:
    """The columns of a table: id, then each field, with _low and _high beside a ranged one."""
    columns = ["id"]
    for name, field in model.model_fields.items():
        columns.append(name)
        if field.annotation is Estimate:
            columns += [f"{name}_low", f"{name}_high"]
    return columns


def _check_header(
    file: str, header: list[str], model: type[Record], faults: list[Fault]
) -> set[str]:
    known = set(columns_of(model))
    for column in header:
        if column not in known:
            faults.append(
                Fault(
                    file,
                    1,
                    f"the column {column!r}",
                    "is not known",
                    f"allowed are {listed(known, 60)}",
                    did_you_mean(column, known, "columns"),
                )
            )
    for column in sorted({c for c in header if header.count(c) > 1}):
        faults.append(
            Fault(
                file, 1, f"the column {column!r}", "stands twice", "once is allowed", "remove one"
            )
        )
    if "id" not in header:
        faults.append(
            Fault(file, 1, "the column 'id'", "is missing", "every row needs an id", "add it")
        )
    return known


def _wrong_length(file: str, line: int, found: int, wanted: int) -> Fault:
    return Fault(
        file,
        line,
        "the row",
        f"has {found} cells where the header has {wanted}",
        "one cell for each column is allowed",
        "put quotation marks around a text that holds the separator, "
        "and write decimals with a point in a comma file",
    )


def _wrong_id(
    file: str, line: int, identity: str, twice: bool, origins: Origins, name: str
) -> Fault:
    if twice:
        other = origins.places[f"{name}.{identity}"][1]
        given, allowed = f"{identity!r} stands on line {other} too", "each id may stand once"
    else:
        given, allowed = f"is {identity!r}", "allowed are small letters, digits and _"
    return Fault(file, line, "the id", given, allowed, "choose another id for this row")


def _raw_row(row: dict[str, str], model: type[Record], semicolon: bool) -> dict[str, Any]:
    raw: dict[str, Any] = {}
    for name, field in model.model_fields.items():
        cell = row.get(name, "")
        if field.annotation is Estimate:
            low, high = row.get(f"{name}_low", ""), row.get(f"{name}_high", "")
            if low or high:
                parts = {"low": low, "likely": cell, "high": high}
                raw[name] = {k: parse_number(v, semicolon) for k, v in parts.items() if v}
            elif cell:
                raw[name] = parse_number(cell, semicolon)
        elif cell:
            raw[name] = _plain(cell, field.annotation, semicolon)
        elif field.is_required() and field.annotation is str:
            raw[name] = ""
    return raw


def _plain(cell: str, annotation: Any, semicolon: bool) -> Any:
    kinds = set(get_args(annotation)) | {annotation}
    if bool in kinds:
        return {"yes": True, "no": False, "true": True, "false": False}.get(cell.lower(), cell)
    if int in kinds or float in kinds:
        return parse_number(cell, semicolon)
    return cell


def parse_number(cell: str, semicolon: bool) -> float | str:
    """The number a cell holds, or the cell itself where it holds none.

    In a semicolon file 9,50 is nine and a half; a point before exactly three digits could be a
    thousands mark there, so it is left as text and becomes a fault.
    """
    text = cell.strip()
    if semicolon:
        if _COMMA_NUMBER.fullmatch(text):
            return float(text.replace(",", "."))
        if re.fullmatch(r"[+-]?[1-9]\d{0,2}\.\d{3}", text):
            return text
    return float(text) if _NUMBER.fullmatch(text) else text
