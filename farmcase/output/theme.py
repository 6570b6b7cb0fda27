"""The one look of all charts, and how a chart becomes a picture.

Colours that colour-blind readers tell apart, and a dash, a label or a place of its own for each
thing besides, so that grey print can be read too.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import altair as alt
import numpy as np
import pandas as pd
import vl_convert
from babel import Locale
from babel.numbers import get_decimal_symbol, get_group_symbol, get_minus_sign_symbol

# Okabe and Ito's colour set (2008), as printed by them, in an order that also parts in grey.
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
# The same hues as regions of a map, each of another lightness, and pale beside the full colour.
TINTS = ("#B9D6EA", "#E9A06F", "#63B99C", "#E3BCD1", "#F6D68F", "#D3ECFA")
HALO = {"stroke": "#FFFFFF", "strokeWidth": 4, "strokeJoin": "round", "aria": False}  # behind words
PALES = ("#D3E6F3", "#FADCCB", "#D0ECE2", "#F5E6EE", "#FCEFD2", "#E7F5FD")
DASHES: tuple[tuple[int, ...], ...] = ((1, 0), (7, 3), (2, 2), (10, 3, 2, 3), (4, 4), (12, 4))
FONT = "Arial, Liberation Sans, Helvetica, sans-serif"
INK, QUIET, FAINT, PALE = "#222222", "#5A5A5A", "#BBBBBB", "#F1F1EE"
WIDTH, HEIGHT = 640, 340
LINE, SMALL_LINE = 98, 138  # letters in a line of a title, and of what stands under it
VEGA_LITE = "6.4"
_LEAST_GAP = 0.05  # of the height of the picture, between the names at the ends of the lines
_KEPT = "\x1b"  # stands for a space at which no line may break


def rounded(values: Sequence[float] | np.ndarray, digits: int = 6) -> list[float]:
    """Values to six significant digits, so that pictures do not differ by the last bits."""
    return [
        round(v, digits - 1 - math.floor(math.log10(abs(v)))) if v and math.isfinite(v) else v
        for v in (float(x) for x in values)
    ]


def in_order(choices: Sequence[str], count: int) -> list[str]:
    """So many of the theme's colours, from the first; they begin again when they run out."""
    return [choices[i % len(choices)] for i in range(count)]


def build_scales(names: Sequence[str]) -> tuple[alt.Color, alt.StrokeDash]:
    """Colour and dash of each build, by the order of the case."""
    colours = in_order(COLOURS, len(names))
    dashes = [list(DASHES[i % len(DASHES)]) for i in range(len(names))]
    return (
        alt.Color("build:N", scale=alt.Scale(domain=names, range=colours), legend=None),
        alt.StrokeDash("build:N", scale=alt.Scale(domain=names, range=dashes), legend=None),
    )


def ends_apart(frame: pd.DataFrame, x: str, y: str) -> pd.DataFrame:
    """Where the names stand at the ends of the lines, moved apart where they would meet.

    Columns end, height and build; `frame` has columns `x`, `y` and build.
    """
    ends = frame.groupby("build", sort=False).tail(1).sort_values(y).reset_index(drop=True)
    gap = (frame[y].max() - min(frame[y].min(), 0.0)) * _LEAST_GAP
    height = ends[y].to_numpy(float).copy()
    for i in range(1, height.size):
        height[i] = max(height[i], height[i - 1] + gap)
    shift = (height - ends[y].to_numpy(float)).mean()
    return pd.DataFrame({"end": ends[x], "height": rounded(height - shift), "build": ends["build"]})


def header(text: str, offset: int = 8, subtitle: str = "") -> alt.Title:
    """The heading of one panel of several."""
    look: dict[str, Any] = {"anchor": "start", "fontSize": 13, "fontWeight": "bold", "color": INK}
    if subtitle:
        look |= {"subtitle": subtitle, "subtitleColor": QUIET, "subtitleFontSize": 12}
    return alt.Title(text, offset=offset, **look)


def themed(chart: Any, title: str, locale: str, subtitle: str = "") -> Any:
    """The one look of all charts: title as the finding, faint grid, no frame.

    Parameters
    ----------
    chart : an Altair chart, its panels sized already
    title : the finding, broken into lines here
    locale : language of the case, for the numbers on the axes
    subtitle : what is drawn, in smaller letters
    """
    words: dict[str, Any] = {"text": _lines(title, LINE)}
    if subtitle:
        words["subtitle"] = _lines(subtitle, SMALL_LINE)
    edge = {"left": 5, "right": 25, "top": 5, "bottom": 5}
    axis = {
        "labelFontSize": 12,
        "titleFontSize": 12,
        "titleFontWeight": "normal",
        "labelColor": INK,
        "titleColor": INK,
        "gridColor": FAINT,
        "gridOpacity": 0.5,
        "domainColor": FAINT,
        "tickColor": FAINT,
        "labelFlush": False,
    }
    return (
        chart.properties(
            title=alt.Title(
                **words,
                anchor="start",
                frame="bounds",
                fontSize=16,
                fontWeight="bold",
                color=INK,
                lineHeight=20,
                offset=14,
                subtitleFontSize=12,
                subtitleLineHeight=16,
                subtitlePadding=5,
                subtitleColor=QUIET,
            ),
            usermeta={"embedOptions": {"formatLocale": number_locale(locale)}},
        )
        .configure(font=FONT, background="#FFFFFF", padding=edge)
        .configure_view(stroke=None)
        .configure_axis(**axis)
        .configure_axisY(minExtent=60)
    )


def _lines(text: str, width: int) -> str | list[str]:
    """Lines of much the same length, as few as fit the width."""
    lines = even_lines(text, width)
    return lines if len(lines) > 1 else text


def even_lines(text: str, width: int) -> list[str]:
    """Text in as few lines as fit, of much the same length; a number keeps its unit."""

    kept = re.sub(r"(?<=\d) (?=%|kg|years)", _KEPT, text)

    def broken(letters: int) -> list[str]:
        return textwrap.wrap(kept, letters, break_long_words=False, break_on_hyphens=False)

    count = len(broken(width))
    least = next(w for w in range(max(1, width // 2), width + 1) if len(broken(w)) <= count)
    return [line.replace(_KEPT, " ") for line in broken(least)]


def number_locale(locale: str) -> dict[str, Any]:
    """How axes write numbers in a language, as d3-format wants it."""
    pattern = Locale.parse(locale).decimal_formats[None]
    first, others = pattern.grouping
    return {
        "decimal": get_decimal_symbol(locale),
        "thousands": get_group_symbol(locale),
        "grouping": [first, *[others] * 5],
        "currency": ["", ""],
        "minus": get_minus_sign_symbol(locale),
    }


class Picture:
    """A chart as SVG, for a notebook page and for a file; made without a browser or network."""

    def __init__(self, svg: str, title: str) -> None:
        self.svg, self.title = svg, title

    def __repr__(self) -> str:
        return f"Picture: {self.title}"

    def _repr_svg_(self) -> str:
        return self.svg

    def save(self, path: str | Path) -> None:
        """Write the picture to a file."""
        Path(path).write_text(self.svg + "\n", encoding="utf-8")


def title_of(chart: Any) -> str:
    """The title of a chart as one line."""
    text = chart.to_dict()["title"]["text"]
    return " ".join(text) if isinstance(text, list) else text


def shown(chart: Any) -> Picture:
    """A chart drawn, with its title as its plain text."""
    specification = chart.to_dict()
    numbers = specification["usermeta"]["embedOptions"]["formatLocale"]
    svg = vl_convert.vegalite_to_svg(specification, vl_version=VEGA_LITE, format_locale=numbers)
    return Picture(svg, title_of(chart))
