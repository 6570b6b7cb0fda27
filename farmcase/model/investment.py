"""What is bought and built, what grants pay of it, and what consents, moves and leases cost."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import handed
from farmcase.costs.capital import BOOKS, NO_ALLOWANCE, CapitalFlows, CapitalRows, capital_flows
from farmcase.inputs.finance_checks import BOOKS as FOLLOWS_BOOKS
from farmcase.inputs.finance_checks import NONE
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.investment_kernel import release
from farmcase.model.sums import plus
from farmcase.money.grant import ClaimTerms, granted, to_repay

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Built:
    """Capital of a build by month, all positive (S, T) unless said."""

    flows: CapitalFlows
    claimed: Floats  # (S, G, T) grant as it is claimed
    received: Floats  # (S, T) grant as it is paid
    repaid: Floats  # (S, T) grant paid back because funded things leave
    borne: Floats  # (S, G) share of eligible spending that each grant bears
    released: Floats  # (S, T) of the grant, into profit as what it paid for is written off
    gate_costs: Floats
    moves: Floats


Class = tuple[str, float]  # a schedule of allowances, and the life in years where it asks for one


def schedules(inputs: BuildInputs) -> list[Class]:
    """The schedules of allowances that rows of the build follow, in the order of the rows."""
    return inputs.once("schedules", lambda: _schedules(inputs))


def _schedules(inputs: BuildInputs) -> list[Class]:
    found = dict.fromkeys(_schedule_of_rows(inputs))
    return [each for each in found if each[0] not in (FOLLOWS_BOOKS, NONE)]


def _schedule_of_rows(inputs: BuildInputs) -> list[Class]:
    tax = inputs.case.tax
    usual = tax.default_schedule if tax is not None else FOLLOWS_BOOKS
    return [
        (name, row.life_years.likely if name == "straight_line" else 0.0)
        for row in inputs.records("capital").values()
        for name in (row.tax_class or usual,)
    ]


def built(
    inputs: BuildInputs,
    levels: dict[str, Floats],
    own_work: str,
    vat_kept: Floats,
    own_deducted: bool,
) -> Built:
    """Follow the capital rows, the grants on them, gates and moves of a build.

    Parameters
    ----------
    inputs : numbers of the build
    levels : price levels, (S, T) each
    own_work : how own hours are charged; own hours of the build cost what they are worth in
        the view of the opportunity wage and nothing in the others
    vat_kept : (S,) share of VAT that cannot be recovered
    own_deducted : whether own hours of the build are deducted for tax
    """
    classes = schedules(inputs)
    flows = capital_flows(
        _capital_rows(inputs, levels, own_work, vat_kept, own_deducted, classes), len(classes)
    )
    claimed, received, repaid = _grants(inputs, flows)
    eligible = flows.eligible.sum(-1)
    borne = np.divide(claimed.sum(-1), eligible, out=np.zeros(eligible.shape), where=eligible > 0)
    return Built(
        flows=flows,
        claimed=claimed,
        received=received,
        repaid=repaid,
        borne=borne,
        released=_released(claimed, flows.eligible_slope, eligible),
        gate_costs=gate_costs(inputs, levels["general"]),
        moves=_moves(inputs, levels["general"]),
    )


def _capital_rows(
    inputs: BuildInputs,
    levels: dict[str, Floats],
    own_work: str,
    vat_kept: Floats,
    own_deducted: bool,
    classes: list[Class],
) -> CapitalRows:
    size, column = inputs.size, partial(inputs.column, "capital")
    wage = inputs.price("own_work.opportunity_wage_per_hour")[:, None]
    worth = column("own_labour_hours") * wage
    contingency = inputs.value(f"builds.{inputs.name}.contingency_share")
    return CapitalRows(
        cost=column("quantity") * inputs.priced("capital", "unit_cost") * column("exchange_rate"),
        own_cost=worth if own_work == "opportunity_wage" else np.zeros((1, worth.shape[1])),
        own_worth=worth,
        life=np.maximum(1, np.rint(column("life_years") * 12)).astype(np.int64),
        resale_share=column("resale_share"),
        level=levels["general"],
        wage_level=levels["wages"],
        contingency=broadcast(contingency, size),
        vat_kept=broadcast(vat_kept, size),
        own_deducted=float(own_deducted),
        **inputs.once("rows of capital", lambda: _plain_rows(inputs, classes)),
    )


def _plain_rows(inputs: BuildInputs, classes: list[Class]) -> dict[str, NDArray[Any]]:
    """What of the rows no scenario changes, but for gates: payments, VAT, classes, grants."""
    last, table = inputs.months - 1, inputs.timetable
    payments = [  # what gates push beyond the last month is not paid
        (r, month, share)
        for r, name in enumerate(inputs.records("capital"))
        for month, share in table.payments[name]
        if month <= last
    ]
    pay_row, pay_month, pay_share = np.array(payments, float).reshape(-1, 3).T
    place = {(FOLLOWS_BOOKS, 0.0): BOOKS, (NONE, 0.0): NO_ALLOWANCE}
    place.update({each: i for i, each in enumerate(classes)})
    grants = inputs.records("grants").values()
    return {
        "pay_row": pay_row.astype(np.int64),
        "pay_month": pay_month.astype(np.int64),
        "pay_share": pay_share,
        "ready": np.array([min(m, last) for m in table.ready.values()], np.int64),
        "bought_again": np.ones(len(table.ready), np.int64),
        "vat_rate": np.array(inputs.texts("capital", "vat_rate_share"), float),
        "tax_class": np.array([place[name] for name in _schedule_of_rows(inputs)], np.int64),
        "eligible": eligible_rows(inputs),
        "own_counts": np.array([float(grant.own_labour_counts) for grant in grants]),
    }


def first_cost(inputs: BuildInputs, level: Floats) -> Floats:
    """What each row costs when it is first bought, in the money of its payments, (S, R)."""
    cost = inputs.full("capital", "quantity") * inputs.priced("capital", "unit_cost")
    cost = cost * inputs.column("capital", "exchange_rate")
    last = inputs.months - 1
    paid = [
        np.sum([level[:, min(month, last)] * share for month, share in steps], axis=0)
        for steps in inputs.timetable.payments.values()
    ]
    return cost * np.stack(paid, axis=-1)


def eligible_rows(inputs: BuildInputs) -> Ints:
    """1 where a grant counts a row, (G, R).

    The case marks it so, it is not second-hand unless that counts, and none of it is paid before
    the award.
    """
    rows = inputs.records("capital")
    counts = np.zeros((len(inputs.records("grants")), len(rows)), np.int64)
    for g, grant in enumerate(inputs.records("grants").values()):
        award = award_month(inputs, grant.award_gate)
        for r, (name, row) in enumerate(rows.items()):
            in_time = inputs.timetable.payments[name][0][0] >= award
            kind = grant.second_hand_counts or not row.second_hand
            counts[g, r] = row.grant_eligible and kind and in_time
    return counts


def award_month(inputs: BuildInputs, gate: str) -> int:
    """The month from which spending may count; the start where no gate is named."""
    return max((inputs.timetable.opens[name] for name in gate.split()), default=0)


def _grants(inputs: BuildInputs, flows: CapitalFlows) -> tuple[Floats, Floats, Floats]:
    """Claims by grant, and what is received and paid back over all grants."""
    size, months = inputs.size, inputs.months
    grants = inputs.records("grants")
    claimed = np.zeros((size, len(grants), months))
    received, repaid = inputs.nothing, inputs.nothing
    share, ceiling = inputs.full("grants", "share"), inputs.full("grants", "ceiling")
    held = inputs.full("grants", "held_back_share")
    moves = inputs.records("moves").values()
    left = [m.month for m in moves if m.funded_items_leave and m.month < months]
    leaving = sorted(left)[:1]  # what has left cannot leave again
    for g, grant in enumerate(grants.values()):
        terms = ClaimTerms(
            award_month(inputs, grant.award_gate),
            grant.claim_every_months,
            grant.paid_after_months,
            grant.held_back_months,
        )
        found = granted(flows.eligible[:, g], share[:, g], ceiling[:, g], held[:, g], terms)
        claimed[:, g] = found.claimed
        received = plus(received, found.received)
        for month in leaving:
            pro_rata = grant.repaid_if_moved == "pro_rata"
            back = to_repay(found.received, month, grant.kept_months, pro_rata)
            repaid = plus(repaid, back)
    return claimed, received, repaid


def _released(claimed: Floats, slope: Floats, eligible: Floats) -> Floats:
    """The part of each grant that goes into profit, as what it paid for is written off.

    What is left goes in the last month, in which everything is sold.
    """
    released = np.zeros((claimed.shape[0], claimed.shape[2]))
    release(handed(claimed), handed(slope), handed(eligible), released)
    return released


def gate_costs(inputs: BuildInputs, level: Floats) -> Floats:
    """What applying for consents and connections costs by month, (S, T)."""
    months = [
        min(gate.applied_month, inputs.timetable.opens[name], inputs.months - 1)
        for name, gate in inputs.records("gates").items()
    ]
    return _in_months(inputs, months, inputs.priced("gates", "cost"), level)


def _moves(inputs: BuildInputs, level: Floats) -> Floats:
    months = [move.month for move in inputs.records("moves").values()]
    return _in_months(inputs, months, inputs.priced("moves", "cost"), level)


def _in_months(inputs: BuildInputs, months: list[int], cost: Floats, level: Floats) -> Floats:
    """Costs (1|S, R) at start-month prices, each in its month; what comes later is left out."""
    if not months:
        return inputs.nothing
    total = np.zeros((inputs.size, inputs.months))
    for i, month in enumerate(months):
        if month < inputs.months:
            total[:, month] += cost[:, i] * level[:, month]
    return total
