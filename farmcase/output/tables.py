"""Tables for readers: one class, as plain text on a screen and as HTML in a notebook."""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from html import escape

_STYLE = (
    "border-collapse:collapse;font-size:14px;line-height:1.35;font-variant-numeric:tabular-nums"
)
_NARROWEST = 16  # headings are not broken into lines shorter than this
_NOTE_WIDTH = 96  # letters in a line of what stands under a table
_MANY = 8  # columns from which letters are smaller, so that a page holds them


@dataclass(frozen=True)
class Table:
    """Rows of text under a header; the first column is left-aligned, the others right.

    `strong` are the places of rows that are sums or headings, in bold on a page; `notes` are
    sentences that stand under the table.
    """

    header: Sequence[str]
    rows: Sequence[Sequence[str]]
    caption: str = ""
    left: Sequence[int] = field(default=(0,))
    strong: Collection[int] = ()
    notes: Sequence[str] = ()

    def text(self) -> str:
        """Aligned columns for a screen; long headings take several lines."""
        columns = range(len(self.header))
        widest = [max([len(row[i]) for row in self.rows], default=0) for i in columns]
        heads = [textwrap.wrap(self.header[i], max(widest[i], _NARROWEST)) or [""] for i in columns]
        widths = [max(widest[i], *map(len, heads[i])) for i in columns]
        height = max(map(len, heads))
        heads = [[""] * (height - len(head)) + head for head in heads]
        lines = [[heads[i][line] for i in columns] for line in range(height)]
        lines += [["─" * width for width in widths], *(list(row) for row in self.rows)]
        text = ["  ".join(self._pad(row, widths)).rstrip() for row in lines]
        notes = [line for note in self.notes for line in textwrap.wrap(note, _NOTE_WIDTH)]
        return "\n".join([*([self.caption] if self.caption else []), *text, *notes])

    def _pad(self, row: Sequence[str], widths: Sequence[int]) -> list[str]:
        return [
            cell.ljust(width) if i in self.left else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]

    def __repr__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        caption = (
            f'<caption style="text-align:left;padding-bottom:6px">{escape(self.caption)}</caption>'
            if self.caption
            else ""
        )
        small = ";font-size:12px" if len(self.header) > _MANY else ""
        head = self._html_row(
            self.header, "th", "border-bottom:1px solid #555;vertical-align:bottom;"
        )
        body = "".join(
            self._html_row(row, "td", "font-weight:bold;" if i in self.strong else "")
            for i, row in enumerate(self.rows)
        )
        notes = "".join(
            f'<p style="font-size:12px;margin:4px 0 0;max-width:66em">{escape(note)}</p>'
            for note in self.notes
        )
        return (
            f'<table style="{_STYLE}{small}">{caption}<thead>{head}</thead>'
            f"<tbody>{body}</tbody></table>{notes}"
        )

    def _html_row(self, row: Sequence[str], tag: str, extra: str) -> str:
        side = 6 if len(self.header) > _MANY else 10
        whole = "" if tag == "th" else "white-space:nowrap;"  # a number keeps its unit beside it
        cells = "".join(
            f'<{tag} style="{extra}padding:2px {side}px;'
            f"{'' if i in self.left else whole}text-align:"
            f'{"left" if i in self.left else "right"}">{escape(cell)}</{tag}>'
            for i, cell in enumerate(row)
        )
        return f"<tr>{cells}</tr>"
