"""Selling of a build: what outlets pay and when, fees, packaging, delivery, and VAT on it."""

from __future__ import annotations

import numpy as np

from farmcase.model.gather import BuildInputs
from farmcase.model.kilograms import Kilograms
from farmcase.model.production import Production
from farmcase.model.sales_tax import charges_vat
from farmcase.money.sales import Sales, SaleTerms, sell


def sales_of(
    inputs: BuildInputs,
    kilograms: Kilograms,
    production: Production,
    levels: dict[str, np.ndarray],
) -> Sales:
    """All that is sold by a build."""
    trips = inputs.column("sales", "deliveries_per_week")
    rate, registered = inputs.once("vat of outlets", lambda: _vat_of_outlets(inputs))
    terms = SaleTerms(
        price=inputs.priced("sales", "price_per_kg"),
        fee_share=inputs.column("sales", "fee_share"),
        packaging=inputs.priced("sales", "packaging_per_kg"),
        delivery=inputs.priced("sales", "delivery_per_kg"),
        trips_per_week=trips * inputs.priced("sales", "cost_per_delivery"),
        delay_days=inputs.column("sales", "payment_delay_days"),
        vat_rate=rate,
        registered=registered,
    )
    return sell(kilograms.supply(), terms, production.days, levels["sales"], levels["general"])


def _vat_of_outlets(inputs: BuildInputs) -> tuple[np.ndarray, np.ndarray]:
    """The rate of VAT on top of each price, and 1 where the buyer is registered, (1, O)."""
    rate = np.array([inputs.texts("sales", "vat_rate_share")], float)
    registered = np.array([inputs.texts("sales", "buyer_registered")], float)
    return rate * charges_vat(inputs), registered
