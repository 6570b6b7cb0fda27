"""Ways to build: what each costs, what it is worth and what energy it takes, the front marked."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from farmcase.choice.explore import Explored, axis_labels
from farmcase.output.theme import (
    COLOURS,
    HALO,
    INK,
    QUIET,
    WIDTH,
    even_lines,
    header,
    in_order,
    rounded,
    themed,
)
from farmcase.words import charts as words
from farmcase.words import explore as say
from farmcase.words.labels import MEASURES
from farmcase.words.numbers import measure_text, money

_HEIGHTS = (300, 170)
_SHAPES = ("circle", "square", "triangle-up", "diamond", "cross", "triangle-down")
_LINE, _LETTERS = 16, 108  # height and letters of a line of the key
_MOST_NAMED = 12  # ways in the key
_MARGIN = 0.06  # of the range, around the points
_ENERGY = "energy_kwh_per_kg"
_ALIKE = 9  # digits to which two rows must agree to be one way


def explore_chart(explored: Explored) -> Any:
    """Cost to build against worth and against energy, with the front numbered and joined.

    Rows of a build that come out alike are one way: what differs between them does not touch it.
    """
    heading = explored.case.heading
    ways = distinct_ways(explored)
    title = explore_finding(explored, ways)
    faulty = int((explored.table["fault"] != "").sum())
    measures = list(dict.fromkeys((explored.measure, _ENERGY)))
    panels = [
        _panel(explored, ways, name, height)
        for name, height in zip(measures, _HEIGHTS, strict=False)
    ]
    key = _key(ways)
    sized = alt.vconcat(*panels, *([key] if key is not None else []), spacing=16)
    note = say.explore_note(faulty, explored.measure == "npv")
    return themed(sized, title, heading.locale, note)


def distinct_ways(explored: Explored) -> pd.DataFrame:
    """The valid rows, those of a build that come out alike as one.

    Added columns: `label` of the build; `parts`, label and value of whatever touches the build;
    `number`, counted from the cheapest on the front, nil elsewhere. The order is the table's.
    """
    case, names = explored.case, explored.names
    table = explored.table[explored.table["fault"] == ""]
    keys = list(dict.fromkeys(("capital", explored.measure, _ENERGY, "npv")))
    alike = pd.Series(
        [
            (build, *rounded(row, _ALIKE))
            for build, row in zip(table["build"], table[keys].to_numpy(float), strict=True)
        ],
        index=table.index,
        dtype=object,
    ).map(repr)
    labels = axis_labels(explored)
    touched = {
        build: [n for n in names if _matters(rows, n, names, alike)]
        for build, rows in table.groupby("build", sort=False)
    }
    first = table.loc[alike.drop_duplicates().index].copy()
    first["label"] = [case.builds[build].label for build in first["build"]]
    parts = [
        tuple(
            (
                words.sentence(labels[name][0]),
                say.value_text(row[name], labels[name][1], case.heading.locale),
            )
            for name in touched[row["build"]]
        )
        for row in first.to_dict("records")
    ]
    first["parts"] = pd.Series(parts, index=first.index, dtype=object)
    on = first[first["on_front"]].sort_values("capital", kind="stable").index
    first["number"] = 0
    first.loc[on, "number"] = np.arange(1, len(on) + 1)
    return first


def _matters(rows: pd.DataFrame, name: str, names: list[str], alike: pd.Series) -> bool:
    """Whether rows that differ in one column alone ever come out differently."""
    others = [other for other in names if other != name]
    seen: dict[Any, set[str]] = {}
    for index, row in zip(rows.index, rows[others].itertuples(index=False), strict=True):
        seen.setdefault(tuple(row), set()).add(alike[index])
    return any(len(found) > 1 for found in seen.values())


def explore_finding(explored: Explored, ways: pd.DataFrame) -> str:
    """How many ways are on the front and its two ends; or that none is worth anything."""
    heading, measure = explored.case.heading, explored.measure
    label, unit = MEASURES[measure]
    label = label.lower()
    if ways.empty:
        return say.NONE_VALID

    def said(row: pd.Series) -> tuple[str, str, str]:
        value = measure_text(float(row[measure]), unit, heading.currency, heading.locale)
        unit_said = "" if "money" in unit or "share" in unit else f" {unit}"
        cost = money(float(row["capital"]), heading.currency, heading.locale)
        return str(row["label"]), cost, value + unit_said

    on = ways[ways["number"] > 0].sort_values("number")
    if len(on):
        ends = [said(on.iloc[0]), said(on.iloc[-1])]
        return say.front_title(len(on), len(ways), label, ends)
    if measure == "npv" and ways["npv"].notna().any():
        least = ways.sort_values("npv", na_position="first").iloc[-1]
        return say.none_pays(len(ways), *said(least))
    return say.none_known(len(ways), label)


def _panel(explored: Explored, ways: pd.DataFrame, name: str, height: int) -> Any:
    currency = explored.case.heading.currency
    frame = _points(ways, name)
    x, y = _axes(ways, name, currency)
    labels = [explored.case.builds[b].label for b in dict.fromkeys(explored.table["build"])]
    legend = alt.Legend(orient="top", title=None, labelFontSize=12, labelLimit=300, symbolSize=110)
    colours = alt.Scale(domain=labels, range=in_order(COLOURS, len(labels)))
    shapes = alt.Scale(domain=labels, range=in_order(_SHAPES, len(labels)))
    colour = alt.Color("label:N", scale=colours, legend=legend)
    shape = alt.Shape("label:N", scale=shapes, legend=legend)
    beaten = alt.Chart(frame[frame["number"] == 0])
    kept = alt.Chart(frame[frame["number"] > 0])
    hollow = beaten.mark_point(size=55, strokeWidth=1.4, opacity=0.75, filled=False)
    full = kept.mark_point(size=120, filled=True, opacity=1, stroke="#FFFFFF", strokeWidth=0.8)
    layers = [hollow.encode(x=x, y=y, color=colour, shape=shape)]
    if name == explored.measure:
        line = kept.mark_line(color=INK, strokeWidth=1.4, aria=False)
        layers.insert(0, line.encode(x=x, y=y, order="number:Q"))
        domain_y = _domain(ways[name])
        if domain_y[0] < 0 < domain_y[1]:
            nil = alt.Chart(pd.DataFrame({"value": [0.0]}))
            layers.insert(0, nil.mark_rule(color=QUIET, strokeDash=[3, 3]).encode(y=y))
    layers.append(full.encode(x=x, y=y, color=colour, shape=shape))
    for look in (HALO, {}):
        text = kept.mark_text(dx=-10, dy=-10, fontSize=12, fontWeight="bold", color=INK, **look)
        layers.append(text.encode(x=x, y=y, text="number:N"))
    return alt.layer(*layers).properties(width=WIDTH, height=height)


def _points(ways: pd.DataFrame, name: str) -> pd.DataFrame:
    frame = pd.DataFrame(
        {
            "capital": rounded(ways["capital"].to_numpy(float)),
            "value": rounded(ways[name].to_numpy(float)),
            "label": list(ways["label"]),
            "number": [int(n) for n in ways["number"]],
        }
    )
    return frame[np.isfinite(frame["capital"]) & np.isfinite(frame["value"])]


def _axes(ways: pd.DataFrame, name: str, currency: str) -> tuple[alt.X, alt.Y]:
    label, unit = MEASURES[name]
    titles = [
        words.amount_axis(say.COST_TO_BUILD, currency),
        words.amount_axis(label, unit.replace("money", currency)),
    ]
    shares = unit.startswith("share")
    formats = [",.0f", ".0%" if shares else ",~f"]
    scales = [
        alt.Scale(domain=_domain(ways[column]), nice=False, zero=False)
        for column in ("capital", name)
    ]
    ticks = [alt.Axis(format=f, tickCount=5) for f in formats]
    return (
        alt.X("capital:Q", title=titles[0], scale=scales[0], axis=ticks[0]),
        alt.Y("value:Q", title=titles[1], scale=scales[1], axis=ticks[1]),
    )


def _domain(column: pd.Series) -> list[float]:
    """The range of a column with room around it."""
    values = column.to_numpy(float)
    values = values[np.isfinite(values)]
    low, high = (values.min(), values.max()) if values.size else (0.0, 1.0)
    room = _MARGIN * (high - low) or abs(high) * _MARGIN or 1.0
    return rounded([low - room, high + room], 4)


def _key(ways: pd.DataFrame) -> Any:
    """What the numbers stand for, and what all ways on the front have in common."""
    rows = key_lines(ways)
    if not rows:
        return None
    frame = pd.DataFrame(rows, columns=pd.Index(["number", "line"]))
    base = alt.Chart(frame.assign(at=range(len(frame))))
    y = alt.Y("at:O", axis=None, scale=alt.Scale(padding=0.5))
    look: dict[str, Any] = {"align": "left", "fontSize": 12, "color": INK}
    number = base.mark_text(**look, fontWeight="bold").encode(x=alt.value(0), y=y, text="number:N")
    text = base.mark_text(**look).encode(x=alt.value(24), y=y, text="line:N")
    title = header(say.ON_THE_FRONT, offset=4)
    return alt.layer(number, text).properties(width=WIDTH, height=_LINE * len(rows), title=title)


def key_lines(ways: pd.DataFrame) -> list[tuple[str, str]]:
    """Number and text of each line of the key; a way that needs more lines has its number once."""
    on = ways[ways["number"] > 0].sort_values("number").to_dict("records")
    if not on:
        return []
    common = [part for part in on[0]["parts"] if all(part in row["parts"] for row in on[1:])]
    common = common if len(on) > 1 else []
    named = [
        (
            str(row["number"]),
            say.way_text(row["label"], [part for part in row["parts"] if part not in common]),
        )
        for row in on[:_MOST_NAMED]
    ]
    if len(on) > _MOST_NAMED:
        named.append(("", say.more_ways(len(on) - _MOST_NAMED)))
    if common:
        named.append(("", say.all_with(common)))
    return [
        (number if not i else "", line)
        for number, text in named
        for i, line in enumerate(even_lines(text, _LETTERS))
    ]
