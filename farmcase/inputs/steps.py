"""Texts such as "2: 0.3, 4: 0.7": in which month how much of a whole."""

from __future__ import annotations

import re
from typing import Any

from farmcase.inputs.estimate import problem, shown

_STEP = re.compile(r"\s*(\d{1,3})\s*:\s*(-?\d{1,9}(?:\.\d{1,12})?)\s*", re.ASCII)


def read_steps(text: str) -> tuple[tuple[int, float], ...]:
    """The months and numbers of a text that has been checked; nothing for an empty one."""
    found = [_STEP.fullmatch(part) for part in text.split(",")] if text.strip() else []
    return tuple((int(step.group(1)), float(step.group(2))) for step in found if step)


def check_steps(
    text: str, least: float, most: float, adds_up_to: float | None = None, example: str = ""
) -> str:
    """The text as it is, where every step can be read, months rise and numbers are in bounds.

    Raises
    ------
    PydanticCustomError with what was given, what is allowed and what to do
    """
    if not text.strip():
        return text
    found = [_STEP.fullmatch(part) for part in text.split(",")]
    remedy = f'write for example "{example}"'
    if not all(found):
        raise problem(f"is {shown(text)}", "allowed is month: number, with commas between", remedy)
    steps = read_steps(text)
    months = [month for month, _ in steps]
    if months != sorted(set(months)) or months[-1] > 480:
        raise problem(
            f"has the months {', '.join(map(str, months))}",
            "allowed are rising months to 480",
            remedy,
        )
    wrong = [share for _, share in steps if not least <= share <= most]
    if wrong:
        raise problem(f"has {wrong[0]:g}", f"allowed is {least:g} to {most:g}", remedy)
    total = sum(share for _, share in steps)
    if adds_up_to is not None and abs(total - adds_up_to) > 1e-9:
        given, allowed = f"adds up to {total:g}", f"together they are {adds_up_to:g}"
        raise problem(given, allowed, "correct a share")
    return text


def check_stages(value: Any) -> Any:
    """Shares of a price or loan by month, that make 1."""
    return check_steps(value, 0.0, 1.0, 1.0, "2: 0.3, 4: 0.7")
