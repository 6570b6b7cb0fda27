"""What `check` says of a case: what was read, how the rooms are loaded, what is still thin."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from farmcase.crop.substrate import DRY_ROLES, carbon_to_nitrogen, unit_dry_kg, water_to_add_l
from farmcase.inputs.case import Case
from farmcase.inputs.normals import degree_days
from farmcase.inputs.scope import scope_gaps
from farmcase.inputs.table import input_table
from farmcase.model.outcome import Outcome
from farmcase.model.room_inputs import weather_of
from farmcase.model.rooms import filled_rooms
from farmcase.model.shell import physics, room_sizes
from farmcase.output.cautions import cautions
from farmcase.words import weather as say
from farmcase.words.numbers import money, percent, plain

_MONTH_ENDS = np.cumsum([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])


def check_report(outcome: Outcome) -> str:
    """The report as lines of plain text."""
    case = outcome.case
    parts = [f"{case.heading.name}: read without a fault.", *_read(case)]
    for build in outcome:
        parts += ["", f"{outcome[build].label}:", *(f"  {line}" for line in _build(outcome, build))]
    parts += [*case.notes, "", "Cautions, before anything is built or run:"]
    parts += [f"  {text} Ask: {whom}." for text, whom in cautions(case)]
    return "\n".join(parts)


def _read(case: Case) -> Iterator[str]:
    table = input_table(case)
    uncertain = sum(row.low != row.high for row in table.values())
    yield f"{len(table)} numbers, {uncertain} of them with a range from low to high."
    tables = ("capital", "substrate", "labour", "sales", "overheads", "income")
    counts = [f"{len(getattr(case, name))} in {name}.csv" for name in tables if getattr(case, name)]
    yield "Rows: " + ", ".join(counts) + "."
    if case.output is None:
        yield from _weather(case)


def _weather(case: Case) -> Iterator[str]:
    """The weather as it was read, and what was estimated of it."""
    weather, locale = weather_of(case), case.heading.locale
    days = weather.air_temp_c.reshape(365, 24)
    months = np.array([m.mean() for m in np.split(days, _MONTH_ENDS)])
    ends = [plain(value, locale, 1) for value in (months.min(), months.max())]
    mean = plain(float(days.mean()), locale, 1)
    yield say.weather_line(weather.name, weather.kind, mean, *ends)
    base = physics(case)["degree_day_base_c"]
    total = float(degree_days(days.max(1), days.min(1), base).sum())
    yield say.degree_days(plain(total, locale), plain(base, locale, 1))
    yield from weather.remarks


def _build(outcome: Outcome, build: str) -> Iterator[str]:
    found = outcome[build]
    case, locale = found.inputs.case, outcome.case.heading.locale
    yield from _loading(outcome, build)
    yield from _recipes(case, locale)
    yield _guesses(outcome, build)
    gaps = scope_gaps(outcome.case, build)
    if gaps:
        yield f"Scope list: nothing said of {', '.join(gaps)}."
    else:
        yield "Scope list: every item has its own row, is in the price, is there or is not needed."
    yield from outcome.remarks(build)


def _loading(outcome: Outcome, build: str) -> Iterator[str]:
    found = outcome[build]
    case, locale = found.inputs.case, outcome.case.heading.locale
    filled = filled_rooms(case)
    area = 0.0
    for name, size in room_sizes(case).items():
        room = case.rooms[name]
        area += size.floor_area_m2 if room.kind == "fruiting" else 0.0
        share = f", filled to {percent(filled[name], locale)}" if name in filled else ""
        yield (
            f"{room.label or name}: {plain(size.floor_area_m2, locale, 1)} m2, "
            f"{plain(size.volume_m3, locale, 1)} m3, {size.places} places{share}."
        )
    weekly = found.measure("output_kg_per_year") * 7 / 365
    if area:
        by_area = found.measure("output_kg_per_year") / area
        yield (
            f"Sold in the first settled year: {plain(weekly, locale)} kg a week, "
            f"{plain(by_area, locale)} kg a year for each m2 of fruiting floor."
        )


def _recipes(case: Case, locale: str) -> Iterator[str]:
    for crop in case.crops.values():
        rows = [
            row
            for row in case.substrate.values()
            if row.recipe == crop.recipe and row.role in DRY_ROLES
        ]
        if not rows:
            continue
        wet, moisture = crop.unit_wet_kg.likely, crop.moisture_share.likely
        dry = float(unit_dry_kg(wet, moisture))
        shares = [row.share.likely * dry for row in rows]
        ratio = carbon_to_nitrogen(
            shares, [row.carbon_share for row in rows], [row.nitrogen_share for row in rows]
        )
        water = water_to_add_l(shares, [row.moisture_share.likely for row in rows], moisture)
        yield (
            f"{crop.label}: {plain(dry, locale, 2)} kg dry in a {crop.unit} of "
            f"{plain(wet, locale, 1)} kg, {plain(water, locale, 1)} L water to add, "
            f"C to N {plain(ratio, locale)}."
        )


def _guesses(outcome: Outcome, build: str) -> str:
    heading = outcome.case.heading
    rows = outcome[build].inputs.case.capital.values()
    costs = [(r.quantity.likely * r.unit_cost.likely * r.exchange_rate.likely, r) for r in rows]
    total = sum(cost for cost, _ in costs)
    guessed = sum(cost for cost, row in costs if row.status == "guess")
    share = percent(guessed / total if total else 0.0, heading.locale)
    return (
        f"Capital rows: {money(total, heading.currency, heading.locale)} before contingency and "
        f"own hours; {share} of it rests on guesses."
    )
