"""What programmes make of a build: each ruling by a small case, sums that add up, both farms.

Expected values are worked out by hand from the small case's rows, or from the rule that the
case's own programme file states.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import farmcase as fc
from farmcase.errors import NotFoundError
from farmcase.inputs.case import Case
from farmcase.inputs.programmes import programme_names
from farmcase.model.eligibility import Eligibility
from farmcase.words.contents import CONTENTS

CASES = Path(__file__).resolve().parents[1] / "data" / "cases"
RULINGS = {"funded", "refused", "wants evidence", "not fundable under this programme"}

PROGRAMME = """
label = "Grant made for tests"
kind = "grant"
jurisdiction = "Ireland"
currency = "EUR"
declarations = ["eu_primary_agriculture"]
[sources]
paper = { title = "Paper made for tests", address = "tests" }
[funds]
equipment = { ruling = "funded", says = "Equipment is paid", source = "paper", mark = "read" }
[rules]
"""
SHARE = 'grant_share = { share = 0.4, says = "Two fifths", source = "paper", mark = "read" }\n'
LIMITS = 'amount = { least = LEAST, most = MOST, says = "Limits", source = "paper", mark = "read" }'
ORIGIN = 'says = "The rule says so", source = "paper", mark = "read" }\n'
AWARD = f"nothing_before_award = {{ {ORIGIN}"
GATES = """
[gates.promise]
build = "all"
kind = "award"
label = "Letter of award"
month = AWARD_MONTH
price_date = "2026-10"
source = "made for tests"
status = "guess"
"""
VAT = """
[vat]
scheme = "SCHEME"
recoverable_share = RECOVERED
first_return_ends = 3
paid_after_months = 1
refunded_after_months = 2
price_date = "2026-10"
source = "made for tests"
status = "guess"
"""


def checklist(**needs: str) -> str:
    """The checklist of a programme: what is named here, and not seen for the rest."""
    lines = [f'{name} = {{ need = "{needs.get(name, "not_seen")}" }}' for name in CONTENTS]
    return "[checklist]\n" + "\n".join(lines) + "\n"


def write_programme(folder: Path, rules: str = "", **needs: str) -> None:
    """The case's own programme `made` with some rules, in the case's currency."""
    target = folder / "reference" / "programmes"
    target.mkdir(parents=True, exist_ok=True)
    text = PROGRAMME + rules + "\n" + checklist(**needs)
    (target / "made.toml").write_text(text, encoding="utf-8")


def add(folder: Path, text: str) -> None:
    """More lines for case.toml."""
    with (folder / "case.toml").open("a", encoding="utf-8") as file:
        file.write(text)


def edit_row(folder: Path, identity: str, **cells: str) -> None:
    """Change cells of a row of capital.csv (no cell of the small case holds a comma in quotes)."""
    path = folder / "capital.csv"
    header, *rows = path.read_text(encoding="utf-8").splitlines()
    names = header.split(",")
    names += [name for name in cells if name not in names]
    made = [",".join(names)]
    for row in rows:
        parts = _cells(row) + [""] * (len(names) - len(header.split(",")))
        if parts[0] == identity:
            for name, cell in cells.items():
                parts[names.index(name)] = cell
        made.append(",".join(f'"{part}"' if "," in part else part for part in parts))
    path.write_text("\n".join(made) + "\n", encoding="utf-8")


def _cells(row: str) -> list[str]:
    return next(csv.reader([row]))


def held_against(folder: Path, build: str = "self_build") -> Eligibility:
    """The small case against the programme `made`."""
    return fc.eligibility(fc.open_case(folder), "made", build)


def row_of(table: pd.DataFrame, name: str) -> dict[str, Any]:
    """One row of a table by the names of its columns."""
    return {str(column): cell for column, cell in table.loc[name].items()}


# Rulings, each by a small case.


def test_what_is_eligible_and_asked_nothing_is_funded(small_folder: Path) -> None:
    """The bench: 2,400, marked eligible, one quote, new."""
    write_programme(small_folder, SHARE)
    found = held_against(small_folder)
    bench = row_of(found.items, "kettle_bench")
    assert (bench["ruling"], bench["amount"], bench["funded"]) == ("funded", 2400, 2400)
    assert bench["reason"] == "Equipment is paid."
    # By hand: bench 2,400 and cooling machine 1,900 are eligible; two fifths.
    assert found.funded == 4300 and found.granted == pytest.approx(1720)


def test_what_the_case_marks_is_refused(small_folder: Path) -> None:
    write_programme(small_folder)
    row = row_of(held_against(small_folder).items, "lining")
    assert (row["ruling"], row["funded"]) == ("refused", 0)
    assert row["reason"] == "The case itself marks it not eligible."


def test_a_loan_does_not_ask_for_the_grant_mark(small_folder: Path) -> None:
    write_programme(small_folder)
    path = small_folder / "reference" / "programmes" / "made.toml"
    path.write_text(path.read_text("utf-8").replace('"grant"', '"loan"'), "utf-8")
    found = held_against(small_folder)
    assert found.items.loc["lining", "ruling"] == "funded"
    assert math.isnan(found.granted) and "nothing is granted" in found.granted_in_words


@pytest.mark.parametrize(
    ("rule", "ruling", "told"),
    [
        ("second_hand = { counts = false, " + ORIGIN, "refused", "The rule says so"),
        ("second_hand = { counts = true, " + ORIGIN, "funded", "Equipment is paid"),
        ("", "wants evidence", "second-hand"),
    ],
)
def test_second_hand(small_folder: Path, rule: str, ruling: str, told: str) -> None:
    """The used box, marked eligible: refused, counted, or asked about where papers are silent."""
    edit_row(small_folder, "used_box", grant_eligible="yes")
    write_programme(small_folder, rule)
    row = row_of(held_against(small_folder).items, "used_box")
    assert row["ruling"] == ruling and told in row["reason"]


@pytest.mark.parametrize(("held", "ruling"), [(0, "wants evidence"), (1, "wants evidence")])
def test_too_few_quotes(small_folder: Path, held: int, ruling: str) -> None:
    """Two quotes above 2,000: the bench of 2,400 needs two, the machine of 1,900 one."""
    edit_row(small_folder, "kettle_bench", quotes_held=str(held))
    write_programme(
        small_folder, "quotes = { bands = [{ up_to = 2000, count = 1 }, { count = 2 }], " + ORIGIN
    )
    items = held_against(small_folder).items
    assert items.loc["kettle_bench", "ruling"] == ruling
    assert "of 2 needed" in str(items.loc["kettle_bench", "reason"])
    assert items.loc["cold_machine", "ruling"] == "funded"
    edit_row(small_folder, "kettle_bench", quotes_held="2")
    assert held_against(small_folder).items.loc["kettle_bench", "ruling"] == "funded"


def test_no_award_gate_wants_evidence(small_folder: Path) -> None:
    write_programme(small_folder, AWARD, work_plan="required")
    found = held_against(small_folder)
    assert found.items.loc["kettle_bench", "ruling"] == "wants evidence"
    assert "work_plan" in found.lacking.index
    assert "gate of kind award" in str(found.items.loc["kettle_bench", "reason"])


@pytest.mark.parametrize(
    ("award_month", "cells", "ruling"),
    [
        (3, {}, "funded"),  # paid in month 3, in the month of the award
        (4, {}, "refused"),
        (4, {"gate": "promise"}, "funded"),  # it waits for the award
        (4, {"gate": "consent promise"}, "funded"),
        (4, {"gate": "consent"}, "refused"),  # the consent of month 2 does not help
        (4, {"month_paid": "", "stages": "3: 0.3, 6: 0.7"}, "refused"),  # the deposit
        (4, {"month_paid": "", "stages": "4: 0.3, 6: 0.7"}, "funded"),
    ],
)
def test_paid_before_the_award(
    small_folder: Path, award_month: int, cells: dict[str, str], ruling: str
) -> None:
    """What is deposited before the award is refused; the gate of a row holds its payment back."""
    add(small_folder, GATES.replace("AWARD_MONTH", str(award_month)))
    edit_row(small_folder, "kettle_bench", **cells)
    write_programme(small_folder, AWARD)
    row = row_of(held_against(small_folder).items, "kettle_bench")
    assert row["ruling"] == ruling, row["reason"]
    assert ("before the award in month 4" in row["reason"]) == (ruling == "refused")


def test_own_hours_are_never_paid(small_folder: Path) -> None:
    """By hand: 10 + 160 + 60 + 12 + 8 hours at 14."""
    write_programme(small_folder)
    row = row_of(held_against(small_folder).items, "own_build_hours")
    assert (row["ruling"], row["amount"], row["funded"]) == ("refused", 250 * 14, 0)


def test_own_hours_count_as_match_where_they_may(small_folder: Path) -> None:
    """A match of nine tenths that own money misses by 1,000, and own hours are worth 3,500."""
    match = f"match = {{ share = 0.9, {ORIGIN}"
    hours = f"own_hours_as_match = {{ counts = true, {ORIGIN}"
    write_programme(small_folder, SHARE + match, match="required")
    found = held_against(small_folder)
    own_money = 0.9 * (found.funded + found.wanting_evidence) - 1000
    case = fc.open_case(small_folder).vary({"money.owners_money": own_money})
    row = row_of(fc.eligibility(case, "made", "self_build").lacking, "match")
    assert row["state"] == "in part" and "another €1,000" in row["still_wanted"]
    write_programme(small_folder, SHARE + match + hours, match="required")
    assert "match" not in fc.eligibility(case, "made", "self_build").lacking.index


@pytest.mark.parametrize(
    ("scheme", "recovered", "expected"),
    [
        # By hand, VAT of 23 % on 2,400 + 1,900 that is funded and 13,500 that is refused.
        (None, 0, {"wants evidence": 989, "refused": 3105}),
        ("not_registered", 1, {"funded": 989, "refused": 3105}),
        ("standard", 1, {"refused": 989 + 3105}),
        ("cash", 0.25, {"funded": 0.75 * 989, "refused": 3105 + 0.25 * 989}),
        ("farmer_flat_rate", 1, {"wants evidence": 989, "refused": 3105}),
    ],
)
def test_vat_counts_only_where_it_is_borne(
    small_folder: Path, scheme: str | None, recovered: float, expected: dict[str, float]
) -> None:
    edit_row(small_folder, "used_box", second_hand="no")
    if scheme:
        add(small_folder, VAT.replace("SCHEME", scheme).replace("RECOVERED", str(recovered)))
    write_programme(small_folder, "vat_irrecoverable_only = { " + ORIGIN)
    items = held_against(small_folder).items
    lines = items[items["kind"] == "VAT or sales tax"]
    found = lines.groupby("ruling")["amount"].sum().to_dict()
    assert found == pytest.approx(expected)


def test_papers_that_are_silent_want_evidence(small_folder: Path) -> None:
    """Contingency, gates and overheads of which the papers say nothing are no silent nil."""
    write_programme(small_folder)
    items = held_against(small_folder).items
    for name in ("contingency", "gate_costs", "overheads"):
        assert items.loc[name, "ruling"] == "wants evidence"
        assert "do not say whether they pay" in str(items.loc[name, "reason"])
    assert items.loc["gate_costs", "amount"] == 450


def test_a_project_of_growers_may_be_shut_out(small_folder: Path) -> None:
    """Every line says so, and what is granted is told in words."""
    write_programme(small_folder, SHARE + "growing_projects = { " + ORIGIN)
    found = held_against(small_folder)
    assert set(found.items["ruling"]) == {"not fundable under this programme"}
    assert found.not_fundable == found.refused == pytest.approx(found.whole)
    assert found.granted == 0 and "nothing of this build is funded" in found.granted_in_words


def test_least_and_ceiling(small_folder: Path) -> None:
    """By hand: two fifths of 4,300 are 1,720."""
    for least, most, expected, told in (
        (0, 1000, 1000, "stops at its ceiling"),
        (1721, 5000, 0, "below the least"),
        (1720, 5000, 1720, "40 %"),
    ):
        limits = LIMITS.replace("LEAST", str(least)).replace("MOST", str(most))
        write_programme(small_folder, SHARE + limits)
        found = held_against(small_folder)
        assert found.granted == pytest.approx(expected)
        assert told in found.granted_in_words


def test_another_currency_compares_no_amounts(small_folder: Path) -> None:
    limits = LIMITS.replace("LEAST", "0").replace("MOST", "1000")
    bands = "quotes = { bands = [{ up_to = 1e9, count = 1 }, { count = 2 }], " + ORIGIN
    write_programme(small_folder, SHARE + limits + "\n" + bands)
    path = small_folder / "reference" / "programmes" / "made.toml"
    path.write_text(path.read_text("utf-8").replace('"EUR"', '"USD"'), "utf-8")
    found = held_against(small_folder)
    assert math.isnan(found.granted) and "no amounts are compared" in found.granted_in_words
    assert any("USD" in text and "EUR" in text for text in found.cautions)
    row = row_of(found.items, "kettle_bench")
    assert row["ruling"] == "wants evidence" and "not compared with EUR" in row["reason"]


# The checklist.


@pytest.mark.parametrize(
    ("content", "state"),
    [
        ("applicant", "in the case"),
        ("management", "not seen in the case"),
        ("sources_and_uses", "made by this workbook"),
        ("cash_flow_year_1", "made by this workbook"),
        ("sensitivity", "made by this workbook"),
        ("opening_balance", "in the case"),
        ("history", "not seen in the case"),  # it has sales, so it is not new
        ("debts", "in the case"),  # a balance sheet without loans or creditors
        ("personal", "in the case"),
        ("consents", "in part"),  # the consent is awaited
        ("tenure", "not seen in the case"),
        ("vat", "not seen in the case"),
        ("insurance", "not seen in the case"),
        ("refusal", "not seen in the case"),
        ("declaration", "not seen in the case"),
        ("claims", "not seen in the case"),
    ],
)
def test_what_the_small_case_holds(small_folder: Path, content: str, state: str) -> None:
    """Each content asked for; what is not there is lacking, with what would satisfy it."""
    write_programme(small_folder, **dict.fromkeys(CONTENTS, "required"))
    found = held_against(small_folder)
    assert found.checklist.loc[content, "state"] == state
    lacking = state in ("in part", "not seen in the case")
    assert (content in found.lacking.index) == lacking
    if lacking:
        assert str(found.lacking.loc[content, "still_wanted"])
        assert found.lacking.loc[content, "need"] == "required"


def test_what_is_not_asked_for_is_not_lacking(small_folder: Path) -> None:
    write_programme(small_folder, insurance="required_from_memory", tenure="conditional")
    lacking = held_against(small_folder).lacking
    assert lacking["need"].to_dict() == {
        "tenure": "depends on the project: ask",
        "insurance": "required, from memory: confirm",
    }


def test_a_balance_sheet_grows_old(small_folder: Path) -> None:
    """31 December 2026 to March 2027 is 60 days."""
    for most, state in ((60, "in the case"), (59, "in part")):
        rule = f"balance_sheet = {{ most_days = {most}, {ORIGIN}"
        write_programme(small_folder, rule, opening_balance="required")
        found = held_against(small_folder)
        assert found.checklist.loc["opening_balance", "state"] == state
    assert "60 days" in str(found.lacking.loc["opening_balance", "still_wanted"])


def test_a_study_above_an_amount(small_folder: Path) -> None:
    """By hand: two fifths of what is funded or may be is the most that would be asked for."""
    for above, asked in ((0, True), (10_000_000, False)):
        rule = f"feasibility_study = {{ above = {above}, {ORIGIN}"
        write_programme(small_folder, SHARE + rule, feasibility="required")
        found = held_against(small_folder)
        assert ("feasibility" in found.lacking.index) == asked
        assert (found.checklist.loc["feasibility", "state"] == "not asked for") != asked


def test_papers_that_no_case_holds_are_asked_for(small_case: Case) -> None:
    """Proof of match, résumés, statements: the case has the figure, the paper is still wanted."""
    found = fc.eligibility(small_case, "us_sba_7a", "self_build")
    row = row_of(found.lacking, "personal")
    assert row["state"] == "in part" and "personal financial statement" in row["still_wanted"]


def test_outlets_without_evidence_are_named(small_case: Case) -> None:
    """Outlets that rest on a conversation or on hope, and no others."""
    case = small_case.for_build("self_build")
    weak = {r.outlet for r in case.sales.values() if r.evidence in ("conversation", "hope")}
    text = str(fc.eligibility(small_case, "us_vapg").checklist.loc["market", "still_wanted"])
    assert weak and all(outlet in text for outlet in weak)


def test_declarations_stay_within_their_ceiling(small_folder: Path) -> None:
    """50,000 euro over three years (Reg. 1408/2013 as amended by 2024/3118)."""
    write_programme(small_folder, SHARE)
    row = row_of(held_against(small_folder).declarations, "eu_primary_agriculture")
    assert (row["ceiling"], row["currency"], row["years"]) == (50_000, "EUR", 3)
    assert "stay within €50,000" in row["in_words"]
    edit_row(small_folder, "kettle_bench", unit_cost_high="200000", unit_cost="200000")
    row = row_of(held_against(small_folder).declarations, "eu_primary_agriculture")
    assert "alone is over the ceiling" in row["in_words"]


def test_items_that_wear_out_too_soon_are_told(small_folder: Path) -> None:
    """The bench lasts 10 years, the machine 9: kept for ten, one falls short."""
    write_programme(small_folder, f"kept = {{ years = 10, {ORIGIN}")
    told = [text for text in held_against(small_folder).cautions if "10 years" in text]
    assert len(told) == 1 and told[0].startswith("One item")


# Programmes of the reference data.


def test_no_container_is_ever_paid_by_the_grant_for_processing(small_case: Case) -> None:
    # 7 CFR 4284.925: no container, equipment, building or growing cost.
    found = fc.eligibility(small_case, "us_vapg", "bought_unit")
    row = row_of(found.items, "maker_offer")
    assert row["ruling"] == "not fundable under this programme"
    assert "no container" in row["reason"] and row["amount"] == pytest.approx(46_000 * 1.15)
    assert "nothing of this build is funded" in found.granted_in_words


def test_unknown_names(small_case: Case) -> None:
    with pytest.raises(NotFoundError, match="known are eu_leader"):
        fc.eligibility(small_case, "lottery")
    with pytest.raises(NotFoundError, match="no build 'castle'"):
        fc.eligibility(small_case, "us_vapg", "castle")


def check_whole(found: Eligibility) -> None:
    """What holds for every build and programme."""
    assert found.whole > 0 and set(found.items["ruling"]) <= RULINGS
    together = found.funded + found.refused + found.wanting_evidence
    assert together == pytest.approx(found.whole, rel=1e-12)
    assert found.items["funded"].sum() == pytest.approx(found.funded)
    assert found.items["reason"].str.endswith(".").all()
    assert list(found.checklist.index) == list(CONTENTS)
    assert found.lacking["still_wanted"].str.len().gt(0).all()
    assert "confirm with the programme's own current papers" in found.cautions[0]
    assert found.granted_in_words


@pytest.mark.parametrize("name", ["harbour_coop", "orchard_valley"])
def test_both_farms_against_every_programme(name: str) -> None:
    """Each build; capital adds up to the rows of the build, computed from the table of rows."""
    case = fc.open_case(CASES / name)
    for build in case.builds:
        rows = case.for_build(build).capital
        cost = sum(
            r.quantity.likely * r.unit_cost.likely * r.exchange_rate.likely for r in rows.values()
        )
        for programme in programme_names(case.folder):
            found = fc.eligibility(case, programme, build)
            check_whole(found)
            assert set(rows) < set(found.items.index)
            assert found.items.loc[list(rows), "amount"].sum() == pytest.approx(cost)
            assert len(found.lacking) >= 3


def test_a_run_tells_the_running_costs(small_case: Case) -> None:
    """With a run, growing, selling, overheads and own hours of a year have a line each."""
    outcome = fc.evaluate(small_case)
    found = fc.eligibility(small_case, "us_vapg", "self_build", outcome)
    check_whole(found)
    items = found.items
    rulings = {
        "running_growing_costs": "not fundable under this programme",
        "running_selling_costs": "wants evidence",
        "running_overheads": "wants evidence",
        "running_own_hours": "refused",
    }
    for line, ruling in rulings.items():
        row = row_of(items, line)
        assert row["ruling"] == ruling and row["amount"] > 0
    assert "overheads" not in items.index


amounts = st.floats(0, 1e6)


@settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    share=st.floats(0, 1),
    least=st.floats(0, 5000),
    most=st.floats(0, 50_000),
    bench=amounts,
    box=amounts,
    eligible=st.booleans(),
    quotes=st.integers(0, 4),
)
def test_parts_add_up_and_grants_stay_within_rules(
    small_folder: Path,
    share: float,
    least: float,
    most: float,
    bench: float,
    box: float,
    eligible: bool,
    quotes: int,
) -> None:
    """Funded, refused and wanting make the whole; a grant is within its share and ceiling."""
    rules = (
        f"grant_share = {{ share = {share!r}, {ORIGIN}"
        f"amount = {{ least = {least!r}, most = {most!r}, {ORIGIN}"
        f"quotes = {{ bands = [{{ up_to = 5000.0, count = 1 }}, {{ count = 3 }}], {ORIGIN}"
    )
    write_programme(small_folder, rules)
    for name, cells in {
        "kettle_bench": {"unit_cost": bench, "quotes_held": quotes},
        "used_box": {"unit_cost": box},
        "lining": {"grant_eligible": "yes" if eligible else "no"},
    }.items():
        told = {column: str(cell) for column, cell in cells.items()}
        plain = {f"unit_cost_{end}": "" for end in ("low", "high") if "unit_cost" in told}
        edit_row(small_folder, name, **told, **plain)
    found = held_against(small_folder)
    check_whole(found)
    for grant, counted in (
        (found.granted, found.funded),
        (found.granted_with_evidence, found.funded + found.wanting_evidence),
    ):
        assert 0 <= grant <= share * counted + 1e-9 and grant <= most
        assert grant == 0 or grant >= least
