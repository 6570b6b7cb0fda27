"""Energy by end use and month, and kilograms through the year, builds side by side."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.output.theme import COLOURS, TINTS, WIDTH, build_scales, header, rounded, themed
from farmcase.words import charts as words
from farmcase.words import rooms as say
from farmcase.words.numbers import month_of_year, percent

_SETTLED = slice(12, 24)
_SHADES = (TINTS[0], COLOURS[1], COLOURS[0], COLOURS[5], COLOURS[4], "#9A9A9A")


def _calendar(build: BuildOutcome) -> np.ndarray:
    """Calendar month (0 to 11) of each month of the settled year."""
    first = int(build.inputs.calendar[build.inputs.start])
    return (first + np.arange(12)) % 12


def uses_by_month(build: BuildOutcome) -> pd.DataFrame:
    """Energy of the settled year [kWh]: rows calendar months, columns end uses for readers."""
    used = build.physical.energy_kwh[0, :, :, _SETTLED].sum(0)
    frame = pd.DataFrame(0.0, index=range(12), columns=list(say.USE_ORDER))
    for name, months in zip(build.physical.end_uses, used, strict=True):
        label = say.END_USES.get(name, say.OTHER_USES)
        frame.loc[_calendar(build), label] += months
    return frame


def end_use_chart(outcome: Outcome) -> Any:
    """What the energy of the settled year goes into, month by month, by build."""
    locale = outcome.case.heading.locale
    tables = {name: uses_by_month(build) for name, build in outcome.items()}
    months = [month_of_year(f"2027-{m + 1:02d}", locale)[:3] for m in range(12)]
    top = max(table.sum(axis=1).max() for table in tables.values()) * 1.05
    present = [use for use in say.USE_ORDER if any(t[use].sum() > 0 for t in tables.values())]
    shades = [_SHADES[say.USE_ORDER.index(use)] for use in present]
    panels = []
    for name, table in tables.items():
        long = table[present].set_axis(months).reset_index(names="month").melt("month")
        long["value"] = rounded(long["value"].to_numpy(float))
        long["place"] = [present.index(use) for use in long["variable"]]
        panels.append(_bars(long, months, present, shades, top, outcome[name].label))
    chart = alt.vconcat(*panels, spacing=20) if len(panels) > 1 else panels[0]
    parts = []
    for name, table in tables.items():
        share = table.sum() / max(table.to_numpy().sum(), 1e-9)
        parts.append((outcome[name].label, str(share.idxmax()), percent(share.max(), locale)))
    return themed(chart, say.end_use_title(parts), locale, say.END_USE_NOTE)


def _bars(
    long: pd.DataFrame,
    months: list[str],
    uses: list[str],
    shades: list[str],
    top: float,
    label: str,
) -> Any:
    return (
        alt.Chart(long)
        .mark_bar(stroke="#FFFFFF", strokeWidth=0.5)
        .encode(
            x=alt.X("month:N", sort=months, title="Month", axis=alt.Axis(labelAngle=0)),
            y=alt.Y(
                "value:Q",
                title=words.amount_axis("Energy", "kWh/month"),
                scale=alt.Scale(domain=[0, rounded([top], 3)[0]], nice=False),
                axis=alt.Axis(format=",~f", tickCount=4),
            ),
            color=alt.Color(
                "variable:N",
                scale=alt.Scale(domain=uses, range=shades),
                legend=alt.Legend(title=None, orient="bottom", columns=3),
            ),
            order="place:Q",
        )
        .properties(width=WIDTH, height=150, title=header(label, offset=6))
    )


def picked_by_month(build: BuildOutcome) -> np.ndarray:
    """Kilograms picked in each calendar month of the settled year (12)."""
    picked = np.zeros(12)
    start = build.inputs.start + 12
    picked[_calendar(build)] = build.ledger.kilograms.picked[0].sum(0)[start : start + 12]
    return picked


def season_chart(outcome: Outcome) -> Any:
    """Kilograms picked by calendar month, builds as lines: what free-running rooms lose."""
    locale = outcome.case.heading.locale
    months = [month_of_year(f"2027-{m + 1:02d}", locale) for m in range(12)]
    short = [name[:3] for name in months]
    rows, parts = [], []
    for build in outcome.values():
        picked = picked_by_month(build)
        rows += [
            {"month": short[m], "kg": kg, "build": build.label}
            for m, kg in enumerate(rounded(picked))
        ]
        least = int(picked.argmin())
        parts.append(
            (build.label, months[least], percent(1 - picked[least] / picked.max(), locale))
        )
    frame = pd.DataFrame(rows)
    colour, dash = build_scales([build.label for build in outcome.values()])
    base = alt.Chart(frame).encode(
        x=alt.X("month:N", sort=short, title="Month", axis=alt.Axis(labelAngle=0, grid=False)),
        y=alt.Y(
            "kg:Q",
            title=words.amount_axis("Kilograms picked", "kg/month"),
            scale=alt.Scale(zero=True),
            axis=alt.Axis(format=",~f", tickCount=5),
        ),
        color=colour,
    )
    line = base.mark_line(strokeWidth=2.5).encode(strokeDash=dash)
    dots = base.mark_point(filled=True, size=40)
    last = frame[frame["month"] == short[-1]]
    names = (
        alt.Chart(last)
        .mark_text(align="left", dx=10, fontSize=12, fontWeight="bold")
        .encode(x=alt.X("month:N", sort=short), y="kg:Q", text="build:N", color=colour)
    )
    chart = alt.layer(line, dots, names).properties(width=WIDTH - 110, height=260)
    return themed(chart, say.season_title(parts), locale, say.SEASON_NOTE)
