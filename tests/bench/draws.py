"""A hundred thousand draws of all uncertain money inputs, beside a loop over numpy-financial.

Run from the project's folder: .venv/bin/python tests/bench/draws.py
"""

from __future__ import annotations

import resource
import time
from pathlib import Path

import numpy as np
import numpy_financial as npf
import pandas as pd

import farmcase as fc
from farmcase.inputs.table import is_gate_month
from farmcase.words.labels import MEASURES

CASE = Path(__file__).resolve().parents[2] / "data" / "cases" / "harbour_coop"
SIZES = (12_500, 25_000, 50_000, 100_000)
LOOPED = 200
SEED = 1


def drawn(case: fc.Case, rows: int, gates: bool) -> pd.DataFrame:
    """Uncertain money inputs, drawn evenly within their ranges; with the months of gates or not."""
    draw = np.random.default_rng(SEED)
    return pd.DataFrame(
        {
            path: row.low + (row.high - row.low) * draw.random(rows)
            for path, row in fc.input_table(case).items()
            if row.low < row.high and row.stage == "money" and (gates or not is_gate_month(path))
        }
    )


def looped(flows: np.ndarray, rate: float) -> float:
    """Seconds for the returns of the streams one by one: a month's loan, worth, rates, payback.

    What a careful reader would write with numpy-financial from ready cash flows; the flows
    themselves, statements and break-even are not even in it.
    """
    monthly = (1 + rate) ** (1 / 12) - 1
    started = time.perf_counter()
    for row in flows:
        npf.npv(monthly, row)
        npf.irr(row)
        npf.mirr(row, monthly, monthly)
        months = np.arange(1, 121)
        npf.ipmt(0.068 / 12, months, 120, 45_000)
        npf.ppmt(0.068 / 12, months, 120, 45_000)
        total, payback = 0.0, np.nan
        for month, amount in enumerate(row):
            total += amount
            if total >= 0 and month > 12:
                payback = month
                break
        assert payback != 0
    return time.perf_counter() - started


def main() -> None:
    """Print the figures."""
    case = fc.open_case(CASE)
    names, builds = list(MEASURES), list(case.builds)
    fc.evaluate_many(case, drawn(case, 300, gates=True), names)
    outcome, spent = fc.evaluate(case), 0.0
    print(f"{len(builds)} builds, {len(names)} measures, seed {SEED}")
    for gates in (False, True):
        for rows in SIZES if not gates else SIZES[-1:]:
            table = drawn(case, rows, gates)
            started = time.perf_counter()
            fc.evaluate_many(case, table, names)
            spent = time.perf_counter() - started
            what = f"{len(table.columns)} inputs" + (", months of gates too" if gates else "")
            print(f"{rows:7d} draws of {what}: {spent:6.2f} s, {spent / rows * 1e6:6.1f} us a draw")
    flow = outcome[builds[0]].ledger.lines["project_flow"]
    many = flow * np.random.default_rng(SEED).uniform(0.9, 1.1, (LOOPED, 1))
    loop = looped(many, case.money.discount_rate_per_year.likely) * len(builds)
    print(
        f"a loop over numpy-financial, returns and loan alone: {loop:.2f} s for {LOOPED} draws "
        f"timed, {loop * SIZES[-1] / LOOPED:.0f} s scaled to {SIZES[-1]}: "
        f"{loop / LOOPED * SIZES[-1] / spent:.0f} times as long"
    )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"most memory {peak:.0f} MiB")


if __name__ == "__main__":
    main()
