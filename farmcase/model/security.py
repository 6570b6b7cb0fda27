"""What stands against the loans: cost, book value and forced-sale value of what was bought."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.statements import last_months, year_names
from farmcase.words.labels import SECURITY

Floats = NDArray[np.float64]


def security_table(outcome: BuildOutcome, by_row: bool = False) -> pd.DataFrame:
    """Security at the end of each fiscal year, beside what is owed on loans.

    Bought things only, without contingency, own hours and VAT. A thing is worth its share of a
    forced sale on the day it is bought and nothing at the end of its life, in a straight line. In
    the last month everything is sold, so it is left out.

    Parameters
    ----------
    by_row : the forced-sale value of every row instead of the sums
    """
    inputs = outcome.inputs
    ends = last_months(inputs)[:-1]
    names = year_names(inputs, outcome.dates)[:-1]
    cost, left = _in_place(outcome, ends)
    forced = inputs.full("capital", "forced_sale_share")[0][:, None]
    if by_row:
        labels = pd.Index(inputs.texts("capital", "item"), name="item")
        return pd.DataFrame(cost * left * forced, index=labels, columns=pd.Index(names))
    owed = outcome.ledger.lines["loan_balance"][0, ends]
    worth = (cost * left * forced).sum(0)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(owed > 0.005, worth / owed, np.nan)
    rows = {
        "cost": cost.sum(0),
        "book_value": (cost * left).sum(0),
        "forced_sale": worth,
        "loans": owed,
        "forced_over_loans": share,
    }
    labels = pd.Index([SECURITY[name] for name in rows], name="line")
    return pd.DataFrame(np.stack(list(rows.values())), index=labels, columns=pd.Index(names))


def _in_place(outcome: BuildOutcome, ends: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Price of what is in place of each row at some months, and the share of life it has left.

    Rows R, months E: (R, E) each. What is paid in stages counts as far as it is paid.
    """
    inputs, level = outcome.inputs, outcome.ledger.levels["general"][0]
    price = inputs.full("capital", "quantity") * inputs.priced("capital", "unit_cost")
    price = (price * inputs.column("capital", "exchange_rate"))[0]
    life = np.maximum(1, np.rint(inputs.full("capital", "life_years")[0] * 12)).astype(int)
    table, last = inputs.timetable, inputs.months - 1
    cost, left = np.zeros((price.size, ends.size)), np.zeros((price.size, ends.size))
    for r, name in enumerate(table.ready):
        ready = min(table.ready[name], last)
        renewals = np.maximum(0, (ends - ready) // life[r])
        bought = ready + renewals * life[r]
        paid = sum(
            share * level[min(month, last)] * (ends >= month)
            for month, share in table.payments[name]
        )
        cost[r] = price[r] * np.where(renewals > 0, level[bought], paid)
        left[r] = 1 - np.clip((ends - bought) / life[r], 0, 1)
    return cost, left
