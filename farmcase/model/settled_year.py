"""The first settled year of a run, and how far yield or prices may fall in it."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.ledger import Ledger
from farmcase.model.physical import Physical
from farmcase.model.sales_tax import kept_share, purchases_rate
from farmcase.money.breakeven import (
    SaleYear,
    break_even_prices,
    break_even_yield,
    profit_at,
    sell_at,
)
from farmcase.money.sales import fill_outlets

Floats = NDArray[np.float64]


class SettledYear:
    """Months 12 to 23 of production. Gates may push them beyond the months looked ahead."""

    def __init__(
        self,
        inputs: BuildInputs,
        physical: Physical,
        ledger: Ledger,
        group: NDArray[np.int64],
    ) -> None:
        self.inputs, self.physical, self.ledger, self.group = inputs, physical, ledger, group
        self.months = slice(inputs.start + 12, inputs.start + 24)
        self.whole = self.months.stop <= inputs.months

    def total(self, line: Floats) -> Floats:
        """A line added up over the year; NaN where it is not seen whole."""
        return line[..., self.months].sum(-1) * (1.0 if self.whole else np.nan)

    @cached_property
    def sales(self) -> SaleYear:
        """The year as the break-even needs it."""
        return sale_year(self)


def sale_year(y: SettledYear) -> SaleYear:
    """The first settled year, set out for the break-even."""
    inputs, lines, kilograms = y.inputs, y.ledger.lines, y.ledger.kilograms
    year, size = y.months, y.inputs.size
    level = {k: v[:, None, year] for k, v in y.ledger.levels.items()}
    extra, kept_vat = _flat_rate(y), purchases_rate(inputs) * kept_share(inputs)[:, None]
    fee = inputs.column("sales", "fee_share") * (1 + kept_vat)
    entered = inputs.column("sales", "price_per_kg")  # outlets are filled by prices as entered
    price = broadcast(inputs.priced("sales", "price_per_kg"), size)
    after_fee = price * (1 + extra - fee)
    handling = inputs.priced("sales", "packaging_per_kg") + inputs.priced(
        "sales", "delivery_per_kg"
    )
    handling = broadcast(handling * (1 + kept_vat), size)
    unsold = inputs.price("store.disposal_cost_per_kg")[:, None] * level["general"][:, 0]
    unsold = unsold * (1 + kept_vat)
    saleable = kilograms.saleable[..., year]
    by_weight = y.ledger.by_weight_cost[:, year]
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
        order_price=broadcast(entered * (1 - inputs.column("sales", "fee_share")), size),
        order_handling=broadcast(
            inputs.column("sales", "packaging_per_kg") + inputs.column("sales", "delivery_per_kg"),
            size,
        ),
        unsold_cost=unsold,
        picked_cost=picked_cost,
        fixed=np.zeros(size),
    )
    ones = np.ones(size)
    # overdraft interest hangs on the years before, and is left out
    profit = y.total(lines["profit_before_tax"] - lines["overdraft_interest"])
    return whole._replace(fixed=profit_at(whole, ones, ones) - profit)


def _flat_rate(y: SettledYear) -> Floats:
    """What a farmer's flat rate adds to each outlet's price, as a share, (1|S, O)."""
    vat = y.inputs.case.vat
    if vat is None or vat.scheme != "farmer_flat_rate":
        return np.zeros((1, 1))
    registered = np.array(y.inputs.texts("sales", "buyer_registered"), float)
    return y.inputs.value("vat.flat_rate_share")[:, None] * registered


def cash_year(y: SettledYear, year: SaleYear) -> SaleYear:
    """The same year for cash: what is written off is not paid, but what loans fall due is.

    Own hours are charged as in the view that is run; tax is nil where cash just lasts.
    """
    lines = y.ledger.lines
    not_paid = lines["depreciation"] - lines["grant_released"] - lines["disposal_gain"]
    due = lines["loan_principal"] + lines["loan_capitalised"]
    return year._replace(fixed=year.fixed - y.total(not_paid + due))


def most_scale(y: SettledYear) -> Floats:
    """The most the rooms can give: all places used, at the high biological efficiency."""
    started = y.physical.started[..., 12:24].sum((1, 2))[y.group]
    room_for = np.maximum(y.physical.room_for[y.group], started)
    crops = y.inputs.records("crops").values()
    high = np.array([c.biological_efficiency_share.high for c in crops])
    better = (high / np.maximum(y.inputs.by_crop("biological_efficiency_share"), 1e-12)).max(1)
    with np.errstate(divide="ignore", invalid="ignore"):
        fuller = np.where(started > 0, room_for / started, 1.0)
    return fuller * np.maximum(better, 1.0)


def cash_break_even(y: SettledYear) -> dict[str, Floats]:
    year = cash_year(y, y.sales)
    scale = break_even_yield(year, most_scale(y))
    ones = np.ones(scale.shape)
    output = sell_at(year, np.where(np.isfinite(scale), scale, 1.0), ones).sold_kg
    return {
        "cash_break_even_output_kg_per_year": np.where(np.isfinite(scale), output, np.nan),
        "cash_break_even_price_per_kg": _mean_price(y) * break_even_prices(year),
    }


def _mean_price(y: SettledYear) -> Floats:
    """Price of a kilogram sold in the settled year, in money of the dates of the prices."""
    sold = fill_outlets(*y.ledger.kilograms.supply(y.months)).sold_kg.sum(-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return (sold * y.inputs.column("sales", "price_per_kg")).sum(1) / sold.sum(1)


def break_even(y: SettledYear) -> dict[str, Floats]:
    year = y.sales
    scale = break_even_yield(year, most_scale(y))
    known = np.where(np.isfinite(scale), scale, 1.0)
    output = sell_at(year, known, np.ones(scale.shape)).sold_kg
    output = np.where(np.isfinite(scale), output, np.nan)
    dry = y.physical.dry_picked_kg[..., 12:24].sum((2, 3))[y.group]
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (dry * y.inputs.by_crop("biological_efficiency_share")).sum(1) / dry.sum(1)
        safety = 1 - output / y.total(y.ledger.sales.sold_kg)
    return {
        "break_even_yield_scale": scale,
        "break_even_output_kg_per_year": output,
        "break_even_price_per_kg": _mean_price(y) * break_even_prices(year),
        "break_even_biological_efficiency": scale * mean,
        "margin_of_safety_share": safety,
    }
