"""Net present value against the discount rate, with every internal rate of return marked."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.money.returns import npv, rates_of_return
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
from farmcase.words import charts as axes
from farmcase.words import finance_charts as say
from farmcase.words.numbers import percent

_POINTS = 161
_LEAST_SPAN = 0.15  # a year, the highest rate that is drawn at the least
_BEYOND = 1.3  # times the highest internal rate


def worth_chart(outcome: Outcome) -> Any:
    """Net present value of every build at discount rates from nil, internal rates marked."""
    heading = outcome.case.heading
    here = outcome.case.money.discount_rate_per_year.likely
    roots = {name: internal_rates(build) for name, build in outcome.items()}
    highest = max([_LEAST_SPAN, 2 * here, *(_BEYOND * r for mine in roots.values() for r in mine)])
    rates = np.linspace(0.0, highest, _POINTS)
    frame = pd.concat([_curve(build, rates) for build in outcome.values()])
    marks = _marks(outcome, roots)
    colour, dash = build_scales([build.label for build in outcome.values()])
    title = axes.amount_axis("Discount rate", "% a year")
    money = axes.amount_axis("Net present value", heading.currency)
    span = alt.Scale(domain=[0.0, rounded([100 * highest])[0]], nice=False)
    x = alt.X("rate:Q", title=title, scale=span)
    y = alt.Y("worth:Q", title=money, axis=alt.Axis(format=",~f"))
    lines = alt.Chart(frame).mark_line(strokeWidth=2.4)
    zero = alt.Chart(pd.DataFrame({"worth": [0.0]})).mark_rule(color=INK)
    layers = [
        zero.encode(y=y),
        *_rate_of_case(here, x, heading.locale),
        lines.encode(x=x, y=y, color=colour, strokeDash=dash),
        _names(frame, title, money, colour),
        *_crossings(marks, x, y, colour),
    ]
    sized = alt.layer(*layers).properties(width=WIDTH, height=HEIGHT)
    return themed(sized, worth_finding(outcome), heading.locale, say.WORTH_NOTE)


def internal_rates(build: BuildOutcome) -> list[float]:
    """Every internal rate of the project's own cash, lowest first."""
    return rates_of_return(build.ledger.lines["project_flow"][0])


def _curve(build: BuildOutcome, rates: np.ndarray) -> pd.DataFrame:
    worth = npv(rates, build.ledger.lines["project_flow"][0])
    return pd.DataFrame(
        {"rate": rounded(100 * rates), "worth": rounded(worth), "build": build.label}
    )


def _marks(outcome: Outcome, roots: dict[str, list[float]]) -> pd.DataFrame:
    locale = outcome.case.heading.locale
    rows = [
        (100 * rate, 0.0, outcome[name].label, percent(rate, locale, 1))
        for name, mine in roots.items()
        for rate in mine
        if rate >= 0
    ]
    frame = pd.DataFrame(rows, columns=pd.Index(["rate", "worth", "build", "words"]))
    frame["rate"] = rounded(frame["rate"].to_numpy(float))
    return frame.sort_values("rate", kind="stable").reset_index(drop=True)


def _rate_of_case(rate: float, x: alt.X, locale: str) -> list[Any]:
    words = say.rate_of_case(percent(rate, locale, 1))
    base = alt.Chart(pd.DataFrame({"rate": rounded([100 * rate]), "words": [words]}))
    line = base.mark_rule(color=QUIET, strokeDash=[5, 4]).encode(x=x)
    look: dict[str, Any] = {"align": "left", "dx": 5, "fontSize": 12, "color": INK}
    text = base.mark_text(**look).encode(x=x, y=alt.value(8), text="words:N")
    return [line, text]


def _names(frame: pd.DataFrame, title: str, money: str, colour: alt.Color) -> Any:
    """The name of each curve at its end."""
    text = alt.Chart(ends_apart(frame, "rate", "worth"))
    text = text.mark_text(align="left", dx=6, fontSize=12, limit=230)
    ends = {"x": alt.X("end:Q", title=title), "y": alt.Y("height:Q", title=money)}
    return text.encode(**ends, color=colour, text="build:N")


def _crossings(marks: pd.DataFrame, x: alt.X, y: alt.Y, colour: alt.Color) -> list[Any]:
    """A point where a curve crosses nil, its rate above the first and below the next."""
    if marks.empty:
        return []
    points = alt.Chart(marks).mark_point(size=90, filled=True, opacity=1)
    layers: list[Any] = [points.encode(x=x, y=y, color=colour)]
    for i in range(len(marks)):
        side: dict[str, Any] = (
            {"dy": 16, "align": "right"} if i % 2 == 0 else {"dy": -12, "align": "left"}
        )
        base = alt.Chart(marks.iloc[[i]])
        for halo in (HALO, {}):
            text = base.mark_text(fontSize=12, fontWeight="bold", color=INK, **side, **halo)
            layers.append(text.encode(x=x, y=y, text="words:N"))
    return layers


def worth_finding(outcome: Outcome) -> str:
    """Below which rate each build is worth something; every internal rate where it has several."""
    locale, said = outcome.case.heading.locale, []
    for build in outcome.values():
        rates = internal_rates(build)
        texts = [percent(rate, locale, 1) for rate in rates]
        flow = build.ledger.lines["project_flow"][0]
        if len(rates) > 1:
            said.append(say.worth_several(build.label, texts))
        elif not rates:
            said.append(say.worth_none(build.label, float(npv(0.0, flow)) > 0))
        elif float(npv(rates[0] - 0.001, flow)) > 0:
            said.append(say.worth_below(build.label, texts[0]))
        else:
            said.append(say.worth_above(build.label, texts[0]))
    return "; ".join(said)
