"""The case as tables: its assumptions with their origin, and how much rests on guesses."""

from __future__ import annotations

from farmcase.inputs.case import Case
from farmcase.inputs.table import input_table
from farmcase.model.cost_rows import cost_rows
from farmcase.model.outcome import Outcome
from farmcase.output.tables import Table
from farmcase.words.labels import SECTIONS
from farmcase.words.numbers import money, percent, plain

_STATUSES = ("measured", "quoted", "published", "guess")
_MOST_DIGITS = 6


def assumption_table(case: Case, sections: tuple[str, ...], ranged_only: bool = True) -> Table:
    """Numbers of some sections with low, likely, high, unit, status, date and source."""
    rows = []
    for path, row in input_table(case).items():
        uncertain = row.low < row.high
        if path.split(".")[0] in sections and (uncertain or not ranged_only):
            numbers = [_digits(v, case) for v in (row.low, row.likely, row.high)]
            rows.append([row.label, *numbers, row.unit, row.status, row.date, row.source])
    header = ["Assumption", "Low", "Likely", "High", "Unit", "Status", "Price of", "Source"]
    return Table(header, rows, left=(0, 4, 5, 6, 7))


def _digits(value: float, case: Case) -> str:
    text = f"{value:.{_MOST_DIGITS}g}"
    decimals = len(text.split(".")[1]) if "." in text and "e" not in text else 0
    return plain(value, case.heading.locale, decimals)


def guess_table(outcome: Outcome, build: str) -> Table:
    """Of every kind of cost, how much is measured, quoted, published or a guess."""
    heading = outcome.case.heading
    rows = cost_rows(outcome[build])
    kinds = list(dict.fromkeys(row.part for row in rows))
    table = []
    for kind in [*kinds[1:], kinds[0]]:
        mine = [row for row in rows if row.part == kind]
        total = sum(row.amount for row in mine)
        shares = [
            percent(sum(r.amount for r in mine if r.status == status) / total, heading.locale)
            for status in _STATUSES
        ]
        label = "capital, once" if kind == "capital" else f"{kind}, a year"
        table.append([label, money(total, heading.currency, heading.locale), *shares])
    return Table(["Cost", "In all", *_STATUSES], table, caption=outcome[build].label)


def who_table(case: Case) -> Table:
    """Who asks, where, and what there is to choose between."""
    said = {
        "Applicant": case.who.applicant,
        "Form": case.who.legal_form,
        "Place": case.who.place,
        "About": case.who.about,
        **{f"Build: {build.label}": build.about for build in case.builds.values()},
    }
    return Table(["", ""], [[k, v] for k, v in said.items() if v], left=(0, 1))


def count_table(case: Case) -> Table:
    """How many numbers each part of the case holds, how many with a range, and their status."""
    rows: dict[str, list[int]] = {}
    for path, row in input_table(case).items():
        section = path.split(".")[0]
        counts = rows.setdefault(SECTIONS[section], [0, 0, *[0] * len(_STATUSES)])
        counts[0] += 1
        counts[1] += row.low < row.high
        if row.status in _STATUSES:
            counts[2 + _STATUSES.index(row.status)] += 1
    table = [[name, *map(str, counts)] for name, counts in rows.items()]
    return Table(["Part of the case", "Numbers", "With a range", *_STATUSES], table)
