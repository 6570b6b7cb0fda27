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
from farmcase.model.kilograms import Expander, Kilograms, follow_kilograms
from farmcase.model.leases import Leases, leases
from farmcase.model.lines import INVESTING, OPERATING, OWN_WORK_VIEWS, added
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
    kilograms = follow_kilograms(inputs, physical, Expander(inputs, group))
    sales = sales_of(inputs, kilograms, production, levels)
    work = run.work_done(inputs, physical, kilograms, production)
    kept = kept_share(inputs)
    rented = leases(inputs, levels, kept)
    made = built(inputs, levels, own_work, kept, deducts_own_work(inputs))
    lines, vats, income_vat = _running(
        inputs, physical, production, levels, kilograms, sales, work, rented
    )
    lines["own_work"] = -run.own_work_cost(inputs, work.own_hours, levels["wages"], own_work)
    once = (made.gate_costs + made.moves) * purchases_rate(inputs)
    bought_vat = made.flows.vat + rented.bought_vat
    vat = vat_lines(inputs, sales, income_vat, [*vats, once], bought_vat)
    lines["vat_cost"] = vat.cost
    lines["operating_surplus"] = added(lines, OPERATING)
    lines.update(_investing(inputs, made, rented, vat, sales))
    lines["project_before_tax"] = lines["operating_surplus"] + added(lines, INVESTING)
    tax = deducted(inputs, made, rented)
    cash = finance(inputs, lines, tax, _not_deducted(inputs, lines, own_work))
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
) -> tuple[dict[str, Floats], list[Floats], Floats]:
    """Lines of the running farm but own work, the VAT on its costs, and that on other income."""
    prices = np.stack([levels[name] for name in run.LEVELS], axis=1)
    overheads = run.repeating(inputs, "overheads", prices)
    income = run.repeating(inputs, "income", prices)
    substrate = run.substrate(inputs, physical, production)
    energy = run.energy(inputs, physical, production)
    water = run.water(inputs, physical, production)
    thrown = sales.unsold_kg + kilograms.thrown_before_sale
    disposal = thrown * inputs.price("store.disposal_cost_per_kg")[:, None] * levels["general"]
    lines = {
        "sales": sales.invoiced,
        "outlet_fees": sales.fees,
        "packaging": sales.packaging,
        "delivery": sales.delivery,
        "other_income": income.amount,
        "flat_rate_addition": flat_rate_addition(inputs, sales),
        "substrate": -substrate.amount * levels["substrate"],
        "wages": -work.wages * levels["wages"],
        "energy": -energy.amount * levels["energy"],
        "solar_sent": run.solar_sent(inputs, physical, production) * levels["energy"],
        "water": -water.amount * levels["general"],
        "leaving": run.leaving(inputs, physical, production) * levels["general"],
        "disposal": -disposal,
        "overheads": -overheads.amount,
        "leases": -rented.payments,
    }
    if inputs.case.vat is None:
        return lines, [], income.vat
    other = sales.fees + sales.packaging + sales.delivery - disposal
    vats = [
        -other * purchases_rate(inputs),
        overheads.vat,
        substrate.vat * levels["substrate"],
        energy.vat * levels["energy"],
        water.vat * levels["general"],
        rented.payments_vat,
    ]
    return lines, vats, income.vat


def _investing(
    inputs: BuildInputs, made: Built, rented: Leases, vat: VatLines, sales: Sales
) -> dict[str, Floats]:
    flows, end = made.flows, np.zeros((inputs.size, inputs.months))
    end[:, -1] = flows.end_value + rented.end_value
    return {
        "capital": -flows.spending,
        "own_build_work": -flows.own,
        "contingency": -flows.contingency,
        "capital_vat": vat.capital_cost,
        "replacements": -flows.replacements,
        "lease_purchase": -rented.bought,
        "gate_costs": -made.gate_costs,
        "moves": -made.moves,
        "grant_repaid": -made.repaid,
        "grant": made.received,
        "end_value": end,
        "debtors_change": sales.received + sales.vat_received - sales.invoiced - sales.vat_invoiced,
        "lease_deposit": rented.deposit_returned - rented.deposit_paid,
        "vat_on_sales": vat.on_sales,
        "vat_on_purchases": vat.on_purchases,
        "vat_settled": vat.settled,
        "depreciation": flows.slope + rented.write_off,
        "grant_released": made.released,
        "grant_claimed": made.claimed.sum(1),
    }


def _not_deducted(inputs: BuildInputs, lines: dict[str, Floats], own_work: str) -> Floats:
    """Own hours that are charged but do not lower the taxed profit, positive."""
    if deducts_own_work(inputs) and own_work == "opportunity_wage":
        return np.zeros_like(lines["own_work"])
    return -lines["own_work"]


def _levels(inputs: BuildInputs) -> dict[str, Floats]:
    levels = {
        n: broadcast(price_level(inputs.value(f"inflation.{n}"), inputs.months), inputs.size)
        for n in run.LEVELS[:-1]
    }
    levels["none"] = np.ones((inputs.size, inputs.months))
    return levels
