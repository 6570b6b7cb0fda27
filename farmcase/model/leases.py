"""Leased units: payments and service, the deposit, and the purchase at the end of the term."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmcase.model.gather import BuildInputs

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Leases:
    """Nominal money by month, (S, T), all positive."""

    payments: Floats  # with the supplier's service
    payments_vat: Floats
    deposit_paid: Floats
    deposit_returned: Floats
    bought: Floats  # price of what is bought at the end of its term
    bought_vat: Floats
    write_off: Floats  # of what was bought, with VAT on it that is not recovered
    end_value: Floats  # (S,) what it sells for in the last month


def leases(inputs: BuildInputs, levels: dict[str, Floats], vat_kept: Floats) -> Leases:
    """All leases of a build; a lease begins when its gates are open and slides with the plan.

    Parameters
    ----------
    inputs, levels : numbers of the build, and price levels, (S, T) each
    vat_kept : (S or 1,) share of VAT that cannot be recovered; written off with what is bought
    """
    if not inputs.records("leases"):
        return Leases(*(inputs.nothing,) * 7, end_value=np.zeros(inputs.size))
    shape, last = (inputs.size, inputs.months), inputs.months - 1
    by_month = [np.zeros(shape) for _ in range(7)]
    lines = Leases(*by_month, end_value=np.zeros(inputs.size))
    names = ("deposit", "payment_per_month", "service_per_month", "purchase_price")
    deposit, payment, service, price = (inputs.full("leases", name) for name in names)
    life, resale = (inputs.full("leases", n) for n in ("life_years", "resale_share"))
    for k, lease in enumerate(inputs.records("leases").values()):
        begins = inputs.timetable.after(lease.starts_month, lease.gate.split())
        if begins > last:
            continue
        ends = min(begins + lease.term_months - 1, last)
        paid = (payment + service)[:, k, None] * levels[lease.inflates_with]
        lines.payments[:, begins : ends + 1] += paid[..., begins : ends + 1]
        lines.payments_vat[:, begins : ends + 1] += (
            paid[..., begins : ends + 1] * lease.vat_rate_share
        )
        lines.deposit_paid[:, begins] += deposit[:, k]
        lines.deposit_returned[:, ends] += deposit[:, k]
        if lease.bought_at_end and ends + 1 < last:
            _buy(lines, ends + 1, price[:, k], life[:, k], lease.vat_rate_share, vat_kept)
            lines.end_value[:] += price[:, k] * resale[:, k]
    return lines


def _buy(
    lines: Leases, month: int, price: Floats, life_years: Floats, vat_rate: float, vat_kept: Floats
) -> None:
    life = np.maximum(1, np.rint(life_years * 12))
    lines.bought[:, month] += price
    lines.bought_vat[:, month] += price * vat_rate
    passed = np.arange(lines.bought.shape[1]) - month
    writing = (passed > 0) & (passed <= life[:, None])
    lines.write_off[:] += writing * (price * (1 + vat_rate * vat_kept) / life)[:, None]
