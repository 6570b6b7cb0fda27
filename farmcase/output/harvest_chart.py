"""Kilograms by month: the start-up year, and the settled year that stands for the rest."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.output.theme import COLOURS, INK, PALES, QUIET, WIDTH, header, rounded, themed
from farmcase.words import charts as say
from farmcase.words.numbers import month_name, month_of_year, plain

_HEIGHT = 165
_HIGHEST_LIMIT = 2.5  # times the most picked; what lies higher is not drawn
_NAMED = 0.01  # share of the year without an outlet from which it is named
_YEARS = 24  # months shown: start-up year and settled year


def harvest_chart(outcome: Outcome) -> Any:
    """Kilograms picked and sold in each month of the first two years of growing, by build."""
    locale = outcome.case.heading.locale
    frames = {name: _months(build, locale) for name, build in outcome.items()}
    first = min(build.inputs.start for build in outcome.values())
    last = max(build.inputs.start for build in outcome.values()) + _YEARS
    dates = next(iter(outcome.values())).dates
    months = [month_name(date, locale) for date in dates[first : min(last, len(dates))]]
    most = max(frame["picked"].max() for frame in frames.values())
    limit = max(frame["limit"].max() for frame in frames.values())
    top = rounded([1.05 * max(most, min(limit, _HIGHEST_LIMIT * most))], 3)[0]
    panels = [
        _panel(frames[name], build.label, i, months, top)
        for i, (name, build) in enumerate(outcome.items())
    ]
    sized = alt.vconcat(*panels, spacing=22) if len(panels) > 1 else panels[0]
    return themed(sized, _finding(outcome, frames, locale), locale, say.HARVEST_NOTE)


def _months(build: BuildOutcome, locale: str) -> pd.DataFrame:
    start = build.inputs.start
    table = build.monthly.iloc[start : start + _YEARS]
    limit = build.ledger.kilograms.limit[0].sum(0)[start : start + _YEARS]
    settled = np.arange(len(table)) >= 12
    return pd.DataFrame(
        {
            "month": [month_name(date, locale) for date in table["date"]],
            "calendar": [month_of_year(date, locale) for date in table["date"]],
            "picked": rounded(table["picked_kg"].to_numpy(float)),
            "sold": rounded(table["sold_kg"].to_numpy(float)),
            "unsold": rounded(table["unsold_kg"].to_numpy(float)),
            "limit": rounded(limit),
            "year": np.where(settled, say.SETTLED_YEAR, say.START_UP_YEAR),
        }
    )


def _panel(frame: pd.DataFrame, build: str, place: int, months: list[str], top: float) -> Any:
    axis = alt.Axis(values=months[::3], labelAngle=0, labelOverlap=False, grid=False)
    x = alt.X("month:N", sort=months, scale=alt.Scale(domain=months), title="Month", axis=axis)
    scale = alt.Scale(domain=[0, top], nice=False)
    title = say.amount_axis("Kilograms", "kg/month")
    ticks = alt.Axis(format=",~f", tickCount=4)

    def height(field: str) -> alt.Y:
        return alt.Y(f"{field}:Q", title=title, scale=scale, axis=ticks)

    faint = alt.Opacity(
        "year:N",
        scale=alt.Scale(domain=[say.START_UP_YEAR, say.SETTLED_YEAR], range=[0.45, 1.0]),
        legend=None,
    )
    base = alt.Chart(frame)
    colour, tint = COLOURS[place % len(COLOURS)], PALES[place % len(PALES)]
    paper = base.mark_bar(color="#FFFFFF", width={"band": 0.86})
    picked = base.mark_bar(color=tint, stroke=colour, strokeWidth=0.8, width={"band": 0.86})
    sold = base.mark_bar(color=colour, width={"band": 0.4})
    limit = base.mark_line(interpolate="step", color=INK, strokeDash=[4, 3], strokeWidth=1.3)
    layers = [
        paper.encode(x=x, y=height("picked")),
        picked.encode(x=x, y=height("picked"), opacity=faint),
        sold.encode(x=x, y=height("sold"), opacity=faint),
        limit.transform_filter(f"datum.limit <= {top}").encode(x=x, y=height("limit")),
        _names(frame, x),
    ]
    return alt.layer(*layers).properties(width=WIDTH, height=_HEIGHT, title=header(build, offset=6))


def _names(frame: pd.DataFrame, x: alt.X) -> Any:
    """What the two years are called, above their first month."""
    first = frame.groupby("year", sort=False).head(1)
    return (
        alt.Chart(first[["month", "year"]])
        .mark_text(align="left", dx=-10, fontSize=12, fontStyle="italic", color=QUIET)
        .encode(x=x, y=alt.value(-8), text="year:N")
    )


def _finding(outcome: Outcome, frames: dict[str, pd.DataFrame], locale: str) -> str:
    rows, unsold, left = [], [], 0.0
    for name, build in outcome.items():
        settled = frames[name][frames[name]["year"] == say.SETTLED_YEAR].reset_index(drop=True)
        picked = settled["picked"].to_numpy(float)
        low, high = int(picked.argmin()), int(picked.argmax())
        ends = [(plain(picked[i], locale), settled["calendar"][i]) for i in (low, high)]
        rows.append((build.label, *ends[0], *ends[1]))
        mine = float(settled["unsold"].sum())
        left += mine
        if mine > _NAMED * picked.sum():
            unsold.append((build.label, plain(mine, locale)))
    few = say.NEARLY_ALL_TAKEN if left >= 0.5 else say.ALL_TAKEN
    return say.through_the_year(rows, say.some_unsold(unsold) if unsold else few)
