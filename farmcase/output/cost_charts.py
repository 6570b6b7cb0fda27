"""What setting up costs by group, and what a kilogram costs by part."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.investment import first_cost
from farmcase.model.measures import BUILDING
from farmcase.model.outcome import Outcome
from farmcase.money.returns import discount_factors
from farmcase.output.stairs import Stairs, stairs_panels
from farmcase.output.theme import themed
from farmcase.words import charts as say
from farmcase.words.numbers import money, percent

# The lines of the ledger in each part of the cost of a kilogram; all but sales.
COST_LINES: Mapping[str, tuple[str, ...]] = {
    "substrate": ("substrate",),
    "wages": ("wages",),
    "own_work": ("own_work",),
    "energy": ("energy", "solar_sent"),
    "water": ("water", "leaving"),
    "selling": ("packaging", "delivery", "outlet_fees"),
    "overheads": ("overheads", "disposal"),
    "leases": ("leases", "lease_deposit", "lease_purchase"),
    "building": (*BUILDING, "moves"),
    "replacements": ("replacements",),
    "debtors": ("debtors_change",),
    "vat": ("vat_cost", "vat_on_sales", "vat_on_purchases", "vat_settled", "flat_rate_addition"),
    "grant": ("grant", "grant_repaid"),
    "end_value": ("end_value",),
    "other_income": ("other_income",),
}


def capital_chart(outcome: Outcome) -> Any:
    """What each build costs to set up, by group of the capital rows, in money of its month."""
    heading = outcome.case.heading
    found = {name: capital_parts(build) for name, build in outcome.items()}
    groups = dict.fromkeys(part for parts in found.values() for part in parts)
    last = (say.OWN_BUILDING, say.CONTINGENCY, say.GATES, say.VAT_KEPT)
    weight = {g: sum(parts.get(g, 0.0) for parts in found.values()) for g in groups}
    order = sorted((g for g in groups if g not in last), key=lambda g: -weight[g])
    order += [g for g in last if weight.get(g)]
    stairs = [
        Stairs(build.label, {part: found[name].get(part, 0.0) for part in order})
        for name, build in outcome.items()
    ]
    axis = say.amount_axis("Cost of setting up", heading.currency)
    panels = stairs_panels(stairs, axis, lambda v: money(v, heading.currency, heading.locale))
    title = _capital_finding(stairs, heading.currency, heading.locale)
    return themed(panels, title, heading.locale, say.CAPITAL_NOTE)


def capital_parts(build: BuildOutcome) -> dict[str, float]:
    """Cost of setting up one build by group; what is not in the rows stands in parts of its own."""
    inputs, lines = build.inputs, build.ledger.lines
    cost = first_cost(inputs, build.ledger.levels["general"])[0]
    parts: dict[str, float] = {}
    for group, amount in zip(inputs.texts("capital", "group"), cost, strict=True):
        label = say.sentence(group)
        parts[label] = parts.get(label, 0.0) + float(amount)
    for label, line in (
        (say.OWN_BUILDING, "own_build_work"),
        (say.CONTINGENCY, "contingency"),
        (say.GATES, "gate_costs"),
        (say.VAT_KEPT, "capital_vat"),
    ):
        parts[label] = parts.get(label, 0.0) - float(lines[line][0].sum())
    return parts


def _capital_finding(stairs: list[Stairs], currency: str, locale: str) -> str:
    said = []
    for one in stairs:
        part = max(one.parts, key=lambda p, parts=one.parts: parts[p])
        share = percent(one.parts[part] / one.total if one.total else 0.0, locale)
        said.append((one.build, money(one.total, currency, locale), part.lower(), share))
    return say.setting_up(said)


def cost_per_kg_chart(outcome: Outcome) -> Any:
    """What a kilogram costs by part, adding up to `levelised_cost_per_kg`, and its average price.

    All are present values over the kilograms sold, in start-month money, so that cost lies below
    the average price exactly when the net present value is above nil.
    """
    heading, rate = outcome.case.heading, outcome.case.money.discount_rate_per_year.likely
    found = {name: cost_parts(build) for name, build in outcome.items()}
    used = [p for p in COST_LINES if any(parts[p] for parts, _ in found.values())]
    stairs = [
        Stairs(
            build.label,
            {say.COST_PARTS[p]: found[name][0][p] for p in used},
            (say.AVERAGE_PRICE, found[name][1]),
        )
        for name, build in outcome.items()
    ]

    def amount(value: float) -> str:
        return money(value, heading.currency, heading.locale, 2)

    said = [
        (one.build, amount(one.total), amount(price), "above" if one.total > price else "below")
        for one, price in ((one, one.mark[1]) for one in stairs if one.mark)
    ]
    axis = say.amount_axis("Cost of a kilogram sold", f"{heading.currency}/kg")
    panels = stairs_panels(stairs, axis, amount)
    note = say.cost_note(percent(rate, heading.locale, 1))
    return themed(panels, say.cost_against_price(said), heading.locale, note)


def cost_parts(build: BuildOutcome) -> tuple[dict[str, float], float]:
    """Cost of a kilogram by part, and the average price, both in start-month money."""
    ledger, months = build.ledger, build.inputs.months
    factor = discount_factors(build.measurer.rate, months)
    sold = ledger.kilograms.filled.sold_kg.sum(1)
    weight = float((sold * factor * ledger.levels["sales"]).sum())

    def per_kg(line: str) -> float:
        return float((ledger.lines[line] * factor).sum()) / weight if weight else 0.0

    parts = {part: -sum(per_kg(line) for line in lines) for part, lines in COST_LINES.items()}
    return {part: value + 0.0 for part, value in parts.items()}, per_kg("sales")
