"""A map of prices and yields: which choice is best where, and the lines at which it changes."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.inputs.case import Case
from farmcase.output.regions import borders, label_places, refined, regions
from farmcase.output.theme import INK, PALE, TINTS, in_order, rounded, themed
from farmcase.words import charts as say
from farmcase.words.numbers import percent

_WIDTH, _HEIGHT = 640, 440
_FINE = 121  # points along each side on which the map is drawn

Floats = NDArray[np.float64]


def price_yield_chart(grid: pd.DataFrame, case: Case) -> Any:
    """Where each build, or carrying on as now, is the best choice.

    Parameters
    ----------
    grid : what `farmcase.risk.grid.price_yield_grid` found
    case : the case it was found for, for labels and language
    """
    builds = list(dict.fromkeys(grid["build"]))
    names = [say.carry_on(), *(case.builds[build].label for build in builds)]
    prices, yields, worth = grid_arrays(grid, builds)
    fine = refined(prices, yields, worth, _FINE)
    scales = [
        alt.Scale(domain=rounded([100 * side[0], 100 * side[-1]]), nice=False, zero=False)
        for side in (prices, yields)
    ]
    titles = [say.amount_axis(what, "% of the plan") for what in ("All prices", "All yields")]

    def x(field: str = "x") -> alt.X:
        return alt.X(f"{field}:Q", scale=scales[0], title=titles[0], axis=alt.Axis(grid=False))

    def y(field: str = "y") -> alt.Y:
        return alt.Y(f"{field}:Q", scale=scales[1], title=titles[1], axis=alt.Axis(grid=False))

    tints = [PALE, *in_order(TINTS, len(builds))]
    fill = alt.Color("name:N", scale=alt.Scale(domain=names, range=tints), legend=None)
    areas = alt.Chart(_frame(regions(*fine), ("x", "x2", "y"), names))
    lines = alt.Chart(_frame(borders(*fine), ("x", "x2", "y", "y2"), names))
    layers = [
        areas.mark_area(orient="horizontal", opacity=1, aria=False).encode(
            x=x(), x2="x2:Q", y=y(), color=fill, detail="part:N"
        ),
        lines.mark_rule(color=INK, strokeWidth=2.2, strokeCap="round", aria=False).encode(
            x=x(), x2="x2:Q", y=y(), y2="y2:Q"
        ),
        *_plan(x(), y()),
        *_labels(fine, names, x(), y()),
    ]
    sized = alt.layer(*layers).properties(width=_WIDTH, height=_HEIGHT)
    title = map_finding(prices, yields, worth, names, case.heading.locale)
    return themed(sized, title, case.heading.locale, say.MAP_NOTE)


def grid_arrays(grid: pd.DataFrame, builds: list[str]) -> tuple[Floats, Floats, Floats]:
    """Prices, yields, and worth (choices, yields, prices), carrying on as now being the first."""
    tables = [
        grid[grid["build"] == build].pivot(index="yield_scale", columns="price_scale", values="npv")
        for build in builds
    ]
    worth = np.stack([np.zeros(tables[0].shape), *(table.to_numpy(float) for table in tables)])
    return tables[0].columns.to_numpy(float), tables[0].index.to_numpy(float), worth


def _frame(rows: list[tuple[float, ...]], columns: tuple[str, ...], names: list[str]) -> Any:
    """Shapes in percent, with the name of the choice they show."""
    frame = pd.DataFrame(rows, columns=pd.Index([*columns, "part", "choice"]))
    for column in columns:
        frame[column] = rounded(100 * frame[column].to_numpy(float), 5)
    frame["name"] = [names[int(choice)] for choice in frame.pop("choice")]
    return frame


def _plan(x: alt.X, y: alt.Y) -> list[Any]:
    """A cross where prices and yields are those of the plan."""
    point = alt.Chart(pd.DataFrame({"x": [100.0], "y": [100.0], "name": [say.THE_PLAN]}))
    cross = {"shape": "cross", "filled": True, "opacity": 1, "stroke": "#FFFFFF"}
    mark = point.mark_point(size=190, color=INK, strokeWidth=1.2, **cross)
    text = point.mark_text(align="left", dx=11, dy=12, fontSize=12, color=INK)
    return [mark.encode(x=x, y=y), text.encode(x=x, y=y, text="name:N")]


def _labels(fine: tuple[Floats, Floats, Floats], names: list[str], x: alt.X, y: alt.Y) -> list[Any]:
    """The name of each region where there is room for it."""
    found = label_places(*fine, names, (_WIDTH, _HEIGHT), (1.0, 1.0))
    if not found:
        return []
    frame = pd.DataFrame(found, columns=pd.Index(["x", "y", "name"]))
    frame["x"], frame["y"] = rounded(100 * frame["x"], 5), rounded(100 * frame["y"], 5)
    text = alt.Chart(frame).mark_text(
        fontSize=14, fontWeight="bold", color=INK, lineBreak="\n", lineHeight=18, baseline="middle"
    )
    return [text.encode(x=x, y=y, text="name:N")]


def map_finding(
    prices: Floats, yields: Floats, worth: Floats, names: list[str], locale: str
) -> str:
    """The best choice at the plan, and the nearest price up and down at which it changes."""
    row = np.array([[np.interp(1.0, yields, column) for column in choice.T] for choice in worth])
    along = np.union1d(np.linspace(prices[0], prices[-1], 2001), [1.0])
    best = np.array([np.interp(along, prices, choice) for choice in row]).argmax(0)
    here = int(np.searchsorted(along, 1.0))
    ways = []
    for step in (-1, 1):
        side = best[here::step]
        changed = np.flatnonzero(side != side[0])
        if changed.size:
            scale = along[here + step * int(changed[0])]
            change = percent(max(0.01, abs(scale - 1)), locale)
            ways.append((change, step > 0, names[side[changed[0]]]))
    return say.best_at_plan(names[best[here]], ways)
