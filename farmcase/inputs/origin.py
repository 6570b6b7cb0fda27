"""What every section and row says of its numbers: source, status, date; and shared checks."""

from __future__ import annotations

from typing import Any

from pydantic import Field, field_validator

from farmcase.inputs.estimate import Record, Status, check_date, problem

Months = tuple[float, ...]


def check_twelve(value: Any) -> Any:
    """Twelve numbers, January first."""
    if value is not None and len(value) != 12:
        raise problem(
            f"has {len(value)} entries",
            "allowed are twelve, January to December",
            "give one number for each month of the year",
        )
    return value


class Sourced(Record):
    """A section whose plain numbers share one source and status."""

    source: str = Field(min_length=1)
    status: Status
    note: str = ""


class Priced(Sourced):
    """A section with money in it: the date of the prices is needed too."""

    price_date: str

    @field_validator("price_date")
    @classmethod
    def _date(cls, value: str) -> str:
        return check_date(value)
