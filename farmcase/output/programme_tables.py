"""How a build stands with grant and loan programmes, as tables."""

from __future__ import annotations

import math

from farmcase.inputs.programmes import programme_names
from farmcase.model.eligibility import Eligibility, eligibility
from farmcase.model.outcome import Outcome
from farmcase.output.tables import Table
from farmcase.words import eligibility as words
from farmcase.words import finance as say
from farmcase.words.numbers import NONE, money

_NAMED = 3  # items of one reason that are named; the rest is counted
_RULINGS = (words.FUNDED, words.WANTS_EVIDENCE, words.REFUSED, words.NOT_FUNDABLE)


def programmes_table(outcome: Outcome, build: str) -> Table:
    """Every programme that is known beside a build: what it pays and how much is lacking."""
    case = outcome.case
    rows = []
    for name in programme_names(case.folder):
        found = eligibility(case, name, build, outcome)
        sums = [_money(outcome, value) for value in _sums(found)]
        rows.append([name, found.label, *sums, str(len(found.lacking))])
    header = ["Name", "Programme", *(text.capitalize() for text in _RULINGS), "Papers lacking"]
    notes = [say.PROGRAMMES_BASIS, words.CONFIRM]
    return Table(header, rows, outcome[build].label, (0, 1), notes=notes)


def _sums(found: Eligibility) -> list[float]:
    refused = found.refused - found.not_fundable
    return [found.funded, found.wanting_evidence, refused, found.not_fundable]


def _money(outcome: Outcome, amount: float) -> str:
    return money(amount, outcome.case.heading.currency, outcome.case.heading.locale)


def ruling_table(outcome: Outcome, found: Eligibility) -> Table:
    """What a programme pays of a build, by ruling and reason; the largest items are named."""
    rows, strong = [], set()
    for ruling, amount in zip(_RULINGS, _sums(found), strict=True):
        mine = found.items[found.items["ruling"] == ruling]
        if not len(mine):
            continue
        strong.add(len(rows))
        rows.append([ruling.capitalize(), _money(outcome, amount), "", ""])
        for reason, items in mine.groupby("reason", sort=False):
            items = items.sort_values("amount", ascending=False, kind="stable")
            labels = [str(label) for label in items["label"]]
            listed = say.some_of(labels[:_NAMED], len(labels) - _NAMED)
            rows.append(["", _money(outcome, float(items["amount"].sum())), listed, str(reason)])
    strong.add(len(rows))
    rows.append([say.IN_ALL, _money(outcome, found.whole), "", ""])
    header = ["Ruling", "Amount", "Items", "Why"]
    caption = say.of_programme(outcome[found.build].label, found.label)
    notes = [say.ITEMS_BASIS, *_granted(outcome, found)]
    return Table(header, rows, caption, (0, 2, 3), strong, notes)


def _granted(outcome: Outcome, found: Eligibility) -> list[str]:
    if math.isnan(found.granted):
        return [found.granted_in_words]
    now, then = (_money(outcome, v) for v in (found.granted, found.granted_with_evidence))
    return [say.granted_now(now, then), found.granted_in_words]


def lacking_table(outcome: Outcome, found: Eligibility) -> Table:
    """What the programme asks for and the case does not hold yet."""
    columns = ("label", "need", "state", "still_wanted")
    rows = [[str(row[name]) for name in columns] for _, row in found.lacking.iterrows()]
    header = ["Asked for", "How it is asked", "In the case", "Still wanted"]
    caption = say.of_programme(outcome[found.build].label, found.label)
    notes = [] if rows else [say.NOTHING_LACKING]
    return Table(header, rows, caption, (0, 1, 2, 3), notes=notes)


def declaration_table(outcome: Outcome, found: Eligibility) -> Table:
    """Public aid that counts together, with its ceiling and source."""
    locale = outcome.case.heading.locale
    rows = [
        [
            str(row["label"]),
            money(float(row["ceiling"]), str(row["currency"]), locale),
            str(row["years"]),
            str(row["in_words"]),
            str(row["source"]),
        ]
        for _, row in found.declarations.iterrows()
    ]
    header = ["Aid that counts together", "Ceiling", "Years", "What is declared", "Source"]
    notes = [] if rows else [say.NO_DECLARATION]
    return Table(header, rows, found.label, (0, 3, 4), notes=notes)


def rule_table(found: Eligibility) -> Table:
    """Every rule that was read, with how it is known, its source and date."""
    rows = [
        [
            str(row["says"]),
            say.MARKS[str(row["mark"])],
            str(row["source"]),
            str(row["address"]) or NONE,
            str(row["date"]) or say.NO_DATE,
        ]
        for _, row in found.rules.iterrows()
    ]
    header = ["Rule", "How it is known", "Source", "Address", "Date"]
    return Table(header, rows, found.label, (0, 1, 2, 3, 4))


def caution_list(found: Eligibility) -> Table:
    """What must be said beside a programme."""
    rows = [[text] for text in found.cautions]
    return Table([say.CAUTIONS], rows, found.label)
