"""The first settled year of a run, and how far yield or prices may fall in it."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.ledger import Ledger
from farmcase.model.physical import Physical
from farmcase.model.sales_tax import kept_share, purchases_rate
from farmcase.money.breakeven import BreakEvens, PricedYear, break_evens_of

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
        self._whole = 1.0 if self.whole else np.nan

    def total(self, line: Floats) -> Floats:
        """A line added up over the year; NaN where it is not seen whole."""
        return line[..., self.months].sum(-1) * self._whole

    @cached_property
    def sales(self) -> PricedYear:
        """The year as the break-even needs it, but for its fixed costs."""
        return sale_year(self)

    @cached_property
    def break_evens(self) -> BreakEvens:
        """For profit before tax, and for cash with loans paid as they fall due."""
        leaves = np.stack([_profit(self).sum(-1), _cash(self).sum(-1)])
        return break_evens_of(self.sales, leaves * self._whole, most_scale(self))


def sale_year(y: SettledYear) -> PricedYear:
    """The first settled year, set out for the break-even."""
    inputs, kilograms = y.inputs, y.ledger.kilograms
    year, size = y.months, y.inputs.size
    kept_vat = purchases_rate(inputs) * kept_share(inputs)[:, None]
    fee = inputs.column("sales", "fee_share")
    entered = inputs.column("sales", "price_per_kg")  # outlets are filled by prices as entered
    price = inputs.priced("sales", "price_per_kg") * (1 + _flat_rate(y) - fee * (1 + kept_vat))
    handling = inputs.priced("sales", "packaging_per_kg") + inputs.priced(
        "sales", "delivery_per_kg"
    )
    handling = handling * (1 + kept_vat)
    unsold = inputs.price("store.disposal_cost_per_kg") * (1 + kept_vat[:, 0])
    unsold = unsold[:, None] * y.ledger.levels["general"][:, year]
    saleable = kilograms.saleable[..., year]
    by_weight = y.ledger.by_weight_cost[:, year]
    by_weight = by_weight + kilograms.thrown_before_sale[:, year] * unsold
    total = saleable.sum(1)
    picked_cost = np.divide(by_weight, total, out=np.zeros(total.shape), where=total > 0)
    as_entered = inputs.column("sales", "packaging_per_kg") + inputs.column(
        "sales", "delivery_per_kg"
    )
    return PricedYear(
        kilograms=saleable,
        limit_kg=kilograms.limit_in(year),
        pool=kilograms.pool,
        price=broadcast(price, size)[..., None],
        price_level=y.ledger.levels["sales"][:, year],
        handling=broadcast(handling, size)[..., None],
        handling_level=y.ledger.levels["general"][:, year],
        order_price=broadcast(entered * (1 - fee), size),
        order_handling=broadcast(as_entered, size),
        entered_price=entered,
        unsold_cost=unsold,
        picked_cost=picked_cost[:, None],
        fixed=np.zeros((1, size)),
    )


def _flat_rate(y: SettledYear) -> Floats:
    """What a farmer's flat rate adds to each outlet's price, as a share, (1|S, O)."""
    vat = y.inputs.case.vat
    if vat is None or vat.scheme != "farmer_flat_rate":
        return np.zeros((1, 1))
    registered = np.array(y.inputs.texts("sales", "buyer_registered"), float)
    return y.inputs.value("vat.flat_rate_share")[:, None] * registered


def _profit(y: SettledYear) -> Floats:
    """Profit before tax; overdraft interest hangs on the years before, and is left out."""
    lines = y.ledger.lines
    return lines["profit_before_tax"][:, y.months] - lines["overdraft_interest"][:, y.months]


def _cash(y: SettledYear) -> Floats:
    """The same for cash: what is written off is not paid, but what loans fall due is.

    Own hours are charged as in the view that is run; tax is nil where cash just lasts.
    """
    lines = {name: y.ledger.lines[name][:, y.months] for name in _NOT_IN_PROFIT}
    not_paid = lines["depreciation"] - lines["grant_released"] - lines["disposal_gain"]
    return _profit(y) + not_paid + lines["loan_principal"] + lines["loan_capitalised"]


_NOT_IN_PROFIT = (
    "depreciation",
    "grant_released",
    "disposal_gain",
    "loan_principal",
    "loan_capitalised",
)


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
    """Break-evens for cash."""
    found = y.break_evens
    return {
        "cash_break_even_output_kg_per_year": found.sold_kg[1],
        "cash_break_even_price_per_kg": found.mean_price * found.price_scale[1],
    }


def break_even(y: SettledYear) -> dict[str, Floats]:
    """Break-evens for profit."""
    found = y.break_evens
    scale, output = found.yield_scale[0], found.sold_kg[0]
    dry = y.physical.dry_picked_kg[..., 12:24].sum((2, 3))[y.group]
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (dry * y.inputs.by_crop("biological_efficiency_share")).sum(1) / dry.sum(1)
        safety = 1 - output / y.total(y.ledger.sales.sold_kg)
    return {
        "break_even_yield_scale": scale,
        "break_even_output_kg_per_year": output,
        "break_even_price_per_kg": found.mean_price * found.price_scale[0],
        "break_even_biological_efficiency": scale * mean,
        "margin_of_safety_share": safety,
    }
