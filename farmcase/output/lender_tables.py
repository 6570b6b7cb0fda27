"""What a lender reads, as tables: debt cover, ratios, security, and one member's own account."""

from __future__ import annotations

import math

from farmcase.model.lender import cover_table, ratio_table
from farmcase.model.members import member_table
from farmcase.model.outcome import Outcome
from farmcase.model.security import security_table
from farmcase.model.whole_business import opening_balance
from farmcase.output.readings import Band, band, bands_of, in_words, reading
from farmcase.output.tables import Table
from farmcase.output.year_tables import Shown, heading_of, period_table
from farmcase.words import finance as say
from farmcase.words.labels import COVERS, MEMBERS, RATIOS, SECURITY, STANDING
from farmcase.words.numbers import percent, plain

_COVERS = frozenset(label for name, label in COVERS.items() if "cover" in name)
_IN_MONEY = frozenset(RATIOS[name] for name in ("ebitda", "repayment_margin"))
_AS_SHARE = frozenset(
    RATIOS[name]
    for name in (
        "working_capital_share_of_gross_income",
        "debt_share_of_assets",
        "return_on_assets",
        "return_on_equity",
    )
)


def threshold_of(outcome: Outcome) -> Band:
    """The threshold of debt cover that the case names."""
    case = outcome.case
    return band(case.money.coverage_threshold, case.folder)


def debt_cover_table(outcome: Outcome, build: str) -> Table:
    """Cash available, debt service and cover by fiscal year, with the lender's threshold."""
    found, named = outcome[build], threshold_of(outcome)
    locale = outcome.case.heading.locale
    frame = cover_table(found)
    due = frame.loc[COVERS["service"]].to_numpy(float) > 0
    shown = [named.low if owed else math.nan for owed in due]
    frame.loc[say.THRESHOLD] = shown

    def write(label: str) -> Shown:
        if label in _COVERS or label == say.THRESHOLD:
            return lambda v: plain(v, locale, 2) if math.isfinite(v) else say.NONE_DUE
        return lambda v: plain(v, locale)

    text = say.threshold(
        named.source, plain(named.low, locale, 2), say.MARKS[named.mark], named.note
    )
    return period_table(frame, found, say.COVER, _COVERS, write, [text, say.COVER_BASIS])


def standing_table(outcome: Outcome) -> Table:
    """The opening balance sheet of the business as it stands."""
    heading = outcome.case.heading
    frame = opening_balance(outcome.case)
    rows = [
        [str(label), plain(value, heading.locale)]
        for label, value in zip(frame.index, frame.iloc[:, 0].tolist(), strict=True)
    ]
    sums = ("standing_owned", "standing_owed", "standing_own")
    places = [list(STANDING).index(name) for name in sums]
    caption = say.in_currency(say.AS_IT_STANDS, say.OPENING, heading.currency)
    return Table(["", str(frame.columns[0])], rows, caption, strong=set(places))


def lender_ratio_table(outcome: Outcome, build: str) -> Table:
    """Ratios by fiscal year, and under each what others read into it."""
    found, folder = outcome[build], outcome.case.folder
    locale = outcome.case.heading.locale
    frame = ratio_table(found)
    names = {label: name for name, label in RATIOS.items()}
    rows, strong, said = [], set(), []
    sources: dict[str, str] = {}
    for label, values in zip(frame.index, frame.to_numpy(float), strict=True):
        write = _ratio_writer(str(label), locale)
        strong.add(len(rows))
        rows.append([str(label), *(write(v) for v in values)])
        for source, bands in bands_of(names[str(label)], folder).items():
            sources.setdefault(source, bands[0].mark)
            number = list(sources).index(source) + 1
            rows.append([say.reading_row(number), *(reading(v, bands) for v in values)])
            said.append(in_words(str(label), bands, say.source_number(number), locale))
    named = [say.source_named(i, *item) for i, item in enumerate(sources.items(), 1)]
    header = ["", *(heading_of(str(period), locale) for period in frame.columns)]
    caption = say.in_currency(found.label, say.RATIOS, outcome.case.heading.currency)
    notes = [say.RATIO_BASIS, " ".join(said), " ".join(named)]
    return Table(header, rows, caption, strong=strong, notes=notes)


def _ratio_writer(label: str, locale: str) -> Shown:
    if label in _IN_MONEY:
        return lambda v: plain(v, locale)
    if label in _AS_SHARE:
        return lambda v: percent(v, locale)
    return lambda v: plain(v, locale, 2)


def loan_security_table(outcome: Outcome, build: str) -> Table:
    """Cost, book value and forced-sale value of what was bought, beside the loans."""
    found, locale = outcome[build], outcome.case.heading.locale
    last = SECURITY["forced_over_loans"]

    def write(label: str) -> Shown:
        if label == last:
            return lambda v: percent(v, locale) if math.isfinite(v) else say.NO_LOAN
        return lambda v: plain(v, locale)

    bands = bands_of("discounted_collateral_over_loan", outcome.case.folder)
    said = [
        in_words(last, mine, say.source_in_words(source, mine[0].mark), locale)
        for source, mine in bands.items()
    ]
    notes = [say.SECURITY_BASIS, *said]
    return period_table(security_table(found), found, say.SECURITY, (last,), write, notes)


def forced_sale_table(outcome: Outcome, build: str, most: int = 10) -> Table:
    """The things that a forced sale would bring most for, by fiscal year."""
    found = outcome[build]
    frame = security_table(found, by_row=True)
    order = frame.iloc[:, 0].sort_values(ascending=False, kind="stable").index[:most]
    frame = frame.loc[order]
    return period_table(frame[(frame != 0).any(axis=1)], found, SECURITY["forced_sale"])


def one_member_table(outcome: Outcome, build: str) -> Table:
    """What one member on average puts in and gets back."""
    found = outcome[build]
    if not outcome.case.standing.members:
        return Table(["", ""], [], found.label, notes=[say.NO_MEMBERS])
    frame = member_table(found)
    last = {MEMBERS["so_far"]}
    return period_table(frame, found, say.MEMBER, last, notes=[say.MEMBER_BASIS])
