"""The labels of every input, measure and money line: the names a reader sees."""

from __future__ import annotations

from typing import Any

from farmcase.words.fields import FIELDS

# Sections as a reader calls them.
SECTIONS = {
    "who": "applicant",
    "site": "site",
    "standing": "the business as it stands",
    "money": "money",
    "inflation": "yearly price rise",
    "own_work": "own work",
    "water": "water",
    "starts": "starts",
    "store": "store",
    "learning": "learning",
    "output": "given output",
    "builds": "build",
    "carriers": "energy carrier",
    "pay": "pay band",
    "containers": "container",
    "rooms": "room",
    "climate": "air of a room",
    "crops": "crop",
    "plan": "crop plan",
    "vessels": "vessel",
    "machines": "machine",
    "loans": "loan",
    "leases": "lease",
    "shares": "money of owners",
    "grants": "grant",
    "gates": "gate",
    "moves": "move",
    "vat": "VAT",
    "tax": "tax on profit",
    "seasons": "season",
    "solar": "own solar",
    "bands": "tariff band",
    "leaving": "what leaves",
    "capital": "capital row",
    "substrate": "substrate row",
    "labour": "task",
    "sales": "outlet",
    "overheads": "overhead",
    "income": "other income",
}

# What a record is called by: the first of these fields that it has.
_NAMES = ("item", "outlet", "task", "ingredient", "label", "applicant")

MEASURES: dict[str, tuple[str, str]] = {
    "money_needed": ("Money needed", "money"),
    "lowest_cash": ("Lowest cash", "money"),
    "lowest_cash_month": ("Month of lowest cash", "month"),
    "payback_years": ("Payback", "years"),
    "discounted_payback_years": ("Discounted payback", "years"),
    "npv": ("Net present value", "money"),
    "irr": ("Internal rate of return", "share/year"),
    "irr_count": ("Number of internal rates", "rates"),
    "mirr": ("Modified internal rate", "share/year"),
    "profitability_index": ("Profitability index", "ratio"),
    "equivalent_annual_value": ("Equivalent annual value", "money/year"),
    "break_even_output_kg_per_year": ("Break-even output", "kg/year"),
    "break_even_price_per_kg": ("Break-even price", "money/kg"),
    "break_even_biological_efficiency": ("Break-even biological efficiency", "share"),
    "margin_of_safety_share": ("Margin of safety", "share"),
    "cash_break_even_output_kg_per_year": ("Cash break-even output", "kg/year"),
    "cash_break_even_price_per_kg": ("Cash break-even price", "money/kg"),
    "dscr_before_drawings_minimum": ("Lowest debt cover before drawings", "ratio"),
    "dscr_before_drawings_average": ("Mean debt cover before drawings", "ratio"),
    "dscr_after_tax_and_drawings_minimum": ("Lowest debt cover after tax and drawings", "ratio"),
    "dscr_after_tax_and_drawings_average": ("Mean debt cover after tax and drawings", "ratio"),
    "loan_life_cover": ("Cover over the life of the loans", "ratio"),
    "owners_npv": ("Net present value to owners", "money"),
    "owners_irr": ("Internal rate of return to owners", "share/year"),
    "owners_irr_count": ("Number of internal rates to owners", "rates"),
    "cost_to_build": ("Cost to build", "money"),
    "output_kg_per_year": ("Output sold", "kg/year"),
    "levelised_cost_per_kg": ("Cost per kilogram", "money/kg"),
    "own_hours_per_week": ("Own hours", "h/week"),
    "own_build_hours": ("Own hours to build", "h"),
    "labour_h_per_kg": ("Work per kilogram", "h/kg"),
    "energy_kwh_per_kg": ("Energy per kilogram", "kWh/kg"),
    "water_l_per_kg": ("Water per kilogram", "L/kg"),
    "emissions_kgco2e_per_kg": ("Emissions per kilogram", "kgCO2e/kg"),
}

MONEY_LINES: dict[str, str] = {
    "sales": "Sales",
    "outlet_fees": "Outlet fees",
    "packaging": "Packaging",
    "delivery": "Delivery",
    "other_income": "Other income",
    "flat_rate_addition": "Farmer's flat rate",
    "substrate": "Substrate and spawn",
    "wages": "Paid work",
    "own_work": "Own work",
    "energy": "Energy",
    "solar_sent": "Own solar sent out",
    "water": "Water",
    "leaving": "Spent substrate and waste water",
    "disposal": "Throwing away",
    "overheads": "Overheads",
    "leases": "Leases",
    "vat_cost": "VAT not recovered",
    "operating_surplus": "Operating surplus",
    "capital": "Capital",
    "own_build_work": "Own work to build",
    "contingency": "Contingency",
    "capital_vat": "VAT not recovered on capital",
    "replacements": "Replacements",
    "lease_purchase": "Leased things bought",
    "gate_costs": "Consents and connections",
    "moves": "Moving the containers",
    "grant": "Grant",
    "grant_repaid": "Grant paid back",
    "end_value": "End value",
    "debtors_change": "Change in money owed by outlets",
    "lease_deposit": "Lease deposits",
    "vat_on_sales": "VAT on sales",
    "vat_on_purchases": "VAT on purchases, recovered",
    "vat_settled": "VAT settled with the authority",
    "project_before_tax": "Project cash flow before tax",
    "project_tax": "Tax as if without loans",
    "project_flow": "Project cash flow",
    "owners_money": "Owners' money",
    "owners_withdrawn": "Owners' money taken out",
    "loan_drawn": "Loan drawn",
    "loan_fee": "Loan fee",
    "loan_interest": "Loan interest",
    "loan_capitalised": "Interest added to the loan",
    "loan_principal": "Loan repaid",
    "loan_early": "Loan repaid early",
    "overdraft_interest": "Overdraft interest",
    "tax_paid": "Tax paid",
    "bonus_paid": "Price bonus paid",
    "dividend_paid": "Dividend paid",
    "cash": "Cash",
    "overdraft": "Overdraft",
    "loan_balance": "Loan still owed",
    "depreciation": "Depreciation",
    "grant_claimed": "Grant claimed",
    "grant_released": "Grant released to profit",
    "disposal_gain": "Gain on what is sold at the end",
    "profit_before_tax": "Profit before tax",
    "tax_charge": "Tax on profit",
    "bonus_charge": "Price bonus",
    "dividend_charge": "Dividend",
    "profit_kept": "Profit kept",
}


def input_label(path: str, record: Any = None) -> str:
    """The label of an input: what it is, and of what.

    `record` is the section or row that holds it; with it the name a reader knows it by is added.
    """
    name = path.rsplit(".", 1)[-1]
    label = FIELDS.get(name, name.replace("_", " "))
    if record is None:
        return label
    known = next((str(getattr(record, n)) for n in _NAMES if getattr(record, n, "")), "")
    if known:
        return f"{label}, {known}"
    parts = path.split(".")
    whose = parts[1].replace("_", " ") if len(parts) > 2 else SECTIONS.get(parts[0], "")
    return f"{label}, {whose}" if whose and len(parts) > 1 else label
