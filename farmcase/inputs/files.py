"""The files of a case folder as raw values, with the line each came from."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from pathlib import Path
from typing import Any, get_args

from farmcase.errors import Fault
from farmcase.inputs.estimate import Estimate, Record, read_float, shorten, shown
from farmcase.inputs.faults import Origins, did_you_mean, listed

_KEY = re.compile(r"""\s*((?:"(?:[^"\\]|\\.)*"|'[^']*'|[A-Za-z0-9_.-])+)\s*=""")
_SECTION = re.compile(r"\s*\[([^\[\]]+)\]\s*(#.*)?$")
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_ID = re.compile(r"[a-z0-9_]+")


def read_text(path: Path, faults: list[Fault]) -> str | None:
    """The text of a UTF-8 file (a byte-order mark is dropped), or None with a fault."""
    line = None
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        given, allowed, remedy = "is missing", "the case needs this file", "add it to the folder"
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        given = f"holds a letter that is not UTF-8 (byte {error.object[error.start]:#04x})"
        allowed, remedy = "allowed is UTF-8 text", "save it again as 'CSV UTF-8' or as UTF-8 text"
    except OSError as error:
        given = f"cannot be read ({error.strerror})"
        allowed, remedy = "a file that may be read is needed", "look at its permissions"
    faults.append(Fault(path.name, line, "the file", given, allowed, remedy))
    return None


def read_toml(text: str, origins: Origins, faults: list[Fault]) -> dict[str, Any] | None:
    """case.toml as nested raw values, or None with a fault; notes the line of each key."""
    _note_lines(text, origins)
    try:
        return tomllib.loads(text, parse_float=read_float)
    except (ValueError, RecursionError) as error:
        message = str(error)
        found = re.search(r"at line (\d+)", message)
        line = int(found.group(1)) if found else None
        start = text.replace("\r\n", "\n").split("\n")[line - 1].strip() if line else ""
        reason = message.split(" (at")[0].rstrip(".").lower()
        given = f"cannot be read at {shown(start)} ({shorten(reason, 80)})"
        allowed = 'allowed are lines such as name = 9.5 and name = "text"'
        faults.append(Fault("case.toml", line, "the file", given, allowed, _toml_remedy(start)))
        return None


def _toml_remedy(line: str) -> str:
    percent = re.search(r"=\s*(\d{1,9}(?:[.,]\d{1,9})?)\s*%", line)
    if percent:
        share = float(percent.group(1).replace(",", ".")) / 100
        return f"write {share:g} for {percent.group(1)} %"
    comma = re.search(r"=\s*([+-]?\d{1,15}),(\d{1,15})", line)
    if comma and len(comma.group(2)) == 3:
        whole = comma.group(1) + comma.group(2)
        return f"write {whole} if that is meant, without a thousands mark"
    if comma:
        return f"write the decimal sign as a point: {comma.group(1)}.{comma.group(2)}"
    return "put text and dates in quotation marks, close every bracket, name each key once"


def _note_lines(text: str, origins: Origins) -> None:
    section, depth, quote = "", 0, ""  # `quote` is what ends a text of several lines
    for number, line in enumerate(text.split("\n"), start=1):
        if quote:
            quote = "" if line.count(quote) % 2 else quote
            continue
        header = _SECTION.match(line) if depth == 0 else None
        if header:
            section = ".".join(p.strip().strip("\"'") for p in header.group(1).split("."))
            _note(section, number, origins)
            continue
        key = _KEY.match(line) if depth == 0 else None
        if key:
            name = re.sub("[\"']", "", key.group(1))
            _note(f"{section}.{name}" if section else name, number, origins)
        quote = next((q for q in ('"""', "'''") if line.count(q) % 2), "")
        bare = re.sub(r""""[^"]*"|'[^']*'|#.*""", "", line)
        depth = max(0, depth + sum(bare.count(c) for c in "[{") - sum(bare.count(c) for c in "]}"))


def _note(path: str, line: int, origins: Origins) -> None:
    """Note the line of a path, and of each table above it of which nothing was seen yet."""
    parts = path.split(".")
    for length in range(1, len(parts) + 1):
        origins.places.setdefault(".".join(parts[:length]), ("case.toml", line))


def read_table(
    name: str, text: str, model: type[Record], origins: Origins, faults: list[Fault]
) -> dict[str, dict[str, Any]]:
    """A CSV table as raw rows by id; comma or semicolon, the latter with decimal commas.

    Blank lines, and empty cells beyond the last column, are passed over.
    """
    file = f"{name}.csv"
    semicolon = is_semicolon(text)
    lines, wrong = _lines(text, semicolon, file)
    if wrong:
        faults.append(wrong)
        origins.incomplete.add(name)
    if not lines:
        return {}
    first, header = lines[0]
    columns = _check_header(name, first, header, model, origins, faults)
    rows: dict[str, dict[str, Any]] = {}
    for line, cells in lines[1:] if "id" in columns else []:
        if len(cells) < len(header) or any(cells[len(header) :]):
            faults.append(_wrong_length(file, line, len(cells), len(header)))
            origins.incomplete.add(name)
            continue
        row = {k: v for k, v in zip(header, cells, strict=False) if k in columns}
        identity = row.pop("id")
        if not _ID.fullmatch(identity) or identity in rows:
            faults.append(_wrong_id(file, line, identity, identity in rows, origins, name))
            origins.incomplete.add(name)
            continue
        origins.places[f"{name}.{identity}"] = (file, line)
        rows[identity] = _raw_row(row, model, semicolon)
    if len(lines) == 1 and not wrong:
        given, allowed = "has a header but no rows", "at least one row is needed"
        faults.append(Fault(file, first, "the table", given, allowed, "add a row"))
        origins.incomplete.add(name)
    return rows


def is_semicolon(text: str) -> bool:
    """Whether a table's columns are parted by semicolons (and its decimals by commas)."""
    first = text.lstrip().split("\n")[0]
    return first.count(";") > first.count(",")


def _lines(
    text: str, semicolon: bool, file: str
) -> tuple[list[tuple[int, list[str]]], Fault | None]:
    """The rows that hold something, header first, each with the line it starts on.

    Reading stops at a row whose quotation marks do not match, with a fault.
    """
    source = io.StringIO(text, newline="")
    reader = csv.reader(source, delimiter=";" if semicolon else ",", strict=True)
    lines, start = [], 1
    try:
        for cells in reader:
            bare = [cell.strip() for cell in cells]
            if any(bare):
                lines.append((start, bare))
            start = reader.line_num + 1
    except csv.Error:
        given, allowed = "has a quotation mark without its pair", "they come in pairs round a text"
        remedy = "close it, or write it twice within a text in quotation marks"
        return lines, Fault(file, start, "the row", given, allowed, remedy)
    if not lines:
        allowed = "a header and at least one row are needed"
        return lines, Fault(file, None, "the file", "is empty", allowed, "fill it in")
    header = lines[0][1]
    while not header[-1]:
        header.pop()
    return lines, None


def columns_of(model: type[Record]) -> list[str]:
    """The columns of a table: id, then each field, with _low and _high beside a ranged one."""
    columns = ["id"]
    for name, field in model.model_fields.items():
        columns.append(name)
        if field.annotation is Estimate:
            columns += [f"{name}_low", f"{name}_high"]
    return columns


def _check_header(
    name: str,
    line: int,
    header: list[str],
    model: type[Record],
    origins: Origins,
    faults: list[Fault],
) -> set[str]:
    """The columns that can be used; notes the needed ones that are not there."""
    known = set(columns_of(model))

    def add(column: str, given: str, allowed: str, remedy: str) -> None:
        what = f"the column {shown(column)}"
        faults.append(Fault(f"{name}.csv", line, what, given, allowed, remedy))

    for column in dict.fromkeys(header):
        if column not in known:
            remedy = did_you_mean(column, known, "columns")
            add(column, "is not known", f"allowed are {listed(known)}", remedy)
        elif header.count(column) > 1:
            add(column, "stands twice", "each column may stand once", "remove one of them")
    usable = {column for column in known if header.count(column) == 1}
    needed = ["id", *(n for n, field in model.model_fields.items() if field.is_required())]
    for column in needed:
        if column not in header:
            add(column, "is missing", "every row needs it", "add the column and fill it in")
    origins.absent.update(f"{name}.{column}" for column in needed if column not in usable)
    return usable


def _wrong_length(file: str, line: int, found: int, wanted: int) -> Fault:
    many = "put a text that holds the separator in quotation marks, and write decimals in a comma "
    return Fault(
        file,
        line,
        "the row",
        f"has {found} cells where the header has {wanted}",
        "one cell for each column is allowed",
        f"{many}file with a point" if found > wanted else "fill it up, or close a quotation mark",
    )


def _wrong_id(
    file: str, line: int, identity: str, twice: bool, origins: Origins, name: str
) -> Fault:
    if twice:
        other = origins.places[f"{name}.{identity}"][1]
        given = f"{shown(identity)} stands on line {other} too"
        allowed = "each id may stand once in a file"
    else:
        given = f"is {shown(identity)}" if identity else "is empty"
        allowed = "allowed are small letters a to z, digits and _"
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
        if re.fullmatch(r"[+-]?[1-9]\d{0,2}\.\d{3}", text):
            return text
        if "." not in text:
            text = text.replace(",", ".", 1)
    return read_float(text) if _NUMBER.fullmatch(text) else cell.strip()


def format_number(value: float, semicolon: bool) -> str:
    """A number as a cell from which `parse_number` reads the same number."""
    text = repr(value)
    return text.replace(".", ",") if semicolon else text
