"""Parts that add up to a total, as stairs: each bar begins where the one above it ends.

One panel for each build, all on one scale and with the same rows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from farmcase.output.theme import COLOURS, HALO, INK, header, rounded
from farmcase.words import charts as say
from farmcase.words.numbers import NONE

_ROW = 25  # height of a row
_ROOM = 640  # width that the panels share
_ACROSS = 3  # panels beside one another
_LETTER = 6.6  # width of a letter of a label
_KINDS = {-1: "less", 0: "none", 1: "more"}


@dataclass(frozen=True)
class Stairs:
    """Parts of one build in their order, and what their total is held against.

    Attributes
    ----------
    build : the build as a reader calls it
    parts : label -> amount; below nil lowers the total
    mark : label and amount of a line to compare the total with
    """

    build: str
    parts: Mapping[str, float]
    mark: tuple[str, float] | None = field(default=None)

    @property
    def total(self) -> float:
        """All parts added up."""
        return float(sum(self.parts.values()))


def stairs_panels(stairs: Sequence[Stairs], axis: str, text: Callable[[float], str]) -> Any:
    """Panels side by side, wrapped to a new line after three.

    Parameters
    ----------
    stairs : one for each build, with the same labels
    axis : title of the axis, with the unit
    text : how an amount is written beside its bar
    """
    frames = [_rows(one, text) for one in stairs]
    across = min(_ACROSS, len(stairs))
    width = (_ROOM - 20 * (across - 1)) // across
    scale = alt.Scale(domain=_domain(frames, width), nice=False, zero=False)
    charts = [
        _panel(one, frame, i, width, i % across == 0, axis, scale)
        for i, (one, frame) in enumerate(zip(stairs, frames, strict=True))
    ]
    lines = [
        alt.hconcat(*charts[i : i + across], spacing=20) for i in range(0, len(charts), across)
    ]
    return lines[0] if len(lines) == 1 else alt.vconcat(*lines, spacing=24)


def _rows(stairs: Stairs, text: Callable[[float], str]) -> pd.DataFrame:
    amounts = np.array(list(stairs.parts.values()), float)
    ends = amounts.cumsum()
    labels = [*stairs.parts, say.IN_ALL]
    frame = pd.DataFrame(
        {
            "part": labels,
            "amount": rounded([*amounts, stairs.total]),
            "start": rounded([*(ends - amounts), 0.0]),
            "end": rounded([*ends, stairs.total]),
            "next": [*labels[1:], labels[-1]],
            "kind": [*(_KINDS[int(np.sign(a))] for a in amounts), "total"],
            "text": [text(a) if a else NONE for a in [*amounts, stairs.total]],
        }
    )
    if stairs.mark is not None:
        label, value = stairs.mark
        at = rounded([value])[0]
        row = {"part": label, "amount": at, "start": at, "end": at, "next": label, "kind": "mark"}
        frame = pd.concat([frame, pd.DataFrame([{**row, "text": text(value)}])], ignore_index=True)
    return frame.assign(right=frame[["start", "end"]].max(axis=1))


def _domain(frames: Sequence[pd.DataFrame], width: int) -> list[float]:
    """A scale on which the longest bar and the widest label beside it still fit."""
    least = min(min(frame[["start", "end"]].min()) for frame in frames)
    needed = [
        right * width / (width - 10 - _LETTER * len(label))
        for frame in frames
        for right, label in zip(frame["right"], frame["text"], strict=True)
    ]
    return rounded([min(0.0, least), max(needed)], 3)


def _panel(
    stairs: Stairs,
    frame: pd.DataFrame,
    place: int,
    width: int,
    first: bool,
    axis: str,
    scale: alt.Scale,
) -> Any:
    order = list(frame["part"])
    rows = alt.Axis(labelLimit=210, ticks=False, domain=False, labelPadding=8) if first else None
    y = alt.Y("part:N", sort=order, title=None, axis=rows, scale=alt.Scale(padding=0.22))
    ticks = alt.Axis(tickCount=max(3, width // 80), format=",~f", labelOverlap=True)
    x = alt.X("start:Q", title=axis, scale=scale, axis=ticks)
    colour = COLOURS[place % len(COLOURS)]
    base = alt.Chart(frame)
    steps = base.transform_filter("datum.kind != 'total' && datum.kind != 'mark'")
    joins = steps.mark_rule(color=INK, strokeWidth=0.8, opacity=0.6, aria=False).encode(
        x=alt.X("end:Q", title=axis, scale=scale, axis=ticks),
        y=alt.Y("part:N", sort=order, bandPosition=0.5, axis=rows, title=None),
        y2=alt.Y2("next:N", bandPosition=0.5),
    )
    bars = []
    for kind, fill, edge in (("more", colour, colour), ("less", "#FFFFFF", colour)):
        bar = base.transform_filter(f"datum.kind == '{kind}'")
        bar = bar.mark_bar(fill=fill, stroke=edge, strokeWidth=1)
        bars.append(bar.encode(x=x, x2="end:Q", y=y))
    total = base.transform_filter("datum.kind == 'total'").mark_bar(fill=INK)
    bars.append(total.encode(x=x, x2="end:Q", y=y))
    right = alt.X("right:Q", title=axis, scale=scale, axis=ticks)
    texts = [
        base.mark_text(align="left", dx=7, fontSize=12, color=INK, **look).encode(
            x=right, y=y, text="text:N"
        )
        for look in (HALO, {})
    ]
    layers = [joins, *bars, *texts]
    if stairs.mark is not None:
        layers = [*_mark(base, x, y), *layers]
    return alt.layer(*layers).properties(
        width=width, height=_ROW * len(order), title=header(stairs.build)
    )


def _mark(base: Any, x: Any, y: Any) -> list[Any]:
    """The line that the total is held against, and its point in a row of its own."""
    mark = base.transform_filter("datum.kind == 'mark'")
    line = mark.mark_rule(color=INK, strokeDash=[5, 3], strokeWidth=1.3).encode(x=x)
    point = mark.mark_point(shape="diamond", size=80, filled=True, color=INK, opacity=1)
    return [line, point.encode(x=x, y=y)]
