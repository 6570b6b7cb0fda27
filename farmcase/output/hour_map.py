"""A room's year as a map of days and hours, and its hours on a psychrometric chart."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from farmcase.inputs.growing import Crop
from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.model.room_inputs import weather_of
from farmcase.moist_air import humidity_ratio_at
from farmcase.output.theme import INK, QUIET, WIDTH, rounded, themed
from farmcase.words import rooms as say
from farmcase.words.numbers import month_of_year, percent

# Cold to hot, each of another lightness: the band is palest, so that grey print reads too.
_SHADES = ("#08306B", "#6BAED6", "#F2EFE6", "#F16913", "#7F2704")
_SETTLED = slice(8760, 17520)
_DAYS, _HOURS = 3, 2  # a cell of the map


def settled_hours(build: BuildOutcome, room: str) -> pd.DataFrame:
    """The settled year of a room, hour by hour, in calendar order from January."""
    table = build.rooms[room].iloc[_SETTLED]
    return table.iloc[np.argsort(table.index.dayofyear.to_numpy(), kind="stable")]


def main_crops(build: BuildOutcome, room: str) -> list[str]:
    """The crop of which most is started in a room in each calendar month (12)."""
    shares = build.inputs.case.plan[room].start_share_by_month
    names = list(shares)
    table = np.array([shares[name] for name in names])
    return [names[i] for i in table.argmax(0)]


def band_classes(build: BuildOutcome, room: str, table: pd.DataFrame) -> np.ndarray:
    """Place of each hour in `words.rooms.CLASSES`, by the band of the month's main crop."""
    crops = [build.inputs.case.crops[name] for name in main_crops(build, room)]
    month = table.index.month.to_numpy() - 1
    limits = np.array([_limits(crop) for crop in crops])[month]
    return (table["air_temp_c"].to_numpy()[:, None] > limits).sum(1)


def _limits(crop: Crop) -> tuple[float, float, float, float]:
    high, hot = crop.fruit_high_c.likely, crop.fruit_hot_k.likely
    return crop.fruit_stop_c.likely, crop.fruit_low_c.likely, high, high + hot / 2


def hour_map(outcome: Outcome, build: str, room: str) -> Any:
    """A fruiting room's air temperature through days and hours, by the band of its crop."""
    found, locale = outcome[build], outcome.case.heading.locale
    table = settled_hours(found, room)
    classes = band_classes(found, room, table)
    frame = _cells(table, classes)
    stand = table["units_standing"].to_numpy() > 0
    share = [float(np.mean(classes[stand] == k)) if stand.any() else 0.0 for k in range(5)]
    label = f"{found.inputs.case.rooms[room].label or room} ({found.label})"
    title = say.hour_map_title(
        label,
        percent(share[0] + share[1], locale),
        percent(share[3] + share[4], locale),
        percent(share[2], locale),
    )
    present = [
        name for k, name in enumerate(say.CLASSES) if (frame["class"] == name).any() or k == 2
    ]
    shades = [_SHADES[say.CLASSES.index(name)] for name in present]
    names = {int(i): month_of_year(f"2027-{i + 1:02d}", locale)[:3] for i in range(12)}
    starts = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])
    words = "{" + ",".join(f"{int(s)}:'{names[i]}'" for i, s in enumerate(starts)) + "}"
    axis = alt.Axis(values=[int(s) for s in starts], labelExpr=f"{words}[datum.value]", grid=False)
    chart = (
        alt.Chart(frame)
        .mark_rect(aria=False, strokeWidth=0)
        .encode(
            x=alt.X("day:Q", title="Day of the year", axis=axis, scale=alt.Scale(domain=[0, 366])),
            x2="day_end:Q",
            y=alt.Y(
                "hour:Q",
                title="Hour of the day",
                axis=alt.Axis(values=[0, 6, 12, 18, 24], grid=False),
                scale=alt.Scale(domain=[0, 24]),
            ),
            y2="hour_end:Q",
            color=alt.Color(
                "class:N",
                scale=alt.Scale(domain=present, range=shades),
                legend=alt.Legend(title=None, orient="bottom", columns=3, labelLimit=300),
            ),
        )
        .properties(width=WIDTH, height=190)
    )
    return themed(chart, title, locale, say.HOUR_MAP_NOTE)


def _cells(table: pd.DataFrame, classes: np.ndarray) -> pd.DataFrame:
    """Cells of some days by some hours, each with the middle class of its hours."""
    day = (table.index.dayofyear.to_numpy() - 1) // _DAYS * _DAYS
    hour = table.index.hour.to_numpy() // _HOURS * _HOURS
    frame = pd.DataFrame({"day": day, "hour": hour, "at": classes})
    middle = frame.groupby(["day", "hour"])["at"].median().round().astype(int).reset_index()
    middle["class"] = [say.CLASSES[k] for k in middle["at"]]
    # cells of one class that follow one another are drawn as one
    middle = middle.sort_values(["hour", "day"]).reset_index(drop=True)
    new = (middle["class"] != middle["class"].shift()) | (middle["hour"] != middle["hour"].shift())
    runs = middle.groupby(new.cumsum())
    return pd.DataFrame(
        {
            "day": runs["day"].first(),
            "day_end": (runs["day"].last() + _DAYS).clip(upper=365),
            "hour": runs["hour"].first(),
            "hour_end": runs["hour"].first() + _HOURS,
            "class": runs["class"].first(),
        }
    )


def psychrometric_chart(outcome: Outcome, build: str, room: str) -> Any:
    """Hours of a fruiting room by temperature and water in the air, with the band of its crop."""
    found, locale = outcome[build], outcome.case.heading.locale
    table = settled_hours(found, room)
    pressure = float(weather_of(outcome.case).pressure_pa.mean())
    names = list(found.inputs.case.crops)
    years = found.physical.rooms
    assert years is not None
    r = years.names.index(room)
    main = int(years.crop_hours[0, r].argmax())
    crop = found.inputs.case.crops[names[main]]
    inside = years.band_hours[0, r, main] / max(1.0, years.crop_hours[0, r, main])
    lowest, highest = table["air_temp_c"].min() - 3, max(table["air_temp_c"].max(), 25.0) + 3
    temps = np.linspace(lowest, highest, 60)
    x = alt.X(
        "temp:Q",
        title="Air temperature (°C)",
        scale=alt.Scale(domain=[round(lowest), round(highest)], nice=False),
    )
    top = 1000 * float(humidity_ratio_at(highest - 2, 0.95, pressure))
    y = alt.Y(
        "ratio:Q",
        title="Water in the air (g per kg of dry air)",
        scale=alt.Scale(domain=[0, round(top)], nice=False, clamp=True),
    )
    layers = [
        _hours(table, x, y),
        *_curves(temps, pressure, x, y, locale, top),
        _outline(crop, pressure, x, y),
    ]
    label = f"{found.inputs.case.rooms[room].label or room} ({found.label})"
    title = say.psychrometric_title(label, crop.label, percent(inside, locale))
    chart = alt.layer(*layers).properties(width=WIDTH, height=320)
    return themed(chart, title, locale, say.PSYCHROMETRIC_NOTE)


def _hours(table: pd.DataFrame, x: alt.X, y: alt.Y) -> Any:
    temp = np.floor(table["air_temp_c"].to_numpy())
    ratio = np.floor(table["humidity_ratio_end"].to_numpy() * 2000) / 2
    frame = pd.DataFrame({"temp": temp, "ratio": ratio})
    frame = frame.value_counts().reset_index(name="hours")
    frame = frame.sort_values(["temp", "ratio"]).reset_index(drop=True)
    frame["temp_end"], frame["ratio_end"] = frame["temp"] + 1, frame["ratio"] + 0.5
    shade = alt.Scale(type="sqrt", range=["#E5EEF6", "#084594"])
    return (
        alt.Chart(frame)
        .mark_rect(aria=False)
        .encode(
            x=x,
            x2="temp_end:Q",
            y=y,
            y2="ratio_end:Q",
            color=alt.Color(
                "hours:Q",
                scale=shade,
                legend=alt.Legend(title="Hours", orient="right", tickCount=4),
            ),
        )
    )


def _curves(
    temps: np.ndarray, pressure: float, x: alt.X, y: alt.Y, locale: str, top: float
) -> list[Any]:
    rows, ends = [], []
    for share in (0.4, 0.6, 0.8, 1.0):
        ratio = 1000 * humidity_ratio_at(temps, share, pressure)
        kept = ratio <= top
        name = percent(share, locale)
        rows += [
            {"temp": t, "ratio": w, "humidity": name}
            for t, w in zip(rounded(temps[kept]), rounded(ratio[kept]), strict=True)
        ]
        ends.append({**rows[-1], "humidity": name})
    lines = (
        alt.Chart(pd.DataFrame(rows))
        .mark_line(color=QUIET, strokeWidth=1)
        .encode(x=x, y=y, detail="humidity:N")
    )
    words = (
        alt.Chart(pd.DataFrame(ends))
        .mark_text(align="right", dx=-4, dy=-6, fontSize=11, color=QUIET)
        .encode(x=x, y=y, text="humidity:N")
    )
    return [lines, words]


def _outline(crop: Crop, pressure: float, x: alt.X, y: alt.Y) -> Any:
    low, high = crop.fruit_low_c.likely, crop.fruit_high_c.likely
    damp = crop.fruit_humidity_low_share.likely
    temps = np.linspace(low, high, 15)
    under = 1000 * humidity_ratio_at(temps, damp, pressure)
    over = 1000 * humidity_ratio_at(temps[::-1], 1.0, pressure)
    around = np.concatenate([temps, temps[::-1], temps[:1]])
    ratio = np.concatenate([under, over, under[:1]])
    frame = pd.DataFrame({"temp": rounded(around), "ratio": rounded(ratio)})
    frame["order"] = range(len(frame))
    return alt.Chart(frame).mark_line(color=INK, strokeWidth=2.2).encode(x=x, y=y, order="order:Q")
