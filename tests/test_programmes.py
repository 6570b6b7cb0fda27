"""The programmes as data: facts and checklist equal what was read, and sums follow their rules.

Source of facts and table: the project's own reading of the programmes' papers (finance checks,
section 7: 7a facts, 7b checklist), where every line has its address and whether it was read or is
from memory. The table below was typed from there, apart from the data files.
"""

from __future__ import annotations

import csv
import shutil
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmcase.errors import CaseError, NotFoundError
from farmcase.inputs.programmes import (
    declaration_table,
    kind_of_scope,
    programme_names,
    read_programme,
)
from farmcase.inputs.reference import reference_folder, reference_table
from farmcase.money.programmes import (
    age_days,
    first_payment,
    granted,
    match_needed,
    open_months,
    quotes_needed,
    vat_parts,
)
from farmcase.words.contents import CONTENTS

FOLDER = reference_folder() / "programmes"
ORDER = [
    "us_vapg",
    "us_fsa_operating",
    "us_fsa_microloan",
    "us_sba_7a",
    "us_business_and_industry",
    "uk_rpa_capital",
    "uk_rural_prosperity",
    "uk_start_up_loan",
    "eu_leader",
]

# Section 7b, a letter for each programme in ORDER: R seen in the sources, r from memory or by
# analogy, C conditional, - not seen.
TABLE_7B = {
    "applicant": "R R R R R R R R R",
    "summary": "R r r R R R r R R",
    "management": "r R r R R r r r r",
    "market": "R r r r R r r R r",
    "sources_and_uses": "R r r R R R r R r",
    "cost_list": "R - - C C R R - r",
    "quotes": "- - - C - r R - R",
    "match": "R - - r R R R - R",
    "work_plan": "R - - - C R R - R",
    "claims": "R - - - - R R - r",
    "cash_flow_year_1": "r r r R r r r R r",
    "projections": "r r C R r r r C r",
    "assumptions": "r r r R r r r R r",
    "opening_balance": "r R r R R r - - r",
    "projected_balance": "r r - r r - - - r",
    "history": "C R C R r r C - r",
    "debts": "r R r R r r - R -",
    "repayment": "r r r R R - - R -",
    "collateral": "- r r r R - - - -",
    "personal": "- r r R R - - R -",
    "refusal": "- R r r - - - - -",
    "feasibility": "R - - - C - - - C",
    "sensitivity": "r r - r r r r r r",
    "consents": "C r r C R r R - R",
    "tenure": "r R r R C r R - r",
    "outputs": "r - - r R R R - r",
    "declaration": "- - - - - C r - r",
    "vat": "- - - - - r R r r",
    "insurance": "- r r r r r R - r",
}
NEED_OF = {
    "R": "required",
    "r": "required_from_memory",
    "C": "conditional",
    "-": "not_seen",
}
# The table's last row: are containers and equipment paid, and how is that known?
LAST_ROW_7B = {
    "us_vapg": ("not_fundable", "read"),
    "us_fsa_operating": ("funded", "memory_medium"),
    "us_fsa_microloan": ("funded", "memory_medium"),
    "us_sba_7a": ("funded", "memory_medium"),
    "us_business_and_industry": ("funded", "memory_medium"),
    "uk_rpa_capital": ("conditional", "read"),
    "uk_rural_prosperity": ("funded", "read"),
    "uk_start_up_loan": ("funded", "memory_medium"),
    "eu_leader": ("conditional", "read"),
}

every_programme = pytest.mark.parametrize("name", ORDER)


def test_all_programmes_of_the_reading_are_there() -> None:
    """Nine programmes, each in a file of its own."""
    assert programme_names() == sorted(ORDER)


@every_programme
def test_checklist_equals_the_table(name: str) -> None:
    """Each cell of 7b; order and number of the contents are the table's."""
    assert list(TABLE_7B) == list(CONTENTS)
    place, checklist = ORDER.index(name), read_programme(name).checklist
    expected = {content: NEED_OF[row.split()[place]] for content, row in TABLE_7B.items()}
    assert {content: checklist[content].need for content in checklist} == expected


@every_programme
def test_are_containers_paid(name: str) -> None:
    """The last row of 7b, with its mark."""
    equipment = read_programme(name).funds["equipment"]
    assert (equipment.ruling, equipment.mark) == LAST_ROW_7B[name]


@every_programme
def test_every_fact_has_a_source_and_a_mark(name: str) -> None:
    """No fact without a source, and a source without an address is none."""
    programme = read_programme(name)
    used = set()
    for place, fact in programme.all_facts().items():
        assert fact.says == fact.says.strip(), place
        assert fact.source == "memory" or programme.sources[fact.source].address, place
        used.add(fact.source)
    unused = set(programme.sources) - used
    assert len(unused) <= 1 and used - {"memory"}, unused
    text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    assert "confirm with the programme's own current papers" in text


def rule(name: str, place: str) -> dict[str, object]:
    """A rule or a kind of cost as it stands in the file, without its sentence and source."""
    raw = tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
    section, key = place.split(".")
    found = dict(raw[section].get(key) or {})
    return {k: v for k, v in found.items() if k not in ("says", "source")}


@pytest.mark.parametrize(
    ("name", "place", "expected"),
    [
        # 7a, VAPG: 75,000 planning, 250,000 working capital, one to one (webinar of 2021).
        ("us_vapg", "rules.amount", {"most": 250_000, "mark": "second_hand"}),
        ("us_vapg", "rules.planning_amount", {"most": 75_000, "mark": "second_hand"}),
        ("us_vapg", "rules.grant_share", {"share": 0.5, "mark": "computed"}),
        ("us_vapg", "rules.own_hours_as_match", {"counts": True, "mark": "second_hand"}),
        ("us_vapg", "rules.feasibility_study", {"above": 50_000, "mark": "second_hand"}),
        ("us_vapg", "rules.ineligible_costs", {"most_share": 0.1, "mark": "read"}),
        ("us_vapg", "funds.growing_costs", {"ruling": "not_fundable", "mark": "read"}),
        # 7a, FSA: handbook 3-FLP Exhibit 5, form pack; 7b: "R (<= 90 d)".
        ("us_fsa_operating", "rules.balance_sheet", {"most_days": 90, "mark": "read"}),
        ("us_fsa_operating", "rules.history", {"years": 3, "mark": "read"}),
        ("us_fsa_microloan", "rules.amount", {"most": 50_000, "mark": "memory_medium"}),
        # 7a, SBA: three years' returns, statements <= 90 days; 7b: "R (2 y)".
        ("us_sba_7a", "rules.balance_sheet", {"most_days": 90, "mark": "read"}),
        ("us_sba_7a", "rules.history", {"years": 3, "mark": "read"}),
        ("us_sba_7a", "rules.projections", {"years": 2, "mark": "read"}),
        # 7a, RPA: nothing before the agreement [found]; quotes, arrears, five years [memory].
        ("uk_rpa_capital", "rules.nothing_before_award", {"mark": "read"}),
        ("uk_rpa_capital", "rules.quotes", {"bands": [{"count": 3}], "mark": "memory_medium"}),
        ("uk_rpa_capital", "rules.paid_in_arrears", {"mark": "memory_medium"}),
        ("uk_rpa_capital", "rules.kept", {"years": 5, "mark": "memory_medium"}),
        # 7a, council example, chapters 5, 8 and 4.
        ("uk_rural_prosperity", "rules.amount", {"least": 5000, "most": 25_000, "mark": "read"}),
        ("uk_rural_prosperity", "rules.grant_share", {"share": 0.5, "mark": "read"}),
        (
            "uk_rural_prosperity",
            "rules.quotes",
            {
                "bands": [
                    {"up_to": 10_000, "count": 1},
                    {"up_to": 30_000, "count": 2},
                    {"count": 3},
                ],
                "mark": "read",
            },
        ),
        ("uk_rural_prosperity", "rules.nothing_before_award", {"mark": "read"}),
        ("uk_rural_prosperity", "rules.paid_in_arrears", {"mark": "read"}),
        ("uk_rural_prosperity", "rules.vat_irrecoverable_only", {"mark": "read"}),
        ("uk_rural_prosperity", "rules.growing_projects", {"mark": "read"}),
        ("uk_rural_prosperity", "funds.vehicles", {"ruling": "not_fundable", "mark": "read"}),
        ("uk_rural_prosperity", "funds.overheads", {"ruling": "not_fundable", "mark": "read"}),
        # 7a, Start Up Loan: guidance of January 2014, at least two years.
        ("uk_start_up_loan", "rules.projections", {"years": 2, "mark": "read"}),
        # 7a, LEADER: permission before start [found], three quotes [memory].
        ("eu_leader", "rules.nothing_before_award", {"mark": "read"}),
        ("eu_leader", "rules.quotes", {"bands": [{"count": 3}], "mark": "memory_medium"}),
    ],
)
def test_facts_of_7a(name: str, place: str, expected: dict[str, object]) -> None:
    """Numbers and marks of the facts that bind."""
    assert rule(name, place) == expected


def test_currencies_and_kinds() -> None:
    """Dollars, pounds, euro; four grants and five loans (7a)."""
    found = {n: (read_programme(n).currency, read_programme(n).kind) for n in ORDER}
    assert {c for n, (c, _) in found.items() if n.startswith("us_")} == {"USD"}
    assert {c for n, (c, _) in found.items() if n.startswith("uk_")} == {"GBP"}
    assert found["eu_leader"] == ("EUR", "grant")
    grants = {name for name, (_, kind) in found.items() if kind == "grant"}
    assert grants == {"us_vapg", "uk_rpa_capital", "uk_rural_prosperity", "eu_leader"}


def test_ceilings_on_public_aid() -> None:
    # 7a: Reg. 1408/2013 as amended by 2024/3118, Reg. 2023/2831, Subsidy Control Act 2022 s. 36.
    found = {n: (float(r["amount"]), r["currency"]) for n, r in declaration_table().items()}
    assert found == {
        "eu_primary_agriculture": (50_000, "EUR"),
        "eu_other_sectors": (300_000, "EUR"),
        "uk_minimal_assistance": (315_000, "GBP"),
    }
    assert {row["years"] for row in declaration_table().values()} == {"3"}


@pytest.mark.parametrize("table", ["declarations", "item_kinds"])
def test_tables_say_where_they_come_from(table: str) -> None:
    """The same columns of origin as the other reference tables."""
    with (FOLDER / f"{table}.csv").open(newline="", encoding="utf-8") as file:
        header, *rows = list(csv.reader(file, strict=True))
    assert header[-4:] == ["source", "page", "status", "mark"]
    assert {len(row) for row in rows} == {len(header)}
    for row in rows:
        named = dict(zip(header, row, strict=True))
        assert named["source"] and named["status"] in {"published", "guess"}
        assert named["mark"] in {"read", "memory_medium"}


def test_kinds_are_of_the_scope_list() -> None:
    """Every item that is told to be no equipment is on the scope list."""
    assert set(kind_of_scope()) <= set(reference_table("scope"))


# The case's own files, and their faults.


@pytest.fixture
def own_folder(tmp_path: Path) -> Path:
    """A case folder with its own copy of one programme."""
    target = tmp_path / "reference" / "programmes"
    target.mkdir(parents=True)
    shutil.copy(FOLDER / "eu_leader.toml", target / "our_group.toml")
    return tmp_path


def edit(folder: Path, old: str, new: str) -> None:
    """Change the case's own programme."""
    path = folder / "reference" / "programmes" / "our_group.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_a_case_brings_its_own_programme(own_folder: Path) -> None:
    """It is listed beside ours, and read anew after a change."""
    assert programme_names(own_folder) == sorted([*ORDER, "our_group"])
    edit(own_folder, "EU LEADER type grant (Irish rules)", "Our local group")
    assert read_programme("our_group", own_folder).label == "Our local group"


def test_an_unknown_programme_names_the_known() -> None:
    with pytest.raises(NotFoundError, match=r"'lottery'; known are eu_leader, .*us_vapg\."):
        read_programme("lottery")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('kind = "grant"', "kind = grant", "cannot be read"),
        ('kind = "grant"', 'kind = "gift"', "kind is 'gift'"),
        ('currency = "EUR"', 'currency = "EURO"', "three-letter"),
        ('source = "rules"', 'source = "hearsay"', "hearsay"),
        ('mark = "read"', 'mark = "memory_medium"', "the mark is memory"),
        ("equipment = {", "balloons = {", "balloons"),
        ("applicant = {", "aplicant = {", "aplicant"),
        ('text_date = "2019-04-25"', 'text_date = "spring"', "spring"),
        ("[{ count = 3 }]", "[{ count = 3, up_to = 5 }]", "out of order"),
        ('"eu_other_sectors"', '"eu_nothing"', "eu_nothing"),
    ],
)
def test_faults_of_an_own_programme(own_folder: Path, old: str, new: str, told: str) -> None:
    """One clear sentence with the file and what was found there."""
    edit(own_folder, old, new)
    with pytest.raises(CaseError, match=told) as caught:
        read_programme("our_group", own_folder)
    assert "programmes/our_group.toml" in str(caught.value)


@pytest.mark.parametrize(
    ("table", "text", "told"),
    [
        ("item_kinds", "id,kind\nracks,toy\n", "toy"),
        ("item_kinds", "name,kind\nracks,stock\n", "column id"),
        ("declarations", "id,amount,years\nours,much,3\n", "much"),
    ],
)
def test_faults_of_own_tables(own_folder: Path, table: str, text: str, told: str) -> None:
    """The case's own tables are held to the same columns."""
    path = own_folder / "reference" / "programmes" / f"{table}.csv"
    path.write_text(text, encoding="utf-8")
    read = kind_of_scope if table == "item_kinds" else declaration_table
    with pytest.raises(CaseError, match=told):
        read(own_folder)


# Rules as sums.


def test_quotes_by_value() -> None:
    # 7a, council example: <= 10k one, 10-30k two, > 30k three.
    bands = [(10_000.0, 1), (30_000.0, 2), (float("inf"), 3)]
    values = (0, 10_000, 10_000.01, 30_000, 30_000.01, 1e9)
    assert [quotes_needed(value, bands) for value in values] == [1, 1, 2, 2, 3, 3]


def test_share_ceiling_and_least() -> None:
    # 7a, council example: half, 5,000 to 25,000. By hand.
    found = [granted(funded, 0.5, 5000, 25_000) for funded in (9999, 10_000, 40_000, 60_000)]
    assert found == [0.0, 5000, 20_000, 25_000]


money = st.floats(0, 1e7)


@given(money, st.floats(0, 1), money, money)
def test_a_grant_is_never_more_than_its_rules(
    funded: float, share: float, least: float, most: float
) -> None:
    found = granted(funded, share, least, most)
    assert 0 <= found <= share * funded and found <= most
    assert found == 0 or found >= least


@given(money, st.floats(0, 1))
def test_vat_is_claimed_back_or_borne(vat: float, share: float) -> None:
    recovered, borne = vat_parts(vat, share)
    assert recovered >= 0 and borne >= 0
    assert recovered + borne == pytest.approx(vat, abs=1e-9)


def test_gates_that_wait_for_gates() -> None:
    # By hand: power 3 waits for planning 5, award 4 waits for both.
    months = {"award": 4.0, "power": 3.0, "planning": 5.0, "tenure": 1.0}
    waits = {"award": ["power"], "power": ["planning"]}
    assert open_months(months, waits) == {"planning": 5, "power": 5, "award": 5, "tenure": 1}
    assert first_payment([2, 6], []) == 2
    assert first_payment([2, 6], [5, 1]) == 5


def test_age_of_a_balance_sheet() -> None:
    # Calendar: 31 December 2026 to 1 March 2027 is 60 days; 29 February 2028 exists.
    assert age_days("2026-12-31", "2027-03") == age_days("2026-12", "2027-03") == 60
    assert age_days("2028-02", "2028-03") == 1
    assert age_days("2027-03-11", "2027-03") == -10


def test_match_is_what_the_grant_leaves() -> None:
    # By hand: 60,000 counts, the grant stops at 25,000; half would be 30,000.
    assert match_needed(60_000, 25_000, 0.5) == 35_000
    assert match_needed(60_000, 40_000, 0.5) == 30_000
