"""A grid of prices and yields: what each build is worth at every pair."""

from __future__ import annotations

import numpy as np
import pandas as pd

from farmcase.inputs.case import Case
from farmcase.model.evaluate import evaluate_many
from farmcase.risk.levers import common_levers


def price_yield_grid(
    case: Case, steps: int = 21, lowest: float = 0.6, highest: float = 1.4
) -> pd.DataFrame:
    """Net present value of every build with all prices and all yields scaled.

    Parameters
    ----------
    case : the case
    steps : points along each side
    lowest, highest : scales of the plan's prices and yields; yields stop at their limit

    Returns
    -------
    DataFrame with columns price_scale, yield_scale, build, npv
    """
    levers = common_levers(case)
    price = np.linspace(lowest, min(highest, levers["price"].most), steps)
    yields = np.linspace(lowest, min(highest, levers["yield"].most), steps)
    pairs = [(p, y) for p in price for y in yields]
    rows = [{**levers["price"].scaled(p), **levers["yield"].scaled(y)} for p, y in pairs]
    found = evaluate_many(case, pd.DataFrame(rows), measures=["npv"])
    frames = [
        pd.DataFrame(pairs, columns=["price_scale", "yield_scale"]).assign(
            build=build, npv=found.to_numpy()[:, i]
        )
        for i, build in enumerate(case.builds)
    ]
    return pd.concat(frames, ignore_index=True)
