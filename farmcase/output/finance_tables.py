"""Uses and sources, the three statements, gates and grants of each build as tables."""

from __future__ import annotations

import numpy as np
import pandas as pd

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.lender import (
    funded_until,
    gate_months,
    grant_sums,
    uses_and_sources,
    waiting_for,
)
from farmcase.model.outcome import Outcome
from farmcase.output.pages import Pages
from farmcase.output.tables import Table
from farmcase.output.year_tables import period_table
from farmcase.words import finance as say
from farmcase.words.labels import TOTALS
from farmcase.words.numbers import NONE, money, month_name, percent

_SUMS = frozenset(TOTALS.values())
_CASH = [TOTALS[name] for name in ("change_in_cash", "opening_cash", "closing_cash")]
_YEAR = 12


def funding_table(outcome: Outcome) -> Table:
    """Uses and sources of every build side by side; both end in the same sum."""
    heading = outcome.case.heading
    found = {name: uses_and_sources(build) for name, build in outcome.items()}
    rows: list[list[str]] = []
    strong = set()
    sides = (("uses", say.USES, say.USES_IN_ALL), ("sources", say.SOURCES, say.SOURCES_IN_ALL))
    for side, title, total in sides:
        parts = {name: _amounts(table, side) for name, table in found.items()}
        labels = list(dict.fromkeys(label for part in parts.values() for label in part))
        strong |= {len(rows), len(rows) + len(labels) + 1}
        rows.append([title, *[""] * len(found)])
        for label in labels:
            amounts = [part.get(label, 0.0) for part in parts.values()]
            rows.append([label, *(money(v, heading.currency, heading.locale) for v in amounts)])
        sums = [sum(part.values()) for part in parts.values()]
        rows.append([total, *(money(v, heading.currency, heading.locale) for v in sums)])
    header = ["", *(build.label for build in outcome.values())]
    notes = [*(_until(build) for build in outcome.values()), say.OWN_HOURS_PAID]
    return Table(header, rows, strong=strong, notes=notes)


def _amounts(table: pd.DataFrame, side: str) -> dict[str, float]:
    mine = table[table["side"] == side]
    return dict(zip(mine["line"], mine["amount"], strict=True))


def _until(build: BuildOutcome) -> str:
    heading = build.inputs.case.heading
    dates = build.dates
    return say.funded_until(
        build.label,
        month_name(dates[funded_until(build)], heading.locale),
        money(build.measure("lowest_cash"), heading.currency, heading.locale),
        month_name(dates[int(build.measure("lowest_cash_month"))], heading.locale),
    )


def profit_and_loss_table(outcome: Outcome, build: str) -> Table:
    """Profit and loss of a build by fiscal year."""
    found = outcome[build]
    frame = found.statements.profit_and_loss()
    notes = [say.PROJECT_ALONE, say.SOLD_AT_END]
    return period_table(frame, found, say.PROFIT_AND_LOSS, _SUMS, notes=notes)


def cash_flow_table(outcome: Outcome, build: str) -> Table:
    """Cash flow of a build by fiscal year."""
    found = outcome[build]
    frame = found.statements.cash_flow()
    notes = [say.OWN_HOURS_PAID, say.SOLD_AT_END]
    return period_table(frame, found, say.CASH_FLOW, _SUMS, notes=notes)


def balance_sheet_table(outcome: Outcome, build: str) -> Table:
    """Balance sheet of a build at the end of each fiscal year."""
    found = outcome[build]
    frame = found.statements.balance_sheet()
    notes = [say.PROJECT_ALONE, say.SOLD_AT_END]
    return period_table(frame, found, say.BALANCE_SHEET, _SUMS, notes=notes)


def cash_by_month_table(outcome: Outcome, build: str, months: int = 24) -> Pages:
    """Cash flow of the first months, a table for each twelve; month 0 stands with the first."""
    found = outcome[build]
    frame = found.statements.cash_flow(monthly=True).iloc[:, : months + 1]
    first = [*range(min(_YEAR + 1, frame.shape[1]))]
    parts = [first, *([*range(i, min(i + _YEAR, frame.shape[1]))] for i in _later(frame.shape[1]))]
    tables = []
    for part in parts:
        mine = frame.iloc[:, part]
        used = mine[(mine != 0).any(axis=1) | mine.index.isin(_CASH)]
        tables.append(period_table(used, found, say.CASH_BY_MONTH, _SUMS))
    return Pages(tables)


def _later(count: int) -> range:
    return range(_YEAR + 1, count, _YEAR)


def gate_table(outcome: Outcome, build: str) -> Table:
    """When each gate opens, what waits for it, and how many months it may be late."""
    found = outcome[build]
    heading, gates = found.inputs.case.heading, found.inputs.records("gates")
    if not gates:
        return Table(["", ""], [], found.label, notes=[say.NO_GATES])
    ends, table = gate_months(found), found.inputs.timetable

    def month(number: int) -> str:
        last = len(found.dates) - 1
        return month_name(found.dates[min(number, last)], heading.locale)

    rows, strong = [], set()
    for i, (name, gate) in enumerate(gates.items()):
        spare = NONE
        if name in table.spare:
            spare = say.spare_months(table.spare[name], name == table.critical)
        if name == table.critical:
            strong.add(i)
        months = [month(end.opens[name]) for end in ends.values()]
        kind = say.GATE_KINDS[gate.kind]
        rows.append([gate.label or name, kind, *months, spare, _waiting(found, name)])
    rows.append([say.FIRST_STARTS, "", *(month(end.start) for end in ends.values()), "", ""])
    header = ["Gate", "Kind", "Opens, low", "Likely", "High", "Months to spare", "Waits for it"]
    return Table(header, rows, found.label, (0, 1, 6), strong, [say.GATES_BASIS])


def _waiting(build: BuildOutcome, gate: str) -> str:
    heading, found = build.inputs.case.heading, waiting_for(build, gate)
    amount = money(found.amount, heading.currency, heading.locale)
    rows = [say.rows_wait(found.rows, amount)] if found.rows else []
    return "; ".join([*rows, *found.labels]) or NONE


def grant_table(outcome: Outcome, build: str) -> Table:
    """What each grant counts and gives, when it is claimed and when it is paid."""
    found = outcome[build]
    heading, sums = found.inputs.case.heading, grant_sums(found)
    if not sums:
        return Table(["", ""], [], found.label, notes=[say.NO_GRANT])

    def amount(value: float) -> str:
        return money(value, heading.currency, heading.locale)

    claims = np.sum([grant.claimed for grant in sums], axis=0)
    rows = [
        ["Spending that counts", *(amount(grant.eligible) for grant in sums)],
        ["Share", *(percent(grant.share, heading.locale) for grant in sums)],
        ["Ceiling", *(amount(grant.ceiling) for grant in sums)],
        ["Granted", *(amount(grant.claimed.sum()) for grant in sums)],
    ]
    for month in [m for m, claim in enumerate(claims) if claim]:
        label = say.claim_of(month_name(found.dates[month], heading.locale))
        rows.append([label, *(amount(grant.claimed[month]) for grant in sums)])
    paid = found.ledger.lines["grant"][0]
    for month in paid.nonzero()[0]:
        label = say.paid_in(month_name(found.dates[int(month)], heading.locale))
        rows.append([label, amount(paid[month]), *[""] * (len(sums) - 1)])
    header = ["", *(grant.label for grant in sums)]
    return Table(header, rows, found.label, strong={3}, notes=[say.GRANT_BASIS])
