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
    # Numbers that broadcast over scenarios may not be written to, and numba would compile all
    # kernels anew for each mixture of such arrays: every run has its own.
    plan = Plan._make(np.array(part, order="C") for part in plan)
    scenario = Scenario._make(np.array(part, order="C") for part in scenario)
    rooms, crops, fruiting = site.kinds.size, plan.crops.shape[0], plan.places.size
    outside = site.outside[site.first_hour]
    air = [outside[OUT_C], outside[OUT_C], outside[OUT_RATIO], site.constants[CO2_OUTSIDE]]
    state = State(
        rooms=np.tile(air, (rooms, 1)),
        units=np.zeros((rooms, crops)),
        crop_j_per_k=np.zeros(rooms),
        moved_j=np.zeros(rooms),
        store=np.zeros(2),
    )
    pace = Pace(
        spawn=np.zeros((crops, 2)),
        fruiting=np.zeros((fruiting, crops, 5)),
        spawn_week=np.ones(crops),
        fruiting_week=np.ones((fruiting, crops, 2)),
        spawn_yesterday=np.zeros(crops),
        fruiting_yesterday=np.zeros((fruiting, crops, 2)),
    )
    scratch = Scratch(np.zeros((fruiting, crops)), np.zeros((crops, 5)), np.zeros(5))
    bench = Bench(
        rows=np.zeros((rooms, len(HOUR))),
        step=np.zeros(len(STEP)),
        fixed=np.zeros(len(FIXED)),
        load=np.zeros(len(LOAD)),
        others_w=np.zeros(rooms),
    )
    started, placed, counts = _no_cohorts(plan)
    tally = _no_tally(rooms, crops, int(site.band.max()) + 1)
    return Run(plan, scenario, state, pace, started, placed, counts, tally, scratch, bench)


def _no_cohorts(plan: Plan) -> tuple[Started, Placed, Counts]:
    crops, flushes = plan.flush_kg.shape
    cohorts = (plan.places.size, crops, DAYS + 1)
    number, head, inside, first = (np.zeros(cohorts[:2], np.int64) for _ in range(4))
    stage = np.zeros((*cohorts[:2], 2 * flushes), np.int64)
    units, moved, clock, harm = (np.zeros(cohorts) for _ in range(4))
    placed = Placed._make([inside, first, stage, *(np.zeros(cohorts) for _ in range(7))])
    counts = Counts(
        started=np.zeros((crops, MONTHS)),
        placed=np.zeros((crops, MONTHS)),
        lost=np.zeros((crops, MONTHS)),
        cleared=np.zeros((crops, MONTHS)),
        flushed=np.zeros((crops, flushes, MONTHS)),
        second=np.zeros((crops, flushes, MONTHS)),
        occupied=np.zeros((3, MONTHS)),
        limit_days=np.zeros(len(LIMITS)),
        room_for=np.zeros(1),
        standing=np.zeros(crops),
    )
    return Started(number, head, units, moved, clock, harm), placed, counts


def _no_tally(rooms: int, crops: int, bands: int) -> Tally:
    return Tally(
        kwh=np.zeros((rooms, len(USES), MONTHS)),
        by_month=np.zeros((rooms, len(TALLY), MONTHS)),
        crop_hours=np.zeros((rooms, crops)),
        band_hours=np.zeros((rooms, crops)),
        warnings=np.zeros((rooms, 3)),
        load_kwh=np.zeros((bands, MONTHS)),
        used_kwh=np.zeros((bands, MONTHS)),
        sent_kwh=np.zeros((bands, MONTHS)),
        rooms_peak_kw=np.zeros(MONTHS),
        residual=np.zeros((rooms, 3)),
    )


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
