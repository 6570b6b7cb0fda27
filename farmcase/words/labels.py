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
    "whole_dscr_before_drawings_minimum": (
        "Whole business: lowest debt cover before drawings",
        "ratio",
    ),
    "whole_dscr_after_tax_and_drawings_minimum": (
        "Whole business: lowest debt cover after tax and drawings",
        "ratio",
    ),
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


BALANCES: dict[str, str] = {
    "fixed_assets": "Fixed assets",
    "debtors": "Owed by outlets",
    "grant_due": "Grant claimed, not yet paid",
    "lease_deposits": "Lease deposits",
    "cash": "Cash",
    "overdraft": "Overdraft",
    "loan_balance": "Loans",
    "vat_owed": "VAT owed (below nil: to be refunded)",
    "tax_owed": "Tax on profit owed",
    "members_owed": "Owed to members",
    "deferred_grant": "Grant not yet released to profit",
    "owners_capital": "Owners' money",
    "profit_retained": "Profit kept so far",
}

# Sums and balances of the statements.
TOTALS: dict[str, str] = {
    "operating_surplus": "Operating surplus",
    "profit_before_interest": "Profit before interest",
    "profit_before_tax": "Profit before tax",
    "profit_kept": "Profit kept",
    "cash_from_running": "Cash from running the farm",
    "cash_from_building": "Cash from building",
    "cash_from_lenders": "Cash from lenders",
    "cash_from_owners": "Cash from owners",
    "change_in_cash": "Change in cash",
    "opening_cash": "Cash less overdraft at the start",
    "closing_cash": "Cash less overdraft at the end",
    "total_assets": "Owned in all",
    "total_liabilities": "Owed in all",
    "total_equity": "Owners' own in all",
}

# Lines of the uses and sources of funds that are no money line of their own.
FUNDS: dict[str, str] = {
    "running": "Running the farm until then",
    "waiting": "Payments and VAT awaited",
    "repaid": "Loans repaid until then",
    "owners": "Paid to owners until then",
    "taxes": "Tax on profit until then",
    "sold": "Things sold until then",
    "overdraft": "Overdraft",
    "cash": "Cash left",
}

COVERS: dict[str, str] = {
    "before_drawings": "Cash available before drawings and tax",
    "after_drawings": "Cash available after tax and drawings",
    "service": "Debt service",
    "cover_before": "Debt cover before drawings",
    "cover_after": "Debt cover after tax and drawings",
    "whole_before_drawings": "Whole business: cash available before drawings and tax",
    "whole_after_drawings": "Whole business: cash available after tax and drawings",
    "whole_service": "Whole business: debt service",
    "whole_cover_before": "Whole business: debt cover before drawings",
    "whole_cover_after": "Whole business: debt cover after tax and drawings",
}

RATIOS: dict[str, str] = {
    "current_ratio": "Current ratio",
    "working_capital_share_of_gross_income": "Working capital over gross income",
    "debt_share_of_assets": "Debt over assets",
    "debt_to_equity": "Debt over equity",
    "ebitda": "Earnings before interest, tax and depreciation",
    "times_interest_earned": "Times interest earned",
    "return_on_assets": "Return on assets",
    "return_on_equity": "Return on equity",
    "term_debt_coverage": "Term-debt coverage",
    "repayment_margin": "Margin after term debt",
    "replacement_coverage": "Coverage of debt and replacements",
}


# The opening balance sheet of the business as it stands.
STANDING: dict[str, str] = {
    "standing_cash": "Cash",
    "standing_debtors": "Owed by outlets",
    "standing_stock": "Stock",
    "standing_fixed_assets": "Fixed assets",
    "standing_owned": "Owned in all",
    "standing_creditors": "Owed to suppliers",
    "standing_loans": "Loans",
    "standing_owed": "Owed in all",
    "standing_own": "Owners' own",
}

SECURITY: dict[str, str] = {
    "cost": "Cost of what is in place",
    "book_value": "Book value",
    "forced_sale": "Forced-sale value",
    "loans": "Loans owed",
    "forced_over_loans": "Forced-sale value over loans",
}

MEMBERS: dict[str, str] = {
    "put_in": "Put in by a member",
    "hours": "Own hours of a member",
    "own_pay": "Charged for a member's own hours",
    "got_back": "Paid back to a member",
    "so_far": "Got back less put in, so far",
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
