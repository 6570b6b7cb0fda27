"""The tornado: how far each input alone moves a measure, the widest first."""

from __future__ import annotations

import math
from itertools import product
from typing import Any, Literal

import altair as alt
import pandas as pd

from farmcase.inputs.case import Case
from farmcase.output.theme import COLOURS, HALO, INK, PALES, QUIET, header, rounded, themed
from farmcase.risk.tornado import Tornado
from farmcase.words import charts as say
from farmcase.words.labels import MEASURES
from farmcase.words.numbers import measure_text, percent, plain

_ROW, _WIDTH, _LABELS = 21, 435, 395
_ENDS = 84  # room for the numbers beyond the widest bars
_SHORT = 7  # letters of a unit that is written beside a number


def tornado_chart(tornado: Tornado, case: Case) -> Any:
    """One panel for each build, all on one scale; bars run from the measure at likely values.

    Parameters
    ----------
    tornado : what `farmcase.risk.tornado` found
    case : the case it was found for, for labels, currency and language
    """
    heading = case.heading
    label, unit = MEASURES[tornado.measure]
    shown_unit = unit.replace("money", heading.currency)
    axis = say.amount_axis(label, shown_unit)
    ends = pd.concat([tornado.table["at_low"], tornado.table["at_high"]]).dropna()
    values = [*ends, *(v for v in tornado.base.values() if math.isfinite(v))]
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    margin = (high - low or 1.0) * _ENDS / (_WIDTH - 2 * _ENDS)
    scale = alt.Scale(domain=rounded([low - margin, high + margin], 4), nice=False, zero=False)
    panels = [_panel(tornado, case, build, i, axis, scale) for i, build in enumerate(tornado.base)]
    sized = alt.vconcat(*panels, spacing=20) if len(panels) > 1 else panels[0]
    most = int(tornado.table.groupby("build").size().max())
    return themed(sized, _finding(tornado, case), heading.locale, say.tornado_note(most))


def _panel(
    tornado: Tornado, case: Case, build: str, place: int, axis: str, scale: alt.Scale
) -> Any:
    frame = _rows(tornado, case, build)
    order = list(frame["label"])
    rows = alt.Axis(
        labelLimit=_LABELS - 12,
        labelFontSize=11,
        ticks=False,
        domain=False,
        labelPadding=8,
        minExtent=_LABELS,
        maxExtent=_LABELS,
    )
    y = alt.Y("label:N", sort=order, title=None, axis=rows, scale=alt.Scale(padding=0.15))
    format_ = ".0%" if MEASURES[tornado.measure][1].startswith("share") else ",~f"
    ticks = alt.Axis(format=format_, tickCount=5)
    x = alt.X("base:Q", title=axis, scale=scale, axis=ticks)
    bars = alt.Chart(frame).transform_filter("isValid(datum.at_low) && isValid(datum.at_high)")
    colour, tint = COLOURS[place % len(COLOURS)], PALES[place % len(PALES)]
    layers = []
    for end, fill in (("at_low", tint), ("at_high", colour)):
        bar = bars.mark_bar(fill=fill, stroke=colour, strokeWidth=0.8)
        layers.append(bar.encode(x=x, x2=f"{end}:Q", y=y))
    sides: tuple[tuple[Literal["left", "right"], int], ...] = (("right", -4), ("left", 4))
    for (side, dx), look in product(sides, (HALO, {})):
        text = bars.mark_text(align=side, dx=dx, fontSize=11, color=INK, **look)
        at = alt.X(f"{side}_at:Q", title=axis, scale=scale, axis=ticks)
        layers.append(text.encode(x=at, y=y, text=f"{side}_text:N"))
    base = rounded([tornado.base[build]])
    line = alt.Chart(pd.DataFrame({"base": base})).mark_rule(color=INK, strokeWidth=1.2)
    layers.append(line.encode(x=x))
    if scale.domain[0] < 0 < scale.domain[1]:
        nil = alt.Chart(pd.DataFrame({"base": [0.0]})).mark_rule(color=QUIET, strokeDash=[3, 3])
        layers.insert(0, nil.encode(x=x))
    name = header(case.builds[build].label, subtitle=_under(tornado, case, build))
    return alt.layer(*layers).properties(width=_WIDTH, height=_ROW * len(order), title=name)


def _under(tornado: Tornado, case: Case, build: str) -> str:
    """The measure at likely values, and what is left out."""
    count, spread = tornado.tail[build]
    rest = say.the_rest(count, _amount(tornado, case, spread)) if count else ""
    at = say.at_likely(_amount(tornado, case, tornado.base[build]))
    return f"{at}; {rest}" if rest else at


def _amount(tornado: Tornado, case: Case, value: float) -> str:
    unit = MEASURES[tornado.measure][1]
    return measure_text(value, unit, case.heading.currency, case.heading.locale)


def _rows(tornado: Tornado, case: Case, build: str) -> pd.DataFrame:
    """The rows of a build, with the text of the input at each side of its bar."""
    rows = tornado.table[tornado.table["build"] == build]
    locale = case.heading.locale
    found = []
    for row in rows.to_dict("records"):
        ends = [(row["at_low"], row["low"], say.LOW), (row["at_high"], row["high"], say.HIGH)]
        (left, left_input, left_word), (right, right_input, right_word) = sorted(
            ends, key=lambda end: end[0]
        )
        found.append(
            {
                "label": say.sentence(row["label"]),
                "base": tornado.base[build],
                "at_low": row["at_low"],
                "at_high": row["at_high"],
                "right_at": left,
                "left_at": right,
                "right_text": _input_text(left_input, left_word, row["unit"], locale),
                "left_text": _input_text(right_input, right_word, row["unit"], locale),
            }
        )
    frame = pd.DataFrame(found)
    again = frame.groupby("label").cumcount()
    frame["label"] += [f" ({n + 1})" if n else "" for n in again]
    for name in ("base", "at_low", "at_high", "right_at", "left_at"):
        frame[name] = rounded(frame[name].to_numpy(float))
    return frame


def _input_text(value: float, word: str, unit: str, locale: str) -> str:
    """An end of an input's range with a short unit; a group of inputs has only the word."""
    if not math.isfinite(value):
        return word
    if unit.startswith("share"):
        return percent(value, locale, _decimals(100 * value))
    short = unit.split(" per ")[0]
    number = plain(value, locale, _decimals(value))
    return f"{number} {short}" if len(short) <= _SHORT else number


def _decimals(value: float) -> int:
    """How many decimals a number has, at most four."""
    return next((d for d in range(4) if abs(value - round(value, d)) < 1e-9), 4)


def _finding(tornado: Tornado, case: Case) -> str:
    measure = MEASURES[tornado.measure][0].lower()
    rows = []
    for build, part in tornado.table.groupby("build", sort=False):
        first = part.iloc[0]
        ends = sorted([float(first["at_low"]), float(first["at_high"])])
        texts = [_amount(tornado, case, end) for end in ends]
        rows.append((case.builds[str(build)].label, str(first["label"]), *texts))
    return say.matters_most(measure, rows)
