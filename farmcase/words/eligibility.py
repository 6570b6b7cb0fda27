"""Sentences about what a programme pays of a build, and what an application still lacks."""

from __future__ import annotations

from farmcase.words.contents import KINDS

FUNDED = "funded"
REFUSED = "refused"
WANTS_EVIDENCE = "wants evidence"
NOT_FUNDABLE = "not fundable under this programme"

HELD = "in the case"
MADE = "made by this workbook"
IN_PART = "in part"
NOT_SEEN = "not seen in the case"
NOT_ASKED = "not asked for"

NEEDS = {
    "required": "required",
    "required_from_memory": "required, from memory: confirm",
    "conditional": "depends on the project: ask",
    "not_seen": "not seen in the papers read",
}

CONFIRM = (
    "Rules are dated and change with every call: confirm with the programme's own current papers."
)
CASE_MARKS_IT = "the case itself marks it not eligible"
OWN_HOURS = "own hours are never a cost that is paid"
SECOND_HAND_UNKNOWN = "it is second-hand, and the papers read do not say whether that counts"
VAT_UNKNOWN = "the case does not say whether VAT can be claimed back (section [vat])"
VAT_CLAIMED_BACK = "it is claimed back from the tax authority"
FLAT_RATE = "the flat rate on sales stands in its place: ask whether it counts"
COUNTED = "it meets the rules that were read"
FROM_MEMORY = " (from memory: confirm)"
OVERHEADS_ONLY = (
    "Overheads of a year; substrate, wages and energy are of a run and not counted here"
)


def sentence(parts: list[str]) -> str:
    """One sentence from its parts."""
    text = "; ".join(dict.fromkeys(part[:1].lower() + part[1:] for part in parts))
    return text[:1].upper() + text[1:] + "."


def not_said(kind: str) -> str:
    """The papers are silent on a kind of cost."""
    return f"the papers read do not say whether they pay for {KINDS[kind]}"


def few_quotes(held: int, needed: int) -> str:
    """Fewer quotes than the value of the item calls for."""
    return f"it has {_quotes(held)} of {needed} needed"


def quotes_not_compared(held: int, most: int, theirs: str, ours: str) -> str:
    """Quotes go by values in another currency."""
    return (
        f"it has {_quotes(held)}, and needs up to {most} by values in {theirs}, which are not "
        f"compared with {ours}"
    )


def _quotes(count: int) -> str:
    return "no quote" if count == 0 else "one quote" if count == 1 else f"{count} quotes"


def no_award_gate() -> str:
    """Nothing may be ordered before the award, and the case has no award."""
    return "the case has no gate of kind award, so it cannot be seen that nothing is ordered before"


def before_award(month: int, award: int) -> str:
    """Paid before the award."""
    return f"money is paid in month {month}, before the award in month {award}"


def vat_label(ruling: str) -> str:
    """The name of the line of VAT on items of one ruling."""
    return f"VAT on items that are {ruling}" if ruling != NOT_FUNDABLE else "VAT on items not paid"


def vat_follows(ruling: str) -> str:
    """VAT goes with its items."""
    return COUNTED if ruling == FUNDED else f"its items are {ruling}"


def loan_no_grant() -> str:
    """A loan grants nothing."""
    return "It is a loan: nothing is granted, and all of it is paid back."


def share_unknown() -> str:
    """The share is not known."""
    return (
        "The papers read name no share, so no amount is worked out: each call or agreement sets it."
    )


def other_currency(theirs: str, ours: str) -> str:
    """Programme and case count in different money."""
    return (
        f"The programme counts in {theirs} and the case in {ours}: no amounts are compared, "
        "neither ceilings nor least amounts nor values for quotes."
    )


def nothing_granted(label: str) -> str:
    """Nothing of the build counts, said in words."""
    return f"{label}: nothing of this build is funded as it stands; each line says why."


def below_least(worked_out: str, least: str) -> str:
    """The grant worked out is below the least that is given."""
    return f"The share comes to {worked_out}, below the least of {least}, so nothing is granted."


def granted(amount: str, share: str, counted: str, at_ceiling: bool) -> str:
    """What is granted, and how it comes about."""
    stop = ", where it stops at its ceiling" if at_ceiling else ""
    return f"{share} of the {counted} that is funded comes to {amount}{stop}."


def with_evidence(amount: str) -> str:
    """What the grant would come to."""
    return f" With all evidence that is still wanted it would be {amount}."


def for_applicants_of(jurisdiction: str, country: str) -> str:
    """Where the programme is for."""
    said = country or "nothing"
    return f"The programme is for applicants of: {jurisdiction}. The case says: {said}."


def first_build(label: str, build_count: int) -> str:
    """No build was named."""
    return (
        f"No build was named: this is {label}, the first of the {build_count} builds of the case."
    )


def dated(label: str, text_date: str, note: str) -> str:
    """How old the rules are."""
    when = f"texts to {text_date}" if text_date else "texts without a date"
    return f"{label}: read from {when}. {note}".strip()


def too_much_ineligible(share: str, rule: str) -> str:
    """Too large a part of the project does not count."""
    return f"{share} of the build does not count. {rule}."


def shorter_lives(count: int, years: int) -> str:
    """Items that do not last as long as they must be kept."""
    rows = (
        "One item that would be paid lasts"
        if count == 1
        else f"{count} items that would be paid last"
    )
    return f"{rows} less than the {years} years for which paid items must be kept."


def funded_items_moved(label: str) -> str:
    """A move takes funded items away."""
    return f"{label}: a funded item leaves, which may have to be paid back."


def asks_more(share: str, theirs: str, grant: str) -> str:
    """The case counts on more than the programme gives."""
    return f"The case counts on {share} in {grant}; the programme gives at most {theirs}."


def counts_other(grant: str, what: str) -> str:
    """The case counts what the programme does not."""
    return f"{grant} in the case counts {what}, which this programme does not pay."


def too_old(age: int, most: int) -> str:
    """The balance sheet is too old at the start month."""
    return f"one not over {most} days old; at the start month this one is {age} days old"


def unevidenced(outlets: list[str]) -> str:
    """Outlets that rest on a conversation or on hope."""
    return f"a contract, a letter or dated trial sales for {', '.join(outlets)}"


def lacking_quotes(count: int) -> str:
    """Rows that lack quotes."""
    rows = "one item" if count == 1 else f"{count} items"
    return f"more quotes for {rows}; the items say how many"


def match_short(covered: str, needed: str) -> str:
    """Own money, shares and loans do not cover the rest."""
    return f"another {needed} of own money, shares or loans; {covered} is in the case"


def consent_awaited(labels: list[str]) -> str:
    """Consents that are still awaited."""
    return f"the papers themselves; still awaited: {', '.join(labels)}"


def below_study(above: str) -> str:
    """No study at this amount."""
    return f"a study only above {above}"


def study_in_other_currency(above: str) -> str:
    """The request cannot be compared."""
    return f"a study made before the request, where it is above {above}"


def declared(ceiling: str, granted_amount: str) -> str:
    """What a declaration adds up to."""
    return f"This grant of {granted_amount} and all such aid received before stay within {ceiling}"


def declared_not_compared(ceiling: str) -> str:
    """A declaration in another currency, or of an unknown grant."""
    return f"This grant and all such aid received before stay within {ceiling}; not compared here"


def over_ceiling(ceiling: str) -> str:
    """The grant alone is over the ceiling."""
    return f"This grant alone is over the ceiling of {ceiling}"
