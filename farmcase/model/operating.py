"""Lines of the running farm: substrate, work, energy, water, overheads and leases.

Where a price meets kilowatt-hours or units it does so for the 24 months of production, which is
a fifth of the work of all months; the price level of the month comes last.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from farmcase.costs.labour import Work, work_by_month
from farmcase.costs.running import Due, due, repeating_amounts
from farmcase.crop.substrate import bought_per_unit, unit_dry_kg
from farmcase.energy.bill import energy_cost, solar_value
from farmcase.inputs.rows import Driver
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.kilograms import Kilograms
from farmcase.model.physical import Physical
from farmcase.model.production import Production

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
LEVELS = ("general", "sales", "substrate", "energy", "wages", "none")
DRIVERS: tuple[str, ...] = get_args(Driver)


@dataclass(frozen=True)
class Priced:
    """A line with the VAT that comes with it, nominal money by month, (S, T) each."""

    amount: Floats  # received positive, paid negative
    vat: Floats  # positive


def repeating(inputs: BuildInputs, section: str, levels: dict[str, Floats], sign: float) -> Priced:
    """Overheads (sign -1) or other income (1); months slide with the plan of the build."""
    if not inputs.records(section):
        return Priced(inputs.nothing, inputs.nothing)
    when, category, rate = inputs.once(("due", section), lambda: _due(inputs, section))
    amount = broadcast(inputs.priced(section, "amount"), inputs.size)
    prices = tuple(levels[name] for name in LEVELS)
    total = repeating_amounts(amount * sign, when, category, prices)
    vat = inputs.nothing
    if rate.any():
        vat = repeating_amounts(amount * rate, when, category, prices)
    return Priced(total, vat)


def _due(inputs: BuildInputs, section: str) -> tuple[Due, NDArray[np.int64], Floats]:
    """When each row is due, the place of its price level, and its rate of VAT."""
    records = inputs.records(section).values()
    when = Due(*(np.array(part, np.int64) for part in zip(*dues(inputs, section), strict=True)))
    category = np.array([LEVELS.index(r.inflates_with) for r in records], np.int64)
    return when, category, np.array([r.vat_rate_share for r in records])


def dues(inputs: BuildInputs, section: str) -> list[tuple[int, int, int]]:
    """First month, months between and last month of each repeating row."""
    slide, months = inputs.timetable.slide, inputs.months
    return [
        due(
            row.period,
            slide(row.starts_month),
            None if row.ends_month is None else slide(row.ends_month),
            months,
        )
        for row in inputs.records(section).values()
    ]


def substrate_cost_per_unit(inputs: BuildInputs, vat: bool = False) -> Floats:
    """Cost of one unit's substrate, spawn, wrapping and block by crop, at start prices, (S, C).

    With `vat` the VAT on it instead.
    """
    rows, mine, rate = inputs.once("recipes", lambda: _recipes(inputs))
    price = inputs.priced("substrate", "price") + inputs.priced("substrate", "freight")
    if vat:
        price = price * rate
    share, moist = inputs.column("substrate", "share"), inputs.column("substrate", "moisture_share")
    wet = inputs.by_crop("unit_wet_kg")
    dry = unit_dry_kg(wet, inputs.by_crop("moisture_share"))
    cost = np.zeros((inputs.size, len(mine)))
    for c, of_crop in enumerate(mine):
        taken = bought_per_unit(rows, share, moist, wet[:, [c]], dry[:, [c]])
        cost[:, c] = (taken * price * of_crop).sum(1)
    return cost


def _recipes(inputs: BuildInputs) -> tuple[list[str], NDArray[np.bool_], Floats]:
    """The role of each ingredient, whether it goes into each crop, and its rate of VAT."""
    rows = inputs.records("substrate").values()
    crops = inputs.records("crops").values()
    mine = np.array([[row.recipe == crop.recipe for row in rows] for crop in crops], bool)
    return [row.role for row in rows], mine, np.array([row.vat_rate_share for row in rows])


def substrate(
    inputs: BuildInputs, physical: Physical, production: Production, level: Floats
) -> Priced:
    """What is bought for the units started."""
    started = production.of_group(physical.started)

    def paid(cost: Floats, sign: float) -> Floats:
        return production.at_prices((started * cost[:, :, None]).sum(1), level, sign)

    vat = inputs.nothing
    if any(inputs.texts("substrate", "vat_rate_share")):
        vat = paid(substrate_cost_per_unit(inputs, vat=True), 1.0)
    return Priced(paid(substrate_cost_per_unit(inputs), -1.0), vat)


def work_done(
    inputs: BuildInputs,
    physical: Physical,
    kilograms: Kilograms,
    production: Production,
) -> Work:
    """Hours and pay by month, at start-month wages; own hours have no pay here."""
    driver, own, by_weight = inputs.once("tasks", lambda: _tasks(inputs))
    return work_by_month(
        hours=broadcast(inputs.column("labour", "hours"), inputs.size),
        driver=driver,
        own=own,
        by_weight=by_weight,
        pay=_hourly_pay(inputs),
        amounts=driver_amounts(inputs, physical, kilograms, production),
    )


def _tasks(inputs: BuildInputs) -> tuple[Ints, Ints, Ints]:
    """Of each task the place of its driver, 1 for own work, 1 for work by the kilogram."""
    drivers, bands = inputs.texts("labour", "driver"), inputs.texts("labour", "pay")
    return (
        np.array([DRIVERS.index(driver) for driver in drivers], np.int64),
        np.array([band == "own" for band in bands], np.int64),
        np.array([driver == "kg_picked" for driver in drivers], np.int64),
    )


def driver_amounts(
    inputs: BuildInputs, physical: Physical, kilograms: Kilograms, production: Production
) -> tuple[Floats, ...]:
    """How much there is of each driver in the order of `DRIVERS`, (S or 1, T) each."""
    counted = inputs.once_of(physical, "counted", lambda: _counted(physical, production))
    prepared, spawned, placed, cleared, weeks = map(production.of_group, counted)
    trips = inputs.column("sales", "deliveries_per_week").sum(1)
    return (
        prepared,
        spawned,
        placed,
        cleared,
        kilograms.picked.sum(1),
        weeks,
        trips[:, None] * production.days / 7,
        production.active[None],
    )


def _counted(physical: Physical, production: Production) -> tuple[Floats, ...]:
    """Units by what is done with them, and weeks of rooms, (G, T) each."""
    p = physical
    units = [each.sum(1) for each in (p.prepared, p.spawned, p.placed, p.cleared + p.lost)]
    weeks = np.broadcast_to(p.room_weeks, units[0].shape)
    return tuple(production.over_months(each) for each in (*units, weeks))


def task_hours(
    inputs: BuildInputs, physical: Physical, kilograms: Kilograms, production: Production
) -> Floats:
    """Hours of each task by month, (S, tasks, T)."""
    amounts = driver_amounts(inputs, physical, kilograms, production)
    driver, _, _ = inputs.once("tasks", lambda: _tasks(inputs))
    of_task = np.stack([broadcast(amounts[d], inputs.size) for d in driver], axis=1)
    return inputs.column("labour", "hours")[:, :, None] * of_task


def task_rates(inputs: BuildInputs) -> Floats:
    """What an hour of each task is worth at start-month prices, own hours too: (S, tasks)."""
    own = np.array([band == "own" for band in inputs.texts("labour", "pay")], bool)
    worth = inputs.price("own_work.opportunity_wage_per_hour")[:, None]
    return np.where(own, worth, _hourly_pay(inputs))


def _hourly_pay(inputs: BuildInputs) -> Floats:
    """What an hour of each task costs in wages with on-costs; own hours cost none here, (S, K)."""
    band, paid = inputs.once("bands of tasks", lambda: _bands(inputs))
    if not paid.any():
        return np.zeros((inputs.size, paid.size))
    rates = inputs.priced("pay", "wage_per_hour") * (1 + inputs.column("pay", "on_cost_share"))
    return broadcast(rates.take(band, axis=1) * paid, inputs.size)


def _bands(inputs: BuildInputs) -> tuple[Ints, Floats]:
    """The place of the pay band of each task, and 1 where it is paid."""
    names, bands = list(inputs.records("pay")), inputs.texts("labour", "pay")
    paid = np.array([band != "own" for band in bands], float)
    return np.array([names.index(b) if b != "own" else 0 for b in bands], np.int64), paid


def own_work_cost(inputs: BuildInputs, hours: Floats, level: Floats, view: str) -> Floats:
    """What own hours are charged in one of the three views, (S, T), positive."""
    if view == "opportunity_wage":
        cost = hours * inputs.price("own_work.opportunity_wage_per_hour")[:, None]
        return np.multiply(cost, level, out=cost)
    if view == "drawings":
        drawn = inputs.price("own_work.drawings_per_month")[:, None] * level
        return np.broadcast_to(drawn, hours.shape) * (np.arange(inputs.months) > 0)
    return np.zeros(hours.shape)


def energy(
    inputs: BuildInputs, physical: Physical, production: Production, level: Floats
) -> Priced:
    """Energy bought."""
    prices = band_prices(inputs, physical.bought_kwh.shape[2])
    kwh = production.of_group(physical.bought_kwh)
    standing = inputs.priced("carriers", "standing_charge_per_month")
    capacity = inputs.priced("carriers", "capacity_charge_per_kw_month")
    peak = production.of_group(physical.peak_kw)
    used = np.ones((len(inputs.records("carriers")), 24))

    def line(share: Floats | float, sign: float) -> Floats:
        charges = (standing * share, capacity * share, peak, used)
        by_band = prices * np.reshape(share, (-1, 1))
        return production.at_prices(energy_cost(kwh, by_band, *charges), level, sign)

    rate = np.array(inputs.texts("carriers", "vat_rate_share"), float)
    return Priced(line(1.0, -1.0), line(rate, 1.0) if rate.any() else inputs.nothing)


def solar_sent(
    inputs: BuildInputs, physical: Physical, production: Production, level: Floats
) -> Floats:
    """What own solar sent out brings."""
    if not physical.sent_kwh.any():
        return inputs.nothing
    sent = production.of_group(physical.sent_kwh)
    return production.at_prices(solar_value(sent, _mean_sent_price(inputs)), level)


def water(inputs: BuildInputs, physical: Physical, production: Production, level: Floats) -> Priced:
    """Water bought."""
    if inputs.case.water is None:
        return Priced(inputs.nothing, inputs.nothing)
    cubic_metres = production.of_group(physical.water_l) / 1000
    cost = cubic_metres * inputs.price("water.price_per_m3")[:, None]
    paid = production.at_prices(cost, level, -1.0)
    rate = inputs.case.water.vat_rate_share
    return Priced(paid, production.at_prices(cost * rate, level) if rate else inputs.nothing)


def leaving(
    inputs: BuildInputs, physical: Physical, production: Production, level: Floats
) -> Floats:
    """Spent substrate and waste water; received positive."""
    if inputs.case.leaving is None:
        return inputs.nothing
    tonnes = production.of_group(physical.spent_kg) / 1000
    waste = production.of_group(physical.waste_water_l) / 1000
    value = tonnes * inputs.price("leaving.spent_price_per_tonne")[:, None]
    value = value + waste * inputs.price("leaving.waste_water_price_per_m3")[:, None]
    return production.at_prices(value, level)


def band_prices(inputs: BuildInputs, bands: int) -> Floats:
    """Price of each carrier in each tariff band at start-month prices, (1|S, carriers, bands)."""
    carriers = list(inputs.records("carriers"))
    plain = inputs.priced("carriers", "price_per_kwh")
    own = inputs.priced("bands", "price_per_kwh")
    size = max(plain.shape[0], own.shape[0])
    prices = np.repeat(broadcast(plain, size)[:, :, None], bands, axis=2)
    for k, band in enumerate(inputs.records("bands").values()):
        if k + 1 < bands:
            prices[:, carriers.index(band.carrier), k + 1] = broadcast(own, size)[:, k]
    return prices


def _mean_sent_price(inputs: BuildInputs) -> Floats:
    """What a kilowatt-hour sent out brings: the mean over panels by their size, (S or 1,)."""
    size = inputs.column("solar", "peak_kw")
    price = inputs.priced("solar", "sent_price_per_kwh")
    return (size * price).sum(1) / np.maximum(size.sum(1), 1e-12)
