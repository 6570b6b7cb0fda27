"""What would change the choice, and what each step to a dearer build adds, in words."""

from __future__ import annotations

from farmcase.words.numbers import percent
from farmcase.words.verdict import CARRY_ON


def change(scale: float, locale: str) -> str:
    """How far a lever is from the plan, as a rise or fall in percent."""
    moved = percent(abs(scale - 1), locale, 1)
    return f"{moved} {'higher' if scale > 1 else 'lower'}"


def flip(label: str, scale: float, choice: str, locale: str) -> str:
    """With a lever moved that far, another choice is best."""
    moved = change(scale, locale)
    return f"{label} {moved} (then {choice or CARRY_ON})"


def never(label: str, least: float, most: float, locale: str) -> str:
    """The choice does not change along a lever."""
    low, high = percent(least, locale), percent(most, locale)
    return f"{label} from {low} to {high} of the plan does not change the choice"


def flips_sentence(parts: list[str]) -> str:
    """What would change the choice, in one sentence."""
    if not parts:
        return "Nothing tried changes the choice."
    return "What would change the choice: " + "; ".join(parts) + "."


def buyers_take_the_same() -> str:
    """The rule that every screen which moves a price must say."""
    return "Moving a price assumes buyers take the same kilograms."


def several(count: int) -> str:
    """More than one internal rate, so none is shown."""
    return f"{count}, so none shown"
