"""Which yearly price rise each price follows."""

from __future__ import annotations

# Which yearly price rise brings a price from its date to the start month; a row may name its own.
PRICE_LEVELS = {
    "capital.unit_cost": "general",
    "substrate.price": "substrate",
    "substrate.freight": "substrate",
    "pay.wage_per_hour": "wages",
    "own_work.opportunity_wage_per_hour": "wages",
    "own_work.drawings_per_month": "wages",
    "carriers.price_per_kwh": "energy",
    "carriers.standing_charge_per_month": "energy",
    "carriers.capacity_charge_per_kw_month": "energy",
    "bands.price_per_kwh": "energy",
    "solar.sent_price_per_kwh": "energy",
    "water.price_per_m3": "general",
    "leaving.spent_price_per_tonne": "general",
    "leaving.waste_water_price_per_m3": "general",
    "store.disposal_cost_per_kg": "general",
    "sales.price_per_kg": "sales",
    "sales.packaging_per_kg": "general",
    "sales.delivery_per_kg": "general",
    "sales.cost_per_delivery": "general",
    "gates.cost": "general",
    "moves.cost": "general",
}


def month_count(date: str) -> int:
    """A date YYYY-MM or longer as months from the year 0, January first."""
    return int(date[:4]) * 12 + int(date[5:7]) - 1
