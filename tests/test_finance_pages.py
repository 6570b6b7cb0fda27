"""What a lender reads, as tables: every cell is the model's number, sums close, nothing decides."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np
import pytest

import farmcase as fc
from farmcase.model.lender import cover_table, funded_until, ratio_table, uses_and_sources
from farmcase.model.outcome import Outcome
from farmcase.model.security import security_table
from farmcase.output import decision, finance_tables, lender_tables, pages, programme_tables
from farmcase.output.readings import band, bands_of, reading
from farmcase.output.tables import Table
from farmcase.words import finance as say
from farmcase.words.numbers import money, month_name, percent, plain

TESTS = Path(__file__).resolve().parent
ROOT = TESTS.parent
FOLDERS = [ROOT / "data" / "cases" / name for name in ("harbour_coop", "orchard_valley")]
FOLDERS.append(TESTS / "small_case")


@pytest.fixture(scope="module", params=FOLDERS, ids=lambda folder: folder.name)
def outcome(request: pytest.FixtureRequest) -> Outcome:
    """Each case in turn, run once."""
    return fc.evaluate(fc.open_case(request.param))


def digits(text: str) -> float:
    """The number in a cell, in the English of all cases here; minus by a hyphen."""
    kept = re.sub(r"[^0-9.-]", "", text)
    return float(kept)


def row_of(table: Table, label: str) -> list[str]:
    """The cells of a row."""
    return list(next(row for row in table.rows if row[0] == label)[1:])


def every_table(outcome: Outcome, build: str) -> list[Table]:
    """Every table of a build on these pages."""
    return [
        finance_tables.funding_table(outcome),
        finance_tables.profit_and_loss_table(outcome, build),
        finance_tables.cash_flow_table(outcome, build),
        finance_tables.balance_sheet_table(outcome, build),
        *finance_tables.cash_by_month_table(outcome, build).parts,
        finance_tables.gate_table(outcome, build),
        finance_tables.grant_table(outcome, build),
        lender_tables.debt_cover_table(outcome, build),
        lender_tables.lender_ratio_table(outcome, build),
        lender_tables.loan_security_table(outcome, build),
        lender_tables.forced_sale_table(outcome, build),
        lender_tables.one_member_table(outcome, build),
    ]


def test_tables_are_whole_and_say_nothing_odd(outcome: Outcome) -> None:
    """As many cells as headings, no bare nan, inf, minus nil or name of a program's own."""
    for build in outcome:
        for table in every_table(outcome, build):
            assert all(len(row) == len(table.header) for row in table.rows)
            text = table.text()
            assert not re.search(r"\bnan\b|\binf\b|-0\b(?!\.)|_", text), text
            assert all(0 <= i < max(1, len(table.rows)) for i in table.strong)


def test_uses_equal_sources_and_the_funded_month_is_right(outcome: Outcome) -> None:
    """Both sums agree for each build, and no month of the first year runs lower than the last."""
    table = finance_tables.funding_table(outcome)
    uses, sources = row_of(table, say.USES_IN_ALL), row_of(table, say.SOURCES_IN_ALL)
    assert uses == sources
    for cell, build in zip(uses, outcome.values(), strict=True):
        found = uses_and_sources(build)
        sums = found.groupby("side")["amount"].sum()
        assert sums["uses"] == pytest.approx(sums["sources"], abs=0.005)
        assert digits(cell) == pytest.approx(sums["uses"], abs=0.501)
        until, start = funded_until(build), build.inputs.start
        cash = (build.ledger.cash.cash - build.ledger.cash.overdraft)[0]
        assert start <= until <= start + 12
        assert cash[until] <= cash[start : start + 13].min() + 1e-9


def test_statements_show_every_number_once_rounded(outcome: Outcome) -> None:
    """Cells are the statement's numbers in whole money, and no line is nil throughout."""
    locale = outcome.case.heading.locale
    for name, found in outcome.items():
        for make, frame in (
            (finance_tables.profit_and_loss_table, found.statements.profit_and_loss()),
            (finance_tables.cash_flow_table, found.statements.cash_flow()),
            (finance_tables.balance_sheet_table, found.statements.balance_sheet()),
        ):
            table = make(outcome, name)
            shown = [plain(v, locale) for v in frame.to_numpy().ravel()]
            assert [cell for row in table.rows for cell in row[1:]] == shown
            last = month_name(found.dates[-1], locale)
            assert table.header[-1] == f"to {last}"
            sums = {table.rows[i][0] for i in table.strong}
            nil = [row[0] for row in table.rows if set(row[1:]) == {"0"}]
            assert set(nil) <= sums | {
                r[0] for r in table.rows if np.abs(frame.loc[r[0]]).max() < 0.5
            }


def test_cash_by_month_is_two_years_that_add_up(outcome: Outcome) -> None:
    """Month 0 and 24 months, and closing less opening cash of each is the change."""
    for build in outcome:
        found = finance_tables.cash_by_month_table(outcome, build).parts
        assert [len(table.header) for table in found] == [14, 13]
        for table in found:
            labels = ("Cash less overdraft at the end", "Cash less overdraft at the start")
            end, start = (np.array([digits(c) for c in row_of(table, name)]) for name in labels)
            change = np.array([digits(c) for c in row_of(table, "Change in cash")])
            assert np.abs(end - start - change).max() <= 1.5


def test_cover_stands_beside_the_threshold_of_the_case(outcome: Outcome) -> None:
    """Ratios with two decimals; years without debt service say so; the threshold is of the data."""
    with (ROOT / "data" / "reference" / "thresholds.csv").open(encoding="utf-8") as file:
        rows = {row["id"]: row for row in csv.DictReader(file)}
    named = rows[outcome.case.money.coverage_threshold]
    locale = outcome.case.heading.locale
    for name, found in outcome.items():
        table, frame = lender_tables.debt_cover_table(outcome, name), cover_table(found)
        service = frame.loc["Debt service"].to_numpy(float)
        for label in ("Debt cover before drawings", "Debt cover after tax and drawings"):
            for cell, value, due in zip(
                row_of(table, label), frame.T[label].to_numpy(float), service, strict=True
            ):
                assert cell == (plain(value, locale, 2) if due > 0 else say.NONE_DUE)
        threshold = plain(float(named["low"]), locale, 2)
        expected = [threshold if due > 0 else say.NONE_DUE for due in service]
        assert row_of(table, say.THRESHOLD) == expected
        note = table.notes[0]
        assert named["source"] in note and threshold in note and "shown, not decided" in note


@pytest.mark.parametrize(
    ("measure", "value", "expected"),
    [
        # Cornell Small Farms Program, financial scorecard: above 2 good, 1.3 to 2 caution, below
        # 1.3 weak (read); working capital from 30 %, 10 to 30, below 10; debt below 30, 30 to 60
        ("current_ratio", 2.4, "good"),
        ("current_ratio", 1.3, "caution"),
        ("current_ratio", 1.29, "weak"),
        ("working_capital_share_of_gross_income", 0.31, "good"),
        ("working_capital_share_of_gross_income", 0.05, "weak"),
        ("debt_share_of_assets", 0.29, "good"),
        ("debt_share_of_assets", 0.45, "caution"),
        ("debt_share_of_assets", 0.61, "weak"),
        ("debt_share_of_assets", float("nan"), "–"),
        # Purdue University, 29 September 2020: above one the payments are covered (read).
        ("replacement_coverage", 1.2, "covered"),
        ("replacement_coverage", 0.8, "short"),
    ],
)
def test_readings_are_those_of_their_sources(measure: str, value: float, expected: str) -> None:
    """Each ratio falls into the band its source gives."""
    (bands,) = bands_of(measure).values()
    assert reading(value, bands) == expected


def test_a_ratio_read_by_two_sources_shows_both(outcome: Outcome) -> None:
    """Term-debt coverage has two readings under it, each with its source named below."""
    build = next(iter(outcome))
    table = lender_tables.lender_ratio_table(outcome, build)
    labels = [row[0] for row in table.rows]
    at = labels.index("Term-debt coverage")
    assert [label.startswith("  as read by source") for label in labels[at + 1 : at + 4]] == [
        True,
        True,
        False,
    ]
    for source in bands_of("term_debt_coverage"):
        assert source in " ".join(table.notes)
    assert "shown, not decided" in " ".join(table.notes)
    frame = ratio_table(outcome[build])
    shown = row_of(table, "Debt over assets")
    locale = outcome.case.heading.locale
    assert shown == [percent(v, locale) for v in frame.T["Debt over assets"].to_numpy(float)]


def test_security_over_loans_is_the_quotient_of_its_rows(outcome: Outcome) -> None:
    """Forced-sale value over loans, as percent; a year without a loan says so."""
    for name, found in outcome.items():
        table, frame = lender_tables.loan_security_table(outcome, name), security_table(found)
        worth, owed = (frame.loc[k].to_numpy() for k in ("Forced-sale value", "Loans owed"))
        for cell, w, o in zip(
            row_of(table, "Forced-sale value over loans"), worth, owed, strict=True
        ):
            if o > 0.005:
                assert digits(cell) == pytest.approx(100 * w / o, abs=0.501)
            else:
                assert cell == say.NO_LOAN


def test_gates_open_in_order_and_the_critical_one_is_named(outcome: Outcome) -> None:
    """Likely months are those of the timetable, low comes before high, and one gate is critical."""
    locale = outcome.case.heading.locale
    for name, found in outcome.items():
        table, times = finance_tables.gate_table(outcome, name), found.inputs.timetable
        gates = found.inputs.records("gates")
        if not gates:
            assert say.NO_GATES in table.notes
            continue
        assert len(table.rows) == len(gates) + 1
        for row, (gate, record) in zip(table.rows, gates.items(), strict=False):
            assert row[0] == (record.label or gate)
            assert row[3] == month_name(found.dates[times.opens[gate]], locale)
            assert found.dates.index(_date(found.dates, row[2], locale)) <= times.opens[gate]
            assert found.dates.index(_date(found.dates, row[4], locale)) >= times.opens[gate]
            assert ("(critical)" in row[5]) == (gate == times.critical)
        assert table.rows[-1][3] == month_name(found.dates[times.start], locale)


def _date(dates: list[str], shown: str, locale: str) -> str:
    return next(date for date in dates if month_name(date, locale) == shown)


def test_a_late_gate_moves_what_waits_for_it() -> None:
    """With every gate at its high the first starts are those of the case with these months."""
    case = fc.open_case(FOLDERS[0])
    outcome = fc.evaluate(case)
    late = {f"gates.{name}.month": gate.month.high for name, gate in case.gates.items()}
    moved = fc.evaluate(case.vary(late))
    for name, build in moved.items():
        table = finance_tables.gate_table(outcome, name)
        locale = case.heading.locale
        assert table.rows[-1][4] == month_name(build.dates[build.inputs.timetable.start], locale)


def test_grants_are_claimed_before_they_are_paid_and_within_the_share(outcome: Outcome) -> None:
    """Claims and payments each add up to what is granted: the share of what counts, or ceiling."""
    for name, found in outcome.items():
        table = finance_tables.grant_table(outcome, name)
        grants = found.inputs.records("grants")
        if not grants:
            assert say.NO_GRANT in table.notes
            continue
        counted, ceiling, given = (
            [digits(c) for c in row_of(table, label)]
            for label in ("Spending that counts", "Ceiling", "Granted")
        )
        for i, grant in enumerate(grants.values()):
            expected = min(grant.share.likely * counted[i], ceiling[i])
            assert given[i] == pytest.approx(expected, abs=1.5)
        labels = [row[0] for row in table.rows]
        claimed = [digits(r[1]) for r in table.rows if r[0].startswith("Claimed in")]
        paid = [digits(r[1]) for r in table.rows if r[0].startswith("Paid in")]
        assert len(claimed) == sum(label.startswith("Claimed in") for label in labels)
        if len(grants) == 1:
            assert sum(claimed) == pytest.approx(given[0], abs=0.5 * len(claimed) + 0.5)
        assert sum(paid) == pytest.approx(sum(given), abs=0.5 * len(paid) + 0.5)


def test_own_hours_stand_in_three_ways_with_debt_cover(outcome: Outcome) -> None:
    """Worth, payback, lowest cash and lowest debt cover in each of the three views."""
    table = decision.own_work_table(outcome)
    assert len(table.rows) == 12
    labels = {row[1] for row in table.rows}
    assert "Lowest debt cover after tax and drawings" in labels
    frame = outcome.own_work()
    for name, build in outcome.items():
        shown = frame.loc[("opportunity_wage", "dscr_after_tax_and_drawings_minimum"), name]
        measured = build.measure("dscr_after_tax_and_drawings_minimum")
        assert shown == pytest.approx(measured, nan_ok=True)


def test_member_rows_times_members_are_the_lines(outcome: Outcome) -> None:
    """What one member puts in, times the members, is the members' shares of the case; where it
    has none, all owners' money."""
    count = outcome.case.standing.members
    for name, found in outcome.items():
        table = lender_tables.one_member_table(outcome, name)
        if not count:
            assert table.notes == [say.NO_MEMBERS]
            continue
        paid = sum(digits(cell) for cell in row_of(table, "Put in by a member")) * count
        shares = [s for s in found.inputs.records("shares").values() if s.kind == "member_shares"]
        whole = sum(share.amount.likely for share in shares)
        whole = whole or found.ledger.lines["owners_money"].sum()
        assert paid == pytest.approx(whole, abs=0.5 * count * len(table.header))


def test_rulings_add_up_to_the_whole(outcome: Outcome) -> None:
    """Amounts of the rulings add up to all lines, and those of the reasons to their ruling."""
    build = next(iter(outcome))
    for programme in ("eu_leader", "us_fsa_microloan", "uk_rural_prosperity"):
        found = fc.eligibility(outcome.case, programme, build, outcome)
        table = programme_tables.ruling_table(outcome, found)
        heads = [row for row in table.rows[:-1] if row[0]]
        whole = digits(table.rows[-1][1])
        assert sum(digits(row[1]) for row in heads) == pytest.approx(whole, abs=len(heads))
        parts = [row for row in table.rows if not row[0]]
        assert sum(digits(row[1]) for row in parts) == pytest.approx(whole, abs=len(parts))
        assert all(row[3] for row in parts)
        assert found.granted_in_words in " ".join(table.notes)
        lacking = programme_tables.lacking_table(outcome, found)
        assert [row[0] for row in lacking.rows] == list(found.lacking["label"])
        rules = programme_tables.rule_table(found)
        assert len(rules.rows) == len(found.rules)
        assert [row[0] for row in programme_tables.caution_list(found).rows] == list(found.cautions)


def test_every_programme_stands_in_one_table() -> None:
    """Each row's four amounts add up to the same whole, for programmes that count VAT alike."""
    case = fc.open_case(FOLDERS[0])
    outcome = fc.evaluate(case)
    build = next(iter(outcome))
    table = programme_tables.programmes_table(outcome, build)
    for row in table.rows:
        found = fc.eligibility(case, row[0], build, outcome)
        assert row[1] == found.label and row[-1] == str(len(found.lacking))
        assert sum(digits(cell) for cell in row[2:6]) == pytest.approx(found.whole, abs=2)


def test_a_case_without_loans_grants_or_gates_says_so() -> None:
    """Without a loan no year has debt service, and no table breaks."""
    case = fc.open_case(TESTS / "small_case")
    outcome = fc.evaluate(case.vary({f"loans.{name}.amount": 0.0 for name in case.loans}))
    for build in outcome:
        table = lender_tables.debt_cover_table(outcome, build)
        cells = row_of(table, "Debt cover before drawings")
        assert set(cells) == {say.NONE_DUE}
        cells = row_of(
            lender_tables.loan_security_table(outcome, build), "Forced-sale value over loans"
        )
        assert set(cells) == {say.NO_LOAN}


def test_strong_rows_and_notes_stand_in_text_and_on_the_page() -> None:
    """Bold is only for the page; notes stand under the table in both."""
    table = Table(["a", "b"], [["x", "1"], ["sum", "1"]], strong={1}, notes=["Under <it>."])
    html = table._repr_html_()
    assert html.count("font-weight:bold") == 2 and "Under &lt;it&gt;." in html
    assert table.text().splitlines()[-1] == "Under <it>."
    both = pages.Pages([table, table])
    assert repr(both).count("Under <it>.") == 2


def test_the_threshold_can_be_another_of_the_table() -> None:
    """A case that names another threshold has it shown."""
    case = fc.open_case(FOLDERS[0])
    other = fc.evaluate(case.vary({"money.coverage_threshold": "sba_7a_coverage_small"}))
    given = lender_tables.threshold_of(other)
    assert given == band("sba_7a_coverage_small") and given.low == 1.1
    money_text = money(given.low, "EUR", "en_IE", 2)
    assert money_text == "€1.10"
