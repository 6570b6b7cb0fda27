"""The second stage: prices, wages, tariffs and finance on what the first stage gave.

Every line is nominal money by month, received positive and paid negative.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from farmcase.model.gather import BuildInputs
from farmcase.model.investment import capital_lines, finance
from farmcase.model.kilograms import Expander, Kilograms, follow_kilograms
from farmcase.model.operating import (
    own_work_cost,
    repeating,
    sales_lines,
    substrate_cost,
    utilities,
    work_done,
)
from farmcase.model.physical import Physical
from farmcase.money.months import Cash
from farmcase.money.returns import price_level

Floats = NDArray[np.float64]
OPERATING = (
    "sales",
    "outlet_fees",
    "packaging",
    "delivery",
    "other_income",
    "substrate",
    "wages",
    "own_work",
    "energy",
    "solar_sent",
    "water",
    "leaving",
    "disposal",
    "overheads",
)
INVESTING = (
    "capital",
    "own_build_work",
    "contingency",
    "gate_costs",
    "replacements",
    "grant",
    "end_value",
    "debtors_change",
)
OWN_WORK_VIEWS = ("opportunity_wage", "not_charged", "drawings")


@dataclass(frozen=True)
class Ledger:
    """All lines and quantities of one build, (S, T) unless said."""

    lines: dict[str, Floats]
    kilograms: Kilograms
    cash: Cash
    task_hours: Floats  # (S, tasks, T)
    paid_hours: Floats
    own_hours: Floats
    own_build_hours: Floats  # (S,)
    by_weight_cost: Floats  # work paid for by the kilogram picked, positive
    levels: dict[str, Floats] = field(repr=False)


def run_ledger(
    inputs: BuildInputs,
    physical: Physical,
    group: NDArray[np.int64],
    own_work: str = "opportunity_wage",
) -> Ledger:
    """Money by month of one build.

    Parameters
    ----------
    inputs : numbers of the build, S scenarios
    physical : first stage, G groups
    group : (S,) the group each scenario belongs to
    own_work : how own hours are charged, one of `OWN_WORK_VIEWS`
    """
    expand = Expander(inputs, group)
    levels = _levels(inputs)
    kilograms = follow_kilograms(inputs, physical, expand)
    lines = sales_lines(inputs, kilograms, expand, levels)
    lines["substrate"] = -substrate_cost(inputs, physical, expand) * levels["substrate"]
    work = work_done(inputs, physical, kilograms, expand, levels)
    lines["wages"] = -work.wages
    lines["own_work"] = -own_work_cost(inputs, work.own_hours, levels, own_work)
    lines.update(utilities(inputs, physical, expand, levels))
    thrown = kilograms.filled.unsold_kg.sum(1) + kilograms.thrown_before_sale
    disposal = inputs.value("store.disposal_cost_per_kg")[:, None]
    lines["disposal"] = -thrown * disposal * levels["general"]
    lines["overheads"] = -repeating(inputs, "overheads", levels)
    lines["operating_surplus"] = sum_lines(lines, OPERATING, inputs)
    lines.update(capital_lines(inputs, levels, own_work))
    lines["project_flow"] = lines["operating_surplus"] + sum_lines(lines, INVESTING, inputs)
    cash = finance(inputs, lines)
    lines.update({name: getattr(cash, name) for name in Cash._fields})
    lines["profit_before_tax"] = (
        lines["operating_surplus"] - lines["depreciation"] + cash.loan_interest + cash.loan_fee
    )
    at_wage = own_work == "opportunity_wage"
    return Ledger(
        lines=lines,
        kilograms=kilograms,
        cash=cash,
        task_hours=work.task_hours,
        paid_hours=work.paid_hours,
        own_hours=work.own_hours,
        own_build_hours=inputs.column("capital", "own_labour_hours").sum(1),
        by_weight_cost=work.by_weight + (work.own_by_weight if at_wage else 0.0),
        levels=levels,
    )


def sum_lines(lines: dict[str, Floats], names: tuple[str, ...], inputs: BuildInputs) -> Floats:
    """Lines added up in their order."""
    total = np.zeros((inputs.size, inputs.months))
    for name in names:
        total = total + lines[name]
    return total


def _levels(inputs: BuildInputs) -> dict[str, Floats]:
    names = ("general", "sales", "substrate", "energy", "wages")
    levels = {n: price_level(inputs.value(f"inflation.{n}"), inputs.months) for n in names}
    levels["none"] = np.ones((1, inputs.months))
    return levels
