"""What others read into a ratio: the table of thresholds, shown beside the ratio, not decided."""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

from farmcase.inputs.reference import reference_table
from farmcase.words import finance as say
from farmcase.words.numbers import NONE, percent, plain


class Band(NamedTuple):
    """One row of the table of thresholds."""

    measure: str
    low: float  # -inf where there is none
    high: float  # inf where there is none
    unit: str
    reading: str
    note: str
    source: str
    mark: str


def bands_of(measure: str, folder: Path | None = None) -> dict[str, list[Band]]:
    """The readings of a measure by their source; none where nobody is known to read it."""
    found: dict[str, list[Band]] = {}
    for name, row in reference_table("thresholds", folder).items():
        if row["measure"] == measure:
            found.setdefault(row["source"], []).append(band(name, folder))
    return found


def band(name: str, folder: Path | None = None) -> Band:
    """One row of the table of thresholds by its id."""
    row = reference_table("thresholds", folder)[name]
    low = float(row["low"]) if row["low"] else -math.inf
    high = float(row["high"]) if row["high"] else math.inf
    texts = (row[column] for column in ("unit", "reading", "note", "source", "mark"))
    return Band(row["measure"], low, high, *texts)


def reading(value: float, bands: list[Band]) -> str:
    """The reading into which a value falls; a low end belongs to its band, a high end does not."""
    if not math.isfinite(value):
        return NONE
    found = [b.reading for b in bands if b.low <= value < b.high]
    return say.READINGS[found[0]] if found else say.NOT_REACHED


def in_words(what: str, bands: list[Band], where: str, locale: str) -> str:
    """All readings of a measure by one source, with their ends."""

    def end(value: float, unit: str) -> str:
        if not math.isfinite(value):
            return ""
        return percent(value, locale) if unit == "share" else plain(value, locale, 2)

    parts = [say.band(b.reading, end(b.low, b.unit), end(b.high, b.unit)) for b in bands]
    return say.bands(what, parts, where)
