"""Energy by end use and month, and kilograms through the year, side by side."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.output.theme import (
    COLOURS,
    HALO,
    INK,
    TINTS,
    WIDTH,
    build_scales,
    header,
    rounded,
    themed,
)
from farmcase.words import charts as words
from farmcase.words import rooms as say
from farmcase.words.numbers import month_of_year, percent, plain

Floats = NDArray[np.float64]
_SETTLED = slice(12, 24)
# By `words.rooms.USE_ORDER`; neighbours differ in lightness too.
_SHADES = (TINTS[0], COLOURS[1], "#084594", COLOURS[5], TINTS[4], "#6E6E6E")
_HEIGHT, _PANEL = 260, 150
_GAP = 0.07  # of the height, between two names at the ends of lines


def _calendar(build: BuildOutcome) -> NDArray[np.int64]:
    """Calendar month (0 to 11) of each month of the settled year."""
    return (int(build.inputs.calendar[build.inputs.start]) + np.arange(12)) % 12


def _month_names(locale: str) -> list[str]:
    return [month_of_year(f"2027-{m + 1:02d}", locale) for m in range(12)]


def uses_by_month(build: BuildOutcome) -> pd.DataFrame:
    """Energy of the settled year [kWh]: rows calendar months, columns end uses for readers."""
    used = build.physical.energy_kwh[0, :, :, _SETTLED].sum(0)
    frame = pd.DataFrame(0.0, index=range(12), columns=list(say.USE_ORDER))
    for name, months in zip(build.physical.end_uses, used, strict=True):
        frame.loc[_calendar(build), say.END_USES.get(name, say.OTHER_USES)] += months
    return frame


def end_use_chart(outcome: Outcome, *builds: str) -> Any:
    """What the energy of the settled year goes into, month by month, one build under the other.

    Parameters
    ----------
    builds : which ones; all where none is named
    """
    locale = outcome.case.heading.locale
    shown = {name: outcome[name] for name in builds or outcome}
    tables = {name: uses_by_month(build) for name, build in shown.items()}
    top = max(table.sum(axis=1).max() for table in tables.values()) * 1.05
    present = [use for use in say.USE_ORDER if any(t[use].sum() > 0.5 for t in tables.values())]
    panels = [
        _bars(table[present], _month_names(locale), top, shown[name].label)
        for name, table in tables.items()
    ]
    chart = alt.vconcat(*panels, spacing=20) if len(panels) > 1 else panels[0]
    parts = []
    for name, table in tables.items():
        share = table.sum() / max(float(table.to_numpy().sum()), 1e-9)
        parts.append((shown[name].label, str(share.idxmax()), percent(share.max(), locale)))
    return themed(chart, say.end_use_title(parts), locale, say.END_USE_NOTE)


def _bars(table: pd.DataFrame, months: list[str], top: float, label: str) -> Any:
    uses = [str(use) for use in table.columns]
    long = table.set_axis(months).reset_index(names="month").melt("month", var_name="use")
    long["value"] = rounded(long["value"].to_numpy(float))
    long["place"] = [uses.index(use) for use in long["use"]]
    shades = [_SHADES[say.USE_ORDER.index(use)] for use in uses]
    legend = alt.Legend(title=None, orient="bottom", columns=3, labelFontSize=12, symbolSize=160)
    return (
        alt.Chart(long)
        .mark_bar(stroke="#FFFFFF", strokeWidth=0.6)
        .encode(
            x=alt.X("month:N", sort=months, title="Month", axis=alt.Axis(labelAngle=0)),
            y=alt.Y(
                "value:Q",
                title=words.amount_axis("Energy", "kWh/month"),
                scale=alt.Scale(domain=[0, rounded([top], 3)[0]], nice=False),
                axis=alt.Axis(format=",~f", tickCount=4),
            ),
            color=alt.Color("use:N", scale=alt.Scale(domain=uses, range=shades), legend=legend),
            order="place:Q",
        )
        .properties(width=WIDTH, height=_PANEL, title=header(label, offset=6))
    )


def picked_by_month(build: BuildOutcome) -> Floats:
    """Kilograms picked in each calendar month of the settled year, (12,)."""
    picked = np.zeros(12)
    picked[_calendar(build)] = build.ledger.kilograms.picked[0].sum(0)[build.measurer.year.months]
    return picked


def season_chart(outcome: Outcome) -> Any:
    """Kilograms picked by calendar month, builds as lines: what the seasons cost each."""
    locale = outcome.case.heading.locale
    months = _month_names(locale)
    lines = {build.label: picked_by_month(build) for build in outcome.values()}
    parts = []
    for label, picked in lines.items():
        low, high = int(picked.argmin()), int(picked.argmax())
        less = percent(1 - picked[low] / max(picked[high], 1e-9), locale)
        parts.append((label, months[low], less, months[high]))
    chart = alt.layer(*_lines(lines, months)).properties(width=WIDTH - 110, height=_HEIGHT)
    return themed(chart, say.season_title(parts), locale, say.SEASON_NOTE)


def heated_chart(
    plain_build: BuildOutcome,
    other: BuildOutcome,
    label: str = say.WITH_HEAT,
    plain_label: str = say.AS_PLANNED,
) -> Any:
    """Kilograms by month of a build as it is, against the same with heating or cooling.

    Parameters
    ----------
    plain_build : the build as planned, whose rooms run free
    other : the same build of a varied case, or another build
    label, plain_label : what the two lines are called
    """
    locale = plain_build.inputs.case.heading.locale
    months = _month_names(locale)
    lines = {plain_label: picked_by_month(plain_build), label: picked_by_month(other)}
    less = lines[label] - lines[plain_label]
    title = say.loses_nothing(plain_build.label, plain_label, label)
    if less.sum() > 0.5:
        m = int(less.argmax())
        title = say.loses_most(
            plain_build.label,
            plain_label,
            label,
            plain(float(less.sum()), locale),
            months[m],
            plain(lines[plain_label][m], locale),
            plain(lines[label][m], locale),
        )
    energy = [float(uses_by_month(b).to_numpy().sum()) for b in (other, plain_build)]
    low, high = (rounded(lines[name]) for name in (plain_label, label))
    between = pd.DataFrame({"month": months, "kg": low, "kg_end": high})
    area = (
        alt.Chart(between)
        .mark_area(color=TINTS[1], opacity=0.35, aria=False)
        .encode(x=_months_axis(months), y=_kilograms_axis(), y2="kg_end:Q")
    )
    chart = alt.layer(area, *_lines(lines, months))
    note = say.difference_note(plain(energy[0] - energy[1], locale))
    return themed(chart.properties(width=WIDTH - 110, height=_HEIGHT), title, locale, note)


def _months_axis(months: list[str]) -> alt.X:
    axis = alt.Axis(labelAngle=0, grid=False)
    return alt.X("month:N", sort=months, title="Month", axis=axis, scale=alt.Scale(domain=months))


def _kilograms_axis() -> alt.Y:
    return alt.Y(
        "kg:Q",
        title=words.amount_axis("Kilograms picked", "kg/month"),
        scale=alt.Scale(zero=True),
        axis=alt.Axis(format=",~f", tickCount=5),
    )


def _lines(lines: dict[str, Floats], months: list[str]) -> list[Any]:
    """A line with dots for each name, and the names at their ends, none upon another."""
    names = list(lines)
    frame = pd.DataFrame(
        [
            {"month": month, "kg": kg, "build": name}
            for name, picked in lines.items()
            for month, kg in zip(months, rounded(picked), strict=True)
        ]
    )
    colour, dash = build_scales(names)
    x, y = _months_axis(months), _kilograms_axis()
    base = alt.Chart(frame).encode(x=x, y=y, color=colour)
    line = base.mark_line(strokeWidth=2.5).encode(strokeDash=dash)
    dots = base.mark_point(filled=True, size=40, opacity=1)
    top = max(float(frame["kg"].max()), 1e-9)
    ends = apart([float(lines[name][-1]) for name in names], _GAP * top)
    labels = pd.DataFrame({"month": months[-1], "kg": rounded(ends), "build": names})
    text = {"align": "left", "dx": 10, "fontSize": 12, "fontWeight": "bold"}
    named = alt.Chart(labels).encode(x=x, y=y, text="build:N")
    halo = named.mark_text(**text, **HALO)
    said = named.mark_text(**text, color=INK).encode(color=colour)
    return [line, dots, halo, said]


def apart(heights: list[float], gap: float) -> list[float]:
    """Heights moved as little as possible so that all are at least a gap apart, order kept.

    Less the gaps below them they must not fall: where they do, neighbours share their mean.
    """
    order = np.argsort(heights, kind="stable")
    steps = gap * np.arange(order.size)
    groups: list[tuple[float, int]] = []
    for height in np.array(heights)[order] - steps:
        groups.append((float(height), 1))
        while len(groups) > 1 and groups[-2][0] > groups[-1][0]:
            (a, m), (b, n) = groups[-2:]
            groups[-2:] = [((a * m + b * n) / (m + n), m + n)]
    found = np.empty(order.size)
    found[order] = np.repeat([g[0] for g in groups], [g[1] for g in groups]) + steps
    return found.tolist()
