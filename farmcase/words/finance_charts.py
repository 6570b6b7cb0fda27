"""Titles, notes and labels of the charts of cash, debt cover, security, worth and gates."""

from __future__ import annotations

from collections.abc import Sequence

from farmcase.words.charts import listed, sentence

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
YEAR_ENDS = "Fiscal year to the end of"
BOOK_VALUE, FORCED_SALE, LOANS = "book value", "forced-sale value", "loans owed"
BEFORE, AFTER = "before drawings and tax", "after tax and drawings"


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
