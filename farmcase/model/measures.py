"""The measures of one build, from its ledger; one number for each scenario."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from farmcase.energy.bill import emissions_kg
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.kilograms import Expander
from farmcase.model.ledger import Ledger
from farmcase.model.physical import Physical
from farmcase.money.breakeven import SaleYear, break_even_prices, break_even_yield, profit_at
from farmcase.money.returns import (
    annuity_factor,
    discount_factors,
    modified_rate,
    npv,
    payback_periods,
    single_rate,
)
from farmcase.money.sales import fill_order, fill_outlets

Floats = NDArray[np.float64]


class Measurer:
    """Works out measures by name; each is computed only when asked for."""

    def __init__(
        self,
        inputs: BuildInputs,
        physical: Physical,
        ledger: Ledger,
        group: NDArray[np.int64],
    ) -> None:
        self.inputs, self.physical, self.ledger, self.group = inputs, physical, ledger, group
        self.rate = broadcast(inputs.value("money.discount_rate_per_year")[:, None], inputs.size)[
            :, 0
        ]
        self.flow = ledger.lines["project_flow"]
        self.settled = slice(inputs.start + 12, inputs.start + 24)
        self._found: dict[str, Floats] = {}

    def __getitem__(self, name: str) -> Floats:
        """One measure, (S,)."""
        if name not in self._found:
            self._found.update(GROUPS[name](self))
        return self._found[name]

    def settled_sum(self, line: Floats) -> Floats:
        """The first settled year of a line, added up."""
        return line[..., self.settled].sum(-1)


def _value(m: Measurer) -> dict[str, Floats]:
    years = (m.inputs.months - 1) / 12
    worth = npv(m.rate, m.flow)
    invested = npv(m.rate, _investment(m))
    with np.errstate(divide="ignore", invalid="ignore"):
        index = np.where(invested < 0, 1 - worth / invested, np.nan)
    return {
        "npv": worth,
        "profitability_index": index,
        "equivalent_annual_value": worth / annuity_factor(m.rate, years),
    }


def _investment(m: Measurer) -> Floats:
    lines = m.ledger.lines
    names = ("capital", "own_build_work", "contingency", "gate_costs", "grant")
    return np.sum([lines[name] for name in names], axis=0)


def _rates(m: Measurer) -> dict[str, Floats]:
    rate, count = single_rate(m.flow)
    return {"irr": rate, "irr_count": count.astype(float)}


def _modified(m: Measurer) -> dict[str, Floats]:
    return {"mirr": modified_rate(m.flow, m.rate, m.rate)}


def _payback(m: Measurer) -> dict[str, Floats]:
    discounted = m.flow * discount_factors(m.rate, m.flow.shape[-1])
    return {
        "payback_years": payback_periods(m.flow) / 12,
        "discounted_payback_years": payback_periods(discounted) / 12,
    }


def _funding(m: Measurer) -> dict[str, Floats]:
    balance = m.ledger.cash.cash - m.ledger.cash.overdraft
    return {
        "money_needed": np.maximum(0.0, -m.flow.cumsum(-1).min(-1)),
        "lowest_cash": balance.min(-1),
        "lowest_cash_month": balance.argmin(-1).astype(float),
    }


def _amounts(m: Measurer) -> dict[str, Floats]:
    sold = m.settled_sum(m.ledger.kilograms.filled.sold_kg.sum(1))
    expand = Expander(m.inputs, m.group)
    energy = expand(m.physical.energy_kwh).sum(2)
    bought = expand(m.physical.bought_kwh)
    factor = m.inputs.column("carriers", "emissions_kgco2e_per_kwh")
    hours = m.ledger.paid_hours + m.ledger.own_hours
    with np.errstate(divide="ignore", invalid="ignore"):
        return {
            "output_kg_per_year": sold,
            "energy_kwh_per_kg": m.settled_sum(energy.sum(1)) / sold,
            "water_l_per_kg": m.settled_sum(expand(m.physical.water_l)) / sold,
            "emissions_kgco2e_per_kg": m.settled_sum(emissions_kg(bought, factor)) / sold,
            "labour_h_per_kg": m.settled_sum(hours) / sold,
            "own_hours_per_week": m.settled_sum(m.ledger.own_hours) * 7 / 365,
            "own_build_hours": m.ledger.own_build_hours * np.ones(m.inputs.size),
        }


def _levelised(m: Measurer) -> dict[str, Floats]:
    factor = discount_factors(m.rate, m.flow.shape[-1])
    sold = m.ledger.kilograms.filled.sold_kg.sum(1)
    sales = (m.ledger.lines["sales"] * factor).sum(-1)
    weight = (sold * factor * m.ledger.levels["sales"]).sum(-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return {"levelised_cost_per_kg": (sales - m["npv"]) / weight}


def sale_year(m: Measurer) -> SaleYear:
    """The first settled year, set out for the break-even."""
    inputs, lines, kilograms = m.inputs, m.ledger.lines, m.ledger.kilograms
    year, size = m.settled, m.inputs.size
    column = partial(inputs.full, "sales")
    level = {k: broadcast(v, size)[:, None, year] for k, v in m.ledger.levels.items()}
    after_fee = column("price_per_kg") * (1 - column("fee_share"))
    handling = column("packaging_per_kg") + column("delivery_per_kg")
    disposal = broadcast(inputs.value("store.disposal_cost_per_kg")[:, None], size)
    unsold = disposal * level["general"][:, 0]
    saleable = kilograms.saleable[..., year]
    by_weight = m.ledger.by_weight_cost[:, year]
    by_weight = by_weight + kilograms.thrown_before_sale[:, year] * unsold
    total = saleable.sum(1)
    with np.errstate(divide="ignore", invalid="ignore"):
        picked_cost = np.where(total > 0, by_weight / total, 0.0)[:, None]
    picked_cost = np.broadcast_to(picked_cost, saleable.shape)
    whole = SaleYear(
        kilograms=saleable,
        limit_kg=kilograms.limit[..., year],
        pool=kilograms.pool,
        price=after_fee[:, :, None] * level["sales"],
        handling=handling[:, :, None] * level["general"],
        order_price=after_fee,
        order_handling=handling,
        unsold_cost=unsold,
        picked_cost=picked_cost,
        fixed=np.zeros(size),
    )
    ones = np.ones(size)
    profit = m.settled_sum(lines["profit_before_tax"])
    return whole._replace(fixed=profit_at(whole, ones, ones) - profit)


def most_scale(m: Measurer) -> Floats:
    """The most the rooms can give: all places used, at the high biological efficiency."""
    started = m.physical.started[..., 12:24].sum((1, 2))[m.group]
    room_for = np.maximum(m.physical.room_for[m.group], started)
    crops = m.inputs.records("crops").values()
    high = np.array([c.biological_efficiency_share.high for c in crops])
    better = (high / np.maximum(m.inputs.by_crop("biological_efficiency_share"), 1e-12)).max(1)
    with np.errstate(divide="ignore", invalid="ignore"):
        fuller = np.where(started > 0, room_for / started, 1.0)
    return fuller * np.maximum(better, 1.0)


def _break_even(m: Measurer) -> dict[str, Floats]:
    year = sale_year(m)
    scale = break_even_yield(year, most_scale(m))
    known = np.where(np.isfinite(scale), scale, 1.0)
    output = _sold_at(m, year, known)
    output = np.where(np.isfinite(scale), output, np.nan)
    dry = m.physical.dry_picked_kg[..., 12:24].sum((2, 3))[m.group]
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (dry * m.inputs.by_crop("biological_efficiency_share")).sum(1) / dry.sum(1)
        safety = 1 - output / m["output_kg_per_year"]
    price_scale = break_even_prices(year)
    sold = m.ledger.kilograms.filled.sold_kg[..., m.settled].sum(-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_price = (sold * m.inputs.column("sales", "price_per_kg")).sum(1) / sold.sum(1)
    return {
        "break_even_yield_scale": scale,
        "break_even_output_kg_per_year": output,
        "break_even_price_per_kg": mean_price * price_scale,
        "break_even_biological_efficiency": scale * mean,
        "margin_of_safety_share": safety,
    }


def _sold_at(m: Measurer, year: SaleYear, scale: Floats) -> Floats:
    order = fill_order(year.order_price - year.order_handling)
    kilograms = year.kilograms * scale[:, None, None]
    return fill_outlets(kilograms, year.limit_kg, order, year.pool).sold_kg.sum((1, 2))


GROUPS: dict[str, Callable[[Measurer], dict[str, Floats]]] = {
    "money_needed": _funding,
    "lowest_cash": _funding,
    "lowest_cash_month": _funding,
    "payback_years": _payback,
    "discounted_payback_years": _payback,
    "npv": _value,
    "irr": _rates,
    "irr_count": _rates,
    "mirr": _modified,
    "profitability_index": _value,
    "equivalent_annual_value": _value,
    "break_even_yield_scale": _break_even,
    "break_even_output_kg_per_year": _break_even,
    "break_even_price_per_kg": _break_even,
    "break_even_biological_efficiency": _break_even,
    "margin_of_safety_share": _break_even,
    "output_kg_per_year": _amounts,
    "levelised_cost_per_kg": _levelised,
    "own_hours_per_week": _amounts,
    "own_build_hours": _amounts,
    "labour_h_per_kg": _amounts,
    "energy_kwh_per_kg": _amounts,
    "water_l_per_kg": _amounts,
    "emissions_kgco2e_per_kg": _amounts,
}
