"""From the dry substrate picked to kilograms sold, month by month."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from farmcase.crop.harvest import Grading, full_yield_kg, harvest, kept_share, learning_share
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.physical import Physical
from farmcase.model.rooms import LENGTHS, season_shares
from farmcase.money.sales import (
    Filled,
    Supply,
    fill_order,
    fill_outlets,
    net_price_per_kg,
    weekly_limits,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Kilograms:
    """Kilograms by scenario and month from the start."""

    picked: Floats  # (S, C, T)
    thrown_before_sale: Floats  # (S, T) lost because harvests bunch
    saleable: Floats  # (S, P, T) pools: first grade of each crop, then second grade of each
    limit: Floats  # (S, O, T), of one row seen S times where no scenario touches it
    pool: NDArray[np.int64]  # (O,)
    order: NDArray[np.int64]  # (S, O) outlets from best to worst, as `limit`

    @cached_property
    def filled(self) -> Filled:
        """Kilograms by outlet, (S, O, T); for many scenarios `supply` and `sell` are quicker."""
        return fill_outlets(*self.supply())

    def supply(self, months: slice = slice(None)) -> Supply:
        """What there is to sell and who takes it, in all months or in some."""
        limit = self.limit[..., months]
        order = self.order
        if not limit.strides[0]:
            limit = limit[:1]
        if not order.strides[0]:
            order = order[:1]
        return Supply(self.saleable[..., months], limit, order, self.pool)


class Expander:
    """Spreads what production gives by month of production over months from the start."""

    def __init__(self, inputs: BuildInputs, group: NDArray[np.int64]) -> None:
        self.group = group
        self.place = np.maximum(inputs.production, 0)
        self.active = (inputs.production >= 0).astype(float)
        self.days = LENGTHS[inputs.calendar] * self.active

    def __call__(self, array: Floats) -> Floats:
        """(G, ..., 24) to (S, ..., T)."""
        rows = self.rows(array)
        if len(rows) == self.group.size:
            return rows
        return np.broadcast_to(rows, (self.group.size, *rows.shape[1:]))

    def rows(self, array: Floats) -> Floats:
        """(G, ..., 24) to (S, ..., T), or to (1, ..., T) where all scenarios are of one group."""
        spread = np.ascontiguousarray(array[..., self.place]) * self.active
        return spread if len(spread) == 1 else spread[self.group]


def follow_kilograms(inputs: BuildInputs, physical: Physical, expand: Expander) -> Kilograms:
    """Pick, grade, store and sell."""
    size = inputs.size
    full, off_band = _grown(inputs, physical)
    efficiency = inputs.by_crop("biological_efficiency_share")
    if physical.given_kg is not None:
        efficiency = np.ones((1, full.shape[1]))
    left = kept_share(
        inputs.value("store.weight_loss_share_per_day"), inputs.value("store.days_held")
    )
    grading = Grading(
        efficiency_share=broadcast(efficiency, size),
        second_share=broadcast(inputs.by_crop("second_grade_share"), size),
        kept_share=broadcast(left, size),
        bunching_share=broadcast(inputs.value("store.bunching_loss_share"), size),
    )
    picked = harvest(full, off_band, expand.group, inputs.production, _learning(inputs), grading)
    net = net_price_per_kg(
        inputs.column("sales", "price_per_kg"),
        inputs.column("sales", "fee_share"),
        inputs.column("sales", "packaging_per_kg"),
        inputs.column("sales", "delivery_per_kg"),
    )
    limit, order = _limits(inputs, expand), fill_order(net)
    return Kilograms(*picked, broadcast(limit, size), _pools(inputs), broadcast(order, size))


def _learning(inputs: BuildInputs) -> Floats:
    """Share of the full yield in each month, (S, T)."""
    learning = np.ones((inputs.size, inputs.months))
    if inputs.case.learning is not None:
        first = inputs.value("learning.first_month_yield_share")
        months = inputs.value("learning.months")
        first, months = np.broadcast_arrays(first, months)
        count = inputs.months - inputs.start
        learning[:, inputs.start :] = learning_share(first, months, count)
    return learning


def _grown(inputs: BuildInputs, physical: Physical) -> tuple[Floats, Floats]:
    """Kilograms by month of production at full yield, and those grown outside the band, (G, C, 24).

    At a biological efficiency of 1, but where the case gives its output it is that.
    """
    if physical.given_kg is not None:
        return physical.given_kg, np.zeros_like(physical.given_kg)
    flushes = physical.dry_picked_kg.shape[2]
    shares = np.array(
        [(*c.flush_shares, *(0.0,) * flushes)[:flushes] for c in inputs.records("crops").values()]
    )
    return (
        full_yield_kg(physical.dry_picked_kg, shares),
        full_yield_kg(physical.off_grade_kg, shares),
    )


def _limits(inputs: BuildInputs, expand: Expander) -> Floats:
    """What each outlet takes in each month, (S or 1, O, T); nothing before the first starts."""
    producing = slice(inputs.start, inputs.months)
    season = season_shares(inputs, inputs.calendar[producing])
    limits = weekly_limits(
        inputs.column("sales", "most_kg_per_week"),
        season,
        inputs.column("sales", "build_up_months"),
        expand.days[producing],
    )
    if inputs.start == 0:
        return limits
    full = np.zeros((*limits.shape[:2], inputs.months))
    full[..., producing] = limits
    return full


def _pools(inputs: BuildInputs) -> NDArray[np.int64]:
    crops = list(inputs.records("crops"))
    names = zip(inputs.texts("sales", "crop"), inputs.texts("sales", "grade"), strict=True)
    return np.array(
        [crops.index(crop) + (len(crops) if grade == "second" else 0) for crop, grade in names],
        np.int64,
    )
