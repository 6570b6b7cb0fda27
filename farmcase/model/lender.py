"""What a lender looks at: uses and sources, gates, grants, cover, ratios, the whole business."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.model.balance_sheet import balances
from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.cover import Cover, cover_of
from farmcase.model.investment import first_cost
from farmcase.model.lines import CAPITALISED, EXPENSED, OPERATING, added
from farmcase.model.profit_tax import years_of
from farmcase.model.statements import WAITING, last_months, year_names
from farmcase.model.timetable import Timetable
from farmcase.model.whole_business import has_standing, whole_cover
from farmcase.money import ratios as r
from farmcase.money.fiscal_years import by_fiscal_year
from farmcase.words.labels import COVERS, FUNDS, MONEY_LINES, RATIOS

Floats = NDArray[np.float64]
_USES = (*CAPITALISED, *EXPENSED, "loan_fee", "loan_interest", "overdraft_interest")
_SOURCES = ("owners_money", "loan_drawn", "loan_capitalised", "grant")


def funded_until(outcome: BuildOutcome) -> int:
    """The month until which money is raised: that in which cash runs lowest, counted from the
    first starts through the first year of growing."""
    cash, start = outcome.ledger.cash, outcome.inputs.start
    balance = (cash.cash - cash.overdraft)[0, start : start + 13]
    return start + int(balance.argmin())


def month_of_money_needed(outcome: BuildOutcome) -> int:
    """The month in which the project's own cash is deepest below nil."""
    return int(outcome.ledger.lines["project_flow"][0].cumsum().argmin())


def year_of_least_cover(outcome: BuildOutcome) -> int | None:
    """The last month of the full year of lowest cover after tax and drawings, if there is any."""
    cover = cover_of(outcome.inputs, outcome.ledger.lines)
    found = np.where(cover.full, cover.after[0], np.nan)
    if not np.isfinite(found).any():
        return None
    return int(last_months(outcome.inputs)[np.nanargmin(found)])


def uses_and_sources(outcome: BuildOutcome) -> pd.DataFrame:
    """What money goes to and comes from until the farm runs; the two add up to the same.

    Counted until `funded_until`. Running costs and sales of those months stand in one line, as do
    payments still awaited.
    """
    lines = outcome.ledger.lines
    until = funded_until(outcome) + 1

    def total(*names: str) -> float:
        return float(sum(lines[name][0, :until].sum() for name in names))

    uses = {MONEY_LINES[name]: -total(name) for name in _USES}
    sources = {MONEY_LINES[name]: total(name) for name in _SOURCES}
    left = {
        FUNDS["running"]: total(*OPERATING),
        FUNDS["waiting"]: total(*WAITING),
        FUNDS["repaid"]: total("loan_principal", "loan_early"),
        FUNDS["owners"]: total("owners_withdrawn", "bonus_paid", "dividend_paid"),
        FUNDS["taxes"]: total("tax_paid"),
        FUNDS["sold"]: total("end_value"),
        FUNDS["overdraft"]: float(lines["overdraft"][0, until - 1]),
        FUNDS["cash"]: -float(lines["cash"][0, until - 1]),
    }
    for label, amount in left.items():
        side, sign = (sources, 1) if amount > 0 else (uses, -1)
        side[label] = side.get(label, 0.0) + sign * amount
    rows = [("uses", k, v) for k, v in uses.items() if abs(v) > 0.005]
    rows += [("sources", k, v) for k, v in sources.items() if abs(v) > 0.005]
    return pd.DataFrame(rows, columns=pd.Index(["side", "line", "amount"]))


def cover_table(outcome: BuildOutcome) -> pd.DataFrame:
    """Cash available, debt service and cover by fiscal year, for the project and the whole."""
    found = cover_of(outcome.inputs, outcome.ledger.lines)
    rows = _cover_rows(found, "")
    if has_standing(outcome.inputs):
        whole = whole_cover(outcome.inputs, found, outcome.ledger.levels["general"])
        rows |= _cover_rows(whole, "whole_")
    labels = pd.Index([COVERS[name] for name in rows], name="line")
    names = pd.Index(year_names(outcome.inputs, outcome.dates))
    return pd.DataFrame(np.stack(list(rows.values())), index=labels, columns=names)


def _cover_rows(found: Cover, prefix: str) -> dict[str, Floats]:
    return {
        f"{prefix}before_drawings": found.before_drawings[0],
        f"{prefix}after_drawings": found.after_drawings[0],
        f"{prefix}service": found.service[0],
        f"{prefix}cover_before": found.before[0],
        f"{prefix}cover_after": found.after[0],
    }


def ratio_table(outcome: BuildOutcome) -> pd.DataFrame:
    """Ratios that lenders read, by fiscal year, of the project by itself.

    The last year is left out, since in its last month everything is sold. Amounts are taken to the
    cent, so that a balance of nil gives no ratio.
    """
    lines = {name: line[0] for name, line in outcome.ledger.lines.items()}
    found = {n: np.round(line[0], 2) for n, line in balances(outcome.ledger.lines).items()}
    years, ends = years_of(outcome.inputs), last_months(outcome.inputs)

    def flow(*names: str) -> Floats:
        return np.round(by_fiscal_year(added(lines, names), years), 2)

    def at_end(line: Floats) -> Floats:
        return line[ends]

    vat = found["vat_owed"]
    current = found["debtors"] + found["grant_due"] + found["cash"] + np.maximum(-vat, 0)
    due = np.round(due_within_a_year(outcome), 2)
    owed = found["overdraft"] + found["tax_owed"] + found["members_owed"] + np.maximum(vat, 0)
    debts = owed + found["loan_balance"]
    assets = current + found["fixed_assets"] + found["lease_deposits"] - found["deferred_grant"]
    equity = found["owners_capital"] + found["profit_retained"]
    interest = -flow("loan_interest", "overdraft_interest")
    income = flow("profit_before_tax", "tax_charge")
    service = np.round(cover_of(outcome.inputs, outcome.ledger.lines).service[0], 2)
    written_off = flow("depreciation") - flow("grant_released") - flow("disposal_gain")
    capacity = r.capital_debt_repayment_capacity(
        income - flow("own_work"), written_off, 0.0, -flow("own_work"), 0.0, -flow("loan_interest")
    )
    rows = {
        "current_ratio": r.current_ratio(at_end(current), at_end(owed + due)),
        "working_capital_share_of_gross_income": r.working_capital_share_of_gross_income(
            at_end(current), at_end(owed + due), flow("sales", "other_income")
        ),
        "debt_share_of_assets": r.debt_share_of_assets(at_end(debts), at_end(assets)),
        "debt_to_equity": r.debt_to_equity(at_end(debts), at_end(equity)),
        "ebitda": r.ebitda(income, -flow("tax_charge"), interest, written_off),
        "times_interest_earned": r.times_interest_earned(
            flow("profit_before_tax") + interest, interest
        ),
        "return_on_assets": r.return_on_assets(income, interest, 0.0, _mean(at_end(assets))),
        "return_on_equity": r.return_on_equity(income, 0.0, _mean(at_end(equity))),
        "term_debt_coverage": r.term_debt_coverage(capacity, service),
        "repayment_margin": r.capital_debt_repayment_margin(capacity, service),
        "replacement_coverage": r.replacement_coverage(capacity, service, -flow("replacements")),
    }
    names = pd.Index(year_names(outcome.inputs, outcome.dates))
    labels = pd.Index([RATIOS[name] for name in rows], name="ratio")
    return pd.DataFrame(np.stack(list(rows.values())), index=labels, columns=names).iloc[:, :-1]


def _mean(closing: Floats) -> Floats:
    """Mean of opening and closing balance of each year."""
    return (closing + np.concatenate([[0.0], closing[:-1]])) / 2


def due_within_a_year(outcome: BuildOutcome) -> Floats:
    """Principal of loans that falls due in the twelve months after each month, (T,)."""
    paid = -outcome.ledger.lines["loan_principal"][0]
    total = np.concatenate([[0.0], paid.cumsum()])
    month = np.arange(paid.size)
    return total[np.minimum(month + 13, paid.size)] - total[month + 1]


def gate_months(outcome: BuildOutcome) -> dict[str, Timetable]:
    """The months of a build with all gates at their low, their likely and their high month."""
    gates = outcome.inputs.records("gates")
    return {
        end: outcome.inputs.timetable_at(
            {name: round(getattr(gate.month, end)) for name, gate in gates.items()}
        )
        for end in ("low", "likely", "high")
    }


class Waiting(NamedTuple):
    """What waits for one gate."""

    rows: int  # of capital
    amount: float  # what these rows cost in all, at the prices of their months
    labels: list[str]  # loans, leases, grants and other gates


def waiting_for(outcome: BuildOutcome, gate: str) -> Waiting:
    """What of a build waits for a gate."""
    inputs = outcome.inputs
    rows = [gate in row.gate.split() for row in inputs.records("capital").values()]
    cost = first_cost(inputs, outcome.ledger.levels["general"])[0]
    fields = (("loans", "gate"), ("leases", "gate"), ("grants", "award_gate"))
    labels = [
        record.label or name
        for section, field in (*fields, ("gates", "waits_for"))
        for name, record in inputs.records(section).items()
        if gate in getattr(record, field).split()
    ]
    return Waiting(sum(rows), float(cost[rows].sum()), labels)


class GrantSums(NamedTuple):
    """One grant of a build."""

    label: str
    eligible: float
    share: float
    ceiling: float
    claimed: Floats  # (T,)


def grant_sums(outcome: BuildOutcome) -> list[GrantSums]:
    """What each grant counts, gives, and when it is claimed."""
    inputs, built = outcome.inputs, outcome.ledger.built
    return [
        GrantSums(
            label=grant.label or name,
            eligible=float(built.flows.eligible[0, i].sum()),
            share=grant.share.likely,
            ceiling=grant.ceiling.likely,
            claimed=built.claimed[0, i],
        )
        for i, (name, grant) in enumerate(inputs.records("grants").items())
    ]
