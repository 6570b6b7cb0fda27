"""Cash added up month by month, with payback marked."""

from __future__ import annotations

import math
from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from farmcase.model.outcome import Outcome
from farmcase.output.theme import (
    HALO,
    HEIGHT,
    INK,
    QUIET,
    WIDTH,
    build_scales,
    ends_apart,
    rounded,
    themed,
)
from farmcase.words import charts as say
from farmcase.words.numbers import plain


def cumulative_cash_chart(outcome: Outcome) -> Any:
    """Project cash added up month by month, for each build, with payback marked.

    The data are money in the case's currency; month 0 is the start.
    """
    frame, marks = _cash_rows(outcome)
    heading = outcome.case.heading
    colour, dash = build_scales([build.label for build in outcome.values()])
    time = say.amount_axis("Time from the start", "years")
    money = say.amount_axis("Cash added up", heading.currency)
    x = alt.X("year:Q", title=time, axis=alt.Axis(tickMinStep=1))
    y = alt.Y("cash:Q", title=money, axis=alt.Axis(format=",.0f"))
    lines = alt.Chart(frame).mark_line(strokeWidth=2.4).encode(x=x, y=y, color=colour)
    zero = alt.Chart(pd.DataFrame({"cash": [0]})).mark_rule(color=INK).encode(y="cash:Q")
    labels = alt.Chart(ends_apart(frame, "year", "cash")).mark_text(
        align="left", dx=6, fontSize=12, limit=230
    )
    ends = {"x": alt.X("end:Q", title=time), "y": alt.Y("height:Q", title=money)}
    labels = labels.encode(**ends, color=colour, text="build:N")
    layers = [zero, lines.encode(strokeDash=dash), labels]
    if len(marks):
        points = alt.Chart(marks).mark_point(size=90, filled=True, opacity=1)
        layers += [*_notes(marks, x, y), points.encode(x=x, y=y, color=colour)]
    sized = alt.layer(*layers).properties(width=WIDTH, height=HEIGHT)
    return themed(sized, cash_finding(outcome), heading.locale)


def _notes(marks: pd.DataFrame, x: alt.X, y: alt.Y) -> list[Any]:
    """A line down from each payback, and at its foot the years; the first to the left of it."""
    drop = alt.Chart(marks).mark_rule(color=QUIET, strokeDash=[2, 3])
    layers = [drop.encode(x=x, y=y, y2=alt.value(HEIGHT))]
    for i, place in enumerate(marks["year"].sort_values().index):
        side: dict[str, Any] = {"align": "left", "dx": 5} if i else {"align": "right", "dx": -5}
        for look in (HALO, {}):
            note = alt.Chart(marks.loc[[place]]).mark_text(fontSize=12, color=INK, **side, **look)
            layers.append(note.encode(x=x, y=alt.value(HEIGHT - 9 - 16 * i), text="note:N"))
    return layers


def cash_finding(outcome: Outcome) -> str:
    """What the picture of cash shows, from the same measures."""
    locale = outcome.case.heading.locale
    parts = []
    for build in outcome.values():
        years = build.measure("payback_years")
        if not math.isfinite(years):
            parts.append(f"{build.label} is not paid back")
        elif build.paid_back_by_end_value:
            parts.append(f"{build.label} is paid back only when what is left is sold at the end")
        else:
            parts.append(f"{build.label} is paid back after {plain(years, locale, 1)} years")
    return "; ".join(parts)


def _cash_rows(outcome: Outcome) -> tuple[pd.DataFrame, pd.DataFrame]:
    rows, marks = [], []
    locale = outcome.case.heading.locale
    for build in outcome.values():
        total = build.ledger.lines["project_flow"][0].cumsum()
        years = np.arange(total.size) / 12
        part = pd.DataFrame({"year": rounded(years), "cash": rounded(total)})
        rows.append(part.assign(build=build.label))
        paid = build.measure("payback_years")
        if math.isfinite(paid) and not build.paid_back_by_end_value:
            first = np.argmax(build.ledger.lines["project_flow"][0] < 0) / 12
            note = f"{plain(paid, locale, 1)} years"
            at = {"year": rounded([paid + first])[0], "cash": 0.0}
            marks.append({**at, "build": build.label, "note": note})
    return pd.concat(rows), pd.DataFrame(marks)
