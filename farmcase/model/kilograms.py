"""From the dry substrate picked to kilograms sold, month by month."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmcase.crop.harvest import kept_share, learning_share, picked_kg
from farmcase.model.gather import BuildInputs, broadcast
from farmcase.model.physical import Physical
from farmcase.model.rooms import LENGTHS, season_shares
from farmcase.money.sales import (
    Filled,
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
    limit: Floats  # (S, O, T)
    pool: NDArray[np.int64]  # (O,)
    filled: Filled


class Expander:
    """Spreads what production gives by month of production over months from the start."""

    def __init__(self, inputs: BuildInputs, group: NDArray[np.int64]) -> None:
        self.group = group
        self.place = np.maximum(inputs.production, 0)
        self.active = (inputs.production >= 0).astype(float)
        self.days = LENGTHS[inputs.calendar] * self.active

    def __call__(self, array: Floats) -> Floats:
        """(G, ..., 24) to (S, ..., T)."""
        return np.ascontiguousarray(array[self.group][..., self.place]) * self.active


def follow_kilograms(inputs: BuildInputs, physical: Physical, expand: Expander) -> Kilograms:
    """Pick, grade, store and sell."""
    size = inputs.size
    picked, off_band = (broadcast(a, size) for a in _picked(inputs, physical, expand))
    bunching = broadcast(inputs.value("store.bunching_loss_share")[:, None], size)[:, 0]
    left = kept_share(
        inputs.value("store.weight_loss_share_per_day"), inputs.value("store.days_held")
    )
    kept = picked * (broadcast(left[:, None], size)[:, 0] * (1 - bunching))[:, None, None]
    second = broadcast(inputs.by_crop("second_grade_share"), size)[:, :, None]
    second = second + (1 - second) * off_band / np.maximum(picked, 1e-12)
    saleable = np.concatenate([kept * (1 - second), kept * second], axis=1)
    limit = broadcast(_limits(inputs, expand), size)
    pool = _pools(inputs)
    net = net_price_per_kg(
        inputs.column("sales", "price_per_kg"),
        inputs.column("sales", "fee_share"),
        inputs.column("sales", "packaging_per_kg"),
        inputs.column("sales", "delivery_per_kg"),
    )
    order = broadcast(fill_order(broadcast(net, size)), size)
    filled = fill_outlets(saleable, limit, order, pool)
    thrown = picked.sum(1) * bunching[:, None]
    return Kilograms(picked, thrown, saleable, limit, pool, filled)


def _picked(inputs: BuildInputs, physical: Physical, expand: Expander) -> tuple[Floats, Floats]:
    """Kilograms picked, and those of them grown outside the band, which go to second grade."""
    count = inputs.months - inputs.start
    learning = np.ones((inputs.size, inputs.months))
    if inputs.case.learning is not None:
        first = inputs.value("learning.first_month_yield_share")
        months = inputs.value("learning.months")
        first, months = np.broadcast_arrays(first, months)
        learning[:, inputs.start :] = learning_share(first, months, count)
    if physical.given_kg is not None:
        given = expand(physical.given_kg) * learning[:, None, :]
        return given, np.zeros_like(given)
    flushes = physical.dry_picked_kg.shape[2]
    shares = np.array(
        [(*c.flush_shares, *(0.0,) * flushes)[:flushes] for c in inputs.records("crops").values()]
    )
    efficiency = inputs.by_crop("biological_efficiency_share")
    dry, off_band = expand(physical.dry_picked_kg), expand(physical.off_grade_kg)
    return (
        picked_kg(dry, efficiency, shares, learning),
        picked_kg(off_band, efficiency, shares, learning),
    )


def _limits(inputs: BuildInputs, expand: Expander) -> Floats:
    producing = slice(inputs.start, inputs.months)
    season = season_shares(inputs, inputs.calendar[producing])
    limits = weekly_limits(
        inputs.column("sales", "most_kg_per_week"),
        season,
        inputs.column("sales", "build_up_months"),
        expand.days[producing],
    )
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
