"""Cash month by month, with its trough, the limit of the overdraft, and the money that comes in."""

from __future__ import annotations

from typing import Any

import altair as alt
import pandas as pd

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.output.theme import (
    COLOURS,
    HALO,
    INK,
    PALES,
    QUIET,
    WIDTH,
    header,
    rounded,
    themed,
)
from farmcase.words import charts as axes
from farmcase.words import finance_charts as say
from farmcase.words.numbers import money, month_name, plain

_HEIGHT, _LANE = 190, 17  # of a panel, and of each row of what comes in above it
_MONTHS = 36  # that are drawn; more where the trough comes later
_THOUSAND, _NAMED = 1000, 500  # what rounds to no thousand is not named
_AFTER = 6  # months drawn after a late trough
_ARRIVES = {"owners_money": say.PUT_IN, "loan_drawn": say.DRAWN, "grant": say.GRANT_PAID}


def monthly_cash_chart(outcome: Outcome) -> Any:
    """Cash less overdraft at the end of each month, by build, from the start on."""
    heading = outcome.case.heading
    months = _shown_months(outcome)
    frames = {name: _frame(build, months) for name, build in outcome.items()}
    limit = outcome.case.money.overdraft_limit.likely
    lowest = min(-limit, *(frame["cash"].min() for frame in frames.values()))
    highest = max(frame["cash"].max() for frame in frames.values())
    spread = highest - lowest
    ends = rounded([lowest - 0.12 * spread, highest + 0.16 * spread], 3)
    panels = [
        _panel(frames[name], build, i, (ends[0], ends[1]), limit)
        for i, (name, build) in enumerate(outcome.items())
    ]
    sized = alt.vconcat(*panels, spacing=24) if len(panels) > 1 else panels[0]
    return themed(sized, monthly_cash_finding(outcome), heading.locale, say.CASH_NOTE)


def _shown_months(outcome: Outcome) -> int:
    latest = max(int(build.measure("lowest_cash_month")) for build in outcome.values())
    least = min(build.inputs.months for build in outcome.values())
    return min(least, max(_MONTHS + 1, latest + _AFTER + 1))


def _frame(build: BuildOutcome, months: int) -> pd.DataFrame:
    lines = build.ledger.lines
    cash = (lines["cash"] - lines["overdraft"])[0, :months]
    days = [f"{date}-01" for date in build.dates[:months]]
    return pd.DataFrame({"month": days, "cash": rounded(cash)})


def _came_in(build: BuildOutcome, months: int) -> pd.DataFrame:
    """Money that owners, lenders and grants bring, in thousands, by month."""
    locale = build.inputs.case.heading.locale
    rows = [
        (f"{build.dates[month]}-01", words, plain(float(amount) / _THOUSAND, locale))
        for name, words in _ARRIVES.items()
        for month, amount in enumerate(build.ledger.lines[name][0, :months])
        if amount > _NAMED
    ]
    return pd.DataFrame(rows, columns=pd.Index(["month", "kind", "words"]))


def _panel(
    frame: pd.DataFrame,
    build: BuildOutcome,
    place: int,
    ends: tuple[float, float],
    limit: float,
) -> Any:
    heading = build.inputs.case.heading
    span = alt.Axis(format="%Y-%m", tickCount=8, grid=False, labelAngle=0)
    days = alt.Scale(domain=[frame["month"].iloc[0], frame["month"].iloc[-1]])
    x = alt.X("month:T", title="Month", axis=span, scale=days)
    title = axes.amount_axis("Cash less overdraft", heading.currency)
    scale = alt.Scale(domain=list(ends), nice=False)
    y = alt.Y("cash:Q", title=title, scale=scale, axis=alt.Axis(format=",~f", tickCount=6))
    colour, pale = COLOURS[place % len(COLOURS)], PALES[place % len(PALES)]
    base = alt.Chart(frame)
    layers = [
        base.mark_area(color=pale, interpolate="step-after").encode(x=x, y=y, y2=alt.datum(0)),
        base.mark_line(color=colour, strokeWidth=2.2, interpolate="step-after").encode(x=x, y=y),
        *_level(0.0, "", frame, x, y),
        *_level(-limit, _limit_text(build, limit), frame, x, y),
        *_trough(frame, build, x, y),
    ]
    cash = alt.layer(*layers).properties(width=WIDTH, height=_HEIGHT)
    came = _came_in(build, len(frame))
    title = header(build.label, offset=6)
    if came.empty:
        return cash.properties(title=title)
    lane = _lane(came, days, heading.currency).properties(title=title)
    return alt.vconcat(lane, cash, spacing=4)


def _lane(came: pd.DataFrame, days: alt.Scale, currency: str) -> Any:
    """A row for each kind of money that comes in, with its amounts."""
    kinds = [kind for kind in _ARRIVES.values() if kind in set(came["kind"])]
    labels = alt.Axis(ticks=False, domain=False, labelPadding=6, grid=True)
    y = alt.Y("kind:N", sort=kinds, title=say.thousands(currency), axis=labels)
    x = alt.X("month:T", scale=days, axis=None)
    text = alt.Chart(came).mark_text(align="left", dx=2, fontSize=11, fontWeight="bold", color=INK)
    height = _LANE * max(2, len(kinds))
    return text.encode(x=x, y=y, text="words:N").properties(width=WIDTH, height=height)


def _limit_text(build: BuildOutcome, limit: float) -> str:
    heading = build.inputs.case.heading
    return say.overdraft_limit(money(limit, heading.currency, heading.locale)) if limit else ""


def _level(value: float, words: str, frame: pd.DataFrame, x: alt.X, y: alt.Y) -> list[Any]:
    """A level line across the panel, named at its right end; the limit is dashed."""
    data = pd.DataFrame({"cash": [value], "month": [frame["month"].iloc[-1]], "words": [words]})
    dash: dict[str, Any] = {"strokeDash": [5, 4]} if words else {}
    line = alt.Chart(data).mark_rule(color=INK if words else QUIET, **dash).encode(y=y)
    if not words:
        return [line] if value == 0 else []
    look: dict[str, Any] = {"align": "right", "dy": 9, "fontSize": 12, "color": INK}
    named = [
        alt.Chart(data).mark_text(**look, **halo).encode(x=x, y=y, text="words:N")
        for halo in (HALO, {})
    ]
    return [line, *named]


def _trough(frame: pd.DataFrame, build: BuildOutcome, x: alt.X, y: alt.Y) -> list[Any]:
    """A ring at the trough, with its amount and month below it."""
    heading, at = build.inputs.case.heading, int(build.measure("lowest_cash_month"))
    amount = money(build.measure("lowest_cash"), heading.currency, heading.locale)
    words = say.at_lowest(amount, month_name(build.dates[at], heading.locale))
    data = frame.iloc[[at]].assign(words=words)
    base = alt.Chart(data)
    ring = base.mark_point(size=110, strokeWidth=2.2, color=INK, opacity=1)
    look: dict[str, Any] = {
        "align": "left",
        "dx": 9,
        "dy": 11,
        "fontSize": 12,
        "color": INK,
        "fontWeight": "bold",
    }
    named = [base.mark_text(**look, **halo).encode(x=x, y=y, text="words:N") for halo in (HALO, {})]
    return [ring.encode(x=x, y=y), *named]


def monthly_cash_finding(outcome: Outcome) -> str:
    """When cash is lowest, how low, and whether that breaks the limit of the overdraft."""
    heading = outcome.case.heading
    limit = outcome.case.money.overdraft_limit.likely

    def amount(value: float) -> str:
        return money(value, heading.currency, heading.locale)

    said = []
    for build in outcome.values():
        lowest = build.measure("lowest_cash")
        month = month_name(build.dates[int(build.measure("lowest_cash_month"))], heading.locale)
        over, short = lowest < -limit - 0.005, lowest < -0.005
        said.append(say.runs_lowest(build.label, amount(lowest), month, amount(limit), over, short))
    return "; ".join(said)
