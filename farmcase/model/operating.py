"""Lines of the running farm: substrate, work, energy, water, overheads and leases.

Where a price meets kilowatt-hours or units it does so for the 24 months of production, which is
a fifth of the work of all months; the price level of the month comes last.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmcase.costs.labour import Work, work_by_month
from farmcase.costs.running import Due, due, repeating_amounts
from farmcase.crop.substrate import bought_per_unit, unit_dry_kg
from farmcase.energy.bill import energy_cost, solar_value
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.kilograms import Kilograms
from farmcase.model.physical import Physical
from farmcase.model.production import Production

Floats = NDArray[np.float64]
LEVELS = ("general", "sales", "substrate", "energy", "wages", "none")
DRIVERS = (
    "unit_prepared",
    "unit_spawned",
    "unit_placed",
    "unit_cleared",
    "kg_picked",
    "room_week",
    "delivery",
    "month",
)


@dataclass(frozen=True)
class Priced:
    """A line with the VAT that comes with it, (S, T) each; paid negative."""

    amount: Floats
    vat: Floats


def repeating(inputs: BuildInputs, section: str, levels: Floats) -> Priced:
    """Overheads or other income, positive; months slide with the plan of the build."""
    records = list(inputs.records(section).values())
    nothing = np.zeros((inputs.size, inputs.months))
    if not records:
        return Priced(nothing, nothing)
    when = Due(*(np.array(part, np.int64) for part in zip(*dues(inputs, section), strict=True)))
    amount = broadcast(inputs.priced(section, "amount"), inputs.size)
    category = np.array([LEVELS.index(r.inflates_with) for r in records], np.int64)
    rate = np.array([r.vat_rate_share for r in records])
    total = repeating_amounts(amount, when, category, levels)
    vat = repeating_amounts(amount * rate, when, category, levels) if rate.any() else nothing
    return Priced(total, vat)


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
    rows = list(inputs.records("substrate").values())
    crops = list(inputs.records("crops").values())
    price = inputs.priced("substrate", "price") + inputs.priced("substrate", "freight")
    if vat:
        price = price * np.array([row.vat_rate_share for row in rows])
    share, moist = inputs.column("substrate", "share"), inputs.column("substrate", "moisture_share")
    wet = inputs.by_crop("unit_wet_kg")
    dry = unit_dry_kg(wet, inputs.by_crop("moisture_share"))
    roles = [row.role for row in rows]
    cost = np.zeros((inputs.size, len(crops)))
    for c, crop in enumerate(crops):
        mine = np.array([row.recipe == crop.recipe for row in rows], bool)
        taken = bought_per_unit(roles, share, moist, wet[:, [c]], dry[:, [c]])
        cost[:, c] = (taken * price * mine).sum(1)
    return cost


def substrate(inputs: BuildInputs, physical: Physical, production: Production) -> Priced:
    """At start-month prices, positive."""
    started = production.of_group(physical.started)
    cost = (started * substrate_cost_per_unit(inputs)[:, :, None]).sum(1)
    vat = np.zeros((1, 24))
    if any(row.vat_rate_share for row in inputs.records("substrate").values()):
        vat = (started * substrate_cost_per_unit(inputs, vat=True)[:, :, None]).sum(1)
    return Priced(production.over_months(cost), production.over_months(vat))


def work_done(
    inputs: BuildInputs,
    physical: Physical,
    kilograms: Kilograms,
    production: Production,
) -> Work:
    """Hours and pay by month, at start-month wages; own hours have no pay here."""
    drivers, bands = inputs.texts("labour", "driver"), inputs.texts("labour", "pay")
    return work_by_month(
        hours=broadcast(inputs.column("labour", "hours"), inputs.size),
        driver=np.array([DRIVERS.index(driver) for driver in drivers], np.int64),
        own=np.array([band == "own" for band in bands], np.int64),
        by_weight=np.array([driver == "kg_picked" for driver in drivers], np.int64),
        pay=broadcast(_hourly_pay(inputs, bands), inputs.size),
        amounts=driver_amounts(inputs, physical, kilograms, production),
    )


def driver_amounts(
    inputs: BuildInputs, physical: Physical, kilograms: Kilograms, production: Production
) -> Floats:
    """How much there is of each driver, (S, drivers, T) in the order of `DRIVERS`."""
    amounts = np.zeros((inputs.size, len(DRIVERS), inputs.months))
    units = (physical.prepared, physical.spawned, physical.placed, physical.cleared + physical.lost)
    for d, counted in enumerate(units):
        amounts[:, d] = production.over_months(production.of_group(counted.sum(1)))
    amounts[:, 4] = kilograms.picked.sum(1)
    amounts[:, 5] = production.over_months(physical.room_weeks)
    trips = inputs.column("sales", "deliveries_per_week").sum(1)
    amounts[:, 6] = trips[:, None] * production.days / 7
    amounts[:, 7] = production.active
    return amounts


def task_hours(
    inputs: BuildInputs, physical: Physical, kilograms: Kilograms, production: Production
) -> Floats:
    """Hours of each task by month, (S, tasks, T)."""
    amounts = driver_amounts(inputs, physical, kilograms, production)
    rows = [DRIVERS.index(driver) for driver in inputs.texts("labour", "driver")]
    return inputs.column("labour", "hours")[:, :, None] * amounts[:, rows]


def task_rates(inputs: BuildInputs) -> Floats:
    """What an hour of each task is worth at start-month prices, own hours too: (S, tasks)."""
    bands = inputs.texts("labour", "pay")
    own = np.array([band == "own" for band in bands], bool)
    worth = inputs.price("own_work.opportunity_wage_per_hour")[:, None]
    return np.where(own, worth, _hourly_pay(inputs, bands))


def _hourly_pay(inputs: BuildInputs, bands: list[str]) -> Floats:
    """What an hour of each task costs in wages with on-costs; own hours cost none here."""
    names = list(inputs.records("pay"))
    rates = inputs.priced("pay", "wage_per_hour") * (1 + inputs.column("pay", "on_cost_share"))
    pay = np.zeros((inputs.size, len(bands)))
    for i, band in enumerate(bands):
        if band != "own":
            pay[:, i] = rates[:, names.index(band)]
    return pay


def own_work_cost(inputs: BuildInputs, hours: Floats, level: Floats, view: str) -> Floats:
    """What own hours are charged in one of the three views, (S, T), positive."""
    if view == "opportunity_wage":
        return hours * inputs.price("own_work.opportunity_wage_per_hour")[:, None] * level
    if view == "drawings":
        drawn = inputs.price("own_work.drawings_per_month")[:, None] * level
        return np.broadcast_to(drawn, hours.shape) * (np.arange(inputs.months) > 0)
    return np.zeros(hours.shape)


def energy(inputs: BuildInputs, physical: Physical, production: Production) -> Priced:
    """Energy bought, at start-month prices, positive."""
    prices = band_prices(inputs, physical.bought_kwh.shape[2])
    kwh = production.of_group(physical.bought_kwh)
    standing = inputs.priced("carriers", "standing_charge_per_month")
    capacity = inputs.priced("carriers", "capacity_charge_per_kw_month")
    peak = production.of_group(physical.peak_kw)
    used = np.ones((len(inputs.records("carriers")), 24))

    def cost(scale: Floats) -> Floats:
        return energy_cost(
            kwh, prices * scale[:, None], standing * scale, capacity * scale, peak, used
        )

    rate = np.array([c.vat_rate_share for c in inputs.records("carriers").values()])
    vat = cost(rate) if rate.any() else np.zeros((1, 24))
    return Priced(
        production.over_months(cost(np.ones(rate.size))),
        production.over_months(vat),
    )


def solar_sent(inputs: BuildInputs, physical: Physical, production: Production) -> Floats:
    """What own solar sent out brings, at start-month prices."""
    sent = production.of_group(physical.sent_kwh)
    return production.over_months(solar_value(sent, _mean_sent_price(inputs)))


def water(inputs: BuildInputs, physical: Physical, production: Production) -> Priced:
    """Water bought, at start-month prices, positive."""
    if inputs.case.water is None:
        nothing = np.zeros((1, inputs.months))
        return Priced(nothing, nothing)
    cubic_metres = production.of_group(physical.water_l) / 1000
    cost = production.over_months(cubic_metres * inputs.price("water.price_per_m3")[:, None])
    return Priced(cost, cost * inputs.case.water.vat_rate_share)


def leaving(inputs: BuildInputs, physical: Physical, production: Production) -> Floats:
    """Spent substrate and waste water, at start-month prices; received positive."""
    if inputs.case.leaving is None:
        return np.zeros((1, inputs.months))
    tonnes = production.of_group(physical.spent_kg) / 1000
    waste = production.of_group(physical.waste_water_l) / 1000
    value = tonnes * inputs.price("leaving.spent_price_per_tonne")[:, None]
    value = value + waste * inputs.price("leaving.waste_water_price_per_m3")[:, None]
    return production.over_months(value)


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
