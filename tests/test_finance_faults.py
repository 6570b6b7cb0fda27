"""Bad finance: one clear sentence for each fault, with place, what is allowed, what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

import farmcase as fc
from farmcase.errors import CaseError

SOURCED = 'price_date = "2026-10"\nsource = "made for tests"\nstatus = "guess"\n'
LOAN = "[loans.more]\nbuild = 'all'\namount = 1000\nrate_per_year = 0.05\nterm_months = 12\n"
SHARE = "[shares.more]\nbuild = 'all'\namount = 500\n"
GATE = "[gates.more]\nbuild = 'all'\nkind = 'finance'\nmonth = 1\n"
LEASE = "[leases.more]\nbuild = 'all'\nterm_months = 12\npayment_per_month = 10\n"
VAT = "scheme = 'standard'\nfirst_return_ends = 3\npaid_after_months = 1\n"
TAX = "form = 'company'\nrate_share = 0.2\npaid_after_months = 9\n"

FAULTS = {
    "stages that do not add up": (
        LOAN + 'drawn = "2: 0.3, 4: 0.6"\n',
        ("loans.more.drawn", "adds up to 0.9", "together they are 1"),
    ),
    "stages that cannot be read": (
        LOAN + 'drawn = "a third in month 2"\n',
        ("loans.more.drawn", "month: number", "2: 0.3, 4: 0.7"),
    ),
    "stages out of order": (
        LOAN + 'early_repaid = "9: 0.2, 4: 0.2"\n',
        ("loans.more.early_repaid", "9, 4", "rising months"),
    ),
    "a share above one": (
        LOAN + 'early_repaid = "9: 1.2"\n',
        ("loans.more.early_repaid", "1.2", "0 to 1"),
    ),
    "grace longer than the loan": (
        LOAN + "grace_months = 12\n",
        ("loans.more.grace_months", "is 12", "runs 12 months", "lengthen the term"),
    ),
    "a gate that is not there": (
        LOAN + 'gate = "planing"\n',
        ("loans.more.gate", "planing", "consent"),
    ),
    "a gate of another build": (
        LEASE + 'gate = "more"\n' + SOURCED + GATE.replace("'all'", "'own_fitout'"),
        ("leases.more.gate", "'more'", "bought_unit", "same builds"),
    ),
    "gates that wait for one another": (
        GATE
        + 'waits_for = "other"\n'
        + SOURCED
        + GATE.replace("more", "other")
        + "waits_for = 'more'\n",
        ("gates.more.waits_for", "comes back to itself"),
    ),
    "a programme that is not there": (
        "[grants.more]\nbuild = 'all'\nshare = 0.1\nceiling = 10\nclaim_every_months = 3\n"
        'paid_after_months = 3\nprogramme = "eu_leder"\n',
        ("grants.more.programme", "eu_leder", "eu_leader"),
    ),
    "money taken out before it is put in": (
        SHARE + "paid_in_month = 12\nwithdrawn_month = 12\n",
        ("shares.more.withdrawn_month", "is 12", "later than month 12"),
    ),
    "a month beyond the case": (
        SHARE + "paid_in_month = 470\n",
        ("shares.more.paid_in_month", "is 470", "horizon_months"),
    ),
}
SINGLE = {
    "an unknown business form": (
        "tax",
        TAX.replace("company", "compny"),
        ("tax.form", "compny", "company"),
    ),
    "an unknown schedule": (
        "tax",
        TAX + 'default_schedule = "uk_main_pool"\n',
        ("tax.default_schedule", "uk_main_pool", "uk_main_pool_company"),
    ),
    "a first-year share without a pool": (
        "tax",
        TAX + 'default_schedule = "uk_first_year_40"\npool = "us_macrs_5y"\n',
        ("tax.pool", "us_macrs_5y", "uk_first_year_40", "uk_main_pool_company"),
    ),
    "a surplus shared out twice": (
        "tax",
        TAX + "price_bonus_share = 0.6\ndividend_share = 0.5\n",
        ("tax", "1.1", "at most 1"),
    ),
    "a return that never comes": (
        "vat",
        VAT + "return_every_months = 5\nrefunded_after_months = 2\n",
        ("vat.return_every_months", "5"),
    ),
    "a refund without a time": ("vat", VAT, ("vat", "refunded_after_months")),
}


def faults_of(folder: Path, text: str) -> str:
    """All sentences about a copy of the small case with some lines more."""
    path = folder / "case.toml"
    path.write_text(path.read_text(encoding="utf-8") + "\n" + text, encoding="utf-8")
    with pytest.raises(CaseError) as raised:
        fc.open_case(folder)
    return "\n".join(fault.sentence() for fault in raised.value.faults)


@pytest.mark.parametrize("name", FAULTS)
def test_records(small_folder: Path, name: str) -> None:
    """A record of finance with one thing wrong."""
    text, says = FAULTS[name]
    said = faults_of(small_folder, text + SOURCED)
    for part in says:
        assert part in said, said


@pytest.mark.parametrize("name", SINGLE)
def test_sections(small_folder: Path, name: str) -> None:
    """A section of taxes with one thing wrong, in place of the case's own."""
    section, text, says = SINGLE[name]
    path = small_folder / "case.toml"
    before, own, rest = path.read_text(encoding="utf-8").partition(f"[{section}]\n")
    if own:
        path.write_text(before + rest.partition("\n\n")[2], encoding="utf-8")
    said = faults_of(small_folder, f"[{section}]\n{text}{SOURCED}")
    for part in says:
        assert part in said, said


def test_an_unknown_tax_class_of_a_row(small_folder: Path) -> None:
    """The word in capital.csv must be a schedule of the table of allowances."""
    path = small_folder / "capital.csv"
    header, first, *rest = path.read_text(encoding="utf-8").splitlines()
    rows = [f"{header},tax_class", f"{first},pool_of_things", *(f"{row}," for row in rest)]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    with pytest.raises(CaseError) as raised:
        fc.open_case(small_folder)
    said = "\n".join(fault.sentence() for fault in raised.value.faults)
    assert "tax_class" in said and "pool_of_things" in said and "follows_books" in said
