"""The measures of one build, from its ledger; one number for each scenario."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from farmcase.energy.bill import emissions_kg
from farmcase.model.cover import Cover, cover_of, least, loan_life, mean
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.kilograms import Expander
from farmcase.model.ledger import Ledger
from farmcase.model.lines import added
from farmcase.model.physical import Physical
from farmcase.model.settled_year import SettledYear, break_even, cash_break_even
from farmcase.model.whole_business import has_standing, whole_cover
from farmcase.money.returns import (
    annuity_factor,
    discount_factors,
    modified_rate_of,
    payback_periods,
    single_rate,
)

Floats = NDArray[np.float64]
# The lines of setting up.
BUILDING = ("capital", "own_build_work", "contingency", "capital_vat", "gate_costs")


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
        self.year = SettledYear(inputs, physical, ledger, group)
        self._found: dict[str, Floats] = {}

    @cached_property
    def factor(self) -> Floats:
        """What money of each month counts today, (S, T)."""
        return discount_factors(self.rate, self.flow.shape[-1])

    @cached_property
    def cover(self) -> Cover:
        """Debt cover of the project by fiscal year."""
        return cover_of(self.inputs, self.ledger.lines)

    def worth(self, flow: Floats) -> Floats:
        """Present value of a line, (S,)."""
        return (flow * self.factor).sum(-1)

    def __getitem__(self, name: str) -> Floats:
        """One measure, (S,)."""
        if name not in self._found:
            self._found.update(GROUPS[name](self))
        return self._found[name]


def _value(m: Measurer) -> dict[str, Floats]:
    years = (m.inputs.months - 1) / 12
    worth, invested = m.worth(m.flow), m.worth(_investment(m))
    with np.errstate(divide="ignore", invalid="ignore"):
        index = np.where(invested < 0, 1 - worth / invested, np.nan)
    return {
        "npv": worth,
        "profitability_index": index,
        "equivalent_annual_value": worth / annuity_factor(m.rate, years),
    }


def _investment(m: Measurer) -> Floats:
    lines = m.ledger.lines
    return added(lines, (*BUILDING, "grant"))


def _rates(m: Measurer) -> dict[str, Floats]:
    rate, count = single_rate(m.flow)
    return {"irr": rate, "irr_count": count.astype(float)}


def _modified(m: Measurer) -> dict[str, Floats]:
    received = m.worth(np.maximum(m.flow, 0))
    years = (m.inputs.months - 1) / 12
    return {"mirr": modified_rate_of(received - m["npv"], received, m.rate, years)}


def _payback(m: Measurer) -> dict[str, Floats]:
    discounted = m.flow * m.factor
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


def _building(m: Measurer) -> dict[str, Floats]:
    lines = m.ledger.lines
    return {"cost_to_build": -np.sum([lines[name].sum(-1) for name in BUILDING], axis=0)}


def _cover(m: Measurer) -> dict[str, Floats]:
    found = m.cover
    before, after = found.before, found.after
    return {
        "dscr_before_drawings_minimum": least(before, found.full),
        "dscr_before_drawings_average": mean(before, found.full),
        "dscr_after_tax_and_drawings_minimum": least(after, found.full),
        "dscr_after_tax_and_drawings_average": mean(after, found.full),
    }


def _whole_cover(m: Measurer) -> dict[str, Floats]:
    nothing = np.full(m.inputs.size, np.nan)
    before, after = nothing, nothing
    if has_standing(m.inputs):
        found = whole_cover(m.inputs, m.cover, m.ledger.levels["general"])
        before, after = least(found.before, found.full), least(found.after, found.full)
    return {
        "whole_dscr_before_drawings_minimum": before,
        "whole_dscr_after_tax_and_drawings_minimum": after,
    }


def _life_cover(m: Measurer) -> dict[str, Floats]:
    return {"loan_life_cover": loan_life(m.ledger.lines)}


def _owners(m: Measurer) -> dict[str, Floats]:
    """The owners' own stream: what they put in, and all that is left to them when it ends."""
    lines = m.ledger.lines
    flow = -lines["owners_money"] - lines["owners_withdrawn"]
    flow = flow - lines["bonus_paid"] - lines["dividend_paid"]
    left = lines["cash"][:, -1] - lines["overdraft"][:, -1] - lines["loan_balance"][:, -1]
    flow[:, -1] += left
    rate, count = single_rate(flow)
    return {
        "owners_npv": m.worth(flow),
        "owners_irr": rate,
        "owners_irr_count": count.astype(float),
    }


def _amounts(m: Measurer) -> dict[str, Floats]:
    sold = m.year.total(m.ledger.sales.sold_kg)
    expand = Expander(m.inputs, m.group)
    energy = expand(m.physical.energy_kwh).sum(2)
    bought = expand(m.physical.bought_kwh)
    factor = m.inputs.column("carriers", "emissions_kgco2e_per_kwh")
    hours = m.ledger.work.paid_hours + m.ledger.work.own_hours
    with np.errstate(divide="ignore", invalid="ignore"):
        return {
            "output_kg_per_year": sold,
            "energy_kwh_per_kg": m.year.total(energy.sum(1)) / sold,
            "water_l_per_kg": m.year.total(expand(m.physical.water_l)) / sold,
            "emissions_kgco2e_per_kg": m.year.total(emissions_kg(bought, factor)) / sold,
            "labour_h_per_kg": m.year.total(hours) / sold,
            "own_hours_per_week": m.year.total(m.ledger.work.own_hours) * 7 / 365,
            "own_build_hours": m.ledger.own_build_hours * np.ones(m.inputs.size),
        }


def _levelised(m: Measurer) -> dict[str, Floats]:
    sales = m.worth(m.ledger.lines["sales"])
    weight = m.worth(m.ledger.sales.sold_kg * m.ledger.levels["sales"])
    with np.errstate(divide="ignore", invalid="ignore"):
        before_tax = m.worth(m.ledger.lines["project_before_tax"])
        cost = np.where(weight > 0, (sales - before_tax) / weight, np.nan)
    return {"levelised_cost_per_kg": cost}


def _break_even(m: Measurer) -> dict[str, Floats]:
    return break_even(m.year)


def _cash_break_even(m: Measurer) -> dict[str, Floats]:
    return cash_break_even(m.year)


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
    "cost_to_build": _building,
    "dscr_before_drawings_minimum": _cover,
    "dscr_before_drawings_average": _cover,
    "dscr_after_tax_and_drawings_minimum": _cover,
    "dscr_after_tax_and_drawings_average": _cover,
    "whole_dscr_before_drawings_minimum": _whole_cover,
    "whole_dscr_after_tax_and_drawings_minimum": _whole_cover,
    "loan_life_cover": _life_cover,
    "owners_npv": _owners,
    "owners_irr": _owners,
    "owners_irr_count": _owners,
    "cash_break_even_output_kg_per_year": _cash_break_even,
    "cash_break_even_price_per_kg": _cash_break_even,
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
