"""The choice as tables: the builds side by side, each step upwards, and what would change it."""

from __future__ import annotations

from farmcase.choice.flips import Flip, Flips
from farmcase.choice.increments import increments
from farmcase.inputs.reference import reference_table
from farmcase.inputs.scope import scope_state
from farmcase.model.outcome import Outcome
from farmcase.output.tables import Table
from farmcase.words import choice as say
from farmcase.words.labels import MEASURES
from farmcase.words.numbers import measure_text
from farmcase.words.verdict import CARRY_ON, best_of

_STATES = {
    "own_row": "own row",
    "in_price": "in the price",
    "already_have": "already there",
    "not_needed": "not needed",
    "": "nothing said",
}


def choice_name(outcome: Outcome, build: str) -> str:
    """A build's label, or carrying on as now."""
    return outcome[build].label if build else CARRY_ON


def increment_table(outcome: Outcome) -> Table:
    """Each step to the next dearer choice, as an investment of its own."""
    heading = outcome.case.heading
    steps = increments(outcome)
    names = ("money_needed", "npv", "equivalent_annual_value", "irr", "payback_years")
    rows = []
    for name in names:
        label, unit = MEASURES[name]
        cells = [
            say.several(step.irr_count)
            if name == "irr" and step.irr_count > 1
            else measure_text(getattr(step, name), unit, heading.currency, heading.locale)
            for step in steps
        ]
        rows.append([label, *cells])
    header = [
        f"{choice_name(outcome, step.cheaper)} → {choice_name(outcome, step.dearer)}"
        for step in steps
    ]
    return Table(["What the step adds", *header], rows)


def flip_table(outcome: Outcome, found: Flips) -> Table:
    """Every change of the choice that was found, and the levers along which there is none."""
    locale = outcome.case.heading.locale
    rows = [
        [
            flip.label,
            say.change(flip.scale, locale),
            choice_name(outcome, flip.below),
            choice_name(outcome, flip.above),
        ]
        for flip in found.found
    ]
    rows += [
        [lever.label, "never", *[choice_name(outcome, best_build(outcome))] * 2]
        for lever in found.never
    ]
    header = ["Moved", "Changes when it is", "Below that", "Above that"]
    return Table(header, rows, left=(0, 1, 2, 3))


def flips_text(outcome: Outcome, found: Flips) -> str:
    """The nearest change on either side of the plan for each lever, in one sentence."""
    locale = outcome.case.heading.locale
    parts = [
        say.flip(flip.label, flip.scale, _becomes(outcome, flip), locale) for flip in nearest(found)
    ]
    return f"{say.flips_sentence(parts)} {say.buyers_take_the_same()}"


def nearest(found: Flips) -> list[Flip]:
    """For each lever the flip next below the plan and the one next above it."""
    kept = []
    for name in dict.fromkeys(flip.lever for flip in found.found):
        mine = [flip for flip in found.found if flip.lever == name]
        below = [flip for flip in mine if flip.scale <= 1]
        above = [flip for flip in mine if flip.scale > 1]
        kept += [*below[-1:], *above[:1]]
    return kept


def _becomes(outcome: Outcome, flip: Flip) -> str:
    build = flip.below if flip.scale <= 1 else flip.above
    return outcome[build].label if build else ""


def best_build(outcome: Outcome) -> str:
    """The build of highest worth, or "" for carrying on as now."""
    return best_of({build: found.measure("npv") for build, found in outcome.items()})


def scope_table(outcome: Outcome) -> Table:
    """The scope list: what each build says of every item."""
    items = reference_table("scope", outcome.case.folder)
    states = {build: scope_state(outcome.case, build) for build in outcome}
    rows = [
        [row["group"], row["label"], *(_STATES[states[build][item]] for build in outcome)]
        for item, row in items.items()
    ]
    header = ["Group", "Item", *(found.label for found in outcome.values())]
    return Table(header, rows, left=tuple(range(len(header))))
