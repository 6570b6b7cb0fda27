"""The hours of a room in calendar order, and the steps in which its air is coloured and counted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.errors import NotFoundError
from farmcase.inputs.growing import Crop
from farmcase.model.build_outcome import BuildOutcome
from farmcase.words import rooms as say
from farmcase.words.numbers import percent, plain

Floats = NDArray[np.float64]

SETTLED_HOURS = slice(8760, 17520)
# Rising warmth from pale to dark, so that it can be read in grey: two of cold, three of the band,
# two of heat; and falling humidity likewise: two too dry, the band, damper.
_WARMTH = ("#EEF4FA", "#C3DCEF", "#82BF98", "#5BA87D", "#37845F", "#9C3F12", "#4A1206")
_DRYNESS = ("#4A1206", "#AD5522", "#5BA87D", "#C3DCEF", "#EEF4FA")
_PLAIN = ("#EEF4FA", "#B5D3EA", "#7FB0D3", "#3F7FB0", "#0B3C6B")
_NICE = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)  # widths of steps where there is no band to go by
EXACT = 1e-9  # what is held at an edge counts to the band, whatever its last bits
_MUCH_DRIER = 0.10  # share of humidity below the band from which it is drawn as much drier


class Steps(NamedTuple):
    """Steps of a quantity from low to high, by calendar month, as the crop of the month has them.

    A value on an edge counts to the step that is nearer to the band.
    """

    edges: Floats  # (12, n - 1)
    below: int  # how many of the edges lie below the band or are its lower end
    names: tuple[str, ...]  # n
    shades: tuple[str, ...]  # n
    band: tuple[int, ...]  # which steps are the band; none where no crop is planned
    crops: tuple[str, ...]  # (12,) whose bands they are, as a reader calls them; none without

    def of(self, values: Floats, months: NDArray[np.int64]) -> NDArray[np.int64]:
        """The step of each value, given its calendar month (0 to 11)."""
        edges = self.edges[months]
        low = (values[:, None] >= edges[:, : self.below] - EXACT).sum(1)
        return low + (values[:, None] > edges[:, self.below :] + EXACT).sum(1)


def settled_hours(build: BuildOutcome, room: str) -> pd.DataFrame:
    """The settled year of a room in calendar order: 8,760 rows from 1 January, whatever the start.

    Columns are those of `model/hours.room_tables`.

    Raises
    ------
    NotFoundError when no such room is followed by the hour
    """
    if room not in build.rooms:
        known = ", ".join(build.rooms) or "none"
        raise NotFoundError(f"{build.label} has no hours of a room {room!r}; it has {known}.")
    table = build.rooms[room].iloc[SETTLED_HOURS]
    when = pd.DatetimeIndex(table.index)
    return table.iloc[np.argsort(when.month.to_numpy() * 100 + when.day.to_numpy(), kind="stable")]


def months_of(table: pd.DataFrame) -> NDArray[np.int64]:
    """Calendar month (0 to 11) of each row of an hourly table."""
    return pd.DatetimeIndex(table.index).month.to_numpy().astype(np.int64) - 1


def main_crops(build: BuildOutcome, room: str) -> list[str]:
    """The crop of which most is started in a room in each calendar month (12).

    A month without starts keeps the crop of the month before it; none where no crop is planned.
    """
    plan = build.inputs.case.plan.get(room)
    if plan is None:
        return []
    names = list(plan.start_share_by_month)
    table = np.array([plan.start_share_by_month[name] for name in names])
    found = [names[i] for i in table.argmax(0)]
    empty = table.sum(0) <= 0
    for m in [*range(12), *range(12)]:  # twice round, for a year that begins empty
        if empty[m] and not empty.all():
            found[m] = found[m - 1]
    return found


def standing_crops(build: BuildOutcome, room: str) -> list[str]:
    """The crops that stand in a room in the settled year, the longest first."""
    years = build.physical.rooms
    if years is None or room not in years.names:
        return []
    hours = years.crop_hours[0, years.names.index(room)]
    names = list(build.inputs.case.crops)
    return [names[c] for c in np.argsort(-hours, kind="stable") if hours[c] > 0]


def temperature_steps(build: BuildOutcome, room: str) -> Steps:
    """Steps of air temperature: by the crop's limits, or plain ones in a room without a crop."""
    locale = build.inputs.case.heading.locale

    def degrees(value: float) -> str:
        return plain(value, locale, 0 if round(value, 1) == round(value) else 1)

    crops = main_crops(build, room)
    if not crops:
        return _plain_steps(
            build.rooms[room].iloc[SETTLED_HOURS]["air_temp_c"].to_numpy(), degrees, "°C"
        )
    edges = np.array([_warm_edges(build.inputs.case.crops[name]) for name in crops])
    spans = _spans(edges, degrees, "°C")
    names = tuple(
        f"{span}: {name}" if span else name
        for span, name in zip(spans, say.WARMTH_STEPS, strict=True)
    )
    return Steps(edges, 2, names, _WARMTH, (2, 3, 4), _labels(build, crops))


def humidity_steps(build: BuildOutcome, room: str) -> Steps:
    """Steps of relative humidity: by the crop's band, or plain ones in a room without a crop."""
    locale = build.inputs.case.heading.locale
    crops = main_crops(build, room)
    if not crops:
        values = build.rooms[room].iloc[SETTLED_HOURS]["relative_humidity_share"].to_numpy()
        found = _plain_steps(100 * values, lambda v: plain(v, locale), "%")
        return found._replace(edges=found.edges / 100)
    records = [build.inputs.case.crops[name] for name in crops]
    lows = np.array([r.fruit_humidity_low_share.likely for r in records])
    highs = np.array([r.fruit_humidity_high_share.likely for r in records])
    edges = np.stack([lows - _MUCH_DRIER, lows, highs, (highs + 1) / 2], axis=1)
    spans = _spans(edges, lambda v: percent(v, locale).removesuffix("%").rstrip(), "%")
    names = tuple(
        f"{span}: {name}" if span else name
        for span, name in zip(spans, say.HUMIDITY_STEPS, strict=True)
    )
    return Steps(edges, 2, names, _DRYNESS, (2,), _labels(build, crops))


def _warm_edges(crop: Crop) -> list[float]:
    """Where growth stops, thirds of the band, and where heat has halved the kilograms [°C]."""
    low, high = crop.fruit_low_c.likely, crop.fruit_high_c.likely
    thirds = [low + (high - low) * k / 3 for k in range(4)]
    return [crop.fruit_stop_c.likely, *thirds, high + crop.fruit_hot_k.likely / 2]


def _labels(build: BuildOutcome, crops: Sequence[str]) -> tuple[str, ...]:
    return tuple(build.inputs.case.crops[name].label for name in crops)


def _spans(edges: Floats, number: Callable[[float], str], unit: str) -> list[str]:
    """What each step spans in words; empty where the edges change through the year."""
    if np.ptp(edges, axis=0).max() > 1e-9:
        return [""] * (edges.shape[1] + 1)
    marks = [number(value) for value in edges[0]]
    middle = [say.span(a, b, unit) for a, b in pairwise(marks)]
    return [say.below(marks[0], unit), *middle, say.above(marks[-1], unit)]


def _plain_steps(values: Floats, number: Callable[[float], str], unit: str) -> Steps:
    """At most five steps of a round width over nearly all the values."""
    least, most = np.percentile(values, [1, 99])
    fits = [w for w in _NICE if (most - least) / w <= len(_PLAIN) - 1]
    width = fits[0] if fits else _NICE[-1]
    marks = np.arange(np.floor(least / width + 1e-6) + 1, np.ceil(most / width - 1e-6)) * width
    if not marks.size:  # it hardly moves at all
        marks = np.array([np.round((least + most) / 2 / width) * width])
    edges = np.tile(marks, (12, 1))
    shades = tuple(_PLAIN[i] for i in np.linspace(0, 4, marks.size + 1).round().astype(int))
    return Steps(edges, marks.size, tuple(_spans(edges, number, unit)), shades, (), ())
