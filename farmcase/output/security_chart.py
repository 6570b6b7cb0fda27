"""Loans by year beside what a forced sale might bring and what the books hold."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.model.security import security_table
from farmcase.output.theme import COLOURS, DASHES, INK, WIDTH, header, rounded, themed
from farmcase.output.year_tables import year_label
from farmcase.words import charts as axes
from farmcase.words import finance_charts as say
from farmcase.words.labels import SECURITY

_HEIGHT = 180
_LINES = {"loans": say.LOANS, "book_value": say.BOOK_VALUE, "forced_sale": say.FORCED_SALE}
_OWED = 0.005  # money from which something is owed


def security_chart(outcome: Outcome) -> Any:
    """Loans owed, book value and forced-sale value at the end of each fiscal year, by build."""
    heading = outcome.case.heading
    frames = {name: _frame(build) for name, build in outcome.items()}
    top = rounded([1.06 * max(frame["amount"].max() for frame in frames.values())], 3)[0]
    panels = [_panel(frames[name], build, top) for name, build in outcome.items()]
    sized = alt.vconcat(*panels, spacing=24) if len(panels) > 1 else panels[0]
    return themed(sized, security_finding(outcome), heading.locale, say.SECURITY_NOTE)


def _frame(build: BuildOutcome) -> pd.DataFrame:
    table, locale = security_table(build), build.inputs.case.heading.locale
    years = [year_label(str(period), locale) for period in table.columns]
    parts = []
    for name, words in _LINES.items():
        amount = rounded(table.loc[SECURITY[name]].to_numpy(float))
        parts.append(pd.DataFrame({"year": years, "amount": amount, "line": words}))
    return pd.concat(parts, ignore_index=True)


def _panel(frame: pd.DataFrame, build: BuildOutcome, top: float) -> Any:
    heading = build.inputs.case.heading
    years, names = list(dict.fromkeys(frame["year"])), list(_LINES.values())
    axis = alt.Axis(labelAngle=0, labelLimit=60, labelExpr="split(datum.label, ' ')", grid=False)
    x = alt.X("year:N", sort=years, title=say.YEAR_ENDS, axis=axis)
    scale = alt.Scale(domain=[0, top], nice=False)
    ticks = alt.Axis(format=",~f", tickCount=5)
    money = axes.amount_axis("Amount", heading.currency)
    y = alt.Y("amount:Q", title=money, scale=scale, axis=ticks)
    legend = alt.Legend(
        title=None, labelFontSize=12, orient="top", symbolStrokeWidth=2.4, symbolSize=400
    )
    tones = [INK, COLOURS[0], COLOURS[1]]
    colour = alt.Color("line:N", scale=alt.Scale(domain=names, range=tones), legend=legend)
    looks = [list(dash) for dash in DASHES[: len(names)]]
    dash = alt.StrokeDash("line:N", scale=alt.Scale(domain=names, range=looks), legend=legend)
    lines = alt.Chart(frame).mark_line(strokeWidth=2.4)
    return lines.encode(x=x, y=y, color=colour, strokeDash=dash).properties(
        width=WIDTH, height=_HEIGHT, title=header(build.label, offset=6)
    )


def security_finding(outcome: Outcome) -> str:
    """From which year on a forced sale would cover what is owed, by build."""
    said = []
    for build in outcome.values():
        table, locale = security_table(build), build.inputs.case.heading.locale
        owed = table.loc[SECURITY["loans"]].to_numpy(float)
        worth = table.loc[SECURITY["forced_sale"]].to_numpy(float)
        due = owed > _OWED
        if not due.any():
            said.append((build.label, say.NOTHING_OWED))
            continue
        short = np.flatnonzero(due & (worth < owed))
        first = int(short[-1]) + 1 if short.size else 0
        covered = due[first:].any()
        name = year_label(str(table.columns[first]), locale) if covered else ""
        said.append((build.label, say.secured(name, always=not short.size)))
    return say.of_builds(said)
