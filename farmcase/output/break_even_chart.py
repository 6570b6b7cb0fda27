"""Break-even output against what is expected and what the rooms could give."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.model.settled_year import most_scale
from farmcase.money.sales import fill_order, fill_outlets
from farmcase.output.theme import COLOURS, INK, PALES, QUIET, WIDTH, in_order, rounded, themed
from farmcase.words import charts as say
from farmcase.words.numbers import percent, plain

_ROW = 96  # height of the row of a build
_NAMES_UP, _NAMES_DOWN = -29, 30
_NEARLY = 0.98  # of the possible: what outlets would take is named when it is less
_LETTER = 6.6  # width of a letter


@dataclass(frozen=True)
class Outputs:
    """Kilograms of the first settled year of one build."""

    build: str
    break_even: float  # NaN where no yield of the rooms reaches it
    expected: float
    possible: float  # every place used, yield at its high
    taken: float  # what outlets would take of the possible


def outputs_of(build: BuildOutcome) -> Outputs:
    """The four outputs of a build."""
    year, scale = build.measurer.year.sales, most_scale(build.measurer.year)
    kilograms = year.kilograms * scale[:, None, None]
    order = fill_order(year.order_price - year.order_handling)
    taken = fill_outlets(kilograms, year.limit_kg, order, year.pool).sold_kg
    return Outputs(
        build.label,
        build.measure("break_even_output_kg_per_year"),
        build.measure("output_kg_per_year"),
        float(kilograms.sum()),
        float(taken.sum()),
    )


def break_even_chart(outcome: Outcome) -> Any:
    """Break-even output of every build, on the bar of what is expected and what is possible."""
    heading = outcome.case.heading
    found = [outputs_of(build) for build in outcome.values()]
    names = [o.build for o in found]
    longest = max(max(o.possible, o.expected, np.nan_to_num(o.break_even)) for o in found)
    frame = _frame(found, heading.locale, 1.3 * longest / WIDTH)
    rows = alt.Axis(labelLimit=230, ticks=False, domain=False, labelPadding=8, grid=False)
    y = alt.Y("build:N", sort=names, title=None, axis=rows)
    axis = say.amount_axis("Output of a year", "kg/year")
    scale = alt.Scale(domain=[0, rounded([longest * 1.3], 3)[0]], nice=False)
    ticks = alt.Axis(format=",~f", tickCount=7)

    def x(field: str) -> alt.X:
        return alt.X(f"{field}:Q", title=axis, scale=scale, axis=ticks)

    def colours(choices: tuple[str, ...]) -> alt.Color:
        span = alt.Scale(domain=names, range=in_order(choices, len(names)))
        return alt.Color("build:N", scale=span, legend=None)

    base = alt.Chart(frame)
    wide = base.mark_bar(height=34, stroke=QUIET, strokeWidth=0.8)
    layers = [
        wide.encode(x=x("possible"), y=y, color=colours(PALES)),
        base.mark_bar(height=14).encode(x=x("expected"), y=y, color=colours(COLOURS)),
        base.transform_filter("datum.taken_text != ''")
        .mark_tick(size=34, thickness=1.5, color=QUIET, opacity=1)
        .encode(x=x("taken"), y=y),
        base.mark_tick(size=46, thickness=3.5, color=INK, opacity=1).encode(x=x("break_even"), y=y),
        *_labels(base, x, y),
    ]
    sized = (
        alt.layer(*layers)
        .resolve_scale(color="independent")
        .properties(width=WIDTH, height=_ROW * len(names))
    )
    return themed(sized, _finding(found, heading.locale), heading.locale, say.BREAK_EVEN_NOTE)


def _labels(base: Any, x: Any, y: alt.Y) -> list[Any]:
    """Break-even above its line, what is expected and what is taken below, the possible beside."""

    def text(field: str, words: str, align: str, dx: int, dy: int, **more: Any) -> Any:
        mark = base.mark_text(align=align, dx=dx, dy=dy, fontSize=12, color=INK, **more)
        return mark.encode(x=x(field), y=y, text=f"{words}:N")

    return [
        text("break_even_label", "break_even_text", "center", 0, _NAMES_UP, fontWeight="bold"),
        text("expected_label", "expected_text", "right", 0, _NAMES_DOWN),
        text("taken", "taken_text", "left", 6, _NAMES_DOWN),
        text("possible", "possible_text", "left", 6, 0),
    ]


def _frame(found: list[Outputs], locale: str, kg_per_px: float) -> pd.DataFrame:
    """What is drawn; words are kept from reaching out at the left."""

    def number(value: float) -> str:
        return plain(value, locale)

    known = [math.isfinite(o.break_even) for o in found]
    frame = pd.DataFrame(
        {
            "build": [o.build for o in found],
            "break_even": rounded([o.break_even for o in found]),
            "expected": rounded([o.expected for o in found]),
            "possible": rounded([o.possible for o in found]),
            "taken": rounded([o.taken for o in found]),
            "break_even_text": [
                say.breaks_even_at(number(o.break_even)) if k else say.NEVER_BREAKS_EVEN
                for o, k in zip(found, known, strict=True)
            ],
            "expected_text": [say.expected_sold(number(o.expected)) for o in found],
            "possible_text": [say.possible(number(o.possible)) for o in found],
            "taken_text": [
                say.outlets_would_take(number(o.taken)) if o.taken < _NEARLY * o.possible else ""
                for o in found
            ],
        }
    )
    letter = kg_per_px * _LETTER
    at = frame["break_even"].fillna(frame["expected"])
    at = np.maximum(at, letter * frame["break_even_text"].str.len() / 2)
    under = np.maximum(frame["expected"], letter * frame["expected_text"].str.len())
    return frame.assign(break_even_label=rounded(at), expected_label=rounded(under))


def _finding(found: list[Outputs], locale: str) -> str:
    said = []
    for o in found:
        if not math.isfinite(o.break_even):
            said.append(say.never_breaks_even(o.build))
        elif o.break_even <= 0:
            said.append(say.always_profits(o.build))
        else:
            away = o.break_even / o.expected - 1 if o.expected else math.nan
            numbers = (plain(o.break_even, locale), plain(o.expected, locale))
            share = percent(abs(away), locale)
            said.append(say.breaks_even(o.build, *numbers, share, away < 0))
    return "; ".join(said)
