"""A number with its range and its origin, and how one is declared in a record.

Every number of a case is read through `read_estimate` or `read_plain`, so that limits and
sentences about faults are the same for TOML, CSV, `Case.vary` and a table of scenarios.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, field_validator
from pydantic_core import PydanticCustomError

Stage = Literal["physical", "money"]
Status = Literal["measured", "quoted", "published", "guess"]
STATUSES: tuple[str, ...] = get_args(Status)
_PARTS = ("low", "likely", "high", "source", "status", "date", "note")


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


def problem(given: str, allowed: str, remedy: str) -> PydanticCustomError:
    """A fault in one value, in the three parts a sentence needs."""
    context = {"given": given, "allowed": allowed, "remedy": remedy}
    return PydanticCustomError("farmcase", "{given}; {allowed}; {remedy}", context)


def number(
    unit: str,
    *,
    stage: Stage = "money",
    ge: float = 0.0,
    le: float = math.inf,
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
    unit = "" if spec["unit"] == "share" else f" {spec['unit']}"
    if math.isinf(high) and math.isinf(low):
        return f"allowed is any number{unit}"
    if math.isinf(high):
        return f"allowed is {low:g} or more{unit}"
    return f"allowed is {low:g} to {high:g}{unit}"


def check_number(value: Any, spec: Mapping[str, Any], part: str = "") -> float:
    """The value as a finite number within the limits of its field.

    Raises
    ------
    PydanticCustomError with what was given, what is allowed and what to do
    """
    name = f"has {part}" if part else "is"
    if isinstance(value, bool) or not isinstance(value, int | float):
        shown = str(value).lower() if isinstance(value, bool) else repr(value)
        hint = "write a number such as 9.5, without a currency sign, unit or thousands mark"
        if isinstance(value, str) and value.replace(",", "", 1).isdigit():
            hint = f"write {value.replace(',', '.')} with a decimal point"
        raise problem(f"{name} {shown}", "allowed is a number", hint)
    number = float(value)
    if not math.isfinite(number):
        raise problem(f"{name} {value}", "allowed is a finite number", "write the number itself")
    if not spec["ge"] <= number <= spec["le"]:
        remedy = "correct the number"
        if spec["unit"] == "share" and 1 < number <= 100:
            remedy = f"write {number / 100:g} for {number:g} %"
        elif number < 0 <= spec["ge"]:
            remedy = "write it without a minus sign (costs and prices are entered as positive)"
        raise problem(f"{name} {number:g}", limits_text(spec), remedy)
    return number


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
            f"has the unknown part {unknown[0]!r}",
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
    if "status" in origin and origin["status"] not in STATUSES:
        raise problem(
            f"has status {origin['status']!r}",
            "allowed are " + ", ".join(STATUSES),
            "choose the one that says how you know the number",
        )
    return origin


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
            if isinstance(value, list | tuple):
                return tuple(check_number(v, spec, f"entry {i + 1} =") for i, v in enumerate(value))
            if value is None:
                return None
            number = check_number(value, spec)
            whole = int in (get_args(field.annotation) or (field.annotation,))
            return int(number) if whole and number.is_integer() else number
        return tuple(value) if isinstance(value, list) else value

    @classmethod
    def specs(cls) -> dict[str, dict[str, Any]]:
        """The number fields that may carry a range, by name, with unit, stage and limits."""
        return {
            name: dict(field.json_schema_extra)  # type: ignore[arg-type]
            for name, field in cls.model_fields.items()
            if field.annotation is Estimate and isinstance(field.json_schema_extra, dict)
        }
