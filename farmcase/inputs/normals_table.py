"""The table of monthly normals of a case: read and checked, every fault with its line."""

from __future__ import annotations

import csv
import io
from dataclasses import fields
from typing import get_args

import numpy as np

from farmcase.errors import Fault
from farmcase.inputs.daylight import means_by_month, sun_by_day
from farmcase.inputs.estimate import Status, shown
from farmcase.inputs.faults import did_you_mean, listed
from farmcase.inputs.files import is_semicolon, parse_number
from farmcase.inputs.normals import Array, Normals
from farmcase.inputs.weather_faults import Limits, hemisphere_fault, range_fault

NUMBERS = tuple(each.name for each in fields(Normals))
COLUMNS = ("month", *NUMBERS, "source", "status")
# Least and most of a month's numbers. No place on earth has a month above 42 °C, so that normals
# in Fahrenheit are found even of a cool coast.
RANGES = {
    "air_temp_c": Limits("air temperature", -60, 42, "°C"),
    "relative_humidity_percent": Limits("relative humidity", 1, 100, "%"),
    "daily_range_k": Limits("daily range", 0.1, 40, "K"),
    "day_to_day_k": Limits("deviation from day to day", 0.1, 15, "K"),
    "wind_m_per_s": Limits("wind", 0, 30, "m/s"),
}
# Above the air 100 %, on clear mountain days some 80 %; more is another unit, as MJ.
MOST_CLEARNESS_SHARE = 0.9


def read_normals(text: str, name: str, latitude_deg: float, faults: list[Fault]) -> Normals | None:
    """Twelve months of normals, or None with every fault of the table added to `faults`."""
    semicolon = is_semicolon(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=";" if semicolon else ",")
    header = [cell.strip() for cell in next(reader)]
    before = len(faults)
    _check_header(name, header, faults)
    rows: list[tuple[int, dict[str, str]]] = []
    for cells in reader:
        bare = [cell.strip() for cell in cells]
        if any(bare):
            bare += [""] * (len(header) - len(bare))
            rows.append((reader.line_num, dict(zip(header, bare, strict=False))))
    if len(rows) != 12:
        allowed, remedy = "one row for each of 12 months is needed", "add or take out rows"
        faults.append(Fault(name, None, "the table", f"has {len(rows)} rows", allowed, remedy))
    found = {column: np.full(len(rows), np.nan) for column in NUMBERS}
    for place, (line, row) in enumerate(rows):
        _check_words(name, line, place, row, faults)
        for column in NUMBERS:
            if column in header:
                found[column][place] = _number(name, line, column, row[column], semicolon, faults)
    if len(rows) == 12:
        lines = [line for line, _ in rows]
        _check_light(name, lines, found["global_horizontal_kwh_per_m2_day"], latitude_deg, faults)
        if len(faults) == before:
            faults += hemisphere_fault(name, found["air_temp_c"], latitude_deg)
    return Normals(**found) if len(faults) == before else None


def _check_header(name: str, header: list[str], faults: list[Fault]) -> None:
    def add(column: str, given: str, allowed: str, remedy: str) -> None:
        faults.append(Fault(name, 1, f"the column {shown(column)}", given, allowed, remedy))

    for column in dict.fromkeys(header):
        if column not in COLUMNS and column:
            remedy = did_you_mean(column, COLUMNS, "columns")
            add(column, "is not known", f"allowed are {listed(COLUMNS)}", remedy)
        elif header.count(column) > 1 and column:
            add(column, "stands twice", "each column may stand once", "remove one of them")
    for column in COLUMNS:
        if column not in header:
            add(column, "is missing", "every month needs it", _HELP.get(column, "add the column"))


_HELP = {
    "daily_range_k": "add the mean of each day's highest less its lowest temperature",
    "day_to_day_k": "add the standard deviation of the daily means within the month",
}


def _check_words(
    name: str, line: int, place: int, row: dict[str, str], faults: list[Fault]
) -> None:
    month = row.get("month", str(place + 1))
    if month != str(place + 1) and place < 12:
        allowed = f"{place + 1} must stand there"
        remedy = "give the months 1 to 12 in order, each once"
        faults.append(Fault(name, line, "the month", f"is {shown(month)}", allowed, remedy))
    if not row.get("source", "-"):
        allowed, remedy = "a text must stand here", "say where the numbers are from"
        faults.append(Fault(name, line, "the source", "is empty", allowed, remedy))
    words = get_args(getattr(Status, "__value__", Status))
    if row.get("status", words[0]) not in words:
        given, allowed = f"is {shown(row['status'])}", f"allowed are {', '.join(words)}"
        remedy = did_you_mean(row["status"], words, "words")
        faults.append(Fault(name, line, "the status", given, allowed, remedy))


def _number(
    name: str, line: int, column: str, cell: str, semicolon: bool, faults: list[Fault]
) -> float:
    """The number of a cell; NaN, with a fault, where there is none."""
    what = f"the column {column}"
    value = parse_number(cell, semicolon)
    if isinstance(value, str) or not np.isfinite(value):
        given = f"is {shown(cell)}" if cell else "is empty"
        faults.append(Fault(name, line, what, given, "a number must stand here", "fill it in"))
        return float("nan")
    limits = RANGES.get(column)
    fault = limits and range_fault(name, line, what, column, np.array([value]), limits)
    if fault:
        faults.append(fault)
        return float("nan")
    return float(value)


def _check_light(
    name: str, lines: list[int], daily_kwh: Array, latitude_deg: float, faults: list[Fault]
) -> None:
    """No month may have more light than reaches the air above it."""
    most = MOST_CLEARNESS_SHARE * means_by_month(
        sun_by_day(latitude_deg, 0.0, 0.0).outside_kwh_per_m2_day
    )
    for line, given, top in zip(lines, daily_kwh, most, strict=True):
        if given < 0 or given > top:
            what = "the column global_horizontal_kwh_per_m2_day"
            allowed = f"at this latitude 0 to {top:.2f} are allowed in the month"
            remedy = "it looks like MJ: divide by 3.6" if given > top else "correct it"
            faults.append(Fault(name, line, what, f"is {given:g}", allowed, remedy))
