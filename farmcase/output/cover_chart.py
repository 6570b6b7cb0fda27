"""Debt cover by fiscal year, in both forms, against the threshold that the case names."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.cover import Cover, cover_of
from farmcase.model.outcome import Outcome
from farmcase.model.statements import year_names
from farmcase.output.lender_tables import threshold_of
from farmcase.output.theme import COLOURS, HALO, INK, WIDTH, header, rounded, themed
from farmcase.output.year_tables import year_label
from farmcase.words import charts as axes
from farmcase.words import finance_charts as say
from farmcase.words.finance import NONE_DUE
from farmcase.words.numbers import plain

_HEIGHT = 190
_FORMS = (say.BEFORE, say.AFTER)
_HIGHEST = 6.0  # what is higher is cut off there, with its number


def debt_cover_chart(outcome: Outcome) -> Any:
    """Debt cover of the project in each fiscal year, by build."""
    locale = outcome.case.heading.locale
    threshold = threshold_of(outcome).low
    frames = {name: _frame(build, locale) for name, build in outcome.items()}
    drawn = np.concatenate([frame["bar"].to_numpy(float) for frame in frames.values()])
    ends = rounded([min(0.0, np.nanmin(drawn, initial=0.0)) - 0.45, _top(drawn, threshold)], 3)
    panels = [
        _panel(frames[name], build, (ends[0], ends[1]), threshold, locale)
        for name, build in outcome.items()
    ]
    sized = alt.vconcat(*panels, spacing=24) if len(panels) > 1 else panels[0]
    sized = sized.resolve_legend(color="shared")
    return themed(sized, debt_cover_finding(outcome), locale, say.COVER_NOTE)


def _top(drawn: np.ndarray, threshold: float) -> float:
    return max(threshold, float(np.nanmax(drawn, initial=0.0))) + 0.6


def _cover(build: BuildOutcome) -> Cover:
    return cover_of(build.inputs, build.ledger.lines)


def _frame(build: BuildOutcome, locale: str) -> pd.DataFrame:
    found = _cover(build)
    years = [year_label(year, locale) for year in year_names(build.inputs, build.dates)]
    parts = []
    for form, values in zip(_FORMS, (found.before[0], found.after[0]), strict=True):
        part = pd.DataFrame({"year": years, "cover": rounded(values), "form": form})
        part["bar"] = np.clip(part["cover"], -_HIGHEST, _HIGHEST)
        part["text"] = [plain(v, locale, 1) if np.isfinite(v) else "" for v in values]
        parts.append(part)
    frame = pd.concat(parts, ignore_index=True)
    frame["none"] = np.where(np.isfinite(frame["cover"]), "", NONE_DUE)
    return frame


def _panel(
    frame: pd.DataFrame,
    build: BuildOutcome,
    ends: tuple[float, float],
    threshold: float,
    locale: str,
) -> Any:
    years = list(dict.fromkeys(frame["year"]))
    axis = alt.Axis(labelAngle=0, labelLimit=60, labelExpr="split(datum.label, ' ')", grid=False)
    x = alt.X("year:N", sort=years, title=say.YEAR_ENDS, axis=axis)
    scale = alt.Scale(domain=list(ends), nice=False)
    y = alt.Y("bar:Q", title=axes.amount_axis("Debt cover", "ratio"), scale=scale)
    offset = alt.XOffset("form:N", sort=list(_FORMS))
    colour = alt.Color(
        "form:N",
        sort=list(_FORMS),
        scale=alt.Scale(domain=list(_FORMS), range=[COLOURS[0], COLOURS[4]]),
        legend=alt.Legend(title=None, orient="top", direction="horizontal", labelFontSize=12),
    )
    base = alt.Chart(frame[np.isfinite(frame["cover"])])
    above = base.transform_filter("datum.bar >= 0").mark_text(dy=-7, fontSize=10, color=INK)
    below = base.transform_filter("datum.bar < 0").mark_text(dy=8, fontSize=10, color=INK)
    nothing = alt.Chart(frame[frame["none"] != ""].drop_duplicates("year"))
    layers = [
        base.mark_bar().encode(x=x, y=y, color=colour, xOffset=offset),
        *(text.encode(x=x, y=y, xOffset=offset, text="text:N") for text in (above, below)),
        alt.Chart(pd.DataFrame({"bar": [0.0]})).mark_rule(color=INK).encode(y=y),
        *_threshold(threshold, years, x, y, locale),
        nothing.mark_text(fontSize=11, color=INK, dy=-8).encode(
            x=x, y=alt.datum(0.0), text="none:N"
        ),
    ]
    return alt.layer(*layers).properties(
        width=WIDTH, height=_HEIGHT, title=header(build.label, offset=6)
    )


def _threshold(value: float, years: list[str], x: alt.X, y: alt.Y, locale: str) -> list[Any]:
    data = pd.DataFrame({"bar": [value], "year": [years[0]], "words": [plain(value, locale, 2)]})
    base = alt.Chart(data)
    line = base.mark_rule(color=INK, strokeDash=[5, 4], strokeWidth=1.4).encode(y=y)
    look: dict[str, Any] = {
        "align": "left",
        "dy": -6,
        "fontSize": 12,
        "fontWeight": "bold",
        "color": INK,
    }
    named = [
        base.mark_text(**look, **halo).encode(x=alt.value(2), y=y, text="words:N")
        for halo in (HALO, {})
    ]
    return [line, *named]


def debt_cover_finding(outcome: Outcome) -> str:
    """In how many years with debt service the cover is below the threshold, by build."""
    locale, threshold = outcome.case.heading.locale, threshold_of(outcome).low
    said = []
    for build in outcome.values():
        found = _cover(build)
        known = np.isfinite(found.before[0])
        if not known.any():
            said.append((build.label, say.NO_DEBT))
            continue
        below = [
            int((values[0][known] < threshold).sum()) for values in (found.before, found.after)
        ]
        text = plain(threshold, locale, 2)
        found_here = say.cover_found(text, below[0], below[1], int(known.sum()))
        said.append((build.label, found_here))
    return say.of_builds(said)
