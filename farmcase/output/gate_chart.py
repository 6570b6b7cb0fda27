"""Gates on a time line: when each opens at the earliest, likely and at the latest."""

from __future__ import annotations

from typing import Any

import altair as alt
import pandas as pd

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.lender import gate_months
from farmcase.model.outcome import Outcome
from farmcase.output.theme import COLOURS, INK, PALES, WIDTH, even_lines, header, themed
from farmcase.words import finance_charts as say
from farmcase.words.finance import FIRST_STARTS
from farmcase.words.numbers import month_name

_ROW = 36  # height of the row of a gate
_NAME_WIDTH, _LETTERS = 270, 44  # of a name, and letters in a line of it


def gate_chart(outcome: Outcome) -> Any:
    """Low to high and likely month of every gate and of the first starts, by build."""
    frames = {name: _frame(build) for name, build in outcome.items()}
    first = min(frame["low"].min() for frame in frames.values())
    last = max(frame["high"].max() for frame in frames.values())
    panels = [
        _panel(frames[name], build.label, i, (first, last))
        for i, (name, build) in enumerate(outcome.items())
    ]
    sized = alt.vconcat(*panels, spacing=22) if len(panels) > 1 else panels[0]
    locale = outcome.case.heading.locale
    return themed(sized, gate_finding(outcome), locale, say.GATES_NOTE)


def _frame(build: BuildOutcome) -> pd.DataFrame:
    ends, critical = gate_months(build), build.inputs.timetable.critical
    gates = build.inputs.records("gates")
    dates, last = build.dates, len(build.dates) - 1

    def day(month: int) -> str:
        return f"{dates[min(month, last)]}-01"

    rows = [
        (
            _wrapped(gate.label or name),
            *(day(end.opens[name]) for end in ends.values()),
            name == critical,
        )
        for name, gate in gates.items()
    ]
    rows.append((FIRST_STARTS, *(day(end.start) for end in ends.values()), False))
    columns = pd.Index(["name", "low", "likely", "high", "critical"])
    return pd.DataFrame(rows, columns=columns).sort_values("likely", kind="stable")


def _wrapped(name: str) -> str:
    return "\n".join(even_lines(name, _LETTERS))


def _panel(frame: pd.DataFrame, build: str, place: int, span: tuple[str, str]) -> Any:
    names = list(dict.fromkeys(frame["name"]))
    lines: dict[str, Any] = {"labelExpr": "split(datum.label, '\\n')", "labelLimit": _NAME_WIDTH}
    axis = alt.Axis(ticks=False, domain=False, grid=False, labelPadding=8, **lines)
    y = alt.Y("name:N", sort=names, title=None, axis=axis)
    scale = alt.Scale(domain=list(span), nice="month")
    ticks = alt.Axis(format="%Y-%m", tickCount=8, labelAngle=0)

    def x(field: str) -> alt.X:
        return alt.X(f"{field}:T", title="Month", scale=scale, axis=ticks)

    colour, pale = COLOURS[place % len(COLOURS)], PALES[place % len(PALES)]
    base = alt.Chart(frame)
    bar = base.mark_bar(height=12, color=pale, stroke=colour, strokeWidth=0.8)
    tone = alt.condition("datum.critical", alt.value(INK), alt.value(colour))
    mark = base.mark_point(shape="diamond", size=110, filled=True, opacity=1)
    layers = [
        bar.encode(x=x("low"), x2="high:T", y=y),
        mark.encode(x=x("likely"), y=y, color=tone),
    ]
    size: dict[str, Any] = {"width": WIDTH - _NAME_WIDTH + 60, "height": _ROW * len(names)}
    return alt.layer(*layers).properties(title=header(build, offset=6), **size)


def gate_finding(outcome: Outcome) -> str:
    """The critical gate of each build, when it opens, and when the first units are started."""
    locale = outcome.case.heading.locale
    gates: list[tuple[str, str]] = []
    starts: list[tuple[str, str]] = []
    for build in outcome.values():
        table, last = build.inputs.timetable, len(build.dates) - 1
        starts.append((build.label, month_name(build.dates[min(table.start, last)], locale)))
        found = say.NO_GATE
        if table.critical:
            label = build.inputs.records("gates")[table.critical].label or table.critical
            opens = month_name(build.dates[min(table.opens[table.critical], last)], locale)
            found = say.critical(label, opens)
        gates.append((build.label, found))
    return say.gates_found(gates, starts)
