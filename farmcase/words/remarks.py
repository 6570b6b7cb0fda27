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
TAX_BASIS = (
    "Where the case has a section [tax], the project is reckoned after tax on profit as if it had "
    "no loans; where it has a section [vat], VAT moves cash. Their rates are dated: confirm them."
)
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


def critical_gate(gate: str, opens: str, spare: int, later: int) -> str:
    """The gate with the least to spare."""
    if later:
        months = "one month" if later == 1 else f"{later} months"
        return f"{gate} (open in {opens}) holds the first starts back by {months}."
    if spare < 0:
        return f"{gate} (open in {opens}) holds payments back, though not the first starts."
    room = "with no month to spare" if spare == 0 else f"with {spare} to spare"
    return f"The critical gate is {gate}: open in {opens}, {room} before what waits for it."


def never_built() -> str:
    """Gates push the first starts beyond the months looked ahead."""
    return (
        "Never built in the months looked ahead: gates hold the first starts back beyond them, so "
        "what is shown is money spent without a harvest. Raise horizon_months."
    )


def lease_ends(lease: str, month: str) -> str:
    """A leased unit goes back before the months looked ahead end."""
    return f"The lease of {lease} ends in {month} and it is not bought: growing ends with it."


def over_allowance(what: str, amount: str) -> str:
    """Spending above the yearly limit of an allowance."""
    return (
        f"In one year {amount} is spent above the yearly limit of an allowance ({what}); all of it "
        "is deducted here, the authority will not."
    )


def last_quarter(what: str, share: str, most: str) -> str:
    """A table of allowances that may not be used."""
    return (
        f"Of {what}, {share} of a year is bought in its last quarter; above {most} its table of "
        "allowances may not be used."
    )


def loss_at_the_end(amount: str) -> str:
    """What was not yet deducted when everything is sold."""
    return (
        f"When everything is sold in the last month, {amount} is not yet deducted for tax: it "
        "lowers the tax of the last fiscal year and of no other."
    )


def no_settled_year() -> str:
    """Gates push the settled year beyond the months looked ahead."""
    return (
        "Gates hold the first starts back so long that no settled year is seen: outputs and "
        "break-even are unknown. Raise horizon_months."
    )


def loan_left(amount: str) -> str:
    """A loan runs longer than the case."""
    return f"Loans of {amount} are still owed when the months looked ahead end."


def vat_left_out() -> str:
    """Rates of VAT without a section [vat]."""
    return "Rows carry rates of VAT, but the case has no section [vat]: it is left out of cash."


def tax_left_out() -> str:
    """No section [tax]."""
    return "Tax on profit is left out: the case has no section [tax]."


def confirm_taxes() -> str:
    """Taxes are dated data."""
    return "Taxes are counted with dated rates: confirm them with the authority or an adviser."


def grant_repaid(amount: str) -> str:
    """A grant has to be paid back because funded things leave too early."""
    return f"A move within the time that funded things must be kept costs {amount} of grant."


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


def over_planned(crop: str, planned: str, likely: str) -> str:
    """Planned kilograms per unit far from the likely yield."""
    return (
        f"{crop}: the plan counts on {planned} kg a unit, the likely yield gives {likely} kg; "
        "starts are capped by the plan's figure."
    )
