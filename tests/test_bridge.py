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
from farmcase.model.build_outcome import BuildOutcome
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


def test_a_gate_moves_the_bridge_as_a_whole(folder: Path) -> None:
    """By hand: an award in month 5 holds up the first payment, and with it all that follow."""
    add(
        folder,
        '\n[gates.award]\nbuild = "all"\nkind = "award"\nmonth = 5\n'
        'price_date = "2027-01"\nsource = "made for tests"\nstatus = "guess"\n',
    )
    change(folder / "case.toml", "[grants.arrears]\n", '[grants.arrears]\naward_gate = "award"\n')
    change(folder / "capital.csv", "month_paid,", "month_paid,gate,")
    change(folder / "capital.csv", ",20000,0,", ",20000,0,award,")
    change(folder / "capital.csv", ",25000,1,", ",25000,1,,")
    change(folder / "capital.csv", ",15000,2,", ",15000,2,,")
    build = rooms(folder)
    paid = -build.monthly["capital"]
    assert dict(paid[paid > 0]) == {5: 20_000, 6: 25_000, 7: 15_000}
    assert build.measure("lowest_cash") == pytest.approx(-60_000, abs=0.005)
    assert dict(build.monthly["grant"][build.monthly["grant"] > 0]) == {11: 24_000}


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
