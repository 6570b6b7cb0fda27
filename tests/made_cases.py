"""Cases made at random for the tests of money: the small case with other finance.

Loans, leases, grants, gates, VAT, tax and capital rows are drawn; what is grown and sold stays.
"""

from __future__ import annotations

import csv
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from hypothesis import strategies as st

import farmcase as fc
from farmcase.inputs.case import Case
from farmcase.money.months import ROUNDING

SMALL_CASE = Path(__file__).resolve().parent / "small_case"
CONSENT = "month = { low = 1, likely = 2, high = 4 }"
TAGS = {"price_date": "2026-10", "source": "made for tests", "status": "guess"}
GATES = ("", "consent", "power", "power consent")
CLASSES = ("", "follows_books", "no_allowance", "straight_line", "us_macrs_5y")


class Made(NamedTuple):
    """What differs from the small case: sections by name, fields of the heading and of rows."""

    heading: Mapping[str, Any]
    sections: Mapping[str, Mapping[str, Any]]
    capital: Mapping[str, Mapping[str, Any]]
    consent_month: int
    year_end: int


def opened(made: Made, folder: Path) -> Case:
    """The case, written to a folder and opened from there."""
    shutil.copytree(SMALL_CASE, folder, dirs_exist_ok=True)
    text = (SMALL_CASE / "case.toml").read_text(encoding="utf-8")
    consent, ends = f"month = {made.consent_month}", f"fiscal_year_end_month = {made.year_end}"
    text = text.replace("[money]\n", f"[money]\n{ends}\n").replace(CONSENT, consent)
    assert consent in text and ends in text
    blocks = text.split("\n\n")
    text = "\n\n".join(block for block in blocks if not block.startswith(("[tax]", "[vat]")))
    lines = [
        next((f"{k} = {_toml(v)}" for k, v in made.heading.items() if line.startswith(k)), line)
        for line in text.splitlines()
    ]
    for name, fields in made.sections.items():
        lines += ["", f"[{name}]"]
        lines += [f"{k} = {_toml(v)}" for k, v in {**fields, **TAGS}.items()]
    (folder / "case.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    _write_capital(folder / "capital.csv", made)
    return fc.open_case(folder)


def _write_capital(path: Path, made: Made) -> None:
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    rows = [{**row, **made.capital[row["id"]]} for row in rows]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)


builds = st.sampled_from(["all", "self_build", "bought_unit"])
some = st.sampled_from
LOAN = {
    "build": builds,
    "amount": st.integers(500, 40_000),
    "rate_per_year": some([0.0, 0.03, 0.11]),
    "term_months": st.integers(8, 60),
    "drawn": some(["", "", "0: 0.3, 4: 0.7", "2: 0.5, 3: 0.25, 7: 0.25"]),
    "gate": some(GATES),
    "grace_months": st.integers(0, 7),
    "grace_kind": some(["interest_paid", "interest_capitalised"]),
    "kind": some(["level_payment", "level_principal"]),
    "fee": some([0, 150]),
    "rate_changes": some(["", "9: 0.02", "13: -0.01, 20: 0.03"]),
    "early_repaid": some(["", "15: 0.2"]),
    "rounding": some(ROUNDING),
}
LEASE = {
    "build": builds,
    "starts_month": st.integers(0, 9),
    "term_months": st.integers(6, 60),
    "gate": some(GATES),
    "deposit": some([0, 700]),
    "payment_per_month": st.integers(20, 300),
    "service_per_month": some([0, 25]),
    "inflates_with": some(["none", "general"]),
    "vat_rate_share": some([0.0, 0.23]),
    "bought_at_end": st.booleans(),
    "purchase_price": st.integers(0, 3000),
    "life_years": some([2, 6.5]),
    "resale_share": some([0.0, 0.2]),
}
GRANT = {
    "build": builds,
    "share": some([0.2, 0.4, 1.0]),
    "ceiling": st.integers(500, 40_000),
    "award_gate": some(GATES),
    "second_hand_counts": st.booleans(),
    "own_labour_counts": st.booleans(),
    "claim_every_months": some([1, 3, 6]),
    "paid_after_months": st.integers(0, 9),
    "held_back_share": some([0.0, 0.1]),
    "held_back_months": st.integers(0, 6),
    "kept_months": some([0, 60]),
    "repaid_if_moved": some(["all", "pro_rata"]),
}
VAT = {
    "scheme": some(["not_registered", "standard", "cash", "farmer_flat_rate"]),
    "flat_rate_share": some([0.0, 0.05]),
    "recoverable_share": some([1.0, 0.6]),
    "purchases_rate_share": some([0.0, 0.23]),
    "return_every_months": some([1, 2, 3, 6, 12]),
    "first_return_ends": st.integers(1, 12),
    "paid_after_months": st.integers(0, 3),
    "refunded_after_months": st.integers(0, 5),
}
TAX = {
    "form": some(["sole_trader", "company", "co_operative"]),
    "rate_share": some([0.125, 0.3]),
    "tax_free_per_year": some([0, 3000]),
    "higher_rate_share": some([0.3, 0.5]),
    "higher_from_per_year": some([0, 12_000]),
    "losses": some(["carried_forward", "lost"]),
    "loss_most_share": some([1.0, 0.5]),
    "paid_after_months": st.integers(0, 14),
    "default_schedule": some(["follows_books", "straight_line"]),
    "price_bonus_share": some([0.0, 0.2]),
    "dividend_share": some([0.0, 0.3]),
    "distributed_after_months": st.integers(0, 6),
}
SHARE = {
    "build": builds,
    "amount": st.integers(100, 5000),
    "paid_in_month": st.integers(0, 6),
    "withdrawn_month": st.integers(7, 40),
}
MOVE = {
    "build": builds,
    "month": st.integers(10, 40),
    "cost": st.integers(0, 4000),
    "closed_months": st.integers(0, 3),
    "funded_items_leave": st.booleans(),
}
CAPITAL = {
    "month_paid": st.integers(0, 6),
    "stages": some(["", "", "1: 0.3, 4: 0.7", "0: 0.2, 2: 0.4, 9: 0.4"]),
    "lead_months": st.integers(0, 3),
    "gate": some(GATES),
    "life_years": some([1.5, 4, 20]),
    "tax_class": some(CLASSES),
    "grant_eligible": some(["yes", "no"]),
}
ROW_IDS = [line.split(",")[0] for line in (SMALL_CASE / "capital.csv").read_text().splitlines()[1:]]


@st.composite
def made_cases(draw: st.DrawFn) -> Made:
    """Finance drawn at random; every part may be there or not."""
    parts = {"loans.made": LOAN, "loans.other": LOAN, "leases.made": LEASE, "grants.made": GRANT}
    parts |= {"vat": VAT, "tax": TAX, "shares.made": SHARE, "moves.made": MOVE}
    wanted = [name for name in parts if draw(st.integers(0, 3)) > 0]
    sections = {name: draw(st.fixed_dictionaries(parts[name])) for name in wanted}
    power = {"build": "all", "kind": "power", "waits_for": draw(some(["", "consent"]))}
    sections["gates.power"] = {**power, "month": draw(st.integers(0, 7)), "cost": 600}
    return Made(
        heading={
            "horizon_months": draw(st.integers(40, 84)),
            "start_month": draw(some(["2027-01", "2027-03", "2026-11"])),
        },
        sections=sections,
        capital={row: draw(st.fixed_dictionaries(CAPITAL)) for row in ROW_IDS},
        consent_month=draw(st.integers(0, 9)),
        year_end=draw(st.integers(1, 12)),
    )
