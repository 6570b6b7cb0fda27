"""The decision on one screen: the builds side by side, the verdict, and what must be said."""

from __future__ import annotations

import textwrap

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.lender import month_of_money_needed, year_of_least_cover
from farmcase.model.lines import INVESTING, OPERATING, OWN_WORK_VIEWS
from farmcase.model.outcome import Outcome
from farmcase.output.tables import Table
from farmcase.words import finance
from farmcase.words import remarks as say
from farmcase.words.labels import MEASURES, MONEY_LINES
from farmcase.words.numbers import NONE, measure_text, money, month_name, percent, plain
from farmcase.words.verdict import CARRY_ON

ON_SCREEN = (
    "cost_to_build",
    "money_needed",
    "lowest_cash",
    "lowest_cash_month",
    "dscr_before_drawings_minimum",
    "dscr_after_tax_and_drawings_minimum",
    "payback_years",
    "npv",
    "irr",
    "break_even_output_kg_per_year",
    "break_even_price_per_kg",
    "output_kg_per_year",
    "levelised_cost_per_kg",
    "own_hours_per_week",
    "own_build_hours",
)
_NIL_WHEN_CARRYING_ON = ("npv", "money_needed", "cost_to_build")
_UNIT_WORDS = {
    "money": "{currency}",
    "money/kg": "{currency}/kg",
    "money/year": "{currency}/year",
    "share/year": "a year",
    "month": "",
    "rates": "",
    "ratio": "",
    "share": "",
}


def decision_table(outcome: Outcome) -> Table:
    """The measures that decide, for every build and for carrying on as now."""
    heading = outcome.case.heading
    header = ["", *(build.label for build in outcome.values()), CARRY_ON]
    rows = []
    for name in ON_SCREEN:
        rows.append([_row_label(outcome, name), *_cells(outcome, name)])
        if name == "money_needed":
            months = [_month(build, month_of_money_needed(build)) for build in outcome.values()]
            rows.append([finance.MONTH_OF_MONEY_NEEDED, *months, NONE])
        elif name == "dscr_after_tax_and_drawings_minimum":
            rows.append([finance.YEAR_OF_LEAST_COVER, *map(_year, outcome.values()), NONE])
    label, unit = MEASURES["npv"]
    for view in OWN_WORK_VIEWS[1:]:
        found = [outcome.in_view(build, view)["npv"][0] for build in outcome]
        cells = [measure_text(v, unit, heading.currency, heading.locale) for v in found]
        rows.append([f"{label}, own hours {_VIEW_LABELS[view]}", *cells, NONE])
    return Table(header, rows)


def _month(build: BuildOutcome, month: int) -> str:
    named = month_name(build.dates[month], build.inputs.case.heading.locale)
    return named if month else say.AT_THE_START


def _year(build: BuildOutcome) -> str:
    month = year_of_least_cover(build)
    return NONE if month is None else finance.year_to(_month(build, month))


def measure_table(outcome: Outcome) -> Table:
    """Every measure of every build."""
    header = ["", *(build.label for build in outcome.values())]
    rows = [[_row_label(outcome, name), *_cells(outcome, name)[:-1]] for name in MEASURES]
    return Table(header, rows)


def own_work_table(outcome: Outcome) -> Table:
    """Own hours in three ways, for every build."""
    heading = outcome.case.heading
    rows = []
    table = outcome.own_work()
    for (view, name), values in zip(table.index, table.to_numpy(), strict=True):
        label, unit = MEASURES[name]
        texts = [measure_text(v, unit, heading.currency, heading.locale) for v in values]
        rows.append([_VIEW_LABELS[view], label, *texts])
    header = ["Own hours", "Measure", *(build.label for build in outcome.values())]
    return Table(header, rows, left=(0, 1))


_VIEW_LABELS = {
    "opportunity_wage": "at what they are worth elsewhere",
    "not_charged": "not charged",
    "drawings": "as drawings",
}


def _row_label(outcome: Outcome, name: str) -> str:
    label, unit = MEASURES[name]
    shown = _UNIT_WORDS.get(unit, unit).format(currency=outcome.case.heading.currency)
    return f"{label}, {shown}" if shown else label


def _cells(outcome: Outcome, name: str) -> list[str]:
    heading = outcome.case.heading
    unit = MEASURES[name][1]
    cells = []
    for build in outcome.values():
        value = build.measure(name)
        if unit == "month":
            cells.append(_month(build, int(value)))
        else:
            cells.append(measure_text(value, unit, heading.currency, heading.locale))
    carry_on = "0" if name in _NIL_WHEN_CARRYING_ON else NONE
    if carry_on == "0":
        carry_on = money(0, heading.currency, heading.locale)
    return [*cells, carry_on]


def yearly_table(outcome: Outcome, build: str, years: int = 5) -> Table:
    """The first years of a build, in whole money."""
    heading = outcome.case.heading
    best = outcome[build]
    table = best.yearly.loc[:years]
    rows = []
    for name in _YEARLY_LINES:
        cells = [money(v, heading.currency, heading.locale) for v in table[name]]
        rows.append([MONEY_LINES[name], *cells])
    sold = [plain(v, heading.locale) for v in table["sold_kg"]]
    header = [best.label, "Start", *(f"Year {year}" for year in table.index[1:])]
    return Table(header, [*rows, ["Sold, kg", *sold]])


_YEARLY_LINES = (
    *OPERATING,
    "operating_surplus",
    *INVESTING,
    "project_flow",
    "loan_interest",
    "loan_principal",
    "cash",
    "overdraft",
    "loan_balance",
)


def decision_text(outcome: Outcome, width: int = 96) -> str:
    """The whole screen as plain text."""
    parts = [*_title(outcome, width), "", decision_table(outcome).text(), ""]
    parts += [wrapped(outcome.verdict, width), "", remarks_text(outcome, width, brief=True)]
    return "\n".join(parts)


def remarks_text(outcome: Outcome, width: int = 96, brief: bool = False) -> str:
    """What must be said beside the numbers of each build, and what all of it rests on."""
    said = {name: outcome.remarks(name, brief) for name in outcome}
    shared = [s for s in next(iter(said.values())) if all(s in other for other in said.values())]
    shared = shared if len(said) > 1 else []
    parts = [say.ALL_BUILDS, *_bullets(shared, width)] if shared else []
    for name, build in outcome.items():
        found = [sentence for sentence in said[name] if sentence not in shared]
        if found:
            parts += [f"{build.label}:", *_bullets(found, width)]
    said_last = [*basis(outcome), *([say.MORE] if brief else [])]
    return "\n".join([*parts, wrapped(" ".join(said_last), width)])


def basis(outcome: Outcome) -> list[str]:
    """What the numbers rest on, in sentences."""
    said = [] if outcome.case.output is not None else [say.ENERGY_BASIS]
    if any(row.volume_response.likely for row in outcome.case.sales.values()):
        said.append(say.VOLUME_BASIS)
    if outcome.case.tax is not None or outcome.case.vat is not None:
        said.append(say.TAX_BASIS)
    if outcome.case.tax is None:
        said.append(say.tax_left_out())
    return [say.BREAK_EVEN_BASIS, *said, say.ESTIMATE]


def _title(outcome: Outcome, width: int) -> list[str]:
    heading, money_in = outcome.case.heading, outcome.case.money
    invented = " (demonstration: place, people and numbers are invented)"
    title = heading.name + (invented if heading.demonstration else "")
    rate = percent(money_in.discount_rate_per_year.likely, heading.locale, 1)
    years = plain(heading.horizon_months / 12, heading.locale)
    start = month_name(heading.start_month, heading.locale)
    real = percent(outcome.real_discount_rate, heading.locale, 1)
    line = (
        f"From {start}, {years} years, money of each month, discounted at {rate} a year "
        f"({real} above general price rises)."
    )
    standing = _standing(outcome)
    return [wrapped(title, width), wrapped(f"{line} {standing}", width)]


def _standing(outcome: Outcome) -> str:
    heading, standing = outcome.case.heading, outcome.case.standing
    sales, costs = standing.sales_per_year.likely, standing.costs_per_year.likely
    if not sales:
        return ""
    left = money(sales - costs, heading.currency, heading.locale)
    sold = money(sales, heading.currency, heading.locale)
    return (
        f"The business as it stands sells for {sold} a year and keeps {left} before drawings; "
        "every figure below comes on top of that."
    )


def wrapped(text: str, width: int = 96) -> str:
    """Text in lines that fit a screen."""
    return "\n".join(textwrap.wrap(text, width))


def _bullets(sentences: list[str], width: int) -> list[str]:
    return [
        line
        for sentence in sentences
        for line in textwrap.wrap(sentence, width, initial_indent="  · ", subsequent_indent="    ")
    ]
