"""The bridge until a grant is paid, and a stream with two rates of return, as cases in a folder.

The bridge is constructed (finance.md, section 7): its lowest cash is what has to be found, not the
net cost. The stream of two rates is the oil pump of Lorie and Savage (1955, from memory).
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

import farmcase as fc
from farmcase.model.build_outcome import ONE, BuildOutcome
from farmcase.model.ledger import run_ledger
from farmcase.model.lines import OWN_WORK_VIEWS
from farmcase.model.outcome import Outcome

BRIDGE = Path(__file__).resolve().parent / "bridge_case"
ROWS = "id,build,item,amount,period,starts_month,inflates_with,source,price_date,status\n"

VAT = """
[vat]
scheme = "standard"
first_return_ends = 3
paid_after_months = 2
refunded_after_months = 2
price_date = "2027-01"
source = "made for tests"
status = "guess"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the bridge, to be changed."""
    return Path(shutil.copytree(BRIDGE, tmp_path / "bridge"))


def rooms(folder: Path) -> BuildOutcome:
    """Its one build, run."""
    return fc.evaluate(fc.open_case(folder))["rooms"]


def add(folder: Path, text: str) -> None:
    """Text at the end of case.toml."""
    path = folder / "case.toml"
    path.write_text(path.read_text(encoding="utf-8") + text, encoding="utf-8")


def change(path: Path, old: str, new: str) -> None:
    """A piece of a file that is there once or more often."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_the_bridge_until_a_grant_is_paid() -> None:
    """finance.md, section 7: 20,000, 25,000 and 15,000 paid, 24,000 back in month 6."""
    build = rooms(BRIDGE)
    assert build.measure("lowest_cash") == pytest.approx(-60_000, abs=0.005)
    assert build.measure("lowest_cash_month") == 2
    balance = (build.monthly["cash"] - build.monthly["overdraft"]).to_numpy()
    assert_allclose(balance[:7], [-20e3, -45e3, -60e3, -60e3, -60e3, -60e3, -36e3], atol=0.005)
    assert balance[-1] == pytest.approx(-36_000, abs=0.005)
    assert build.monthly["grant"].sum() == pytest.approx(24_000, abs=0.005)


def test_the_bridge_with_vat_until_it_is_refunded(folder: Path) -> None:
    """finance.md, section 7: the same with 20 % VAT, 12,000 of it back in month 4; the trough is
    deeper and the end the same."""
    add(folder, VAT)
    build = rooms(folder)
    assert build.measure("lowest_cash") == pytest.approx(-72_000, abs=0.005)
    balance = (build.monthly["cash"] - build.monthly["overdraft"]).to_numpy()
    assert_allclose(balance[:7], [-24e3, -54e3, -72e3, -72e3, -60e3, -60e3, -36e3], atol=0.005)
    assert balance[-1] == pytest.approx(-36_000, abs=0.005)
    assert build.monthly["vat_settled"].sum() == pytest.approx(12_000, abs=0.005)


def test_vat_that_is_not_recovered_is_a_cost(folder: Path) -> None:
    """finance.md 8.09: not registered, the bridge ends 12,000 lower, and the grant is the same."""
    add(folder, VAT.replace("standard", "not_registered"))
    build = rooms(folder)
    assert build.measure("lowest_cash") == pytest.approx(-72_000, abs=0.005)
    balance = build.monthly["cash"] - build.monthly["overdraft"]
    assert balance.iloc[-1] == pytest.approx(-48_000, abs=0.005)
    assert build.monthly["grant"].sum() == pytest.approx(24_000, abs=0.005)


TAGS = 'build = "all"\nprice_date = "2027-01"\nsource = "made for tests"\nstatus = "guess"\n'


def test_a_gate_moves_the_bridge_as_a_whole(folder: Path) -> None:
    """By hand: an award in month 5 holds up the first payment, and with it all that follow."""
    gate(folder, 5)
    change(folder / "case.toml", "[grants.arrears]\n", '[grants.arrears]\naward_gate = "award"\n')
    build = rooms(folder)
    paid = -build.monthly["capital"]
    assert dict(paid[paid > 0]) == {5: 20_000, 6: 25_000, 7: 15_000}
    assert build.measure("lowest_cash") == pytest.approx(-60_000, abs=0.005)
    assert dict(build.monthly["grant"][build.monthly["grant"] > 0]) == {11: 24_000}


def gate(folder: Path, month: int) -> None:
    """A gate that the first payment waits for."""
    add(folder, f'\n[gates.award]\nkind = "award"\nmonth = {month}\n{TAGS}')
    change(folder / "capital.csv", "month_paid,", "month_paid,gate,")
    for old, name in ((",20000,0,", "award"), (",25000,1,", ""), (",15000,2,", "")):
        change(folder / "capital.csv", old, f"{old}{name},")


def test_what_waits_for_a_gate_beyond_the_last_month_is_not_paid(folder: Path) -> None:
    """Issue of the gates: nothing dependent is paid before the gate opens, here in month 30 of a
    case of 24 months."""
    gate(folder, 30)
    assert rooms(folder).monthly["capital"].sum() == 0


# What a grant asks back.


def moved(folder: Path, *months: int) -> BuildOutcome:
    """The bridge, whose funded things have to be kept for 60 months, moved in some months."""
    for month in months:
        leave = f"month = {month}\ncost = 0\nfunded_items_leave = true\n{TAGS}"
        add(folder, f"\n[moves.in_{month}]\n{leave}")
    change(folder / "case.toml", "[grants.arrears]\n", "[grants.arrears]\nkept_months = 60\n")
    return rooms(folder)


def test_a_grant_is_paid_back_once(folder: Path) -> None:
    """By hand: 24,000 received in month 6 go back in month 8; a second move in month 12 has no
    more to give back."""
    repaid = -moved(folder, 8, 12).monthly["grant_repaid"]
    assert dict(repaid[repaid != 0]) == {8: 24_000}


def test_what_is_granted_after_the_things_have_left_is_not_kept(folder: Path) -> None:
    """By hand: they leave in month 4, before the grant is paid; nothing of it may be left."""
    monthly = moved(folder, 4).monthly
    assert (monthly["grant"] + monthly["grant_repaid"]).sum() == pytest.approx(0, abs=0.005)


def test_a_grant_is_the_same_however_own_hours_are_shown(folder: Path) -> None:
    """Own hours are shown in three ways (design, section 5); what an office pays for them is one:
    40 % of 60,000 and of 300 hours at 10."""
    change(folder / "case.toml", "ceiling = 24000", "ceiling = 90000\nown_labour_counts = true")
    change(folder / "case.toml", "wage_per_hour = 0", "wage_per_hour = 10")
    change(folder / "capital.csv", "vat_rate_share,", "vat_rate_share,own_labour_hours,")
    change(folder / "capital.csv", ",100,0.2,", ",100,0.2,100,")
    build = rooms(folder)
    for view in OWN_WORK_VIEWS:
        ledger = run_ledger(build.inputs, build.physical, ONE, view)
        assert ledger.lines["grant"].sum() == pytest.approx(25_200, abs=0.005), view


# Leases and loans.

LEASE = """
[leases.unit]
term_months = 3
payment_per_month = 0
bought_at_end = true
purchase_price = 6000
life_years = 1
vat_rate_share = 0.2
"""
TAX = '\n[tax]\nform = "company"\nrate_share = 0.2\npaid_after_months = 0\n'


def test_what_is_bought_after_a_lease_is_deducted_for_tax(folder: Path) -> None:
    """By hand: all is written off, for tax as in the books, so that tax is a fifth of profit."""
    line = "rent,all,Rent,50000,month,1,none,made for tests,2027-01,guess\n"
    (folder / "income.csv").write_text(ROWS + line, encoding="utf-8")
    add(folder, LEASE + TAGS + TAX + TAGS.removeprefix('build = "all"\n'))
    lines = rooms(folder).ledger.lines
    assert lines["lease_purchase"].sum() == -6000
    assert -lines["tax_charge"].sum() == pytest.approx(0.2 * lines["profit_before_tax"].sum())


def test_vat_kept_on_what_is_bought_after_a_lease_is_written_off(folder: Path) -> None:
    """By hand: 6,000 and 1,200 of VAT over a life of a year that ends within the case."""
    (folder / "capital.csv").write_text(
        (folder / "capital.csv").read_text(encoding="utf-8").replace(",1,lot,", ",0,lot,"),
        encoding="utf-8",
    )
    add(folder, LEASE + TAGS + VAT.replace("standard", "not_registered"))
    lines = rooms(folder).ledger.lines
    assert lines["depreciation"].sum() == pytest.approx(7_200)
    assert lines["disposal_gain"].sum() == pytest.approx(0, abs=0.005)


def stages(drawn: str, waits: str = "") -> str:
    """A loan of 1,000 over six months without interest."""
    terms = f'amount = 1000\nrate_per_year = 0\nterm_months = 6\ndrawn = "{drawn}"\n'
    return f'\n[loans.bank]\n{terms}gate = "{waits}"\n{TAGS}'


@pytest.mark.parametrize("month", [6, 9])
def test_a_stage_after_the_last_payment_is_refused(folder: Path, month: int) -> None:
    """finance.md 8.05: what is drawn with the last payment or later could not be repaid."""
    add(folder, stages(f"0: 0.5, {month}: 0.5"))
    with pytest.raises(fc.CaseError, match="drawn"):
        fc.open_case(folder)


def test_a_loan_whose_stages_a_gate_pulls_apart_is_repaid(folder: Path) -> None:
    """finance.md 8.05: the second stage comes nine months late, and all is drawn and repaid."""
    gate(folder, 9)
    add(folder, stages("0: 0.5, 1: 0.5"))
    lines = rooms(folder).ledger.lines
    assert lines["loan_drawn"].sum() == pytest.approx(1000)
    assert lines["loan_balance"][0, -1] == pytest.approx(0, abs=0.005)


# Two rates of return.


def oil_pump(folder: Path) -> Outcome:
    """1,600 paid today, 10,000 received after a year, 10,000 paid after two."""
    header = (folder / "capital.csv").read_text(encoding="utf-8").splitlines()[0]
    row = "pump,all,shell,Larger pump,1,lot,1600,0,100,0,no,made for tests,2027-01,guess"
    (folder / "capital.csv").write_text(f"{header}\n{row}\n", encoding="utf-8")
    for name, month in (("income", 12), ("overheads", 24)):
        line = f"oil,all,Oil,10000,once,{month},none,made for tests,2027-01,guess\n"
        (folder / f"{name}.csv").write_text(ROWS + line, encoding="utf-8")
    return fc.evaluate(fc.open_case(folder))


def test_the_oil_pump_has_two_rates_and_shows_neither_alone(folder: Path) -> None:
    """finance.md 1.56: 25 % and 400 %; at 10 % it is worth -773.55, at 100 % 900."""
    outcome = oil_pump(folder)
    pump = outcome["rooms"]
    flow = pump.monthly["project_flow"]
    assert dict(flow[flow != 0]) == {0: -1600, 12: 10_000, 24: -10_000}
    assert pump.measure("irr") != pump.measure("irr")
    assert pump.measure("irr_count") == 2
    assert pump.measure("npv") == pytest.approx(-773.553719008, abs=1e-6)
    said = [remark for remark in outcome.remarks("rooms") if "internal rates" in remark]
    assert len(said) == 1
    assert "25.0" in said[0] and "400.0" in said[0]
    assert said[0] in outcome.remarks("rooms", brief=True)
    at_100 = fc.evaluate(outcome.case.vary({"money.discount_rate_per_year": 1.0}))
    assert at_100["rooms"].measure("npv") == pytest.approx(900, abs=1e-6)
