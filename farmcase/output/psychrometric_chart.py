"""The hours of a room by temperature and water in the air, with the bands of its crops."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import altair as alt
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.inputs.growing import Crop
from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.model.room_inputs import weather_of
from farmcase.moist_air import humidity_ratio_at
from farmcase.output.room_bands import EXACT, SETTLED_HOURS, standing_crops
from farmcase.output.theme import DASHES, HALO, INK, QUIET, WIDTH, rounded, themed
from farmcase.words import rooms as say
from farmcase.words.numbers import percent, plain

Floats = NDArray[np.float64]
_HEIGHT = 330
_CURVES = (0.2, 0.4, 0.6, 0.8, 1.0)  # relative humidities that are drawn
_HUMIDITY_STEP = 0.025
_COARSE_K, _FINE_K, _WIDE_K = 1.0, 0.5, 12.0  # steps of temperature, and the range of the coarse
# Hours of a piece from which it is drawn in the next darker shade; steps, since the gradient of a
# running scale is numbered by how many pictures were made before.
_LEVELS = (1, 10, 50, 200)
_SHADES = ("#D5E5F3", "#8DB9DC", "#3F7FB0", "#08306B")
_MOST_BANDS = 3  # outlines drawn


def psychrometric_chart(outcome: Outcome, build: str, room: str) -> Any:
    """Hours of a room in which units stand by temperature and water in the air.

    Outlines are the bands of the crops that stand there; the title says in how many of their hours
    both temperature and humidity are within them.
    """
    found, locale = outcome[build], outcome.case.heading.locale
    pressure = float(weather_of(outcome.case).pressure_pa.mean())
    table = _hours_used(found, room)
    crops = standing_crops(found, room)
    bands = _bands(found, crops)
    counts = hour_counts(table)
    x, y, ends = _axes(counts, bands, pressure)
    layers = [
        _heat_map(counts, pressure, x, y),
        *_curves(pressure, x, y, ends, locale),
        *(_outline(n, band, pressure, x, y) for n, band in enumerate(bands)),
        *_key(bands, ends, x, y, locale),
    ]
    label = say.room_of_build(found.inputs.case.rooms[room].label or room, found.label)
    chart = alt.layer(*layers).properties(width=WIDTH - 110, height=_HEIGHT)
    title = _finding(found, room, crops, label, table)
    kelvins = plain(float((counts["temp_end"] - counts["temp"]).iloc[0]), locale, 1)
    piece = (kelvins, percent(_HUMIDITY_STEP, locale, 1))
    note = say.psychrometric_note(plain(pressure / 100, locale), piece, bool(bands))
    return themed(chart, title, locale, note)


def _hours_used(build: BuildOutcome, room: str) -> pd.DataFrame:
    """Hours of the settled year in which units stand in a room; all, where none ever do."""
    table = build.rooms[room].iloc[SETTLED_HOURS]
    stands = table["units_standing"] > 0
    return table[stands] if stands.any() else table


def _finding(
    build: BuildOutcome, room: str, crops: list[str], label: str, table: pd.DataFrame
) -> str:
    locale, years = build.inputs.case.heading.locale, build.physical.rooms
    if not crops or years is None:
        temps = [plain(v, locale, 1) for v in np.percentile(table["air_temp_c"], [5, 95])]
        damp = np.percentile(table["relative_humidity_share"], [5, 95])
        shares = [plain(100 * v, locale) for v in damp]
        return say.plain_air_title(label, *temps, *shares)
    names, r = list(build.inputs.case.crops), years.names.index(room)
    rows = []
    for crop in crops:
        c = names.index(crop)
        inside = years.band_hours[0, r, c] / years.crop_hours[0, r, c]
        rows.append((build.inputs.case.crops[crop].label, percent(inside, locale)))
    return say.psychrometric_title(label, rows)


Band = tuple[float, float, float]  # lowest and highest temperature, lowest relative humidity


def _bands(build: BuildOutcome, crops: list[str]) -> dict[Band, str]:
    """The bands of some crops, each with the crops that share it."""
    found: dict[Band, list[str]] = {}
    for name in crops:
        found.setdefault(band_of(build.inputs.case.crops[name]), []).append(
            build.inputs.case.crops[name].label
        )
    return {band: " / ".join(labels) for band, labels in list(found.items())[:_MOST_BANDS]}


def band_of(crop: Crop) -> Band:
    """Temperatures and least humidity between which the room year counts a crop's hours as good."""
    return (
        crop.fruit_low_c.likely,
        crop.fruit_high_c.likely,
        crop.fruit_humidity_low_share.likely,
    )


def hour_counts(table: pd.DataFrame) -> pd.DataFrame:
    """Hours by step of temperature and of relative humidity.

    Returns
    -------
    rows with `hours`, and the ends of their steps: `temp`, `temp_end` [°C], `damp`, `damp_end`
    """
    temp = table["air_temp_c"].to_numpy()
    damp = np.clip(table["relative_humidity_share"].to_numpy(), 0.0, 1.0 - 2 * EXACT)
    step = _COARSE_K if np.ptp(temp) > _WIDE_K else _FINE_K
    frame = pd.DataFrame(
        {
            "at": np.floor((temp + EXACT) / step).astype(int),
            "of": np.floor((damp + EXACT) / _HUMIDITY_STEP).astype(int),
        }
    )
    counted = frame.groupby(["at", "of"]).size().reset_index(name="hours")
    return pd.DataFrame(
        {
            "temp": counted["at"] * step,
            "temp_end": (counted["at"] + 1) * step,
            "damp": counted["of"] * _HUMIDITY_STEP,
            "damp_end": (counted["of"] + 1) * _HUMIDITY_STEP,
            "hours": counted["hours"],
        }
    )


def _ratio_g(temp_c: Any, damp_share: Any, pressure: float) -> Floats:
    return 1000 * humidity_ratio_at(temp_c, damp_share, pressure)


def _axes(
    counts: pd.DataFrame, bands: dict[Band, str], pressure: float
) -> tuple[alt.X, alt.Y, tuple[float, float, float]]:
    """Both axes, and lowest and highest temperature and the highest ratio that they show."""
    low = np.floor(min([counts["temp"].min(), *(b[0] for b in bands)])) - 1
    high = np.ceil(max([counts["temp_end"].max(), *(b[1] for b in bands)])) + 1
    wet = _ratio_g(counts["temp_end"], counts["damp_end"], pressure)
    corners = [float(_ratio_g(b[1], 1.0, pressure)) for b in bands]
    saturated = 1.2 * float(_ratio_g(low, 1.0, pressure))  # so that its curve is seen in dry rooms
    top = np.ceil(max([wet.max(), saturated, *corners]) + 0.5)
    x = alt.X("temp:Q", title=say.TEMPERATURE_AXIS, scale=alt.Scale(domain=[low, high], nice=False))
    y = alt.Y("ratio:Q", title=say.RATIO_AXIS, scale=alt.Scale(domain=[0, top], nice=False))
    return x, y, (float(low), float(high), float(top))


def _heat_map(counts: pd.DataFrame, pressure: float, x: alt.X, y: alt.Y) -> Any:
    """Each step as a piece between two curves of humidity, so that none lies above saturation."""
    pieces = []
    for side in ("temp", "temp_end"):
        at = counts[side]
        pieces.append(
            pd.DataFrame(
                {
                    "temp": rounded(at.to_numpy(float)),
                    "ratio": rounded(_ratio_g(at, counts["damp"], pressure)),
                    "ratio_end": rounded(_ratio_g(at, counts["damp_end"], pressure)),
                    "hours": counts["hours"],
                    "piece": range(len(counts)),
                }
            )
        )
    frame = pd.concat(pieces).sort_values(["piece", "temp"], kind="stable", ignore_index=True)
    names = [say.hours_named(a, b) for a, b in pairwise([*_LEVELS, None])]
    level = np.searchsorted(_LEVELS, frame["hours"].to_numpy(), side="right") - 1
    frame["hours"] = [names[k] for k in level]
    return (
        alt.Chart(frame)
        .mark_area(aria=False, stroke="#FFFFFF", strokeWidth=0.4)
        .encode(
            x=x,
            y=y,
            y2="ratio_end:Q",
            detail="piece:N",
            color=alt.Color(
                "hours:N",
                scale=alt.Scale(domain=names[::-1], range=list(_SHADES)[::-1]),
                legend=alt.Legend(
                    title=say.HOURS,
                    orient="right",
                    offset=44,
                    labelFontSize=12,
                    symbolType="square",
                    symbolSize=160,
                ),
            ),
        )
    )


def _curves(
    pressure: float, x: alt.X, y: alt.Y, ends: tuple[float, float, float], locale: str
) -> list[Any]:
    """Curves of relative humidity, that of saturation heavier, each named at its end."""
    low, high, top = ends
    layers = []
    for share in _CURVES:
        fine = np.linspace(low, high, 2001)
        last = fine[_ratio_g(fine, share, pressure) <= top][-1]
        temps = np.linspace(low, last, 40)
        points = {"temp": rounded(temps), "ratio": rounded(_ratio_g(temps, share, pressure))}
        drawn = pd.DataFrame(points)
        line = alt.Chart(drawn).mark_line(
            color=QUIET, strokeWidth=1.8 if share == 1.0 else 0.8, aria=False
        )
        is_cut = last < high - 0.01  # it leaves at the top, else at the right
        place: dict[str, Any] = {"align": "left", "dx": 4}
        if is_cut:
            place = {"align": "center", "dy": -7}
        name = (
            alt.Chart(drawn.tail(1).assign(humidity=percent(share, locale)))
            .mark_text(fontSize=11, color=QUIET, **place)
            .encode(x=x, y=y, text="humidity:N")
        )
        layers += [line.encode(x=x, y=y), name]
    return layers


def _outline(place: int, band: Band, pressure: float, x: alt.X, y: alt.Y) -> Any:
    low, high, damp = band
    temps = np.linspace(low, high, 15)
    under, over = (_ratio_g(temps, share, pressure) for share in (damp, 1.0))
    around = np.concatenate([temps, temps[::-1], temps[:1]])
    ratio = np.concatenate([under, over[::-1], under[:1]])
    frame = pd.DataFrame({"temp": rounded(around), "ratio": rounded(ratio)})
    frame["order"] = range(len(frame))
    look = {"color": INK, "strokeWidth": 2.2, "strokeDash": list(DASHES[place]), "aria": False}
    return alt.Chart(frame).mark_line(**look).encode(x=x, y=y, order="order:Q")


def _key(
    bands: dict[Band, str], ends: tuple[float, float, float], x: alt.X, y: alt.Y, locale: str
) -> list[Any]:
    """What each outline is, in the empty corner above saturation."""
    low, high, top = ends
    layers = []
    for place, ((cool, warm, damp), label) in enumerate(bands.items()):
        text = say.band_words(
            label, plain(cool, locale), plain(warm, locale), percent(damp, locale)
        )
        at = {"ratio": rounded([top * (0.95 - 0.065 * place)])[0], "text": text}
        left, right = low + (high - low) * 0.02, low + (high - low) * 0.07
        ends_of_line = pd.DataFrame({"temp": rounded([left, right]), **at})
        look = {"color": INK, "strokeWidth": 2.2, "strokeDash": list(DASHES[place])}
        line = alt.Chart(ends_of_line).mark_line(aria=False, **look).encode(x=x, y=y)
        last = alt.Chart(ends_of_line.tail(1))
        place_of_text: dict[str, Any] = {"align": "left", "dx": 7, "fontSize": 12}
        halo = last.mark_text(**place_of_text, **HALO).encode(x=x, y=y, text="text:N")
        words = last.mark_text(**place_of_text, color=INK).encode(x=x, y=y, text="text:N")
        layers += [line, halo, words]
    return layers
