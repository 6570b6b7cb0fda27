"""Lines of the running farm: sales, substrate, work, energy, water and overheads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmcase.costs.labour import task_hours
from farmcase.costs.running import falls_in, repeating_amounts
from farmcase.crop.substrate import bought_per_unit, unit_dry_kg
from farmcase.energy.bill import energy_cost, solar_value
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.kilograms import Expander, Kilograms
from farmcase.model.physical import Physical
from farmcase.money.sales import received

Floats = NDArray[np.float64]


def sales_lines(
    inputs: BuildInputs, kilograms: Kilograms, expand: Expander, levels: dict[str, Floats]
) -> dict[str, Floats]:
    sold = kilograms.filled.sold_kg
    invoiced = sold * _sale(inputs, "price_per_kg") * levels["sales"][:, None]
    trips = (
        _sale(inputs, "deliveries_per_week") * _sale(inputs, "cost_per_delivery") * expand.days / 7
    )
    delivery = (sold * _sale(inputs, "delivery_per_kg") + trips).sum(1)
    paid = received(invoiced, broadcast(inputs.column("sales", "payment_delay_days"), inputs.size))
    return {
        "sales": invoiced.sum(1),
        "outlet_fees": -(invoiced * _sale(inputs, "fee_share")).sum(1),
        "packaging": -(sold * _sale(inputs, "packaging_per_kg")).sum(1) * levels["general"],
        "delivery": -delivery * levels["general"],
        "other_income": repeating(inputs, "income", levels),
        "debtors_change": (paid - invoiced).sum(1),
    }


def _sale(inputs: BuildInputs, name: str) -> Floats:
    """A field of the outlets, ready to meet months: (S, O, 1)."""
    return inputs.column("sales", name)[:, :, None]


def repeating(inputs: BuildInputs, section: str, levels: dict[str, Floats]) -> Floats:
    records = inputs.records(section).values()
    if not records:
        return np.zeros((inputs.size, inputs.months))
    due = np.array(
        [falls_in(r.period, r.starts_month, r.ends_month, inputs.months) for r in records]
    )
    level = np.stack([broadcast(levels[r.inflates_with], inputs.size) for r in records], axis=1)
    return repeating_amounts(inputs.column(section, "amount"), due, level)


def substrate_cost_per_unit(inputs: BuildInputs) -> Floats:
    """Cost of one unit's substrate, spawn, wrapping and block by crop, at start prices, (S, C)."""
    rows = list(inputs.records("substrate").values())
    crops = list(inputs.records("crops").values())
    price = inputs.column("substrate", "price") + inputs.column("substrate", "freight")
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


def substrate_cost(inputs: BuildInputs, physical: Physical, expand: Expander) -> Floats:
    return (expand(physical.started) * substrate_cost_per_unit(inputs)[:, :, None]).sum(1)


@dataclass(frozen=True)
class Work:
    """Wages and hours by month."""

    wages: Floats
    task_hours: Floats  # (S, tasks, T)
    paid_hours: Floats
    own_hours: Floats
    by_weight: Floats
    own_by_weight: Floats


def work_done(
    inputs: BuildInputs,
    physical: Physical,
    kilograms: Kilograms,
    expand: Expander,
    levels: dict[str, Floats],
) -> Work:
    drivers = inputs.texts("labour", "driver")
    bands = inputs.texts("labour", "pay")
    amounts = _driver_amounts(inputs, physical, kilograms, expand)
    stacked = np.zeros((inputs.size, len(drivers), inputs.months))
    for i, driver in enumerate(drivers):
        stacked[:, i] = amounts[driver]
    hours = task_hours(inputs.column("labour", "hours"), stacked)
    own = np.array([band == "own" for band in bands], bool)
    weight = np.array([driver == "kg_picked" for driver in drivers], bool)
    hourly = _hourly_pay(inputs, bands)[:, :, None] * levels["wages"][:, None]
    value = inputs.value("own_work.opportunity_wage_per_hour")[:, None] * levels["wages"]
    return Work(
        wages=(hours * hourly).sum(1),
        task_hours=hours,
        paid_hours=hours[:, ~own].sum(1),
        own_hours=hours[:, own].sum(1),
        by_weight=(hours * hourly)[:, weight].sum(1),
        own_by_weight=hours[:, weight & own].sum(1) * value,
    )


def _driver_amounts(
    inputs: BuildInputs, physical: Physical, kilograms: Kilograms, expand: Expander
) -> dict[str, Floats]:
    trips = inputs.column("sales", "deliveries_per_week").sum(1)[:, None] * expand.days / 7
    return {
        "unit_prepared": expand(physical.prepared).sum(1),
        "unit_spawned": expand(physical.spawned).sum(1),
        "unit_placed": expand(physical.placed).sum(1),
        "unit_cleared": expand(physical.cleared + physical.lost).sum(1),
        "kg_picked": kilograms.picked.sum(1),
        "room_week": (physical.room_weeks[expand.place] * expand.active)[None],
        "delivery": trips,
        "month": expand.active[None],
    }


def task_rates(inputs: BuildInputs) -> Floats:
    """What an hour of each task is worth at start-month prices, own hours too: (S, tasks)."""
    bands = inputs.texts("labour", "pay")
    own = np.array([band == "own" for band in bands], bool)
    worth = inputs.value("own_work.opportunity_wage_per_hour")[:, None]
    return np.where(own, worth, _hourly_pay(inputs, bands))


def _hourly_pay(inputs: BuildInputs, bands: list[str]) -> Floats:
    """What an hour of each task costs in wages with on-costs; own hours cost none here."""
    names = list(inputs.records("pay"))
    rates = inputs.column("pay", "wage_per_hour") * (1 + inputs.column("pay", "on_cost_share"))
    pay = np.zeros((inputs.size, len(bands)))
    for i, band in enumerate(bands):
        if band != "own":
            pay[:, i] = rates[:, names.index(band)]
    return pay


def own_work_cost(
    inputs: BuildInputs, hours: Floats, levels: dict[str, Floats], view: str
) -> Floats:
    if view == "opportunity_wage":
        return hours * inputs.value("own_work.opportunity_wage_per_hour")[:, None] * levels["wages"]
    if view == "drawings":
        drawn = inputs.value("own_work.drawings_per_month")[:, None] * levels["wages"]
        return np.broadcast_to(drawn, hours.shape) * (np.arange(inputs.months) > 0)
    return np.zeros(hours.shape)


def utilities(
    inputs: BuildInputs, physical: Physical, expand: Expander, levels: dict[str, Floats]
) -> dict[str, Floats]:
    """Energy bought and sent out, water, and what leaves besides mushrooms."""
    used = np.ones((len(inputs.records("carriers")), 1)) * expand.active
    cost = energy_cost(
        expand(physical.bought_kwh),
        band_prices(inputs, physical.bought_kwh.shape[2]),
        inputs.column("carriers", "standing_charge_per_month"),
        inputs.column("carriers", "capacity_charge_per_kw_month"),
        physical.peak_kw[expand.group],
        used,
    )
    sent = expand(physical.sent_kwh)
    price = _mean_sent_price(inputs)
    water, leaving = np.zeros(sent.shape), np.zeros(sent.shape)
    if inputs.case.water is not None:
        cubic_metres = expand(physical.water_l) / 1000
        water = cubic_metres * inputs.value("water.price_per_m3")[:, None]
    if inputs.case.leaving is not None:
        tonnes = expand(physical.spent_kg) / 1000
        leaving = tonnes * inputs.value("leaving.spent_price_per_tonne")[:, None]
        waste = expand(physical.waste_water_l) / 1000
        leaving = leaving + waste * inputs.value("leaving.waste_water_price_per_m3")[:, None]
    return {
        "energy": -cost * levels["energy"],
        "solar_sent": solar_value(sent, price) * levels["energy"],
        "water": -water * levels["general"],
        "leaving": leaving * levels["general"],
    }


def band_prices(inputs: BuildInputs, bands: int) -> Floats:
    """Price of each carrier in each tariff band, (S or 1, carriers, bands)."""
    carriers = list(inputs.records("carriers"))
    plain = inputs.column("carriers", "price_per_kwh")
    own = inputs.column("bands", "price_per_kwh")
    size = max(plain.shape[0], own.shape[0])
    prices = np.repeat(broadcast(plain, size)[:, :, None], bands, axis=2)
    for k, band in enumerate(inputs.records("bands").values()):
        if k + 1 < bands:
            prices[:, carriers.index(band.carrier), k + 1] = broadcast(own, size)[:, k]
    return prices


def _mean_sent_price(inputs: BuildInputs) -> Floats:
    """What a kilowatt-hour sent out brings: the mean over panels by their size, (S or 1,)."""
    size = inputs.column("solar", "peak_kw")
    price = inputs.column("solar", "sent_price_per_kwh")
    return (size * price).sum(1) / np.maximum(size.sum(1), 1e-12)
