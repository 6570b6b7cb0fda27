"""The rooms of a build as tables: their air, their walls, their energy and water."""

from __future__ import annotations

import numpy as np

from farmcase.climate.envelope import FACES
from farmcase.energy.tally_kernel import TALLY
from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.model.room_inputs import ELECTRICITY
from farmcase.model.rooms import LENGTHS, production_calendar
from farmcase.model.shell import enclosed_rooms, walls
from farmcase.output.tables import Table
from farmcase.words import rooms as say
from farmcase.words.numbers import NONE, percent, plain

_SETTLED = slice(12, 24)


def air_table(outcome: Outcome, build: str) -> Table:
    """Each room through the settled year: warmth, humidity, band, people's limits, wet steel."""
    found, locale = outcome[build], outcome.case.heading.locale
    years, case = found.physical.rooms, found.inputs.case
    if years is None:
        return Table(["Room"], [], caption=found.label)
    hours = LENGTHS[production_calendar(found.inputs)] * 24
    rows = []
    for r, name in enumerate(years.names):
        mean = (years.by_month[0, r] / hours)[:, _SETTLED]
        temp = mean[TALLY.index("air_temp_c")]
        humidity = mean[TALLY.index("relative_humidity_share")]
        over, _, wet = years.warnings[0, r]
        rows.append(
            [
                case.rooms[name].label or name,
                f"{plain(temp.min(), locale, 1)} to {plain(temp.max(), locale, 1)}",
                f"{percent(humidity.min(), locale)} to {percent(humidity.max(), locale)}",
                _bands(found, r, locale),
                plain(over, locale),
                percent(wet / 8760, locale),
                plain(years.kwh[0, r, :, _SETTLED].sum(), locale),
                plain(years.by_month[0, r, TALLY.index("humidifier_l"), _SETTLED].sum(), locale),
            ]
        )
    header = [
        "Room",
        "Months' means, °C",
        "Months' means, humidity",
        "Hours within the band",
        "Hours over the people's CO2 limit",
        "Cold bridges wet",
        "Energy, kWh",
        "Fog, L",
    ]
    return Table(header, rows, caption=found.label, left=(0, 3))


def _bands(found: BuildOutcome, r: int, locale: str) -> str:
    years = found.physical.rooms
    crops = found.inputs.case.crops.values()
    parts = [
        f"{crop.label} {percent(years.band_hours[0, r, c] / years.crop_hours[0, r, c], locale)}"
        for c, crop in enumerate(crops)
        if years.crop_hours[0, r, c] > 0
    ]
    return ", ".join(parts) if parts else NONE


def wall_table(outcome: Outcome, build: str) -> Table:
    """Outside area and U-value of each face of each room, and what the whole loses a kelvin."""
    found, locale = outcome[build], outcome.case.heading.locale
    case, shape = found.inputs.case, walls(found.inputs)
    rows = []
    for r, name in enumerate(enclosed_rooms(case)):
        outside, u_value = shape.outside_m2[r], shape.u_w_per_m2_k[0, r]
        cells = [
            f"{plain(area, locale, 1)} / {plain(u, locale, 2)}" if area > 0 else NONE
            for area, u in zip(outside, u_value, strict=True)
        ]
        bridging = case.climate[name].bridging_w_per_m2_k.likely
        whole = plain(float((outside * u_value).sum()), locale, 0)
        rows.append([case.rooms[name].label or name, *cells, plain(bridging, locale, 2), whole])
    faces = [f"{face.capitalize()}, m2 / W/(m2 K)" for face in FACES]
    header = ["Room", *faces, "of it steel bridges", "Loss, W/K"]
    return Table(header, rows, caption=f"{found.label}. {say.ISO_NOTE}")


def energy_table(outcome: Outcome, build: str) -> Table:
    """Energy of the settled year by carrier and end use, bought and from own panels."""
    found, locale = outcome[build], outcome.case.heading.locale
    physical, case = found.physical, found.inputs.case
    used = physical.energy_kwh[0, :, :, _SETTLED].sum(-1)
    bought = physical.bought_kwh[0, :, :, _SETTLED].sum(-1)
    names = [carrier.label or name for name, carrier in case.carriers.items()]
    rows = [
        [use.replace("_", " "), *(plain(value, locale) for value in used[:, u])]
        for u, use in enumerate(physical.end_uses)
        if used[:, u].sum() > 0.5
    ]
    rows.append(["used in all", *(plain(value, locale) for value in used.sum(1))])
    bands = ["at the plain price", *(b.label or n for n, b in case.bands.items())]
    for k, band in enumerate(bands):
        if len(bands) > 1 and k < bought.shape[1]:
            rows.append([f"bought {band}", *(plain(value, locale) for value in bought[:, k])])
    if case.solar:
        electric = list(case.carriers).index(ELECTRICITY)
        own = used[electric].sum() - bought[electric].sum()
        sent = physical.sent_kwh[0, _SETTLED].sum()
        for label, value in (("own solar used", own), ("own solar sent out", sent)):
            cells = [plain(value, locale) if i == electric else NONE for i in range(len(names))]
            rows.append([label, *cells])
    peak = [plain(value, locale, 1) for value in physical.peak_kw[0]]
    rows.append(["highest hour, all at once, kW", *peak])
    rows.append(
        ["highest hour, staggered, kW", *(plain(v, locale, 1) for v in physical.staggered_kw[0])]
    )
    return Table(["kWh in the settled year", *names], rows, caption=found.label)


def leaving_table(outcome: Outcome) -> Table:
    """Water in and out and substrate that leaves, in the settled year."""
    locale = outcome.case.heading.locale
    parts = {
        "Water taken, m3": lambda p: p.water_l[0, _SETTLED].sum() / 1000,
        "Waste water, m3": lambda p: p.waste_water_l[0, _SETTLED].sum() / 1000,
        "Spent substrate and lost units, t": lambda p: p.spent_kg[0, _SETTLED].sum() / 1000,
        "Units waiting for a place, mean": lambda p: p.occupied[0, 2, _SETTLED].sum() / 365,
    }
    rows = [
        [label, *(plain(of(build.physical), locale, 1) for build in outcome.values())]
        for label, of in parts.items()
    ]
    return Table(["In the settled year", *(b.label for b in outcome.values())], rows)


def closure_table(outcome: Outcome) -> Table:
    """By how much heat, water and CO2 of the worst room do not close over both years."""
    rows = []
    for k, what in enumerate(("heat, kWh", "water, kg", "CO2, kg")):
        cells = []
        for build in outcome.values():
            years = build.physical.rooms
            worst = float(np.abs(years.residual[0, :, k]).max()) if years else 0.0
            cells.append("below 0.000001" if worst < 1e-6 else f"{worst:.1g}")
        rows.append([what, *cells])
    return Table(["Does not close by", *(b.label for b in outcome.values())], rows)
