"""Rooms, harvest, work and costs as tables."""

from __future__ import annotations

from farmcase.crop.cohort_kernel import LIMITS
from farmcase.model.cost_rows import cost_rows
from farmcase.model.outcome import Outcome
from farmcase.model.rooms import filled_rooms
from farmcase.model.shell import room_sizes
from farmcase.model.utilities import treat
from farmcase.output.tables import Table
from farmcase.words import remarks as say
from farmcase.words.numbers import NONE, money, month_name, percent, plain


def room_table(outcome: Outcome, build: str) -> Table:
    """Floor, height, volume, places and fill of each room."""
    case, locale = outcome[build].inputs.case, outcome.case.heading.locale
    filled = filled_rooms(case)
    rows = []
    for name, size in room_sizes(case).items():
        room = case.rooms[name]
        rows.append(
            [
                room.label or name,
                plain(size.floor_area_m2, locale, 1),
                plain(size.volume_m3, locale, 1),
                str(size.places) if size.places else NONE,
                percent(filled[name], locale) if name in filled else NONE,
            ]
        )
    header = ["Room", "Floor, m2", "Volume, m3", "Places", "Filled to"]
    return Table(header, rows, caption=outcome[build].label)


def limit_table(outcome: Outcome) -> Table:
    """On how many days of the settled year each limit held the starts back most."""
    rows = []
    for i, name in enumerate(LIMITS):
        days = [build.physical.limit_days[0, i] for build in outcome.values()]
        if any(days):
            label = say.LIMITS.get(name, "nothing: as many as wanted")
            rows.append([label, *(plain(d, outcome.case.heading.locale) for d in days)])
    header = ["Held back by, days of the settled year", *(b.label for b in outcome.values())]
    return Table(header, rows)


def vessel_table(outcome: Outcome, build: str) -> Table:
    """What a batch of each vessel takes, and how many it can do in a week."""
    found, locale = outcome[build], outcome.case.heading.locale
    batch, case = treat(found.inputs).batch, found.inputs.case
    rows = []
    for i, (name, vessel) in enumerate(case.vessels.items()):
        per_week = float(batch.batches_per_week[0, i])
        carrier = case.carriers[vessel.carrier]
        rows.append(
            [
                vessel.label or name,
                vessel.treatment.replace("_", " "),
                plain(vessel.units_per_batch.likely, locale),
                plain(float(batch.heat_kwh[0, i]), locale, 1),
                f"{plain(float(batch.fuel_kwh[0, i]), locale, 1)} ({carrier.label})",
                plain(60 * float(batch.heat_up_hours[0, i]), locale),
                plain(float(batch.hours[0, i]), locale, 1),
                plain(float(batch.water_l[0, i]), locale),
                plain(per_week, locale, 1),
                plain(per_week * vessel.units_per_batch.likely, locale),
            ]
        )
    header = [
        "Vessel",
        "Treatment",
        "Units in a batch",
        "Heat, kWh",
        "Taken, kWh",
        "Heating up, minutes",
        "Batch, hours",
        "New water, L",
        "Batches a week at most",
        "Units a week at most",
    ]
    return Table(header, rows, caption=found.label, left=(0, 1))


def harvest_table(outcome: Outcome, build: str) -> Table:
    """The first settled year by month: units, kilograms, work and energy."""
    found, locale = outcome[build], outcome.case.heading.locale
    year = found.monthly.iloc[found.measurer.year.months]
    columns = {
        "Units started": "units_started",
        "Units lost": "units_lost",
        "Picked, kg": "picked_kg",
        "Sold, kg": "sold_kg",
        "No outlet, kg": "unsold_kg",
        "Paid hours": "paid_hours",
        "Own hours": "own_hours",
        "Energy, kWh": "energy_kwh",
    }
    rows = [
        [month_name(str(line["date"]), locale), *(plain(line[c], locale) for c in columns.values())]
        for line in year.to_dict("records")
    ]
    total = [plain(year[c].sum(), locale) for c in columns.values()]
    return Table([found.label, *columns], [*rows, ["Year", *total]])


def outlet_table(outcome: Outcome, build: str) -> Table:
    """What each outlet takes in the settled year, at which price, on which evidence."""
    found, heading = outcome[build], outcome.case.heading
    year = found.measurer.year.months
    sold = found.ledger.kilograms.filled.sold_kg[0][:, year].sum(-1)
    limit = found.ledger.kilograms.limit[0][:, year].sum(-1)
    rows = []
    for row, kilograms, most in zip(found.inputs.case.sales.values(), sold, limit, strict=True):
        crop = found.inputs.case.crops[row.crop].label
        price = money(row.price_per_kg.likely, heading.currency, heading.locale, 2)
        amounts = [plain(kilograms, heading.locale), plain(most, heading.locale)]
        rows.append([row.outlet, crop, row.grade, price, *amounts, row.evidence.replace("_", " ")])
    header = ["Outlet", "Crop", "Grade", "Price a kg", "Sold, kg", "Would take, kg", "Evidence"]
    return Table(header, rows, caption=found.label, left=(0, 1, 2, 6))


def cost_table(outcome: Outcome, build: str, part: str) -> Table:
    """The rows of one kind of cost, the dearest first, with what each rests on."""
    heading = outcome.case.heading
    rows = [row for row in cost_rows(outcome[build]) if row.part == part]
    rows.sort(key=lambda row: -row.amount)
    total = sum(row.amount for row in rows)
    table = [
        [
            row.group,
            row.label,
            *([plain(row.hours, heading.locale)] if part == "work" else []),
            money(row.amount, heading.currency, heading.locale),
            percent(row.amount / total, heading.locale),
            row.status,
        ]
        for row in rows
    ]
    hours = ["Hours a year"] if part == "work" else []
    header = ["Group", "Row", *hours, "Amount", "Share", "Status"]
    caption = f"{outcome[build].label}: {part}"
    return Table(header, table, caption=caption, left=(0, 1, len(header) - 1))
