"""How fast the room year is by itself: figures and ratios of one run.

Run from the project's folder: .venv/bin/python tests/bench/rooms.py [CASE]
The room is built by hand (`tests/room_rig.py`); times are of one processor, medians.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

from room_rig import (  # noqa: E402
    Rig,
    a_crop,
    a_plan,
    a_room,
    a_scenario,
    a_site,
    mild_year,
    outside_air,
)

import farmcase as fc  # noqa: E402
from farmcase.crop.cohort_kernel import DAYS  # noqa: E402
from farmcase.energy.room_year import advance, new_run, run_rooms  # noqa: E402
from farmcase.energy.tally_kernel import FRUITING  # noqa: E402

PLAIN_DAYS = 20  # of the uncompiled kernel, which is too slow for a year
YEARS = DAYS / 365


def timed(work: Callable[[], object], repeats: int = 7) -> float:
    """Median seconds of processor time of some runs, after one to warm up."""
    work()
    spent = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return statistics.median(spent)


def one_room(steps: int, rooms: int = 1) -> Rig:
    """Heated, cooled and fogged fruiting rooms in a mild year."""
    told = a_room(heating=2.0, cool_kw=3.0)
    air = outside_air(mild_year(), 0.83, sky_deficit_w_per_m2=60.0)
    site = a_site(air, [FRUITING] * rooms, steps, sun_w_per_m2=50.0)
    plan = a_plan(rooms, [a_crop(spawn_run_days=0.0)], wanted_per_day=7.0 * rooms)
    return Rig(site, plan, a_scenario([told] * rooms))


def run(rig: Rig, days: int = DAYS) -> float:
    """Seconds that some days take."""

    def work() -> None:
        advance(rig.site, new_run(*rig), 0, days)

    return timed(work)


PLAIN = """
import sys, time, rooms
from farmcase.energy.room_year import advance, new_run

rig = rooms.one_room(int(sys.argv[1]))
run = new_run(*rig)
advance(rig.site, run, 0, 1)
start = time.process_time()
advance(rig.site, run, 1, 1 + rooms.PLAIN_DAYS)
print(time.process_time() - start)
"""


def plain_seconds(steps: int) -> float:
    """Seconds a room-year takes uncompiled: measured over some days, scaled to a year."""
    here = [str(Path(__file__).parent), str(TESTS), str(TESTS.parent)]
    told = os.environ | {"NUMBA_DISABLE_JIT": "1", "PYTHONPATH": os.pathsep.join(here)}
    done = subprocess.run(
        [sys.executable, "-c", PLAIN, str(steps)],
        env=told, check=True, capture_output=True, text=True,
    )  # fmt: skip
    return float(done.stdout) * 365 / PLAIN_DAYS


def show(what: str, seconds: float, rest: str = "") -> None:
    """One line: what, milliseconds, and what they are to be held against."""
    print(f"{what:40s}{seconds * 1e3:9.1f} ms{rest}")


def main() -> None:
    """Print the figures."""
    case = fc.open_case(sys.argv[1] if len(sys.argv) > 1 else TESTS / "small_case")
    for steps in (4, 1):
        warm, plain = run(one_room(steps)) / YEARS, plain_seconds(steps)
        show(f"one room, one year, steps an hour: {steps}", warm)
        show("  uncompiled", plain, f", {plain / warm:.0f} times ({PLAIN_DAYS} days, scaled)")
    rig, many = one_room(1), 40
    start = time.perf_counter()
    run_rooms(rig.site, [rig.plan] * many, [rig.scenario] * many)
    spent = (time.perf_counter() - start) / many / YEARS
    show(f"  1 step in a batch of {many}, by the clock", spent, " on two threads")
    show(f"evaluate, builds: {len(case.builds)}", timed(lambda: fc.evaluate(case)))
    base = run(one_room(4)) / YEARS
    for rooms in (1, 4, 16):
        spent = run(one_room(4, rooms)) / YEARS / rooms
        show(f"a room-year, rooms: {rooms}", spent, f", {spent / base:.2f}")
    for days in (182, 365, 730):
        spent = run(one_room(4), days) / days * 365
        show(f"a room-year, days: {days}", spent, f", {spent / base:.2f}")


if __name__ == "__main__":
    main()
