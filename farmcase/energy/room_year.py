"""Two years of the rooms of a build, for any number of scenarios: the door to the kernels."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import say_if_unprepared
from farmcase.crop.cohort_kernel import (
    DAYS,
    LIMITS,
    MONTHS,
    Counts,
    Pace,
    Placed,
    Plan,
    Scratch,
    Started,
)
from farmcase.energy.air_kernel import FIXED, STEP
from farmcase.energy.fields_kernel import CO2_OUTSIDE, HOUR, LOAD, OUT_C, OUT_RATIO
from farmcase.energy.room_kernel import Bench, State, run_days, still_standing
from farmcase.energy.tally_kernel import TALLY, USES, Scenario, Site, Tally

Floats = NDArray[np.float64]
HOURS = DAYS * 24


class Run(NamedTuple):
    """One scenario as it is carried through the two years."""

    plan: Plan
    scenario: Scenario
    state: State
    pace: Pace
    started: Started
    placed: Placed
    counts: Counts
    tally: Tally
    scratch: Scratch
    bench: Bench


def month_calendar(first_month: int) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats, int]:
    """Month of production and calendar month of each day, hours at which months begin, first hour.

    Parameters
    ----------
    first_month : calendar month of the first starts, 0 for January
    """
    lengths = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    order = (first_month + np.arange(MONTHS)) % 12
    months = np.repeat(np.arange(MONTHS), lengths[order])
    begins = np.concatenate([[0], np.cumsum(lengths[order])]) * 24.0
    return months, order[months], begins, int(lengths[:first_month].sum()) * 24


def new_run(site: Site, plan: Plan, scenario: Scenario) -> Run:
    """A run from empty rooms, as warm as the air outside."""
    rooms, crops, fruiting = site.kinds.size, plan.crops.shape[0], plan.places.size
    flushes, bands = plan.flush_kg.shape[1], int(site.band.max()) + 1
    outside = site.outside[site.first_hour]
    state = State(
        rooms=np.tile(
            [outside[OUT_C], outside[OUT_C], outside[OUT_RATIO], site.constants[CO2_OUTSIDE]],
            (rooms, 1),
        ),
        units=np.zeros((rooms, crops)),
        crop_j_per_k=np.zeros(rooms),
        moved_j=np.zeros(rooms),
        store=np.zeros(2),
    )
    many = (fruiting, crops, DAYS + 1)
    whole = np.zeros((fruiting, crops), np.int64)
    pace = Pace(
        spawn=np.zeros((crops, 2)),
        fruiting=np.zeros((fruiting, crops, 5)),
        spawn_week=np.ones(crops),
        fruiting_week=np.ones((fruiting, crops, 2)),
        spawn_yesterday=np.zeros(crops),
        fruiting_yesterday=np.zeros((fruiting, crops, 2)),
    )
    started = Started(whole.copy(), whole.copy(), *(np.zeros(many) for _ in range(4)))
    placed = Placed(
        whole.copy(),
        whole.copy(),
        np.zeros((fruiting, crops, 2 * flushes), np.int64),
        *(np.zeros(many) for _ in range(7)),
    )
    by_crop = [np.zeros((crops, MONTHS)) for _ in range(4)]
    counts = Counts(
        *by_crop,
        np.zeros((crops, flushes, MONTHS)),
        np.zeros((crops, flushes, MONTHS)),
        np.zeros((3, MONTHS)),
        np.zeros(len(LIMITS)),
        np.zeros(1),
        np.zeros(crops),
    )
    tally = Tally(
        np.zeros((rooms, len(USES), MONTHS)),
        np.zeros((rooms, len(TALLY), MONTHS)),
        np.zeros((rooms, crops)),
        np.zeros((rooms, crops)),
        np.zeros((rooms, 3)),
        *(np.zeros((bands, MONTHS)) for _ in range(3)),
        np.zeros(MONTHS),
        np.zeros((rooms, 3)),
    )
    scratch = Scratch(np.zeros((fruiting, crops)), np.zeros((crops, 5)), np.zeros(5))
    bench = Bench(
        np.zeros((rooms, len(HOUR))),
        np.zeros(len(STEP)),
        np.zeros(len(FIXED)),
        np.zeros(len(LOAD)),
        np.zeros(rooms),
    )
    return Run(plan, scenario, state, pace, started, placed, counts, tally, scratch, bench)


def advance(site: Site, run: Run, from_day: int, to_day: int, table: Floats | None = None) -> None:
    """Carry a run on by some days; fills `table` (R, hours, columns of HOUR) where one is given."""
    into = np.zeros((site.kinds.size, 0, len(HOUR))) if table is None else table
    run_days(
        site,
        run.plan,
        run.scenario,
        run.state,
        run.pace,
        run.started,
        run.placed,
        run.counts,
        run.tally,
        run.scratch,
        run.bench,
        into,
        from_day,
        to_day,
    )
    if to_day == DAYS:
        still_standing(run.plan, run.started, run.placed, run.counts, DAYS * 24.0)


def run_rooms(
    site: Site, plans: Sequence[Plan], scenarios: Sequence[Scenario]
) -> list[tuple[Counts, Tally]]:
    """Two years of every scenario, on two threads.

    Returns
    -------
    counts of units and tally of the rooms of each scenario, in their order
    """

    def one(pair: tuple[Plan, Scenario]) -> tuple[Counts, Tally]:
        run = new_run(site, *pair)
        advance(site, run, 0, DAYS)
        return run.counts, run.tally

    say_if_unprepared(run_days)
    pairs = list(zip(plans, scenarios, strict=True))
    if len(pairs) == 1:
        return [one(pairs[0])]
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(one, pairs))


def hourly_table(site: Site, plan: Plan, scenario: Scenario) -> Floats:
    """Every hour of the two years of one scenario, (R, 17520, columns of HOUR)."""
    table = np.zeros((site.kinds.size, HOURS, len(HOUR)))
    advance(site, new_run(site, plan, scenario), 0, DAYS, table)
    return table
