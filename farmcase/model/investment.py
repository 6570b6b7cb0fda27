"""Lines of capital, grant and finance."""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray

from farmcase.costs.capital import CapitalFlows, capital_flows
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.money.grant import flat_grant
from farmcase.money.months import Cash, Loans, run_months

Floats = NDArray[np.float64]


def capital_lines(
    inputs: BuildInputs, levels: dict[str, Floats], own_work: str
) -> dict[str, Floats]:
    size, general = inputs.size, broadcast(levels["general"], inputs.size)
    column = partial(inputs.full, "capital")
    cost = column("quantity") * column("unit_cost") * column("exchange_rate")
    month, life, resale = paid_month(inputs), column("life_years"), column("resale_share")
    bought = capital_flows(cost, month, life, resale, general)
    contingency = broadcast(inputs.value(f"builds.{inputs.name}.contingency_share")[:, None], size)
    extra = _never_again(cost * contingency, month, life, general)
    wage = inputs.value("own_work.opportunity_wage_per_hour")[:, None]
    charged = wage if own_work == "opportunity_wage" else 0.0
    wages = broadcast(levels["wages"], size)
    own = _never_again(column("own_labour_hours") * charged, month, life, wages)
    eligible = np.array(inputs.texts("capital", "grant_eligible"), float)
    grant = _grant(inputs, _never_again(cost * eligible, month, life, general).spending)
    built = bought.spending + extra.spending + own.spending
    total = np.maximum(built.sum(1, keepdims=True), 1e-12)
    borne = 1 - grant.sum(1, keepdims=True) / total
    end = np.zeros((size, inputs.months))
    end[:, -1] = bought.end_value
    first = _never_again(cost, month, life, general).depreciation
    granted = (first + extra.depreciation + own.depreciation) * borne
    return {
        "capital": -bought.spending,
        "own_build_work": -own.spending,
        "contingency": -extra.spending,
        "gate_costs": -_gate_costs(inputs) * general,
        "replacements": -bought.replacements,
        "grant": grant,
        "end_value": end,
        "depreciation": granted + bought.depreciation - first,
    }


def _never_again(
    cost: Floats, month: NDArray[np.int64], life: Floats, level: Floats
) -> CapitalFlows:
    return capital_flows(cost, month, life, np.zeros(cost.shape), level, bought_again=False)


def _gate_months(inputs: BuildInputs) -> NDArray[np.int64]:
    months = np.rint(inputs.column("gates", "month")).astype(np.int64)
    return np.minimum(broadcast(months, inputs.size), inputs.months - 1)


def paid_month(inputs: BuildInputs) -> NDArray[np.int64]:
    """The month each row is paid: its own, or that of the gate it waits for if later."""
    names, gates = list(inputs.records("gates")), _gate_months(inputs)
    own = np.array(inputs.texts("capital", "month_paid"), np.int64)
    month = np.tile(own, (inputs.size, 1))
    for i, gate in enumerate(inputs.texts("capital", "gate")):
        if gate:
            month[:, i] = np.maximum(month[:, i], gates[:, names.index(gate)])
    return np.minimum(month, inputs.months - 1)


def _gate_costs(inputs: BuildInputs) -> Floats:
    month, cost = _gate_months(inputs), inputs.column("gates", "cost")
    total = np.zeros((inputs.size, inputs.months))
    for i in range(month.shape[1]):
        total[np.arange(inputs.size), month[:, i]] += broadcast(cost, inputs.size)[:, i]
    return total


def _grant(inputs: BuildInputs, eligible: Floats) -> Floats:
    share, ceiling = inputs.column("grants", "share"), inputs.column("grants", "ceiling")
    granted = np.zeros(eligible.shape)
    for i in range(share.shape[1]):
        granted += flat_grant(eligible, share[:, i], ceiling[:, i])
    return granted


def finance(inputs: BuildInputs, lines: dict[str, Floats]) -> Cash:
    owners = np.zeros((inputs.size, inputs.months))
    owners[:, 0] = inputs.value("money.owners_money")
    lines["owners_money"] = owners
    size = inputs.size
    loans = Loans(
        amount=broadcast(inputs.column("loans", "amount"), size),
        rate_per_year=broadcast(inputs.column("loans", "rate_per_year"), size),
        fee=broadcast(inputs.column("loans", "fee"), size),
        term_months=np.array(inputs.texts("loans", "term_months"), np.int64),
        drawn_month=np.array(inputs.texts("loans", "drawn_month"), np.int64),
    )
    overdraft_rate = inputs.value("money.overdraft_rate_per_year") * np.ones(size)
    return run_months(lines["project_flow"], owners, loans, overdraft_rate)
