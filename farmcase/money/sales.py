"""Sales: outlets are filled in order of net price, each up to its limit of the month.

Scenarios S, outlets O, pools P (one for each crop and grade), months T.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
DAYS_PER_MONTH = 365 / 12


class Filled(NamedTuple):
    """Kilograms sold by outlet and left over by pool."""

    sold_kg: Floats  # (S, O, T)
    unsold_kg: Floats  # (S, P, T)


def net_price_per_kg(
    price: Floats, fee_share: Floats, packaging: Floats, delivery: Floats
) -> Floats:
    """Price less what the sale itself costs; decides which outlet is filled first."""
    return price * (1 - fee_share) - packaging - delivery


def weekly_limits(
    most_kg_per_week: Floats, season: Floats, build_up_months: Floats, days: Floats
) -> Floats:
    """What each outlet takes in each month of production: limit x days / 7 x season x build-up.

    Parameters
    ----------
    most_kg_per_week, build_up_months : (S, O)
    season : (O, T) share of the limit in the month
    days : (T,) days of the month

    Returns
    -------
    (S, O, T) [kg]; an outlet with a build-up of n months takes 1/n of its limit in the first
    """
    passed = np.arange(1, days.size + 1, dtype=float)
    built = np.minimum(1.0, passed / np.maximum(build_up_months, 1.0)[:, :, None])
    return most_kg_per_week[:, :, None] * season * built * days / 7


def fill_order(net_price: Floats) -> Ints:
    """Outlets from the best net price to the worst, (S, O); ties keep the order of the table."""
    return np.argsort(-net_price, axis=1, kind="stable").astype(np.int64)


def fill_outlets(kilograms: Floats, limit_kg: Floats, order: Ints, pool: Ints) -> Filled:
    """Fill outlets pool by pool.

    Parameters
    ----------
    kilograms : (S, P, T) saleable kilograms of each pool
    limit_kg : (S, O, T)
    order : (S, O) outlets from best to worst
    pool : (O,) the pool each outlet draws on
    """
    sold = np.zeros(limit_kg.shape)
    left = kilograms.copy()
    rows = np.arange(limit_kg.shape[0])
    for place in range(order.shape[1]):
        outlet = order[:, place]
        source = pool[outlet]
        taken = np.minimum(left[rows, source], limit_kg[rows, outlet])
        sold[rows, outlet] = taken
        left[rows, source] -= taken
    return Filled(sold, left)


def received(amount: Floats, delay_days: Floats, last_gets_all: bool = True) -> Floats:
    """Money received when it is paid after a delay; part months are split over two months.

    Parameters
    ----------
    amount : (S, O, T) invoiced
    delay_days : (S, O)
    last_gets_all : whether what is still owed in the last month is received then

    Returns
    -------
    (S, O, T)
    """
    months = amount.shape[-1]
    delay = delay_days / DAYS_PER_MONTH
    whole = np.floor(delay).astype(np.int64)
    late = delay - whole
    owed = np.concatenate([np.zeros((*amount.shape[:-1], 1)), amount.cumsum(-1)], axis=-1)
    count = np.arange(1, months + 1)
    near = np.clip(count - whole[:, :, None], 0, months)
    far = np.clip(count - whole[:, :, None] - 1, 0, months)
    reached = np.take_along_axis(owed, near, -1) * (1 - late)[:, :, None]
    reached = reached + np.take_along_axis(owed, far, -1) * late[:, :, None]
    if last_gets_all:
        reached[..., -1] = owed[..., -1]
    return np.diff(reached, axis=-1, prepend=0.0)
