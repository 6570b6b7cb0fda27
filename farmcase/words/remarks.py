"""What must be said in words beside the numbers of a build: nothing is chosen in silence."""

from __future__ import annotations

LIMITS = {
    "vessel": "the batches of the heat-treatment vessel",
    "hours": "the hours there are",
    "cold_store": "the cold store",
    "demand": "what the outlets take",
    "spawn_run_places": "the places in the spawn run",
    "fruiting_places": "the places in the fruiting rooms",
}

ENERGY_BASIS = (
    "Rooms are followed hour by hour through a year of the stated weather, machines by rated power."
)
TAX_BASIS = "Profit tax and VAT are not modelled yet; all money is before tax and without VAT."
VOLUME_BASIS = (
    "How buyers answer a price is entered but not counted yet: moving a price assumes buyers take "
    "the same kilograms."
)
BREAK_EVEN_BASIS = (
    "Break-even is where the first settled year makes neither profit nor loss, with costs written "
    "off over their whole lives; cost per kilogram bears them within the years looked ahead."
)
MORE = "More is said by `check` and in the notebooks."
ALL_BUILDS = "All builds:"
AT_THE_START = "at the start"
ESTIMATE = "This is an estimate from stated inputs, not advice."


def grant_covers(granted: str, eligible: str, built: str) -> str:
    """What a grant leaves uncovered."""
    return (
        f"The grant of {granted} counts {eligible} of the {built} that the build costs; "
        "own hours, contingency and rows not marked as eligible are left out."
    )


def ceiling_reached(ceiling: str) -> str:
    """The grant stops at its ceiling."""
    return f"The grant stops at its ceiling of {ceiling}."


def tightest_limit(name: str) -> str:
    """What holds the starts back."""
    if name not in LIMITS:
        return "On most days nothing holds the starts back: as many units start as are wanted."
    return f"Starts are held back most by {LIMITS[name]}."


def never_pays_back(years: str) -> str:
    """No payback within the horizon."""
    return f"The money does not come back within {years} years."


def only_by_end_value() -> str:
    """Payback rests on the sale of what is left."""
    return "The money comes back only because what is left is sold in the last month."


def below_again(month: str) -> str:
    """The total falls below nil after payback."""
    return f"After payback the total falls below nil again, first in {month}."


def several_rates(rates: list[str]) -> str:
    """More than one internal rate."""
    return (
        f"It has {len(rates)} internal rates of return ({', '.join(rates)}), so none is shown; go "
        "by net present value."
    )


def no_break_even() -> str:
    """No yield reaches break-even."""
    return "No yield that the rooms can give brings the first settled year to a profit of zero."


def unsold(kilograms: str) -> str:
    """Kilograms that find no outlet."""
    return f"{kilograms} kg a year find no outlet and are thrown away."


def overdraft_over(reached: str, limit: str, month: str) -> str:
    """Overdraft above its limit."""
    return (
        f"Cash runs short: with own hours counted as if paid, the overdraft reaches {reached} in "
        f"{month}, its limit is {limit}."
    )


def cash_without_own_hours(lowest: str) -> str:
    """Lowest cash when own hours are not paid."""
    return f"With own hours not charged the lowest cash is {lowest}."


def grant_timing(amount: str) -> str:
    """The grant comes later than it is counted."""
    return (
        "The grant is a flat share, timing not yet modelled; lowest cash is too good, and money "
        f"needed too little, by up to {amount} until it is paid."
    )


def gates_may_be_late(late: dict[str, int], start: int) -> str:
    """Gates whose high lies after the first starts."""
    names = ", ".join(f"{gate} (month {month})" for gate, month in late.items())
    return (
        f"At their latest these come after the first starts in month {start}: {names}. Starts do "
        "not wait for them yet; only what names them is paid later."
    )


def building_hours(peak: str, month: str, available: str) -> str:
    """Own hours to build above those available."""
    return f"Own hours to build reach {peak} a week in {month}; {available} are there."


def too_many_hours(peak: str, available: str) -> str:
    """Own hours above those available."""
    return f"Own hours reach {peak} a week in the busiest month; {available} are there."


def full_room(room: str, filled: str) -> str:
    """Room filled above one sixth."""
    return f"{room} is filled to {filled} of its volume; above one sixth it is hard to air."


def paid_late(count: int, amount: str) -> str:
    """Rows paid after the first starts."""
    rows = "One row" if count == 1 else f"{count} rows"
    verb = "is" if count == 1 else "are"
    return f"{rows} worth {amount} {verb} paid only after the first starts: is that meant?"


def waits(count: int, gate: str) -> str:
    """Rows that wait for a gate."""
    if count == 1:
        return f"One row is paid later than entered because it waits for {gate}."
    return f"{count} rows are paid later than entered because they wait for {gate}."


def over_planned(crop: str, planned: str, likely: str) -> str:
    """Planned kilograms per unit far from the likely yield."""
    return (
        f"{crop}: the plan counts on {planned} kg a unit, the likely yield gives {likely} kg; "
        "starts are capped by the plan's figure."
    )
