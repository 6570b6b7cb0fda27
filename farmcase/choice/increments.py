"""The step from one choice to the next dearer one, as an investment of its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from farmcase.model.outcome import Outcome
from farmcase.money.returns import annuity_factor, npv, single_rate


@dataclass(frozen=True)
class Increment:
    """What the dearer of two choices adds; "" stands for carrying on as now.

    Attributes
    ----------
    cheaper, dearer : names of builds
    money_needed : how much deeper the money goes at its deepest
    npv, equivalent_annual_value : worth of the difference, in all and for each year
    irr, irr_count : rate of the difference, NaN unless single
    payback_years : NaN when the difference never comes back
    """

    cheaper: str
    dearer: str
    money_needed: float
    npv: float
    equivalent_annual_value: float
    irr: float
    irr_count: int
    payback_years: float


def increments(outcome: Outcome) -> list[Increment]:
    """From carrying on as now to the build that needs least money, and so on upwards."""
    ranked = sorted(outcome, key=lambda build: outcome[build].measure("money_needed"))
    return [
        increment(outcome, cheaper, dearer)
        for cheaper, dearer in zip(["", *ranked], ranked, strict=False)
    ]


def increment(outcome: Outcome, cheaper: str, dearer: str) -> Increment:
    """The flow of one choice less that of another, as a stream of its own."""
    rate = outcome.case.money.discount_rate_per_year.likely
    flow = _flow(outcome, dearer) - _flow(outcome, cheaper)
    worth = float(npv(rate, flow))
    irr, count = single_rate(flow[None])
    years = (flow.size - 1) / 12
    needed = [outcome[b].measure("money_needed") if b else 0.0 for b in (cheaper, dearer)]
    return Increment(
        cheaper=cheaper,
        dearer=dearer,
        money_needed=needed[1] - needed[0],
        npv=worth,
        equivalent_annual_value=worth / float(annuity_factor(rate, years)),
        irr=float(irr[0]),
        irr_count=int(count[0]),
        payback_years=_back_for_good(flow) / 12,
    )


def _back_for_good(flow: np.ndarray) -> float:
    """Months until the running total is back at nil and stays there, interpolated; NaN if never.

    Two choices pay at different times, so their difference may be back at nil once and fall again.
    """
    total = flow.cumsum()
    below = np.flatnonzero(total < 0)
    if not below.size:
        return 0.0
    last = int(below[-1])
    if last == total.size - 1:
        return float("nan")
    return float(last - total[last] / flow[last + 1] - np.argmax(flow < 0))


def _flow(outcome: Outcome, build: str) -> np.ndarray:
    if build:
        return outcome[build].ledger.lines["project_flow"][0]
    return np.zeros(outcome.case.heading.horizon_months + 1)
