"""Charts: they take an outcome, compute nothing, and say their finding in the title.

One theme for all: colours that colour-blind readers tell apart, and a dash of its own for each
build, so that grey print can be read too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import altair as alt
import numpy as np
import pandas as pd
import vl_convert

from farmcase.model.outcome import Outcome
from farmcase.words.numbers import plain

# Okabe and Ito's colour set (2008), as printed by them, in an order that also parts in grey.
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
DASHES: tuple[tuple[int, ...], ...] = ((1, 0), (7, 3), (2, 2), (10, 3, 2, 3), (4, 4), (12, 4))
FONT = "Arial, Liberation Sans, Helvetica, sans-serif"
INK, FAINT = "#222222", "#BBBBBB"
WIDTH, HEIGHT = 640, 340
VEGA_LITE = "6.4"


def rounded(values: Sequence[float] | np.ndarray, digits: int = 6) -> list[float]:
    """Values to six significant digits, so that pictures do not differ by the last bits."""
    return [
        round(v, digits - 1 - math.floor(math.log10(abs(v)))) if v and math.isfinite(v) else v
        for v in (float(x) for x in values)
    ]


def cumulative_cash_chart(outcome: Outcome) -> Any:
    """Project cash added up month by month, for each build, with payback marked.

    The data are money in the case's currency; month 0 is the start.
    """
    frame, marks = _cash_rows(outcome)
    names = [build.label for build in outcome.values()]
    colour = alt.Color(
        "build:N",
        scale=alt.Scale(domain=names, range=list(COLOURS[: len(names)])),
        legend=None,
    )
    dash = alt.StrokeDash(
        "build:N",
        scale=alt.Scale(domain=names, range=[list(d) for d in DASHES[: len(names)]]),
        legend=None,
    )
    currency = outcome.case.heading.currency
    x = alt.X("year:Q", title="Years from the start", axis=alt.Axis(tickMinStep=1))
    y = alt.Y("cash:Q", title=f"Cash added up ({currency})", axis=alt.Axis(format=",.0f"))
    lines = alt.Chart(frame).mark_line(strokeWidth=2.4).encode(x=x, y=y, color=colour)
    lines = lines.encode(strokeDash=dash)
    zero = alt.Chart(pd.DataFrame({"cash": [0]})).mark_rule(color=INK).encode(y="cash:Q")
    ends = alt.Chart(frame.groupby("build", sort=False).tail(1))
    labels = ends.mark_text(align="left", dx=6, fontSize=12, limit=190).encode(
        x=x, y=y, color=colour, text="build:N"
    )
    layers = [zero, lines, labels]
    if len(marks):
        points = alt.Chart(marks).mark_point(size=90, filled=True, opacity=1)
        notes = alt.Chart(marks).mark_text(dx=-7, dy=-12, align="right", fontSize=12, color=INK)
        layers.append(points.encode(x=x, y=y, color=colour))
        layers.append(notes.encode(x=x, y=y, text="note:N"))
    return themed(alt.layer(*layers), cash_finding(outcome))


def cash_finding(outcome: Outcome) -> str:
    """What the picture of cash shows, from the same measures."""
    locale = outcome.case.heading.locale
    parts = []
    for build in outcome.values():
        years = build.measure("payback_years")
        if not math.isfinite(years):
            parts.append(f"{build.label} is not paid back")
        elif build.paid_back_by_end_value:
            parts.append(f"{build.label} only by what is left being sold at the end")
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


def themed(chart: Any, title: str) -> Any:
    """The one look of all charts: title as the finding, faint grid, no frame."""
    return (
        chart.properties(width=WIDTH, height=HEIGHT, title=alt.Title(title, anchor="start"))
        .configure(
            font=FONT, background="#FFFFFF", padding={"left": 5, "right": 25, "top": 5, "bottom": 5}
        )
        .configure_view(stroke=None)
        .configure_title(fontSize=15, fontWeight="normal", color=INK, offset=12, limit=820)
        .configure_axis(
            labelFontSize=12,
            titleFontSize=12,
            titleFontWeight="normal",
            labelColor=INK,
            titleColor=INK,
            gridColor=FAINT,
            gridOpacity=0.5,
            domainColor=FAINT,
            tickColor=FAINT,
        )
        .configure_axisY(minExtent=60)
    )


class Picture:
    """A chart as SVG, for a notebook page and for a file; made without a browser or network."""

    def __init__(self, svg: str, title: str) -> None:
        self.svg, self.title = svg, title

    def __repr__(self) -> str:
        return f"Picture: {self.title}"

    def _repr_svg_(self) -> str:
        return self.svg

    def save(self, path: str | Path) -> None:
        """Write the picture to a file."""
        Path(path).write_text(self.svg + "\n", encoding="utf-8")


def shown(chart: Any) -> Picture:
    """A chart drawn, with its title as its plain text."""
    specification = chart.to_dict()
    title = specification["title"]["text"]
    said = " ".join(title) if isinstance(title, list) else title
    return Picture(vl_convert.vegalite_to_svg(specification, vl_version=VEGA_LITE), said)
