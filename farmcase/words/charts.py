"""Titles, headings and labels of the charts and of the floor plan."""

from __future__ import annotations

from collections.abc import Sequence

from farmcase.words.verdict import CARRY_ON

# Parts of the cost of a kilogram, in the order they are stacked.
COST_PARTS = {
    "substrate": "Substrate and spawn",
    "wages": "Paid work",
    "own_work": "Own work",
    "energy": "Energy",
    "water": "Water, spent substrate",
    "selling": "Packaging, delivery, fees",
    "overheads": "Overheads, throwing away",
    "building": "Building and equipping",
    "replacements": "Replacements",
    "debtors": "Waiting for payment",
    "vat": "VAT",
    "leases": "Leases",
    "grant": "Grant",
    "end_value": "End value",
    "other_income": "Other income",
}
IN_ALL = "In all"
AVERAGE_PRICE = "Average price"
OWN_BUILDING = "Own work to build"
CONTINGENCY = "Contingency"
GATES = "Consents and connections"
VAT_KEPT = "VAT not recovered"

EXPECTED = "expected to be sold"
START_UP_YEAR = "start-up year"
SETTLED_YEAR = "settled year"
LOW, HIGH = "low", "high"
THE_PLAN = "the plan"

CAPITAL_NOTE = (
    "Each bar begins where the one above it ends. Money of the month it is paid; own hours at what "
    "they are worth elsewhere; grant not taken off, replacements left out."
)
HARVEST_NOTE = (
    "Wide pale bars: picked. Narrow dark bars: sold; the rest is lost in the store or finds no "
    "outlet. Dashed line: the most the outlets take, where it is near. Every later year is like "
    "the settled year."
)
BREAK_EVEN_NOTE = (
    "First settled year. Dark bar: what is expected to be sold. Wide pale bar: what the rooms "
    "could give with every place used and yield at its high. Upright line: where profit is nil."
)
MAP_NOTE = (
    "All prices are scaled by one number and all yields by another; everything else is as planned. "
    "Colour and name: the choice of highest net present value. Black line: where it changes."
)


def amount_axis(what: str, unit: str) -> str:
    """The title of an axis: what it shows and in which unit."""
    return f"{what} ({unit})"


def listed(parts: Sequence[str]) -> str:
    """Parts of a sentence, the last with "and"."""
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]


def sentence(text: str) -> str:
    """A text that begins with a capital letter."""
    return text[:1].upper() + text[1:]


def setting_up(totals: Sequence[tuple[str, str, str, str]]) -> str:
    """What setting up costs: build, total, its largest part and that part's share."""
    said = [
        f"{build} costs {total} to set up, the largest part {part} ({share})"
        for build, total, part, share in totals
    ]
    return "; ".join(said)


def cost_against_price(rows: Sequence[tuple[str, str, str, str]]) -> str:
    """Cost of a kilogram against its average price: build, cost, price, "above" or "below"."""
    said = [
        f"{build} costs {cost} a kilogram, {side} its average price of {price}"
        for build, cost, price, side in rows
    ]
    return "; ".join(said)


def cost_note(rate: str) -> str:
    """How the cost of a kilogram is made up."""
    return (
        "Each bar begins where the one above it ends; hollow bars lower the cost. All months in "
        f"start-month money at {rate} a year: capital is an annuity over the kilograms sold, net "
        "of grant and end value."
    )


def through_the_year(rows: Sequence[tuple[str, str, str, str, str]], unsold: str) -> str:
    """Most and least picked: build, least, its month, most, its month; and what is not sold."""
    said = [
        f"{build} picks from {least} kg in {low_month} to {most} kg in {high_month}"
        for build, least, low_month, most, high_month in rows
    ]
    return "; ".join([*said, unsold])


ALL_TAKEN = "the outlets take it all"
NEARLY_ALL_TAKEN = "the outlets take nearly all"


def some_unsold(rows: Sequence[tuple[str, str]]) -> str:
    """Kilograms of the settled year without an outlet, by build."""
    said = [f"{kilograms} kg a year ({build})" for build, kilograms in rows]
    return f"no outlet for {listed(said)}"


def breaks_even(build: str, at: str, expected: str, share: str, below: bool) -> str:
    """Where a build breaks even, and how far that is from what is expected."""
    side = "below" if below else "above"
    return f"{build} breaks even at {at} kg a year, {share} {side} the {expected} kg expected"


def never_breaks_even(build: str) -> str:
    """No yield of the rooms brings profit to nil."""
    return f"{build} does not break even at any yield the rooms can give"


def always_profits(build: str) -> str:
    """Profit even without a kilogram."""
    return f"{build} makes a profit whatever it yields"


NEVER_BREAKS_EVEN = "no yield the rooms can give breaks even"


def breaks_even_at(kilograms: str) -> str:
    """Label of the line of break-even."""
    return f"breaks even at {kilograms}"


def expected_sold(kilograms: str) -> str:
    """Label of the bar of what is expected."""
    return f"{kilograms} {EXPECTED}"


def possible(kilograms: str) -> str:
    """Label of the bar of what rooms could give."""
    return f"rooms could give {kilograms}"


def outlets_would_take(kilograms: str) -> str:
    """Label of the mark of how much of it could be sold."""
    return f"outlets would take {kilograms}"


def matters_most(measure: str, rows: Sequence[tuple[str, str, str, str]]) -> str:
    """The widest bar of each build: build, input, the measure at its two ends."""
    inputs = {label for _, label, _, _ in rows}
    if len(inputs) == 1:
        ends = [f"from {low} to {high} ({build})" for build, _, low, high in rows]
        return f"{sentence(rows[0][1])} moves {measure} most: {listed(ends)}"
    said = [f"{label}, for {build} ({low} to {high})" for build, label, low, high in rows]
    return f"What moves {measure} most: {'; '.join(said)}"


def tornado_note(most: int) -> str:
    """How to read the tornado."""
    return (
        "One input at a time at its low (pale bar) and its high (dark bar), the others at likely; "
        f"the {most} widest. Numbers at the bars are the input's own ends."
    )


def the_rest(count: int, spread: str) -> str:
    """What the tornado leaves out."""
    return f"and {count} more inputs, whose widths add up to {spread}"


def best_at_plan(best: str, changes: Sequence[tuple[str, bool, str]]) -> str:
    """The choice at the plan; how far up or down all prices change it, and to what.

    The distances are read off the map and rounded to whole percent; the flips have them exactly.
    """
    if not changes:
        return f"{best} is best at the plan, and at every price tried with the plan's yields"
    said = [
        f"{then} if all prices are about {change} {'higher' if higher else 'lower'}"
        for change, higher, then in changes
    ]
    return f"{best} is best at the plan, {listed(said)}"


def carry_on() -> str:
    """The choice of doing none of the builds."""
    return CARRY_ON


def at_likely(value: str) -> str:
    """The measure with every input at likely."""
    return f"{value} with every input at likely"
