"""What must be said about the rooms of a build beside its numbers."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from farmcase.inputs.reference import threshold
from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.physical import RoomYears
from farmcase.model.room_inputs import ELECTRICITY
from farmcase.model.shell import physics
from farmcase.words import room_remarks as say
from farmcase.words.numbers import money, percent, plain

_HOURS = 8760
_SUPPLY_SCOPE = "power_supply"


def supply(outcome: BuildOutcome) -> Iterator[str]:
    """Peak power against the supply, and what could be done."""
    case = outcome.inputs.case
    locale, carriers = case.heading.locale, list(case.carriers)
    if case.site is None or ELECTRICITY not in carriers:
        return
    place = carriers.index(ELECTRICITY)
    peak = outcome.physical.peak_kw[0, place]
    staggered = outcome.physical.staggered_kw[0, place]
    shown = [plain(value, locale, 1) for value in (peak, staggered, case.site.supply_kw)]
    if peak <= case.site.supply_kw:
        return
    if staggered <= case.site.supply_kw:
        yield say.stagger(*shown)
        return
    yield say.supply_too_small(*shown[1:])
    rows = [row for row in case.capital.values() if row.scope == _SUPPLY_SCOPE]
    for row in rows:
        cost = row.quantity.likely * row.unit_cost.likely * row.exchange_rate.likely
        gate = case.gates.get(row.gate) if row.gate else None
        waiting = ""
        if gate:
            months = [plain(value, locale) for value in (gate.month.low, gate.month.high)]
            waiting = say.gate_months(gate.label or row.gate, *months)
        yield say.upgrade(row.item, money(cost, case.heading.currency, locale), waiting)
    if not rows:
        yield say.no_upgrade()


def climate(outcome: BuildOutcome) -> Iterator[str]:
    """Species outside their band, air that people must not work in, wet steel, units that wait."""
    rooms, case = outcome.physical.rooms, outcome.inputs.case
    if rooms is None:
        return
    locale = case.heading.locale
    yield from _bands(outcome, rooms)
    limit = plain(physics(case)["co2_limit_8_h_ppm"], locale)
    wettest = threshold("wet_bridge_share", "high", case.folder) * _HOURS
    for r, name in enumerate(rooms.names):
        over, _, wet = rooms.warnings[0, r]
        label = case.rooms[name].label or name.replace("_", " ")
        if over > 0:
            yield say.high_co2(label, plain(over, locale), limit)
        if wet > wettest and case.rooms[name].kind == "fruiting":
            yield say.wet_bridges(label, percent(wet / _HOURS, locale))
    waiting = outcome.physical.occupied[0, 2, 12:].sum() / 365
    daily = outcome.physical.started[0, :, 12:].sum() / 365
    if waiting > 3 * daily:
        yield say.units_wait(plain(waiting, locale))


def _bands(outcome: BuildOutcome, rooms: RoomYears) -> Iterator[str]:
    case, locale = outcome.inputs.case, outcome.inputs.case.heading.locale
    lost = kilograms_lost_share(outcome)
    least = threshold("band_hours_share", "low", case.folder)
    for r, name in enumerate(rooms.names):
        for c, (crop, record) in enumerate(case.crops.items()):
            stood = rooms.crop_hours[0, r, c]
            if stood <= 0:
                continue
            inside = rooms.band_hours[0, r, c] / stood
            if inside < least:
                yield say.outside_band(
                    case.rooms[name].label or name,
                    record.label or crop,
                    percent(1 - inside, locale),
                    percent(lost[c], locale),
                )


def kilograms_lost_share(outcome: BuildOutcome) -> np.ndarray:
    """Share of each crop's kilograms that temperature and air cost in the settled year, (C,).

    Against the same units picked in full: what was picked over what was placed, flush by flush.
    """
    case, physical = outcome.inputs.case, outcome.physical
    found = np.zeros(len(case.crops))
    for c, crop in enumerate(case.crops.values()):
        dry = crop.unit_wet_kg.likely * (1 - crop.moisture_share.likely)
        kept = np.array(crop.flush_shares[: crop.flushes_kept])
        picked = (physical.dry_picked_kg[0, c, : kept.size, 12:].sum(-1) * kept).sum()
        full = physical.placed[0, c, 12:].sum() * dry * kept.sum()
        found[c] = max(0.0, 1 - picked / full) if full > 0 else 0.0
    return found
