"""The rooms of a build as tables: their air, their crops, their walls, their energy and water."""

from __future__ import annotations

import math

import numpy as np

from farmcase.climate.envelope import FACES, Contact
from farmcase.energy.tally_kernel import TALLY, USES
from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.model.physical import RoomYears
from farmcase.model.room_inputs import ELECTRICITY
from farmcase.model.room_remarks import kilograms_lost_share
from farmcase.model.rooms import LENGTHS, production_calendar
from farmcase.model.shell import enclosed_rooms, neighbours, physics, walls
from farmcase.output.psychrometric_chart import band_of
from farmcase.output.room_bands import EXACT, SETTLED_HOURS, standing_crops
from farmcase.output.tables import Table
from farmcase.words import rooms as say
from farmcase.words.numbers import NONE, month_of_year, percent, plain

_SETTLED = slice(12, 24)
_CLOSES_WITHIN = 1e-9  # nearer than this no number is told
_SAFETY = 3.0  # so that the last bits of another machine do not change what is told


def room_label(build: BuildOutcome, room: str) -> str:
    """A room as a reader calls it."""
    return build.inputs.case.rooms[room].label or room.replace("_", " ")


def air_table(outcome: Outcome, build: str) -> Table:
    """Each room through the settled year: warmth, humidity, band, people's limits, energy, water.

    Rows are what is told, columns the rooms.
    """
    found, locale = outcome[build], outcome.case.heading.locale
    years = found.physical.rooms
    if years is None:
        return Table([say.IN_YEAR], [], caption=found.label)
    rows = [*_months_rows(found, years), *_hours_rows(found, years)]
    used = years.kwh[0, :, :, _SETTLED].sum(-1)
    for u in range(len(USES)):
        if used[:, u].sum() > 0.5:
            heading = say.uses_kwh(say.ROOM_USES[u])
            rows.append([heading, *(plain(v, locale) for v in used[:, u])])
    rows.append([say.ALL_ENERGY, *(plain(v, locale) for v in used.sum(1))])
    for heading, name in ((say.HUMIDIFIED, "humidifier_l"), (say.DRAINED, "drained_l")):
        litres = years.by_month[0, :, TALLY.index(name), _SETTLED].sum(-1)
        rows.append([heading, *(plain(v, locale) for v in litres)])
    labels = [room_label(found, name) for name in years.names]
    return Table([say.IN_YEAR, *labels], rows, caption=found.label)


def _months_rows(found: BuildOutcome, years: RoomYears) -> list[list[str]]:
    """Means of the coldest and warmest, driest and dampest month of each room."""
    locale, calendar = found.inputs.case.heading.locale, production_calendar(found.inputs)
    mean = (years.by_month[0] / (LENGTHS[calendar] * 24))[:, :, _SETTLED]
    months = [month_of_year(f"2027-{m + 1:02d}", locale) for m in calendar[_SETTLED]]
    rows = []
    for name, headings in (
        ("air_temp_c", (say.COLDEST, say.WARMEST)),
        ("relative_humidity_share", (say.DRIEST, say.DAMPEST)),
    ):
        of_rooms = mean[:, TALLY.index(name)]
        for heading, places in zip(headings, (of_rooms.argmin(1), of_rooms.argmax(1)), strict=True):
            cells = []
            for values, m in zip(of_rooms, places, strict=True):
                is_warmth = name == "air_temp_c"
                text = (
                    f"{plain(values[m], locale, 1)} °C" if is_warmth else percent(values[m], locale)
                )
                cells.append(f"{text} ({months[m]})")
            rows.append([heading, *cells])
    return rows


def _hours_rows(found: BuildOutcome, years: RoomYears) -> list[list[str]]:
    """Hours within the band, above the people's limits, and with wet steel."""
    locale, table = found.inputs.case.heading.locale, physics(found.inputs.case)
    rows = [[say.WITHIN, *(_bands(found, years, r) for r in range(len(years.names)))]]
    limits = [plain(table[name], locale) for name in ("co2_limit_8_h_ppm", "co2_limit_15_min_ppm")]
    headings = [say.co2_hours(False, limits[0]), say.co2_hours(True, limits[1]), say.WET]
    for k, heading in enumerate(headings):
        rows.append([heading, *(plain(v, locale) for v in years.warnings[0, :, k])])
    return rows


def _bands(found: BuildOutcome, years: RoomYears, r: int) -> str:
    locale, crops = found.inputs.case.heading.locale, found.inputs.case.crops
    shares = []
    for name in standing_crops(found, years.names[r]):
        c = list(crops).index(name)
        shares.append((years.band_hours[0, r, c] / years.crop_hours[0, r, c], name))
    if len(shares) == 1:
        return percent(shares[0][0], locale)
    parts = [f"{crops[name].label} {percent(share, locale)}" for share, name in shares]
    return ", ".join(parts) if parts else NONE


def crop_table(outcome: Outcome, build: str) -> Table:
    """Each crop in each room: its band, and in which share of the hours the air is outside it."""
    found, locale = outcome[build], outcome.case.heading.locale
    lost, names = kilograms_lost_share(found), list(found.inputs.case.crops)
    years = found.physical.rooms
    rows = [
        [
            room_label(found, room),
            *_crop_cells(found, years, room, name),
            percent(lost[names.index(name)], locale),
        ]
        for room in (years.names if years else ())
        for name in standing_crops(found, room)
        if years
    ]
    header = [*say.CROP_TABLE, say.LOST]
    return Table(header, rows, caption=f"{found.label}. {say.CROP_NOTE}", left=(0, 1, 2))


def _crop_cells(found: BuildOutcome, years: RoomYears, room: str, name: str) -> list[str]:
    """Crop, band, hours it stands, within, too cold, too warm, too dry."""
    case = found.inputs.case
    locale, crop = case.heading.locale, case.crops[name]
    r, c = years.names.index(room), list(case.crops).index(name)
    low, high, damp = band_of(crop)
    band = say.span(plain(low, locale), plain(high, locale), "°C")
    stood, inside = (float(hours[0, r, c]) for hours in (years.crop_hours, years.band_hours))
    table = found.rooms[room].iloc[SETTLED_HOURS]
    table = table[table["units_standing"] > 0]
    outside = [NONE] * 3  # the hours of a crop that comes and goes are not told one by one
    if len(table) == stood:
        outside = [
            percent(float(away.mean()), locale)
            for away in (
                table["air_temp_c"] < low - EXACT,
                table["air_temp_c"] > high + EXACT,
                table["relative_humidity_share"] < damp - EXACT,
            )
        ]
    shares = [plain(stood, locale), percent(inside / stood, locale), *outside]
    return [crop.label, f"{band}, {percent(damp, locale)}", *shares]


def wall_table(outcome: Outcome, build: str) -> Table:
    """Outside area and U-value of each face of each room, and what the whole loses a kelvin.

    Rows are the faces, columns the rooms; a face that borders on another room names it.
    """
    found, locale = outcome[build], outcome.case.heading.locale
    case, shape = found.inputs.case, walls(found.inputs)
    names, contacts = enclosed_rooms(case), neighbours(case).contacts
    bridging = [case.climate[name].bridging_w_per_m2_k for name in names]
    rows = []
    for f, face in enumerate(FACES):
        cells = []
        for r, name in enumerate(names):
            area, u_value = shape.outside_m2[r, f], shape.u_w_per_m2_k[0, r, f]
            parts = []
            if area > 1e-9:
                layers = plain(u_value - bridging[r].likely, locale, 2)
                parts.append(f"{plain(area, locale, 1)} · {layers}")
            beside = [room_label(found, n) for n in _beside(contacts, name, face)]
            parts += [say.beside(beside)] if beside else []
            cells.append(", ".join(parts) or NONE)
        rows.append([face.capitalize(), *cells])
    added = [plain(each.likely, locale, 2) for each in bridging]
    for r, each in enumerate(bridging):
        if each.low < each.high:
            added[r] += f" ({plain(each.low, locale, 2)} to {plain(each.high, locale, 2)})"
    rows.append([say.BRIDGING, *added])
    loss = (shape.outside_m2 * shape.u_w_per_m2_k[0]).sum(1)
    rows.append([say.LOSS, *(plain(v, locale) for v in loss)])
    header = [say.FACE_HEADING, *(room_label(found, name) for name in names)]
    return Table(header, rows, caption=f"{found.label}. {say.ISO_NOTE}")


def _beside(contacts: tuple[Contact, ...], room: str, face: str) -> list[str]:
    found = [c.room_b for c in contacts if (c.room_a, c.face_a) == (room, face)]
    return found + [c.room_a for c in contacts if (c.room_b, c.face_b) == (room, face)]


def energy_table(outcome: Outcome, build: str) -> Table:
    """Energy of the settled year by carrier and end use, bought by band, and from own panels."""
    found, locale = outcome[build], outcome.case.heading.locale
    physical, case = found.physical, found.inputs.case
    used = physical.energy_kwh[0, :, :, _SETTLED].sum(-1)
    bought = physical.bought_kwh[0, :, :, _SETTLED].sum(-1)
    carriers = list(case.carriers)

    def numbers(values: np.ndarray, decimals: int = 0) -> list[str]:
        return [plain(value, locale, decimals) for value in values]

    rows = [
        [use.replace("_", " "), *numbers(used[:, u])]
        for u, use in enumerate(physical.end_uses)
        if used[:, u].sum() > 0.5
    ]
    rows.append([say.USED, *numbers(used.sum(1))])
    bands = [say.PLAIN_PRICE, *(band.label or name for name, band in case.bands.items())]
    for k, band in enumerate(bands if case.bands else ()):
        if k < bought.shape[1]:  # a band into which no hour falls is not counted
            rows.append([say.bought_in(band), *numbers(bought[:, k])])
    if case.solar and ELECTRICITY in carriers:
        electric = carriers.index(ELECTRICITY)
        own = used[electric].sum() - bought[electric].sum()
        sent = physical.sent_kwh[0, _SETTLED].sum()
        for label, value in ((say.OWN_USED, own), (say.OWN_SENT, sent)):
            cells = [plain(value, locale) if i == electric else NONE for i in range(len(carriers))]
            rows.append([label, *cells])
    rows.append([say.PEAK, *numbers(physical.peak_kw[0], 1)])
    rows.append([say.STAGGERED, *numbers(physical.staggered_kw[0], 1)])
    names = [carrier.label or name for name, carrier in case.carriers.items()]
    return Table([say.ENERGY_HEADING, *names], rows, caption=found.label)


def leaving_table(outcome: Outcome) -> Table:
    """Water in and out and substrate that leaves, in the settled year, by build."""
    locale = outcome.case.heading.locale
    columns = [_leaving(build) for build in outcome.values()]
    rows = [
        [label, *(plain(column[i], locale, 1) for column in columns)]
        for i, label in enumerate(say.LEAVING)
    ]
    return Table([say.IN_YEAR, *(b.label for b in outcome.values())], rows)


def _leaving(build: BuildOutcome) -> list[float]:
    """The numbers of `words.rooms.LEAVING`."""
    physical, years = build.physical, build.physical.rooms
    fog = drained = 0.0
    if years is not None:
        fog, drained = (
            float(years.by_month[0, :, TALLY.index(name), _SETTLED].sum()) / 1000
            for name in ("humidifier_l", "drained_l")
        )
    taken = float(physical.water_l[0, _SETTLED].sum()) / 1000
    waste = float(physical.waste_water_l[0, _SETTLED].sum()) / 1000
    spent = float(physical.spent_kg[0, _SETTLED].sum()) / 1000
    waiting = float(physical.occupied[0, 2, _SETTLED].sum()) / 365
    return [fog, taken - fog, taken, drained, waste, spent, waiting]


def closure_table(outcome: Outcome) -> Table:
    """By how much heat, water and CO2 of the worst room do not close over both years."""
    rows = []
    for k, (what, unit) in enumerate(say.CLOSURE_PARTS):
        cells = []
        for build in outcome.values():
            years = build.physical.rooms
            worst = float(np.abs(years.residual[0, :, k]).max()) if years else math.nan
            cells.append(closes_within(worst, unit, outcome.case.heading.locale))
        rows.append([what, *cells])
    return Table([say.CLOSURE_HEADING, *(b.label for b in outcome.values())], rows)


def closes_within(worst: float, unit: str, locale: str) -> str:
    """The power of ten below which a residual lies, as a number."""
    if not math.isfinite(worst):
        return NONE
    power = max(-9, math.ceil(math.log10(max(worst * _SAFETY, _CLOSES_WITHIN))))
    return say.less_than(plain(10.0**power, locale, max(0, -power)), unit)
