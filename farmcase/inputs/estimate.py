"""A number with its range and its origin, and how one is declared in a record.

Every number of a case is read through `read_estimate` or `read_plain`, so that limits and
sentences about faults are the same for TOML, CSV, `Case.vary` and a table of scenarios.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ConfigDict, Field, field_validator
from pydantic_core import PydanticCustomError

from farmcase.inputs.frozen import freeze

Stage = Literal["physical", "money"]
Status = Literal["measured", "quoted", "published", "guess"]
STATUSES: tuple[str, ...] = get_args(Status)
ORIGIN_PARTS = ("source", "status", "date", "note")
_PARTS = ("low", "likely", "high", *ORIGIN_PARTS)
# No price, mass or count of a farm comes near it; beyond it sums would overflow.
MOST = 1e12
_DATE = re.compile(r"[12]\d{3}-(0[1-9]|1[0-2])(-\d{2})?", re.ASCII)


class BeyondNumbers(float):
    """What was written as a number but is none (nan) or has no end (1e400), as it was written."""

    def __new__(cls, text: str) -> BeyondNumbers:
        made = super().__new__(cls, text)
        made.text = text
        return made

    text: str

    def __repr__(self) -> str:
        return self.text

    __str__ = __repr__


def read_float(text: str) -> float:
    """The number a text stands for; keeps the text where it is not a finite one."""
    value = float(text)
    return value if math.isfinite(value) else BeyondNumbers(text)


class Estimate(BaseModel):
    """A number as low, likely and high, with source, status and date of the price.

    A plain number has low = likely = high.
    """

    model_config = ConfigDict(frozen=True)

    low: float
    likely: float
    high: float
    source: str = ""
    status: str = ""
    date: str = ""

    @property
    def is_uncertain(self) -> bool:
        """Whether low and high differ."""
        return self.low != self.high


def shorten(text: str, most: int) -> str:
    """The text, cut with three dots where it is longer than a sentence can hold."""
    return text if len(text) <= most else text[: most - 3] + "..."


def shown(value: Any) -> str:
    """A value as it stands in the file, short enough for a sentence."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dt.date | dt.time | BeyondNumbers):
        return shorten(str(value), 60)
    if isinstance(value, int) and abs(value) >= 10**40:
        return "a number of more than forty digits"
    return shorten(repr(value), 60)


def problem(given: str, allowed: str, remedy: str, inside: str = "") -> PydanticCustomError:
    """A fault in one value, in the three parts a sentence needs; `inside` is a key within it."""
    context = {"given": given, "allowed": allowed, "remedy": remedy, "inside": inside}
    return PydanticCustomError("farmcase", "{given}; {allowed}; {remedy}", context)


def number(
    unit: str,
    *,
    stage: Stage = "money",
    ge: float = 0.0,
    le: float = MOST,
    default: Any = ...,
) -> Any:
    """Declare a number field: its unit, the stage it belongs to and its limits.

    The unit "money" stands for the currency of the case. `default` makes it optional.
    """
    extra = {"unit": unit, "stage": stage, "ge": ge, "le": le}
    return Field(default=default, json_schema_extra=extra)


def ratio(*, stage: Stage = "money", le: float = 1.0, default: Any = ...) -> Any:
    """Declare a share of 0 to 1 (biological efficiency and the like may go higher)."""
    return number("share", stage=stage, le=le, default=default)


def limits_text(spec: Mapping[str, Any]) -> str:
    """The limits of a number in words, with its unit."""
    low, high = spec["ge"], spec["le"]
    unit = "" if spec["unit"] in ("share", "") else f" ({spec['unit']})"
    unit = unit.replace("money", "currency of the case")
    if high >= MOST and low <= -MOST:
        return f"allowed is any number{unit}"
    if high >= MOST:
        return f"allowed is {low:g} or more{unit}"
    return f"allowed is {low:g} to {high:g}{unit}"


def check_number(value: Any, spec: Mapping[str, Any], part: str = "", inside: str = "") -> float:
    """The value as a finite number within the limits of its field.

    Raises
    ------
    PydanticCustomError with what was given, what is allowed and what to do
    """
    name = f"has {part}" if part else "is"
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise problem(f"{name} {shown(value)}", "allowed is a number", _hint(value), inside)
    if not abs(value) <= MOST:
        remedy = "write an ordinary number such as 9.5"
        raise problem(f"{name} {shown(value)}", limits_text(spec), remedy, inside)
    number = float(value)
    if not spec["ge"] <= number <= spec["le"]:
        remedy = "correct the number"
        if spec["unit"].startswith("share") and 1 < number <= 100:
            remedy = f"write {number / 100:g} for {number:g} %"
        elif number < 0 <= spec["ge"]:
            remedy = "write it without a minus sign (costs and prices are entered as positive)"
        raise problem(f"{name} {number:g}", limits_text(spec), remedy, inside)
    return number


def _hint(value: Any) -> str:
    """What to do about something that is no number."""
    text = str(value).replace("\N{NO-BREAK SPACE}", " ").strip()
    percent = re.fullmatch(r"(\d{1,9}(?:[.,]\d{1,9})?) ?%", text)
    if percent:
        share = float(percent.group(1).replace(",", ".")) / 100
        return f"write {share:g} for {text}"
    if isinstance(value, str) and re.fullmatch(r"[+-]?\d{1,3}[.,]\d{3}", text):
        whole = text.replace(",", "").replace(".", "")
        return f"write {whole} if that is meant, else give another number of decimals"
    if isinstance(value, str) and re.fullmatch(r"[+-]?\d{1,15},\d{1,15}", text):
        return f"write {text.replace(',', '.')} with a decimal point"
    if isinstance(value, str) and re.fullmatch(r"[+-]?\d{1,15}(\.\d{1,15})?", text):
        return f"write {text} without quotation marks"
    return "write a number such as 9.5, without a currency sign, unit or thousands mark"


def read_estimate(value: Any, spec: Mapping[str, Any]) -> Estimate:
    """An `Estimate` from a plain number or from a table of low, likely and high."""
    if isinstance(value, Estimate):
        return value
    if not isinstance(value, Mapping):
        number = check_number(value, spec)
        return Estimate(low=number, likely=number, high=number)
    unknown = sorted(set(value) - set(_PARTS))
    if unknown:
        raise problem(
            f"has the unknown part {shown(unknown[0])}",
            "allowed are " + ", ".join(_PARTS),
            "rename or remove it",
        )
    if "likely" not in value:
        raise problem("has no likely value", "allowed is low, likely and high", "add likely")
    likely = check_number(value["likely"], spec, "likely =")
    low = check_number(value.get("low", likely), spec, "low =")
    high = check_number(value.get("high", likely), spec, "high =")
    if not low <= likely <= high:
        raise problem(
            f"has low {low:g}, likely {likely:g}, high {high:g}",
            "allowed is low no greater than likely, and likely no greater than high",
            "put the three in order",
        )
    return Estimate(low=low, likely=likely, high=high, **_origin(value))


def _origin(value: Mapping[str, Any]) -> dict[str, str]:
    origin = {k: value[k] for k in ("source", "status", "date") if k in value}
    for name, text in origin.items():
        if not isinstance(text, str):
            remedy = "put it in quotation marks"
            raise problem(f"has {name} = {shown(text)}", f"allowed as {name} is text", remedy)
    if origin.get("date"):
        check_date(origin["date"])
    if "status" in origin and origin["status"] not in STATUSES:
        raise problem(
            f"has status {shown(origin['status'])}",
            "allowed are " + ", ".join(STATUSES),
            "choose the one that says how you know the number",
        )
    return origin


def check_date(value: str) -> str:
    """An ISO date, to the month or to the day."""
    try:
        dt.date.fromisoformat(value if len(value) > 7 else f"{value}-01")
        known = _DATE.fullmatch(value)
    except ValueError:
        known = None
    if not known:
        raise problem(
            f"is {shown(value)}",
            "allowed is a date as YYYY-MM or YYYY-MM-DD",
            "write for example 2026-10 or 2026-10-31",
        )
    return value


class Record(BaseModel):
    """Base of every section and row: frozen, no unknown keys, numbers checked in our words."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, validate_default=True)

    @field_validator("*", mode="before")
    @classmethod
    def _numbers(cls, value: Any, info: Any) -> Any:
        field = cls.model_fields[info.field_name]
        spec = field.json_schema_extra
        if isinstance(spec, dict) and "unit" in spec:
            if field.annotation is Estimate:
                return read_estimate(value, spec)
            if get_origin(field.annotation) is tuple and not isinstance(value, list | tuple):
                remedy = "write for example [1, 2, 3]"
                raise problem(f"is {shown(value)}", "allowed is a list of numbers", remedy)
            if isinstance(value, list | tuple):
                return tuple(check_number(v, spec, f"entry {i + 1} =") for i, v in enumerate(value))
            if value is None:
                return None
            number = check_number(value, spec)
            whole = int in (get_args(field.annotation) or (field.annotation,))
            return int(number) if whole and number.is_integer() else number
        return tuple(value) if isinstance(value, list) else value

    @field_validator("*", mode="after")
    @classmethod
    def _frozen(cls, value: Any) -> Any:
        return freeze(value) if isinstance(value, Mapping) else value

    @classmethod
    def specs(cls) -> dict[str, dict[str, Any]]:
        """The number fields that may carry a range, by name, with unit, stage and limits."""
        return {
            name: dict(extra)
            for name, field in cls.model_fields.items()
            if field.annotation is Estimate and isinstance(extra := field.json_schema_extra, dict)
        }
