"""Headings and sentences of the pages on money: statements, debt cover, security, gates, grants."""

from __future__ import annotations

from collections.abc import Sequence

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
OPENING, AS_IT_STANDS = "Opening balance sheet", "The business as it stands"
COVER_BASIS = (
    "Before drawings and tax: operating surplus with what own hours are charged added back. After "
    "tax and drawings: less tax paid, own hours and what members are paid. Debt service: interest, "
    "on the overdraft too, and principal due by plan; early repayments are not counted. Lowest and "
    "mean cover are of full years of growing."
)
RATIO_BASIS = (
    "At the end, or over the months, of each fiscal year. The last is left out, since all is sold "
    "in it. Readings are for orientation: shown, not decided."
)
SECURITY_BASIS = (
    "Bought things only, without contingency, own hours, VAT and what is bought after a lease. "
    "Forced-sale value is each thing's own share of its price, falling in a straight line to "
    "nothing at the end of its life."
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
FIRST_STARTS = "First starts"
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


def some_of(named: Sequence[str], more: int) -> str:
    """The largest of a list, and how many more there are."""
    return "; ".join(named) + (f"; and {more} more" if more > 0 else "")


def of_programme(build: str, programme: str) -> str:
    """The caption of a table of one build under one programme."""
    return f"{build}, {programme}"


def granted_now(now: str, then: str) -> str:
    """What is granted as the case stands, and with all evidence."""
    return f"Granted as the case stands: {now}; with all evidence that is still wanted: {then}."
