"""Cohorts: what is started each week, where it stands, when it is picked, lost and cleared.

Batches are started weekly and spread over the days of the week. A batch books its places ahead,
in the spawn run and then in its fruiting room, for as many days as the room's pace asks for; so a
full room is never overbooked, and nothing has to wait. Starts may be part of a unit, and events
that fall within a day are split over two, so that kilograms change smoothly with every input.

Last axis of every result: months since the first starts (a start-up year, a settled year).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.crop.cohort_kernel import DAYS, LIMITS, run

Floats = NDArray[np.float64]

MONTHS = 24
_TAIL = 900  # days after the last start, so that every unit is cleared within the arrays
_BINS = 54  # months from the first starts to the end of the tail


class CohortInputs(NamedTuple):
    """What the cohorts need; G groups of inputs, R fruiting rooms, C crops, 12 or 24 months."""

    wanted_per_day: Floats  # (G,) units
    vessel_per_day: Floats  # (G,) units; inf without a vessel
    hours_per_day: Floats  # (G,) h
    hours_per_unit: Floats  # (G,) h
    store_kg: Floats  # (G,) kg; inf without a cold store
    days_held: Floats  # (G,) days
    demand_kg_per_day: Floats  # (G, C, 24) kg
    spawn_places: Floats  # (G,) units; inf without a spawn run
    fruiting_places: Floats  # (G, R) units
    start_share: Floats  # (G, R, C, 12)
    pace: Floats  # (G, R, 12) development days per day
    empty_share: Floats  # (G, R, 12) share of a month without crop
    cleaning_days: Floats  # (G, R)
    kg_per_unit: Floats  # (G, C) planned kilograms per unit started
    spawn_days: Floats  # (G, C)
    first_days: Floats  # (G, C)
    interval_days: Floats  # (G, C)
    clear_days: Floats  # (G, C)
    flushes: NDArray[np.int64]  # (G, C)
    loss_share: Floats  # (G, C)
    prepared_here: Floats  # (G, C) 1 where the substrate is heat-treated here, else 0


class Cohorts(NamedTuple):
    """Units by group, crop and month since the first starts; 24 months are run, then all clears.

    The arrays have 54 months, so that starts equal units lost and cleared over the whole of them.
    """

    started: Floats  # (G, C, 54)
    placed: Floats  # (G, C, 54)
    lost: Floats  # (G, C, 54)
    cleared: Floats  # (G, C, 54)
    flushed: Floats  # (G, C, F, 54) units whose flush was picked
    occupied: Floats  # (G, 2, 54) unit-days in the spawn run and in the fruiting rooms
    limit_days: Floats  # (G, 7) days of the settled year on which each limit was the tightest
    room_for: Floats  # (G,) units that the places alone would take in the settled year


def step_cohorts(inputs: CohortInputs, first_month: int) -> Cohorts:
    """Run two years of starts for every group of inputs, and let what was started finish.

    Parameters
    ----------
    inputs : see `CohortInputs`
    first_month : calendar month of the first starts, 0 for January
    """
    groups, _, crops, _ = inputs.start_share.shape
    shape = (groups, crops, _BINS)
    out = Cohorts(
        started=np.zeros(shape),
        placed=np.zeros(shape),
        lost=np.zeros(shape),
        cleared=np.zeros(shape),
        flushed=np.zeros((groups, crops, int(inputs.flushes.max()), _BINS)),
        occupied=np.zeros((groups, 2, _BINS)),
        limit_days=np.zeros((groups, len(LIMITS))),
        room_for=np.zeros(groups),
    )
    calendar, month_of_day = day_calendar(first_month)
    prepared = CohortInputs._make(np.ascontiguousarray(a) for a in inputs)
    run(prepared, calendar, month_of_day, out)
    return out


def day_calendar(first_month: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Calendar month (0 to 11) and month since the first starts of each day, tail included."""
    lengths = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    order = (first_month + np.arange(_BINS + 6)) % 12
    months = np.repeat(np.arange(_BINS + 6), lengths[order])[: DAYS + _TAIL]
    return order[months].astype(np.int64), np.minimum(months, _BINS - 1).astype(np.int64)
