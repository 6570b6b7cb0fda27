"""VAT of a build: what is added to invoices, paid on purchases, recovered, kept as a cost."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmcase.model.gather import BuildInputs
from farmcase.model.sums import plus
from farmcase.money.sales import Sales
from farmcase.money.vat import ReturnTerms, settled

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class VatLines:
    """Nominal money by month, (S, T); received positive, paid negative."""

    cost: Floats  # VAT on running costs that is not recovered
    capital_cost: Floats  # the same on what is bought and built
    on_sales: Floats
    on_purchases: Floats  # the part that is recovered
    settled: Floats


def charges_vat(inputs: BuildInputs) -> bool:
    """Whether the business adds VAT to its invoices and recovers what it pays."""
    return inputs.case.vat is not None and inputs.case.vat.scheme in ("standard", "cash")


def kept_share(inputs: BuildInputs) -> Floats:
    """Share of VAT on purchases that is not recovered, (1,) or (S,); nil without VAT."""
    if inputs.case.vat is None:
        return np.zeros(1)
    if not charges_vat(inputs):
        return np.ones(1)
    return 1 - inputs.value("vat.recoverable_share")


def purchases_rate(inputs: BuildInputs) -> float:
    """VAT on purchases that have no rate of their own: fees, packaging, delivery, consents."""
    return inputs.case.vat.purchases_rate_share if inputs.case.vat is not None else 0.0


def flat_rate_addition(inputs: BuildInputs, sales: Sales) -> Floats:
    """What registered buyers pay a flat-rate farmer on top of the price, (S, T)."""
    vat = inputs.case.vat
    if vat is None or vat.scheme != "farmer_flat_rate":
        return inputs.nothing
    return sales.to_registered * inputs.value("vat.flat_rate_share")[:, None]


def vat_lines(
    inputs: BuildInputs,
    sales: Sales,
    income: Floats,
    running: Floats,
    capital: Floats,
) -> VatLines:
    """All lines of VAT.

    Parameters
    ----------
    inputs, sales : numbers of the build, and what it sells
    income : VAT on other income, (S, T), received with it
    running : (S, T) VAT on running costs, positive
    capital : (S, T) VAT on what is bought and built, positive
    """
    vat, nothing = inputs.case.vat, inputs.nothing
    if vat is None:
        return VatLines(*(nothing,) * 5)
    kept = kept_share(inputs)[:, None]
    recovered = plus(running, capital) * (1 - kept)
    on_sales, flows = nothing, nothing
    if charges_vat(inputs):
        on_sales = plus(sales.vat_invoiced, income)
        due = plus(sales.vat_received, income) if vat.scheme == "cash" else on_sales
        flows = settled(due, recovered, return_terms(inputs))
    return VatLines(
        cost=running * -kept if kept.any() else nothing,
        capital_cost=capital * -kept if kept.any() else nothing,
        on_sales=on_sales,
        on_purchases=np.negative(recovered, out=recovered),
        settled=flows,
    )


def return_terms(inputs: BuildInputs) -> ReturnTerms:
    """When returns fall in months from the start: a period ends in its calendar month."""
    vat = inputs.case.vat
    assert vat is not None
    first = (vat.first_return_ends - 1 - inputs.first_month) % vat.return_every_months
    return ReturnTerms(
        vat.return_every_months, first, vat.paid_after_months, vat.refunded_after_months
    )
