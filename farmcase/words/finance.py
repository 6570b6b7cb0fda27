"""Headings and sentences of the pages on money: statements, debt cover, security, gates, grants."""

from __future__ import annotations

from collections.abc import Sequence

from farmcase.words.charts import listed, sentence

USES, SOURCES = "Uses", "Sources"
USES_IN_ALL, SOURCES_IN_ALL = "Uses in all", "Sources in all"
PROFIT_AND_LOSS, CASH_FLOW, BALANCE_SHEET = "Profit and loss", "Cash flow", "Balance sheet"
CASH_BY_MONTH = "Cash by month"
COVER, RATIOS, SECURITY, MEMBER = "Debt cover", "Ratios", "Security beside the loans", "One member"
MONTH_OF_MONEY_NEEDED = "Month in which most money is needed"
YEAR_OF_LEAST_COVER = "Fiscal year of lowest debt cover"
THRESHOLD = "Lender's threshold"
NONE_DUE = "none due"
NO_LOAN = "no loan"
NO_MEMBERS = "The case names no members, so nothing is reckoned for one: give standing.members."
NO_GRANT = "This build counts on no grant."
NO_GATES = "Nothing of this build waits for a consent, a connection or a promise."

OWN_HOURS_PAID = (
    "Own hours are charged at what they are worth elsewhere and stand in cash as if paid; the "
    "table of own hours shows the other two ways."
)
SOLD_AT_END = "In the last month all that is left is sold and what is owed is settled."
PROJECT_ALONE = "The project by itself; the business as it stands is not in it."
COVER_BASIS = (
    "Before drawings and tax: operating surplus with what own hours are charged added back. After "
    "tax and drawings: less tax paid, own hours and what members are paid. Debt service: interest "
    "and principal due by plan; early repayments and the overdraft are not counted."
)
RATIO_BASIS = (
    "At the end, or over the months, of each fiscal year. The last is left out, since all is sold "
    "in it. Readings are for orientation: shown, not decided."
)
SECURITY_BASIS = (
    "Bought things only, without contingency, own hours and VAT. Forced-sale value is each thing's "
    "own share of its price, falling in a straight line to nothing at the end of its life."
)
MEMBER_BASIS = "What own hours are charged counts as paid back; hours of building are counted too."
GATES_BASIS = (
    "A gate is open when its own month has come and the gates it waits for are open. Low and high: "
    "every gate early, or every gate late. To spare: months by which it could open later before it "
    "holds a payment back; below nil it holds payments back already."
)
GRANT_BASIS = (
    "A claim takes in what has been paid since the one before; the grant comes after it, so the "
    "money is laid out first."
)
CASH_NOTE = (
    "Cash less overdraft at the end of each month, at the likely values, own hours counted as if "
    "paid. Above: what owners, lenders and grants bring, in thousands. Dashed line: limit of the "
    "overdraft."
)
COVER_NOTE = (
    "Cash available over interest and principal due by plan, by fiscal year. Years without debt "
    "service have no bar. Dashed line: the threshold that the case names; shown, not decided."
)
SECURITY_NOTE = (
    "At the end of each fiscal year. Forced-sale value is what a quick sale of bought things might "
    "bring, by the shares the case states."
)
WORTH_NOTE = (
    "Net present value of the project's own cash at every discount rate. Where a curve crosses nil "
    "lies an internal rate of return; upright line: the rate of the case."
)
GATES_NOTE = (
    "Bar: from all gates early to all gates late. Mark: likely. The black mark is the critical "
    "gate, the one with the least to spare."
)
PROGRAMMES_BASIS = (
    "Amounts of all lines of cost, running costs of the first settled year among them, at "
    "start-month prices without VAT. Papers lacking are those asked for and not, or only in part, "
    "in the case."
)
ITEMS_BASIS = (
    "All lines of cost at start-month prices without VAT; the largest of each reason are named."
)
NOTHING_LACKING = "Nothing that was seen to be asked for is lacking."
NO_DECLARATION = "No declaration of public aid was seen to be asked for."
NO_DATE = "no date"
CAUTIONS = "To be read with it"
IN_ALL = "In all"
YEAR_ENDS = "Fiscal year to the end of"
FIRST_STARTS = "First starts"
BOOK_VALUE, FORCED_SALE, LOANS = "book value", "forced-sale value", "loans owed"
BEFORE, AFTER = "before drawings and tax", "after tax and drawings"
MARKS = {
    "read": "read",
    "second_hand": "second-hand",
    "memory_high": "from memory",
    "memory_medium": "from memory",
    "memory_low": "from memory",
    "computed": "worked out",
}
READINGS = {
    "good": "good",
    "caution": "caution",
    "weak": "weak",
    "meets": "meets",
    "covers_payments": "covered",
    "covers_payments_and_replacement": "covered",
}
NOT_REACHED = "short"
GATE_KINDS = {
    "planning": "planning",
    "power": "power",
    "water": "water",
    "tenure": "land",
    "award": "award of a grant",
    "finance": "loan",
}


def in_currency(build: str, what: str, currency: str) -> str:
    """The caption of a table of one build whose cells bear no currency sign."""
    return f"{build}: {what.lower()}, {currency}"


def year_to(month: str) -> str:
    """A fiscal year by the month in which it ends."""
    return f"to {month}"


def funded_until(build: str, until: str, lowest: str, month: str) -> str:
    """Until when uses and sources are counted, and how low cash runs on the way."""
    return f"{build}: until {until}; cash is lowest in {month}, at {lowest}."


def threshold(source: str, value: str, mark: str, note: str) -> str:
    """The lender's threshold as data."""
    return f"Threshold of {source} ({mark}): {value}; shown, not decided. {note}.".replace(
        "..", "."
    )


def reading_row(number: int) -> str:
    """The row of readings of a ratio, by the number of its source."""
    return f"  as read by source {number}"


def band(reading: str, low: str, high: str) -> str:
    """A reading with its ends."""
    ends = f"from {low} to {high}" if low and high else f"from {low}" if low else f"below {high}"
    return f"{READINGS[reading]} {ends}"


def bands(what: str, parts: Sequence[str], where: str) -> str:
    """All readings of a measure by one source."""
    return f"{what}: {', '.join(parts)} ({where})."


def source_number(number: int) -> str:
    """A source by its number."""
    return f"source {number}"


def source_named(number: int, source: str, mark: str) -> str:
    """What a number of a source stands for."""
    return f"Source {number}: {source} ({MARKS[mark]})."


def source_in_words(source: str, mark: str) -> str:
    """A source and how it is known."""
    return f"{source}; {MARKS[mark]}"


def rows_wait(count: int, amount: str) -> str:
    """Capital rows that wait for a gate."""
    return f"one row of capital ({amount})" if count == 1 else f"{count} rows of capital ({amount})"


def spare_months(spare: int, critical: bool) -> str:
    """Months to spare, and whether the gate is the critical one."""
    return f"{spare} (critical)" if critical else str(spare)


def claim_of(month: str) -> str:
    """The row of a claim."""
    return f"Claimed in {month}"


def paid_in(month: str) -> str:
    """The row of a payment."""
    return f"Paid in {month}"


def runs_lowest(build: str, lowest: str, month: str, limit: str, over: bool, short: bool) -> str:
    """When cash is lowest, and how that stands to the limit of the overdraft."""
    if not short:
        return f"{build} is never overdrawn: cash is lowest in {month}, at {lowest}"
    how = f"more than its overdraft limit of {limit}" if over else f"within its limit of {limit}"
    return f"{build} runs lowest in {month}, at {lowest}, {how}"


def overdraft_limit(limit: str) -> str:
    """The label of the line of the limit."""
    return f"overdraft limit {limit}"


def at_lowest(lowest: str, month: str) -> str:
    """The label of the trough."""
    return f"{lowest}, {month}"


def thousands(currency: str) -> str:
    """The title of the rows of what comes in."""
    return f"{currency} 1,000"


GRANT_PAID, DRAWN, PUT_IN = "grant", "loan", "own money"


def cover_found(threshold_text: str, below_before: int, below_after: int, years: int) -> str:
    """In how many years with debt service cover is below the threshold."""
    if not below_before and not below_after:
        return f"debt cover is at least {threshold_text} in all {years} years"
    return (
        f"debt cover is below {threshold_text} in {below_before} of {years} years before "
        f"drawings and tax, in {below_after} after them"
    )


NO_DEBT = "no debt service"


def secured(first: str, always: bool) -> str:
    """From which year on a forced sale would cover the loans."""
    if always:
        return "a forced sale would cover the loans in every year"
    if not first:
        return "a forced sale would cover the loans in no year"
    return f"a forced sale covers what is owed from the year to {first} on"


NOTHING_OWED = "no loan is owed"


def of_builds(found: Sequence[tuple[str, str]]) -> str:
    """What is found of each build; builds of which the same is found stand together."""
    together: dict[str, list[str]] = {}
    for build, said in found:
        together.setdefault(said, []).append(build)
    return "; ".join(f"{listed(builds)}: {said}" for said, builds in together.items())


def worth_below(build: str, rate: str) -> str:
    """A single internal rate, above which the build is worth less than nothing."""
    return f"{build} is worth something at rates below {rate}"


def worth_above(build: str, rate: str) -> str:
    """A single internal rate, below which the build is worth less than nothing."""
    return f"{build} is worth something only at rates above {rate}"


def worth_several(build: str, rates: Sequence[str]) -> str:
    """Several internal rates."""
    return f"{build} crosses nil at {' and '.join(rates)}, so no single rate stands for it"


def worth_none(build: str, worth: bool) -> str:
    """No internal rate."""
    return f"{build} is worth {'something' if worth else 'less than nothing'} at every rate"


def rate_of_case(rate: str) -> str:
    """The label of the line of the discount rate."""
    return f"rate of the case, {rate}"


NO_GATE = "no gate is waited for"


def critical(gate: str, opens: str) -> str:
    """The critical gate of a build."""
    return f"{gate} is the critical gate, open in {opens}"


def gates_found(gates: Sequence[tuple[str, str]], starts: Sequence[tuple[str, str]]) -> str:
    """The critical gates and the first starts; what holds of every build is said once."""
    same = len({said for _, said in gates}) == 1
    first = sentence(gates[0][1]) if same else of_builds(gates)
    if len({month for _, month in starts}) == 1:
        return f"{first}; first starts in {starts[0][1]}"
    return (
        f"{first}; first starts: {of_builds([(build, f'in {month}') for build, month in starts])}"
    )


def some_of(named: Sequence[str], more: int) -> str:
    """The largest of a list, and how many more there are."""
    return "; ".join(named) + (f"; and {more} more" if more > 0 else "")


def of_programme(build: str, programme: str) -> str:
    """The caption of a table of one build under one programme."""
    return f"{build}, {programme}"


def granted_now(now: str, then: str) -> str:
    """What is granted as the case stands, and with all evidence."""
    return f"Granted as the case stands: {now}; with all evidence that is still wanted: {then}."
