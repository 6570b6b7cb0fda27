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
    Limits,
    Supply,
    fill_order,
    fill_outlets,
    limits_kg,
    net_price_per_kg,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Kilograms:
    """Kilograms by scenario and month from the start."""

    picked: Floats  # (S, C, T)
    thrown_before_sale: Floats  # (S, T) lost because harvests bunch
    saleable: Floats  # (S, P, T) pools: first grade of each crop, then second grade of each
    limits: Limits
    pool: NDArray[np.int64]  # (O,)
    order: NDArray[np.int64]  # (S or 1, O) outlets from best to worst

    @cached_property
    def limit(self) -> Floats:
        """What each outlet takes, (S, O, T); for many scenarios `limits` is quicker."""
        return broadcast(limits_kg(self.limits), len(self.picked))

    @cached_property
    def filled(self) -> Filled:
        """Kilograms by outlet, (S, O, T); for many scenarios `supply` and `sell` are quicker."""
        return fill_outlets(self.saleable, self.limit, self.order, self.pool)

    def supply(self) -> Supply:
        """What there is to sell and who takes it."""
        return Supply(self.saleable, self.limits, self.order, self.pool)

    def limit_in(self, months: slice) -> Floats:
        """What each outlet takes in some months, (S or 1, O, months)."""
        weeks, first = self.limits.weeks[:, months], self.limits.first - months.start
        return limits_kg(self.limits._replace(weeks=weeks, first=first))


class Expander:
    """Spreads what production gives by month of production over months from the start."""

    def __init__(self, inputs: BuildInputs, group: NDArray[np.int64]) -> None:
        self.group, self.calendar = group, inputs.calendar
        self.place = np.maximum(inputs.production, 0)
        self.active = (inputs.production >= 0).astype(float)

    @property
    def days(self) -> Floats:
        """Days of each month in which the farm produces, (T,)."""
        return LENGTHS[self.calendar] * self.active

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


def follow_kilograms(
    inputs: BuildInputs, physical: Physical, group: NDArray[np.int64]
) -> Kilograms:
    """Pick, grade, store and sell."""
    size = inputs.size
    full, off_band = inputs.once_of(physical, "grown", lambda: _grown(inputs, physical))
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
    picked = harvest(full, off_band, group, inputs.production, _learning(inputs), grading)
    net = net_price_per_kg(
        inputs.column("sales", "price_per_kg"),
        inputs.column("sales", "fee_share"),
        inputs.column("sales", "packaging_per_kg"),
        inputs.column("sales", "delivery_per_kg"),
    )
    limits = Limits(
        inputs.column("sales", "most_kg_per_week"),
        inputs.once("weeks", lambda: _weeks(inputs)),
        inputs.column("sales", "build_up_months"),
        inputs.start,
    )
    pool = inputs.once("pools", lambda: _pools(inputs))
    return Kilograms(*picked, limits, pool, fill_order(net))


def _learning(inputs: BuildInputs) -> Floats:
    """Share of the full yield in each month, (S, T)."""
    learning = np.ones((inputs.size, inputs.months))
    if inputs.case.learning is not None:
        first = inputs.value("learning.first_month_yield_share")
        months = inputs.value("learning.months")
        first, months = np.broadcast_arrays(first, months)
        # a month after the learning has ended, the share is 1 to the last bit in every scenario
        count = min(inputs.months - inputs.start, int(np.ceil(months.max())) + 1)
        until = inputs.start + count
        learning[:, inputs.start : until] = learning_share(first, months, count)
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


def _weeks(inputs: BuildInputs) -> Floats:
    """Weeks of production in each month, times each outlet's share in the season, (O, T)."""
    days = LENGTHS[inputs.calendar] * (inputs.production >= 0)
    return season_shares(inputs, inputs.calendar) * (days / 7)


def _pools(inputs: BuildInputs) -> NDArray[np.int64]:
    crops = list(inputs.records("crops"))
    names = zip(inputs.texts("sales", "crop"), inputs.texts("sales", "grade"), strict=True)
    return np.array(
        [crops.index(crop) + (len(crops) if grade == "second" else 0) for crop, grade in names],
        np.int64,
    )
