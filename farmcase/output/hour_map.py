"""A room's year as a map of days and hours: its air temperature, or its relative humidity."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.model.room_inputs import weather_of
from farmcase.output.room_bands import (
    Steps,
    humidity_steps,
    months_of,
    settled_hours,
    temperature_steps,
)
from farmcase.output.theme import INK, WIDTH, rounded, themed
from farmcase.words import rooms as say
from farmcase.words.numbers import month_of_year, percent, plain

Floats = NDArray[np.float64]
_CELLS = ((1, 1), (2, 1), (3, 1), (3, 2), (5, 2), (5, 3))  # days and hours of a cell
_MOST_RUNS = 1000  # rectangles of a map; more make the picture too large for a notebook
_HARDLY = 0.005  # share of the hours below which it is not worth a word
_OVERLAP = 0.25  # of a cell, which the next one covers, so that no seam shows
_MONTH_STARTS = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])


def hour_map(outcome: Outcome, build: str, room: str) -> Any:
    """Air temperature of a room through the days and hours of its settled year.

    Colours go by the band of the crop of which most is started in each month; in a room without
    a crop plan they are plain steps.
    """
    found, locale = outcome[build], outcome.case.heading.locale
    table, steps = settled_hours(found, room), temperature_steps(found, room)
    values = table["air_temp_c"].to_numpy()
    if steps.band:
        cool, inside, warm = band_shares(table, steps, values)
        shares = (percent(cool, locale), percent(warm, locale))
        title = say.hour_map_title(_label(found, room), _of_crops(steps), *shares)
        if max(cool, warm) < _HARDLY:
            title = say.fits_title(_label(found, room), _of_crops(steps), percent(inside, locale))
    else:
        ends = [plain(v, locale, 1) for v in np.percentile(values, [5, 95])]
        title = say.plain_map_title(_label(found, room), ends[0], ends[1], "°C")
    return _map(outcome, steps, table, values, title)


def humidity_map(outcome: Outcome, build: str, room: str) -> Any:
    """Relative humidity of a room through the days and hours of its settled year."""
    found, locale = outcome[build], outcome.case.heading.locale
    table, steps = settled_hours(found, room), humidity_steps(found, room)
    values = table["relative_humidity_share"].to_numpy()
    if steps.band:
        dry, _, damp = band_shares(table, steps, values)
        shares = (percent(dry, locale), percent(damp, locale))
        title = say.humidity_map_title(_label(found, room), _of_crops(steps), *shares)
    else:
        ends = [plain(100 * v, locale) for v in np.percentile(values, [5, 95])]
        title = say.plain_map_title(_label(found, room), ends[0], ends[1], "% humidity")
    return _map(outcome, steps, table, values, title)


def band_shares(table: pd.DataFrame, steps: Steps, values: Floats) -> tuple[float, float, float]:
    """Share of the hours below, within and above the band, of those in which units stand."""
    stands = table["units_standing"].to_numpy() > 0
    if not stands.any():
        stands = ~stands
    at = steps.of(values, months_of(table))[stands]
    low, high = steps.band[0], steps.band[-1]
    return (
        float((at < low).mean()),
        float(((at >= low) & (at <= high)).mean()),
        float((at > high).mean()),
    )


def _label(build: BuildOutcome, room: str) -> str:
    return say.room_of_build(build.inputs.case.rooms[room].label or room, build.label)


def _map(outcome: Outcome, steps: Steps, table: pd.DataFrame, values: Floats, title: str) -> Any:
    locale = outcome.case.heading.locale
    days, hours, runs = cells_of(values, months_of(table), steps)
    seen = set(runs["step"])
    drawn = [k for k in range(len(steps.names)) if k in seen or k in steps.band]
    names = [steps.names[k] for k in drawn]
    runs["step"] = [steps.names[k] for k in runs["step"]]
    axis = alt.Axis(grid=False, values=_MONTH_STARTS.tolist(), labelExpr=_month_labels(locale))
    chart = (
        alt.Chart(runs)
        .mark_rect(aria=False, strokeWidth=0)
        .encode(
            x=alt.X(
                "day:Q",
                title=say.DAY_AXIS,
                axis=axis,
                scale=alt.Scale(domain=[0, 365], nice=False),
            ),
            x2="day_end:Q",
            y=alt.Y(
                "hour:Q",
                title=say.HOUR_AXIS,
                axis=alt.Axis(values=[0, 6, 12, 18, 24], grid=False),
                scale=alt.Scale(domain=[0, 24], nice=False),
            ),
            y2="hour_end:Q",
            color=alt.Color(
                "step:N",
                scale=alt.Scale(domain=names, range=[steps.shades[k] for k in drawn]),
                legend=_legend(len(names)),
            ),
        )
    )
    if _changes(steps):
        rule = alt.Chart(pd.DataFrame({"day": _changes(steps)}))
        rules = rule.mark_rule(color=INK, strokeWidth=1.2, strokeDash=[5, 3], aria=False)
        chart = alt.layer(chart, rules.encode(x="day:Q"))
    chart = chart.properties(width=WIDTH, height=190)
    note = say.map_note(days, hours, bool(steps.band)) + _band_note(steps, locale)
    weather = weather_of(outcome.case)
    note = f"{note} {say.weather_words(weather.kind, weather.name)}"
    return themed(chart, title, locale, note)


def _legend(count: int) -> alt.Legend:
    return alt.Legend(
        title=None,
        orient="bottom",
        columns=2 if count == 4 else 3,
        labelLimit=320,
        labelFontSize=12,
        symbolType="square",
        symbolSize=160,
        symbolStrokeColor="#888888",
        symbolStrokeWidth=0.6,
    )


def _of_crops(steps: Steps) -> list[str]:
    return list(dict.fromkeys(steps.crops))


def _band_note(steps: Steps, locale: str) -> str:
    """Whose band counts in which months, where it changes through the year."""
    crops = _of_crops(steps)
    if len(crops) < 2:
        return ""
    names = [month_of_year(f"2027-{m + 1:02d}", locale) for m in range(12)]
    rows = []
    for crop in crops:
        mine = [m for m in range(12) if steps.crops[m] == crop]
        runs: list[list[int]] = []
        for m in mine:
            if runs and runs[-1][-1] == m - 1:
                runs[-1].append(m)
            else:
                runs.append([m])
        low, high = (steps.edges[mine[0], k - 1] for k in (steps.band[0], steps.band[-1] + 1))
        is_warmth = len(steps.band) > 1
        ends = [plain(v, locale) if is_warmth else plain(100 * v, locale) for v in (low, high)]
        rows.append(
            (
                crop,
                [(names[run[0]], names[run[-1]]) for run in runs],
                say.span(ends[0], ends[1], "°C" if is_warmth else "%"),
            )
        )
    return " " + say.changing_bands(rows)


def _changes(steps: Steps) -> list[int]:
    """Days of the year on which another crop's band begins to count."""
    edges = steps.edges
    return [int(_MONTH_STARTS[m]) for m in range(1, 12) if (edges[m] != edges[m - 1]).any()]


def _month_labels(locale: str) -> str:
    """An expression of the axis that names the month which begins on a day of the year."""
    names = [month_of_year(f"2027-{m + 1:02d}", locale) for m in range(12)]
    known = ",".join(f"{s}:'{n}'" for s, n in zip(_MONTH_STARTS.tolist(), names, strict=True))
    return f"{{{known}}}[datum.value]"


def cells_of(
    values: Floats, months: NDArray[np.int64], steps: Steps
) -> tuple[int, int, pd.DataFrame]:
    """Days and hours of a cell, and the runs of cells of one step as rectangles.

    Parameters
    ----------
    values : (8760,) from 1 January
    months : (8760,) calendar month, 0 to 11

    Returns
    -------
    cells grow from single hours to means of several until the runs are few enough to draw
    """
    for days, hours in _CELLS[:-1]:
        at = _grid(values, months, steps, days, hours)
        if min(_runs_by_hour(at), _runs_by_day(at)) <= _MOST_RUNS:
            break
    else:
        days, hours = _CELLS[-1]
        at = _grid(values, months, steps, days, hours)
    frame = _runs(at).rename(columns=_TURNED)
    if _runs_by_hour(at) <= _runs_by_day(at):
        frame = _runs(at.T)
    frame["day"] = frame["day"] * days
    frame["day_end"] = np.minimum(365, (frame["day_end"] + _OVERLAP) * days)
    frame["hour"] = frame["hour"] * hours
    frame["hour_end"] = np.minimum(24, (frame["hour_end"] + _OVERLAP) * hours)
    for column in ("day", "day_end", "hour", "hour_end"):
        frame[column] = rounded(frame[column].to_numpy(float))
    return days, hours, frame


def _grid(
    values: Floats, months: NDArray[np.int64], steps: Steps, days: int, hours: int
) -> NDArray[np.int64]:
    """The step of the mean of each cell, (days of the year, hours of the day) in cells."""
    rows = -(-365 // days)
    padded = np.full((rows * days, 24), np.nan)
    padded[:365] = values.reshape(365, 24)
    mean = np.nanmean(padded.reshape(rows, days, 24 // hours, hours), axis=(1, 3))
    month = np.repeat(months.reshape(365, 24)[::days, :1], 24 // hours, axis=1)
    return steps.of(mean.ravel(), month.ravel()).reshape(mean.shape)


def _runs_by_hour(at: NDArray[np.int64]) -> int:
    return at.shape[1] + int(np.count_nonzero(np.diff(at, axis=0)))


def _runs_by_day(at: NDArray[np.int64]) -> int:
    return at.shape[0] + int(np.count_nonzero(np.diff(at, axis=1)))


_TURNED = {"day": "hour", "day_end": "hour_end", "hour": "day", "hour_end": "day_end"}


def _runs(at: NDArray[np.int64]) -> pd.DataFrame:
    """Neighbours of one step along the last axis, taken as days, as one row each.

    The order is that of drawing: what lies beside and above a rectangle comes after it.
    """
    length = at.shape[1]
    new = np.ones(at.shape, bool)
    new[:, 1:] = at[:, 1:] != at[:, :-1]
    line, begin = np.nonzero(new)
    end = np.append(begin[1:], 0)
    end[np.append(line[1:] != line[:-1], True)] = length
    return pd.DataFrame(
        {
            "day": begin.astype(float),
            "day_end": end.astype(float),
            "hour": line.astype(float),
            "hour_end": line + 1.0,
            "step": at[line, begin],
        }
    )
