"""The second stage: prices, wages, tariffs, taxes and finance on what the first stage gave.

Every line is nominal money by month, received positive and paid negative.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from farmcase.costs.labour import Work
from farmcase.model import operating as run
from farmcase.model.finance import finance
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.investment import Built, built
from farmcase.model.kilograms import Kilograms, follow_kilograms
from farmcase.model.leases import Leases, leases
from farmcase.model.lines import (
    CAPITALISED,
    EXPENSED,
    INVESTING,
    OPERATING,
    OWN_WORK_VIEWS,
)
from farmcase.model.physical import Physical
from farmcase.model.production import Production
from farmcase.model.profit_tax import deducted, deducts_own_work
from farmcase.model.sales_tax import (
    VatLines,
    flat_rate_addition,
    kept_share,
    purchases_rate,
    vat_lines,
)
from farmcase.model.selling import sales_of
from farmcase.model.sums import Sums, less, plus
from farmcase.money.months import Cash
from farmcase.money.returns import price_level
from farmcase.money.sales import Sales

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Ledger:
    """All lines and quantities of one build, (S, T) unless said."""

    lines: dict[str, Floats]
    kilograms: Kilograms
    sales: Sales
    cash: Cash
    built: Built
    rented: Leases
    work: Work
    own_build_hours: Floats  # (S,)
    by_weight_cost: Floats  # work paid for by the kilogram picked, positive
    levels: dict[str, Floats] = field(repr=False)


def run_ledger(
    inputs: BuildInputs,
    physical: Physical,
    group: NDArray[np.int64],
    own_work: str = OWN_WORK_VIEWS[0],
) -> Ledger:
    """Money by month of one build.

    Parameters
    ----------
    inputs : numbers of the build, S scenarios
    physical : first stage, G groups
    group : (S,) the group each scenario belongs to
    own_work : how own hours are charged, one of `OWN_WORK_VIEWS`
    """
    production = Production(inputs, group, physical.groups)
    levels = _levels(inputs)
    kilograms = follow_kilograms(inputs, physical, group)
    sales = sales_of(inputs, kilograms, production, levels)
    work = run.work_done(inputs, physical, kilograms, production)
    kept = kept_share(inputs)
    rented = leases(inputs, levels, kept)
    made = built(inputs, levels, own_work, kept, deducts_own_work(inputs))
    lines, vats = _running(inputs, physical, production, levels, kilograms, sales, work, rented)
    own_cost = run.own_work_cost(inputs, work.own_hours, levels["wages"], own_work)
    lines["own_work"] = np.negative(own_cost, out=own_cost)
    lines.update(_once(made, rented))
    bought_vat = plus(made.flows.vat, rented.bought_vat)
    vat = vat_lines(inputs, sales, vats["income"], _running_vat(inputs, lines, vats), bought_vat)
    lines.update(_of_vat(vat), debtors_change=_debtors_change(sales))
    tax, own = deducted(inputs, made, rented), _not_deducted(inputs, lines, own_work)
    totals = _TOTALS.of(lines | {"deducted": tax.by_month, "not_deducted": own})
    lines["operating_surplus"] = totals["operating_surplus"]
    lines["project_before_tax"] = totals["project_before_tax"]
    lines["disposal_gain"] = inputs.nothing.copy()
    lines["disposal_gain"][:, -1] = lines["end_value"][:, -1] - totals["in_books"].sum(-1)
    totals["profit"][:, -1] += lines["disposal_gain"][:, -1]
    totals["taxable"][:, -1] += tax.end_gain
    cash = finance(inputs, lines, totals["taxable"], totals["profit"])
    by_weight = work.by_weight * levels["wages"]
    if own_work == "opportunity_wage":
        by_weight += run.own_work_cost(inputs, work.own_by_weight, levels["wages"], own_work)
    return Ledger(
        lines=lines,
        kilograms=kilograms,
        sales=sales,
        cash=cash,
        built=made,
        rented=rented,
        work=work,
        own_build_hours=inputs.column("capital", "own_labour_hours").sum(1),
        by_weight_cost=by_weight,
        levels=levels,
    )


def _running(
    inputs: BuildInputs,
    physical: Physical,
    production: Production,
    levels: dict[str, Floats],
    kilograms: Kilograms,
    sales: Sales,
    work: Work,
    rented: Leases,
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Lines of the running farm but own work, and the VAT that comes with some of them."""
    overheads = run.repeating(inputs, "overheads", levels, -1.0)
    income = run.repeating(inputs, "income", levels, 1.0)
    substrate = run.substrate(inputs, physical, production, levels["substrate"])
    energy = run.energy(inputs, physical, production, levels["energy"])
    water = run.water(inputs, physical, production, levels["general"])
    disposal = sales.unsold_kg + kilograms.thrown_before_sale
    disposal *= -inputs.price("store.disposal_cost_per_kg")[:, None]
    disposal *= levels["general"]
    wages = work.wages * levels["wages"]
    lines = {
        "sales": sales.invoiced,
        "outlet_fees": sales.fees,
        "packaging": sales.packaging,
        "delivery": sales.delivery,
        "other_income": income.amount,
        "flat_rate_addition": flat_rate_addition(inputs, sales),
        "substrate": substrate.amount,
        "wages": np.negative(wages, out=wages),
        "energy": energy.amount,
        "solar_sent": run.solar_sent(inputs, physical, production, levels["energy"]),
        "water": water.amount,
        "leaving": run.leaving(inputs, physical, production, levels["general"]),
        "disposal": disposal,
        "overheads": overheads.amount,
        "leases": less(rented.payments),
    }
    return lines, {
        "overheads": overheads.vat,
        "substrate": substrate.vat,
        "energy": energy.vat,
        "water": water.vat,
        "leases": rented.payments_vat,
        "income": income.vat,
    }


def _running_vat(inputs: BuildInputs, lines: dict[str, Floats], vats: dict[str, Floats]) -> Floats:
    """VAT on all running costs, positive."""
    if inputs.case.vat is None:
        return inputs.nothing
    sums = inputs.once("VAT on running costs", lambda: _vat_sum(purchases_rate(inputs), vats))
    return sums.of(lines | {f"vat_{name}": line for name, line in vats.items()})["paid"]


def _vat_sum(rate: float, vats: dict[str, Floats]) -> Sums:
    """VAT of lines that bring their own, and of others at one rate."""
    with_own = {f"vat_{name}": 1.0 for name in vats if name != "income"}
    return Sums({"paid": dict.fromkeys(_AT_ONE_RATE, -rate) | with_own})


def _once(made: Built, rented: Leases) -> dict[str, Floats]:
    """Lines of what is bought, built and granted, and of what is left in the end."""
    flows = made.flows
    end = np.zeros(flows.spending.shape)
    end[:, -1] = flows.end_value + rented.end_value
    return {
        "capital": -flows.spending,
        "own_build_work": -flows.own,
        "contingency": -flows.contingency,
        "replacements": -flows.replacements,
        "lease_purchase": less(rented.bought),
        "gate_costs": less(made.gate_costs),
        "moves": less(made.moves),
        "grant_repaid": less(made.repaid),
        "grant": made.received,
        "end_value": end,
        "lease_deposit": plus(rented.deposit_returned, less(rented.deposit_paid)),
        "depreciation": plus(flows.slope, rented.write_off),
        "grant_released": made.released,
        "grant_claimed": made.claimed.sum(1),
    }


def _of_vat(vat: VatLines) -> dict[str, Floats]:
    return {
        "vat_cost": vat.cost,
        "capital_vat": vat.capital_cost,
        "vat_on_sales": vat.on_sales,
        "vat_on_purchases": vat.on_purchases,
        "vat_settled": vat.settled,
    }


def _debtors_change(sales: Sales) -> Floats:
    """What outlets pay less what they are invoiced, with VAT."""
    change = sales.received - sales.invoiced
    change += sales.vat_received
    change -= sales.vat_invoiced
    return change


def _not_deducted(inputs: BuildInputs, lines: dict[str, Floats], own_work: str) -> Floats:
    """Own hours that are charged but do not lower the taxed profit, positive."""
    if deducts_own_work(inputs) and own_work == "opportunity_wage":
        return inputs.nothing
    return -lines["own_work"]


def _levels(inputs: BuildInputs) -> dict[str, Floats]:
    levels = {
        n: broadcast(price_level(inputs.value(f"inflation.{n}"), inputs.months), inputs.size)
        for n in run.LEVELS[:-1]
    }
    levels["none"] = np.ones((inputs.size, inputs.months))
    return levels


def _totals() -> Sums:
    """The sums of lines before tax and finance, each line read once."""
    surplus: dict[str, float] = dict.fromkeys(OPERATING, 1.0)
    expensed: dict[str, float] = surplus | dict.fromkeys(EXPENSED, 1.0)
    return Sums(
        {
            "operating_surplus": surplus,
            "project_before_tax": {**surplus, **dict.fromkeys(INVESTING, 1.0)},
            "profit": expensed | {"depreciation": -1.0, "grant_released": 1.0},
            "taxable": expensed | {"not_deducted": 1.0, "deducted": -1.0},
            "in_books": {**dict.fromkeys(CAPITALISED, -1.0), "depreciation": -1.0},
        }
    )


_TOTALS = _totals()
# Costs whose VAT is at the rate of purchases in general.
_AT_ONE_RATE = ("outlet_fees", "packaging", "delivery", "disposal", "gate_costs", "moves")
