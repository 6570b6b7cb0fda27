"""Frames with a column for each year or month, as tables for readers."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

import pandas as pd

from farmcase.model.build_outcome import BuildOutcome
from farmcase.output.tables import Table
from farmcase.words import finance as say
from farmcase.words.numbers import month_name, plain

Shown = Callable[[float], str]


def heading_of(period: str, locale: str) -> str:
    """A month, or a fiscal year by the month it ends in, in the reader's language."""
    if period.startswith("to "):
        return say.year_to(month_name(period.removeprefix("to "), locale))
    return month_name(period, locale)


def year_label(period: str, locale: str) -> str:
    """The month in which a fiscal year ends, for an axis that says so."""
    return month_name(period.removeprefix("to "), locale)


def period_table(
    frame: pd.DataFrame,
    build: BuildOutcome,
    what: str,
    sums: Collection[str] = (),
    shown: Callable[[str], Shown] | None = None,
    notes: Sequence[str] = (),
) -> Table:
    """A table with lines as rows and periods as columns.

    Parameters
    ----------
    frame : rows are labelled for readers; columns are "to YYYY-MM" or "YYYY-MM"
    build : the build it is of, for its name, currency and language
    what : what it shows
    sums : labels of the lines that are sums
    shown : how the numbers of a line are written, by its label; whole money when left out
    notes : sentences under the table
    """
    heading = build.inputs.case.heading

    def whole(value: float) -> str:
        return plain(value, heading.locale)

    rows = []
    for label, values in zip(frame.index, frame.to_numpy(float), strict=True):
        write = shown(str(label)) if shown else whole
        rows.append([str(label), *(write(value) for value in values)])
    header = ["", *(heading_of(str(period), heading.locale) for period in frame.columns)]
    strong = {i for i, row in enumerate(rows) if row[0] in sums}
    caption = say.in_currency(build.label, what, heading.currency)
    return Table(header, rows, caption, strong=strong, notes=notes)
