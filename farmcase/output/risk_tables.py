"""The tornado as a table, with what is left out of it."""

from __future__ import annotations

import math

from farmcase.model.outcome import Outcome
from farmcase.output.tables import Table
from farmcase.risk.tornado import Tornado
from farmcase.words.labels import MEASURES
from farmcase.words.numbers import NONE, measure_text, plain


def tornado_table(outcome: Outcome, found: Tornado, build: str) -> Table:
    """Each input with its two ends and what the measure is there, the widest first."""
    heading = outcome.case.heading
    label, unit = MEASURES[found.measure]

    def shown(value: float) -> str:
        return measure_text(value, unit, heading.currency, heading.locale)

    rows = []
    for row in found.table[found.table["build"] == build].to_dict("records"):
        ends = [_number(row[part], heading.locale) for part in ("low", "high")]
        rows.append(
            [
                str(row["label"]),
                *ends,
                str(row["unit"]),
                shown(float(row["at_low"])),
                shown(float(row["at_high"])),
                shown(float(row["spread"])),
            ]
        )
    count, spread = found.tail[build]
    if count:
        rows.append([f"{count} more, added up", NONE, NONE, "", NONE, NONE, shown(spread)])
    header = [
        f"{outcome[build].label}: {label.lower()}",
        "Low",
        "High",
        "Unit",
        "At its low",
        "At its high",
        "Spread",
    ]
    return Table(header, rows, left=(0, 3))


def _number(value: float, locale: str) -> str:
    if not math.isfinite(value):
        return "each its own"
    text = f"{value:.4g}"
    decimals = len(text.split(".")[1]) if "." in text and "e" not in text else 0
    return plain(value, locale, decimals)
