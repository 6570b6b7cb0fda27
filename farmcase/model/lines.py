"""The names of the money lines, in the groups in which they are added up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

OPERATING = (
    "sales",
    "outlet_fees",
    "packaging",
    "delivery",
    "other_income",
    "flat_rate_addition",
    "substrate",
    "wages",
    "own_work",
    "energy",
    "solar_sent",
    "water",
    "leaving",
    "disposal",
    "overheads",
    "leases",
    "vat_cost",
)
# Paid once, and written off.
CAPITALISED = (
    "capital",
    "own_build_work",
    "contingency",
    "capital_vat",
    "replacements",
    "lease_purchase",
)
# Paid once, and an expense of their month.
EXPENSED = ("gate_costs", "moves", "grant_repaid")
INVESTING = (
    *CAPITALISED,
    *EXPENSED,
    "grant",
    "end_value",
    "debtors_change",
    "lease_deposit",
    "vat_on_sales",
    "vat_on_purchases",
    "vat_settled",
)
# What moves cash besides the project's own flow before tax.
FINANCING = (
    "owners_money",
    "owners_withdrawn",
    "loan_drawn",
    "loan_fee",
    "loan_interest",
    "loan_capitalised",
    "loan_principal",
    "loan_early",
    "overdraft_interest",
    "tax_paid",
    "bonus_paid",
    "dividend_paid",
)
OWN_WORK_VIEWS = ("opportunity_wage", "not_charged", "drawings")


def added(lines: Mapping[str, Floats], names: Iterable[str]) -> Floats:
    """Lines added up in their order, in an array of their own."""
    first, *others = names
    total = lines[first].copy()
    for name in others:
        total += lines[name]
    return total
