"""Lines of selling: what outlets pay and when, fees, packaging, delivery, and the VAT on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.kilograms import Kilograms
from farmcase.model.production import Production
from farmcase.money.sales import received

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Sales:
    """Nominal money by month, (S, T); received positive, paid negative."""

    sales: Floats  # invoiced, without VAT
    outlet_fees: Floats
    packaging: Floats
    delivery: Floats
    debtors_change: Floats  # money received less money invoiced, VAT on it included
    vat_invoiced: Floats  # VAT on what is invoiced
    vat_received: Floats  # VAT on what is paid by outlets
    to_registered: Floats  # of the sales, to buyers who pay a farmer's flat rate on top


def sales_lines(
    inputs: BuildInputs,
    kilograms: Kilograms,
    production: Production,
    levels: dict[str, Floats],
    vat_charged: bool,
) -> Sales:
    """What is sold; `vat_charged` says whether the business adds VAT to its invoices."""
    sold = kilograms.filled.sold_kg
    price, fee = inputs.priced("sales", "price_per_kg"), inputs.column("sales", "fee_share")
    invoiced = sold * (price[:, :, None] * levels["sales"][:, None])
    delay = broadcast(inputs.column("sales", "payment_delay_days"), inputs.size)
    paid = received(invoiced, delay)
    trips = inputs.column("sales", "deliveries_per_week") * inputs.priced(
        "sales", "cost_per_delivery"
    )
    per_kg = inputs.priced("sales", "delivery_per_kg")
    delivery = weighted(sold, per_kg) + trips.sum(1)[:, None] * production.days / 7
    rate = np.array(inputs.texts("sales", "vat_rate_share"), float)[None] * vat_charged
    registered = np.array(inputs.texts("sales", "buyer_registered"), float)[None]
    total, total_paid = invoiced.sum(1), paid.sum(1)
    nothing = np.zeros_like(total)
    vat, vat_paid = nothing, nothing
    if rate.any():
        vat, vat_paid = weighted(invoiced, rate), weighted(paid, rate)
    return Sales(
        sales=total,
        outlet_fees=-weighted(invoiced, fee),
        packaging=-weighted(sold, inputs.priced("sales", "packaging_per_kg")) * levels["general"],
        delivery=-delivery * levels["general"],
        debtors_change=total_paid + vat_paid - total - vat,
        vat_invoiced=vat,
        vat_received=vat_paid,
        to_registered=weighted(invoiced, registered) if registered.any() else nothing,
    )


def weighted(amounts: Floats, weight: Floats) -> Floats:
    """Amounts of outlets (S, O, T) times a weight of each (S or 1, O), added up: (S, T)."""
    total = np.zeros((amounts.shape[0], amounts.shape[2]))
    for o in range(amounts.shape[1]):
        if weight[:, o].any():
            total += amounts[:, o] * weight[:, o, None]
    return total
