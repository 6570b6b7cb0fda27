"""Allowances for tax: against printed tables and worked examples, and what must always hold."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from farmcase.errors import CaseError, NotFoundError
from farmcase.inputs.reference import reference_table
from farmcase.money.allowances import (
    allowance_matrix,
    allowances_by_year,
    last_quarter_share,
    over_limit,
    pool_rates,
    written_down,
)
from farmcase.money.fiscal_years import FiscalYears, by_fiscal_year, fiscal_years
from farmcase.money.schedules import DatedRate, Schedule, schedule_from_rows, schedule_rows

FOLDER = Path(__file__).parent / "published"
SOURCES = {p.stem: json.loads(p.read_text(encoding="utf-8")) for p in FOLDER.glob("*.json")}
OURS = {name: s for name, s in sorted(SOURCES.items()) if s.get("subject") == "allowances"}
TRIED: set[str] = set()


def published(kind: str) -> pytest.MarkDecorator:
    """Run a test for every published case of a kind."""
    TRIED.add(kind)
    found = [
        pytest.param(case, id=f"{name} {case['id']}")
        for name, source in OURS.items()
        for case in source["cases"]
        if case["kind"] == kind
    ]
    return pytest.mark.parametrize("case", found)


def test_every_published_case_is_tried() -> None:
    """No case lies in a file without a test that uses it, and each says where it was read."""
    assert {case["kind"] for source in OURS.values() for case in source["cases"]} == TRIED
    for source in OURS.values():
        assert source["source"] and source["read_at"] and source["mark"]
        for case in source["cases"]:
            assert case["place"] and case["tolerance_reason"]


def of_data(name: str, **given: Any) -> Schedule:
    """A schedule of the reference table."""
    return schedule_from_rows(schedule_rows(name), **given)


def plain_pool(share: float) -> Schedule:
    """A pool with one rate for ever."""
    return Schedule("plain pool", "pool", (DatedRate(share),))


def years_of(case: dict[str, Any], months: int) -> FiscalYears:
    """The fiscal years of a published case, which spends in month 0."""
    given = case["inputs"]
    months = given.get("months", months)
    return fiscal_years(given["first_month"], months, given["year_end_month"], given.get("opens"))


def deducted_and_left(case: dict[str, Any], schedule: Schedule, months: int) -> tuple[Any, Any]:
    """Deductions by fiscal year, and what is left, of money spent in month 0."""
    years = years_of(case, months)
    spent = np.zeros((1, 1, years.of_month.size))
    spent[..., 0] = case["inputs"]["spent"]
    matrix = allowance_matrix(schedule, years)
    return allowances_by_year(spent, matrix[None])[0], written_down(matrix, spent[0, 0])


# The US tables.


def half_year_percent(life: int, scale: float) -> list[float]:
    """26 USC 168 (b), (d): declining balance, half years at both ends, straight line when more."""
    left, found = 100.0, []
    for year in range(life + 1):
        part = 0.5 if year in (0, life) else 1.0
        years_left = life - max(0.0, year - 0.5)
        declining, straight = left * scale / life * part, left * min(1.0, part / years_left)
        found.append(max(declining, straight) if year < life else left)
        left -= found[-1]
    return found


@published("table")
def test_us_tables(case: dict[str, Any]) -> None:
    """IRS Publication 946, Table A-1: printed, adding to 100, and following the rule of the act."""
    given, printed = case["inputs"], case["printed"]
    years = fiscal_years("2027-06", 12 * len(printed) - 5, 12)
    rows = allowance_matrix(of_data(given["schedule"]), years)
    assert_allclose(100 * rows[0], printed, rtol=0, atol=case["tolerance"])
    assert 100 * rows[0].sum() == pytest.approx(100, abs=1e-9)
    rule = half_year_percent(given["life_years"], given["declining_scale"])
    assert sum(rule) == pytest.approx(100, abs=1e-9)
    assert_allclose(100 * rows[0], rule, rtol=0, atol=case["formula_tolerance"])
    # of money spent a year later the last rates lie beyond the horizon
    assert_allclose(100 * rows[12, 1:], printed[:-1], rtol=0, atol=case["tolerance"])
    left = written_down(rows, np.eye(years.of_month.size)[12])
    assert 100 * left == pytest.approx(printed[-1], abs=1e-9)


@published("misprint")
def test_a_wrong_rate_is_refused(case: dict[str, Any], tmp_path: Path) -> None:
    """A public model carries 6.83 where Table A-1 has 6.93: the column sum gives it away."""
    given = case["inputs"]
    rows = [dict(row) for row in schedule_rows(given["schedule"])]
    rows[given["year"] - 1]["rate_share"] = str(given["rate_percent"] / 100)
    total = sum(100 * float(row["rate_share"]) for row in rows)
    assert total == pytest.approx(case["printed"], abs=case["tolerance"])
    sentence = (
        "reference/allowances.csv: the allowance schedule 'us_macrs_15y' has rates that add to "
        "0.999; the rates of a table add to 1; correct its rows."
    )
    with pytest.raises(CaseError) as caught:
        schedule_from_rows(rows)
    assert str(caught.value) == sentence
    # the same from a table of the case's own, whose rows replace ours
    own = tmp_path / "reference" / "allowances.csv"
    own.parent.mkdir()
    wrong = rows[given["year"] - 1]
    own.write_text(",".join(wrong) + "\n" + ",".join(wrong.values()).replace(", ", " "), "utf-8")
    with pytest.raises(CaseError) as caught:
        schedule_from_rows(schedule_rows(given["schedule"], tmp_path))
    assert str(caught.value) == sentence


@published("amounts")
def test_amounts_by_a_us_table(case: dict[str, Any]) -> None:
    """Worked example: the first two years of 5-year property."""
    taken, left = deducted_and_left(case, of_data(case["inputs"]["schedule"]), 15)
    assert_allclose(taken, case["printed"], rtol=0, atol=case["tolerance"])
    assert left == pytest.approx(5000 - 2600, abs=1e-9)


@published("last_quarter")
def test_share_of_the_last_quarter(case: dict[str, Any]) -> None:
    """A tax guide: what was bought in the last three months of the year."""
    years = fiscal_years("2012-01", 24, 12)
    spent = np.zeros(24)
    for month, amount in case["inputs"]["spent"].items():
        spent[int(month[-2:]) - 1] = amount
    share = last_quarter_share(spent, years)
    assert 100 * share[0] == pytest.approx(case["printed"], abs=case["tolerance"])
    assert share[1] == 0
    # definition: spread evenly, a quarter of a year's money falls in its last three months
    assert last_quarter_share(np.ones(24), years).tolist() == [0.25, 0.25]


# Straight line.


@published("straight_line")
def test_straight_line(case: dict[str, Any]) -> None:
    """Source and place in the file: a life in years, by months from the month of spending."""
    schedule = of_data("straight_line", life_years=case["inputs"]["life_years"])
    taken, left = deducted_and_left(case, schedule, 12 * len(case["printed"]) - 11)
    assert_allclose(taken, case["printed"], rtol=0, atol=case["tolerance"])
    assert left == pytest.approx(0, abs=1e-9)


@published("share_a_year")
def test_share_a_year(case: dict[str, Any]) -> None:
    """HMRC CA91300: nine twelfths of 3 percent in the first year."""
    row = {"schedule": "building", "kind": "straight_line", "id": "building"}
    row["rate_share"] = str(case["inputs"]["share_per_year"])
    taken, _ = deducted_and_left(case, schedule_from_rows([row]), 0)
    assert_allclose(taken, case["printed"], rtol=0, atol=case["tolerance"])


# Pools.


@published("pool")
def test_pool(case: dict[str, Any]) -> None:
    """Rates of the policy paper, figures computed from them: each year a share of what is left."""
    taken, left = deducted_and_left(case, of_data(case["inputs"]["schedule"]), 60)
    assert_allclose(taken, case["printed"], rtol=0, atol=case["tolerance"])
    assert left == pytest.approx(case["left"], abs=case["tolerance"])


@published("pool_rate")
def test_a_year_that_straddles_a_change_takes_both_rates(case: dict[str, Any]) -> None:
    """Method of the policy paper; one of the figures is printed by an adviser."""
    rates = pool_rates(of_data(case["inputs"]["schedule"]), years_of(case, 1))
    assert 100 * rates == pytest.approx(case["printed"], abs=case["tolerance"])


@published("short_year")
def test_a_short_first_year_takes_less(case: dict[str, Any]) -> None:
    """HMRC EIM36915 and CA11110: by the months since the business began."""
    taken, left = deducted_and_left(case, plain_pool(case["inputs"]["pool_share"]), 0)
    assert_allclose(taken, case["printed"], rtol=0, atol=case["tolerance"])
    assert left == pytest.approx(case["left"], abs=case["tolerance"])


@published("first_year")
def test_share_at_once_and_the_rest_to_a_pool(case: dict[str, Any]) -> None:
    """HMRC EIM36910; Capital Allowances Act 2001, section 58 (5): the rest joins a year later."""
    given = case["inputs"]
    pool = plain_pool(given["pool_share"])
    schedule = Schedule("at once", "first_year", (DatedRate(given["share"]),), pool=pool)
    taken, left = deducted_and_left(case, schedule, 0)
    assert_allclose(taken, case["printed"], rtol=0, atol=case["tolerance"])
    assert left == pytest.approx(case["left"], abs=case["tolerance"])


@published("first_year_data")
def test_first_year_share_of_the_data(case: dict[str, Any]) -> None:
    """A published reckoning of the UK share of 2026: 400,000, then 14 percent of 600,000."""
    pool = of_data(case["inputs"]["pool"])
    taken, _ = deducted_and_left(case, of_data(case["inputs"]["schedule"], pool=pool), 15)
    assert_allclose(taken, case["printed"], rtol=0, atol=case["tolerance"])


def test_first_year_share_goes_by_the_day_of_spending() -> None:
    """HMRC policy paper: from 1 January 2026; the pool takes 18 percent to 31 March."""
    schedule = of_data("uk_first_year_40", pool=of_data("uk_main_pool_company"))
    rows = allowance_matrix(schedule, fiscal_years("2025-12", 5, 3))
    assert_allclose(rows[0], [0.18, 0.82 * 0.14], rtol=1e-12)
    assert_allclose(rows[1], [0.4, 0.6 * 0.14], rtol=1e-12)
    # both ends of the days in force count
    day = DatedRate(0.4, date(2026, 1, 31), date(2026, 1, 31))
    one_day = Schedule("one day", "first_year", (day,), pool=plain_pool(0.0))
    rows = allowance_matrix(one_day, fiscal_years("2025-12", 5, 3))
    assert rows[:, 0].tolist() == [0.0, 0.4, 0.0, 0.0, 0.0]


# Limits.


@published("limit")
def test_limit_of_a_short_year(case: dict[str, Any]) -> None:
    """HMRC CA11110 and guidance: six months have half of the limit; what is above is told."""
    given = case["inputs"]
    years = years_of(case, 1)
    limit = Schedule(
        "limit", "annual_limit", (DatedRate(1.0),), limit_per_year=given["limit_per_year"]
    )
    above = over_limit(np.array([[given["spent"]]]), limit, years)
    assert given["spent"] - above[0, 0] == pytest.approx(case["printed"], abs=case["tolerance"])
    assert_allclose(allowance_matrix(limit, years), [[1.0]], rtol=0)


def test_spending_within_the_limit_is_not_told() -> None:
    """Definition: spending above the limit of each fiscal year, and nothing below it."""
    limit = of_data("uk_annual_investment_allowance")
    years = fiscal_years("2027-02", 14, 3)
    spent = np.zeros((2, 14))
    spent[:, [0, 1, 2]] = [[400_000.0, 600_000.0, 1_000_000.0], [400_000.0, 600_001.0, 0.0]]
    assert over_limit(spent, limit, years).tolist() == [[0.0, 0.0], [1.0, 0.0]]


# Fiscal years.


def test_fiscal_years_of_a_project() -> None:
    """The calendar: ten years from February 2027, with a year to March."""
    years = fiscal_years("2027-02", 121, 3)
    assert years.last_month.size == 11
    assert years.of_month[[0, 1, 2, 13, 14, 120]].tolist() == [0, 0, 1, 1, 2, 10]
    assert (years.first_days[0], years.last_days[0]) == (date(2026, 4, 1), date(2027, 3, 31))
    assert years.last_days[-1] == date(2037, 3, 31)
    assert years.spent_days[:2] == (date(2027, 2, 28), date(2027, 3, 31))
    assert years.spent_days[12] == date(2028, 2, 29)


def test_a_new_business_begins_with_a_short_year() -> None:
    """The calendar: opened in June 2027 with a year to December; May counts in it."""
    years = fiscal_years("2027-05", 9, 12, opens="2027-06")
    assert years.of_month.tolist() == [0] * 8 + [1]
    assert years.first_days == (date(2027, 6, 1), date(2028, 1, 1))
    assert years.length_years.tolist() == [7 / 12, 1]
    # opened after the end of a calendar year: there is no fiscal year before
    assert fiscal_years("2026-12", 2, 12, opens="2027-01").of_month.tolist() == [0, 0]
    # straight line runs from the opening, not from the day of spending
    line = allowance_matrix(of_data("straight_line", life_years=1.0), years)
    assert_allclose(line[0], [7 / 12, 5 / 12], rtol=1e-12)


first_months = st.dates(date(2021, 6, 1), date(2040, 1, 1)).map(lambda day: f"{day:%Y-%m}")


@given(first_months, st.integers(1, 150), st.integers(1, 12))
def test_each_month_lies_in_its_fiscal_year(first: str, months: int, end: int) -> None:
    """The calendar: years follow one another without a gap, and each month falls into its own."""
    years = fiscal_years(first, months, end)
    for day, year in zip(years.spent_days, years.of_month, strict=True):
        assert years.first_days[year] <= day <= years.last_days[year]
    assert {day.month for day in years.last_days} == {end}
    starts = [day + timedelta(days=1) for day in years.last_days[:-1]]
    assert starts == list(years.first_days[1:])
    assert sorted(set(years.of_month)) == list(range(len(years.last_days)))
    assert by_fiscal_year(np.ones(months), years).sum() == months


def test_a_year_has_twelve_months() -> None:
    """A month that is none is refused."""
    with pytest.raises(ValueError, match="no month 13"):
        fiscal_years("2027-01", 12, 13)


# What always holds.


def every_schedule() -> list[Schedule]:
    """All schedules of the reference table, with a life and a pool where they leave it open."""
    names = dict.fromkeys(row["schedule"] for row in reference_table("allowances").values())
    pool = of_data("uk_main_pool_income_tax")
    return [of_data(name, life_years=8.25, pool=pool) for name in names]


SCHEDULES = every_schedule()


@given(
    st.sampled_from(SCHEDULES),
    first_months,
    st.integers(1, 12),
    st.integers(0, 40),
    st.lists(st.floats(0, 1e6), min_size=1, max_size=180),
)
def test_deductions_and_what_is_left_are_the_spending(
    schedule: Schedule, first: str, end: int, opens_after: int, spent: list[float]
) -> None:
    """Nothing is deducted twice, before it is spent, or below zero."""
    day = date.fromisoformat(f"{first}-01") + timedelta(days=31 * opens_after)
    years = fiscal_years(first, len(spent), end, f"{day:%Y-%m}" if opens_after else None)
    matrix = allowance_matrix(schedule, years)
    assert matrix.shape == (len(spent), len(years.last_days))
    assert matrix.min() >= 0
    taken = allowances_by_year(np.array([[spent]]), matrix[None])[0]
    left = written_down(matrix, np.array(spent))
    total = sum(spent)
    assert taken.min() >= 0 and left >= 0
    assert taken.sum() + left == pytest.approx(total, rel=1e-9, abs=1e-6)
    known = np.cumsum(by_fiscal_year(np.array(spent), years))
    assert (taken.cumsum() <= known * (1 + 1e-9) + 1e-6).all()


def test_nothing_less_than_nothing_is_left() -> None:
    """Rates may miss 1 by a hair; then nothing is left, and not a hair below nothing."""
    table = Schedule("hair", "table", (DatedRate(0.5), DatedRate(0.5 + 5e-10)))
    matrix = allowance_matrix(table, fiscal_years("2027-01", 13, 12))
    assert written_down(matrix, np.eye(13)[0]) == 0


def test_all_kinds_stand_in_the_data() -> None:
    """The data hold each kind at least once, so that the tests above try each."""
    assert {schedule.kind for schedule in SCHEDULES} == {
        *("straight_line", "table", "pool", "first_year", "annual_limit")
    }


def block(scenarios: int) -> tuple[Any, Any]:
    """Random spending in six classes over ten years, and the matrices of six schedules."""
    years = fiscal_years("2027-02", 121, 3)
    names = ("us_macrs_7y", "uk_main_pool_company", "uk_annual_investment_allowance")
    pool = of_data("uk_main_pool_company")
    schedules = [of_data(name) for name in names]
    schedules += [of_data("straight_line", life_years=life) for life in (3.5, 10.0)]
    schedules += [of_data("uk_first_year_40", pool=pool)]
    matrices = np.stack([allowance_matrix(schedule, years) for schedule in schedules])
    random = np.random.default_rng(5)
    additions = random.uniform(0, 1e5, (scenarios, 6, 121))
    return additions * (random.uniform(size=additions.shape) < 0.2), matrices


def test_a_scenario_has_the_same_bits_beside_any_others() -> None:
    """Design, section 6: chunk sizes agree bit for bit, whatever the memory looks like."""
    additions, matrices = block(300)
    together = allowances_by_year(additions, matrices)
    assert_allclose(together, np.einsum("sct,cty->sy", additions, matrices), rtol=1e-12)
    for size in (1, 2, 7, 64, 256):
        for part in (additions[:size], np.asfortranarray(additions[:size])):
            assert (allowances_by_year(part, matrices) == together[:size]).all()
    left = written_down(matrices[1], additions[:, 1])
    assert (written_down(matrices[1], additions[:1, 1]) == left[:1]).all()


# What cannot be right.


def refusal(**given: Any) -> str:
    """The sentence with which a schedule is refused."""
    with pytest.raises(CaseError) as caught:
        Schedule("odd", **given)
    return str(caught.value)


ONE = (DatedRate(1.0),)
TWICE = (DatedRate(0.2, last_day=date(2026, 4, 1)), DatedRate(0.1, first_day=date(2026, 4, 1)))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"kind": "guess", "rates": ONE}, "of the kind 'guess'; kinds are straight_line, table"),
        ({"kind": "pool", "rates": (DatedRate(1.2),)}, "rates [1.2]; a rate is a share"),
        ({"kind": "pool", "rates": (DatedRate(float("nan")),)}, "rates [nan]; a rate is a share"),
        ({"kind": "pool", "rates": TWICE}, "two rates on one day"),
        ({"kind": "table"}, "no rates"),
        ({"kind": "table", "rates": (DatedRate(0.5), DatedRate(0.5 - 2e-9))}, "0.999999998;"),
        ({"kind": "straight_line"}, "no life"),
        ({"kind": "straight_line", "life_years": 0.0}, "no life"),
        ({"kind": "first_year", "rates": ONE}, "no pool"),
        ({"kind": "annual_limit", "rates": ONE}, "no limit"),
    ],
)
def test_a_schedule_that_cannot_be_right_is_refused(given: dict[str, Any], words: str) -> None:
    """One sentence says which schedule, what is there, and what may be there."""
    sentence = refusal(**given)
    assert words in sentence
    assert sentence.startswith("reference/allowances.csv: the allowance schedule 'odd' ")
    assert sentence.endswith(".") and "\n" not in sentence


@pytest.mark.parametrize(
    ("name", "column", "text", "words"),
    [
        ("us_macrs_3y", "rate_share", "a third", "rate_share of row 'us_macrs_3y_year_1' is 'a t"),
        ("us_macrs_3y", "year", "2", "years 1 to 4 are needed once"),
        ("us_macrs_3y", "valid_from", "1987", "a day such as 2026-04-01 is needed"),
        ("uk_annual_investment_allowance", "amount", "", "amount of row 'uk_annual_investment_"),
        ("straight_line", "rate_share", "x", "rate_share of row 'straight_line' is 'x'"),
    ],
)
def test_a_row_that_cannot_be_read_is_refused(
    name: str, column: str, text: str, words: str
) -> None:
    """One sentence says which row and column."""
    rows = [dict(row) for row in schedule_rows(name)]
    rows[0][column] = text
    with pytest.raises(CaseError) as caught:
        schedule_from_rows(rows, life_years=3.0)
    assert words in str(caught.value) and "\n" not in str(caught.value)


def test_an_unknown_schedule_is_told_with_the_nearest() -> None:
    """A name that is not there, and the one that was meant."""
    with pytest.raises(NotFoundError, match="did you mean 'us_macrs_10y'"):
        schedule_rows("us_macrs_10")


def test_days_without_a_rate_are_told() -> None:
    """Money spent, or a fiscal year, before a schedule came into force."""
    with pytest.raises(CaseError, match="no rate for 2018-12-31; it is in force from 2019-01-01"):
        allowance_matrix(of_data("uk_annual_investment_allowance"), fiscal_years("2018-12", 3, 3))
    with pytest.raises(CaseError, match="without a rate from 2018-05-01 to 2019-04-30"):
        allowance_matrix(of_data("uk_special_pool_company"), fiscal_years("2019-04", 3, 4))


def test_rows_may_stand_in_any_order() -> None:
    """A table goes by its years, a pool by its days."""
    for name in ("us_macrs_5y", "uk_main_pool_company"):
        rows = schedule_rows(name)
        assert schedule_from_rows(rows[::-1]) == schedule_from_rows(rows)
