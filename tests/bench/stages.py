"""How fast the stages are: figures, and ratios to what a user would do instead, in one run.

Run from the project's folder: .venv/bin/python tests/bench/stages.py
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy_financial as npf
import pandas as pd

import farmcase as fc
from farmcase.model.build_outcome import ONE
from farmcase.model.gather import BuildInputs
from farmcase.model.ledger import run_ledger
from farmcase.model.measures import Measurer
from farmcase.model.physical import run_physical
from farmcase.words.labels import MEASURES

CASE = Path(__file__).resolve().parents[2] / "data" / "cases" / "harbour_coop"
SIZES = (1_000, 5_000, 20_000)


def timed(work: Callable[[], object], repeats: int = 7) -> float:
    """Median seconds of some runs, after one to warm up."""
    work()
    spent = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return statistics.median(spent)


def scenarios(case: fc.Case, stage: str, rows: int) -> pd.DataFrame:
    """Uncertain inputs of one stage, drawn evenly within their ranges (seed 1)."""
    draw = np.random.default_rng(1)
    table = {
        path: row.low + (row.high - row.low) * draw.random(rows)
        for path, row in fc.input_table(case).items()
        if row.low < row.high and row.stage == stage
    }
    return pd.DataFrame(table)


def main() -> None:
    """Print the figures."""
    case = fc.open_case(CASE)
    build = next(iter(case.builds))
    inputs = BuildInputs(case, build, {})
    physical = run_physical(inputs)
    once = timed(lambda: fc.evaluate(case).measures())
    print(f"open the case                        {timed(lambda: fc.open_case(CASE)) * 1e3:9.1f} ms")
    print(f"evaluate, all builds, all measures   {once * 1e3:9.1f} ms")
    print(
        f"rooms and crop of one build          {timed(lambda: run_physical(inputs)) * 1e3:9.1f} ms"
    )

    def money() -> float:
        ledger = run_ledger(inputs, physical, ONE)
        return Measurer(inputs, physical, ledger, ONE)["npv"][0]

    print(f"money of one build                   {timed(money) * 1e3:9.1f} ms")
    for rows in SIZES:
        table = scenarios(case, "money", rows)
        spent = timed(lambda t=table: fc.evaluate_many(case, t, list(MEASURES)), 1)
        print(
            f"{rows:6d} money scenarios, all measures {spent:8.2f} s, {spent / rows * 1e6:6.0f} us "
            f"each, {once * rows / spent:5.0f} times as fast as one by one"
        )
    table = scenarios(case, "physical", 500)
    spent = timed(lambda: fc.evaluate_many(case, table), 1)
    print(f"   500 scenarios with rooms rerun    {spent:8.2f} s, {spent / 500 * 1e3:6.1f} ms each")
    flows = fc.evaluate(case)[build].ledger.lines["project_flow"]
    many = np.repeat(flows, 1000, axis=0)
    loop = timed(lambda: [npf.npv(0.005, row) for row in many], 3)
    from farmcase.money.returns import npv

    ours = timed(lambda: npv(np.full(1000, 0.06), many), 3)
    print(f"npv of 1,000 streams                 {ours * 1e3:9.1f} ms, {loop / ours:4.0f} times as")
    print("                                     fast as a loop over numpy-financial")
    start = time.perf_counter()
    subprocess.run([sys.executable, "-m", "farmcase", "decide", str(CASE)], check=True, stdout=-3)
    print(f"decide, whole process                {time.perf_counter() - start:9.2f} s")


if __name__ == "__main__":
    main()
