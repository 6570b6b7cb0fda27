"""What each row of the case comes to: capital once, running costs in the first settled year.

At start-month prices, so that rows can be compared whatever the year; without contingency.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from farmcase.costs.running import times_due
from farmcase.crop.substrate import bought_per_unit, unit_dry_kg
from farmcase.model.build_outcome import ONE, BuildOutcome
from farmcase.model.investment import first_cost
from farmcase.model.kilograms import Expander
from farmcase.model.operating import band_prices, dues, task_hours, task_rates
from farmcase.model.production import Production


@dataclass(frozen=True)
class CostRow:
    """One row of the case and what it comes to, in money, positive."""

    part: str  # capital, substrate, work, energy, water, overheads, selling
    group: str
    label: str
    amount: float
    status: str
    hours: float = 0.0


def cost_rows(outcome: BuildOutcome) -> list[CostRow]:
    """Every row that costs something."""
    parts = (_capital, _substrate, _work, _energy, _overheads, _selling)
    return [row for part in parts for row in part(outcome) if row.amount]


def _capital(outcome: BuildOutcome) -> Iterator[CostRow]:
    inputs = outcome.inputs
    level = np.ones((1, inputs.months))
    for row, amount in zip(
        inputs.case.capital.values(), first_cost(inputs, level)[0].tolist(), strict=True
    ):
        yield CostRow("capital", row.group, row.item, amount, row.status)


def _substrate(outcome: BuildOutcome) -> Iterator[CostRow]:
    case = outcome.inputs.case
    started = outcome.physical.started[0, :, 12:24].sum(-1)
    rows = list(case.substrate.values())
    roles = [row.role for row in rows]
    share = outcome.inputs.column("substrate", "share")
    moisture = outcome.inputs.column("substrate", "moisture_share")
    price = outcome.inputs.priced("substrate", "price")[0]
    price = price + outcome.inputs.priced("substrate", "freight")[0]
    for crop, units in zip(case.crops.values(), started, strict=True):
        wet = np.array([[crop.unit_wet_kg.likely]])
        dry = unit_dry_kg(wet, crop.moisture_share.likely)
        taken = bought_per_unit(roles, share, moisture, wet, dry)[0]
        for row, amount, each in zip(rows, taken, price, strict=True):
            if row.recipe == crop.recipe:
                cost = amount * each * units
                yield CostRow("substrate", crop.label, row.ingredient, float(cost), row.status)


def _work(outcome: BuildOutcome) -> Iterator[CostRow]:
    rates = task_rates(outcome.inputs)[0]
    production = Production(outcome.inputs, ONE, 1)
    tasks = task_hours(outcome.inputs, outcome.physical, outcome.ledger.kilograms, production)
    hours = tasks[0][:, outcome.measurer.year.months].sum(-1)
    for row, rate, spent in zip(outcome.inputs.case.labour.values(), rates, hours, strict=True):
        whose = "own hours" if row.pay == "own" else "paid hours"
        yield CostRow("work", whose, row.task, float(rate * spent), row.status, float(spent))


def _energy(outcome: BuildOutcome) -> Iterator[CostRow]:
    energy = outcome.physical.energy_kwh[0, ..., 12:24].sum(-1)
    bought = outcome.physical.bought_kwh[0, ..., 12:24].sum(-1)
    paid = (bought * band_prices(outcome.inputs, bought.shape[1])[0]).sum(-1)
    carriers = outcome.inputs.case.carriers
    standing = outcome.inputs.priced("carriers", "standing_charge_per_month")[0]
    for i, (name, carrier) in enumerate(carriers.items()):
        used = energy[i]
        price = paid[i] / used.sum() if used.sum() else 0.0  # own solar makes it cheaper
        carrier_name = carrier.label or name.replace("_", " ")
        for end_use, kwh in zip(outcome.physical.end_uses, used, strict=True):
            if not kwh:
                continue
            cost = float(kwh * price)
            yield CostRow("energy", carrier_name, end_use.replace("_", " "), cost, carrier.status)
        fixed = 12 * float(standing[i])
        yield CostRow("energy", carrier_name, "standing charge", fixed, carrier.status)
    water = outcome.inputs.case.water
    if water is not None:
        used = outcome.physical.water_l[0, 12:24].sum() / 1000
        cost = used * float(outcome.inputs.price("water.price_per_m3")[0])
        yield CostRow("water", "water", "water", cost, water.status)


def _overheads(outcome: BuildOutcome) -> Iterator[CostRow]:
    inputs = outcome.inputs
    rows = inputs.case.overheads.values()
    amounts = inputs.priced("overheads", "amount")[0].tolist()
    for row, amount, when in zip(rows, amounts, dues(inputs, "overheads"), strict=True):
        cost = amount * times_due(*when, outcome.measurer.year.months)
        yield CostRow("overheads", "overheads", row.item, cost, row.status)


def _selling(outcome: BuildOutcome) -> Iterator[CostRow]:
    inputs, year = outcome.inputs, outcome.measurer.year.months
    sold = outcome.ledger.kilograms.filled.sold_kg[0][:, year].sum(-1)
    weeks = Expander(inputs, ONE).days[year].sum() / 7
    names = ("packaging_per_kg", "delivery_per_kg", "price_per_kg", "cost_per_delivery")
    prices = np.stack([inputs.priced("sales", name)[0] for name in names], axis=1).tolist()
    for row, kilograms, each in zip(inputs.case.sales.values(), sold, prices, strict=True):
        packaging, delivery, price, trip = each
        per_kg = packaging + delivery + row.fee_share.likely * price
        trips = row.deliveries_per_week.likely * trip * weeks
        cost = float(kilograms * per_kg + trips)
        yield CostRow("selling", row.outlet, row.outlet, cost, row.status)
