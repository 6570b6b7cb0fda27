"""Kinds of cost, and contents of an application with what would satisfy each."""

from __future__ import annotations

# Kinds of cost as a reader calls them.
KINDS = {
    "equipment": "containers, buildings and equipment",
    "vehicles": "vehicles",
    "stock": "first spawn, substrate and other stock",
    "services": "design, training, trials and insurance while building",
    "consents": "consents and what gates cost",
    "contingency": "contingency",
    "leases": "leases",
    "growing_costs": "growing costs: substrate, wages, energy, water",
    "selling_costs": "packaging, delivery and fees of outlets",
    "overheads": "overheads",
    "own_hours": "own hours",
    "vat": "VAT or sales tax",
}

# Contents of an application: its name, and what would satisfy it.
CONTENTS = {
    "applicant": (
        "Applicant, form of business, owners",
        "applicant and legal_form under [who] in case.toml",
    ),
    "summary": (
        "Summary and purpose of the project",
        "about under [who], and about under the build in case.toml",
    ),
    "management": (
        "Experience and training of those who manage",
        "a page on who runs it and what they have grown and led",
    ),
    "market": (
        "Evidence of the market",
        "a contract, a letter or dated trial sales for every outlet",
    ),
    "sources_and_uses": ("Sources and uses of funds", ""),
    "cost_list": ("Cost list by item, what counts and what does not", "rows in capital.csv"),
    "quotes": ("Quotes for each item", "quotes_held in capital.csv, and the quotes themselves"),
    "match": (
        "Own share of the cost, and its proof",
        "owners' money, shares or loans in case.toml that cover what is not paid",
    ),
    "work_plan": (
        "Work plan with milestones, start not before the award",
        "a gate of kind award in case.toml, named by grants and by the rows that wait for it",
    ),
    "claims": (
        "Plan of claims, and cash until they are paid",
        "a grant in case.toml that names this programme under `programme`, with its claims",
    ),
    "cash_flow_year_1": ("Cash flow by month, first year", ""),
    "projections": ("Projections, second year and on", "a longer horizon_months in case.toml"),
    "assumptions": ("Assumptions, explained and with sources", ""),
    "opening_balance": (
        "Opening balance sheet, dated",
        "balance_sheet_date and what it shows, under [standing] in case.toml",
    ),
    "projected_balance": ("Projected balance sheet", ""),
    "history": (
        "History of the last years, or word that the business is new",
        "accounts and tax returns of the last three years",
    ),
    "debts": (
        "Debts and creditors as they stand",
        "a list by lender and creditor: balance, rate, payment, security",
    ),
    "repayment": ("Capacity to repay", ""),
    "collateral": ("What secures the money", ""),
    "personal": (
        "Personal finances and drawings",
        "drawings under [own_work] or [standing] in case.toml, and the owners' own statements",
    ),
    "refusal": ("Refusal by a commercial lender", "a letter in which a bank says no"),
    "feasibility": ("Feasibility study", "a study made before the request"),
    "sensitivity": ("Break-even and sensitivity", ""),
    "consents": (
        "Planning, environment and other consents",
        "a gate of kind planning in case.toml, and the consents",
    ),
    "tenure": (
        "Right to the land",
        "a gate of kind tenure in case.toml, and deed, lease or letter of the owner",
    ),
    "outputs": ("Outputs: jobs, production, carbon", ""),
    "declaration": (
        "Declaration of public aid received",
        "a list of all public aid of the last three years, with dates",
    ),
    "vat": ("VAT status", "the section [vat] in case.toml"),
    "insurance": ("Insurance", "policies or offers: buildings, stock, liability"),
}
