"""VAT or sales tax: collected and paid with the bills, settled by period.

It is a debt or a claim, not income or cost, except for what cannot be recovered and what a
farmer's flat rate brings; both stand in lines of their own.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class ReturnTerms(NamedTuple):
    """When returns fall; months from the start."""

    every_months: int
    first_ends: int  # month in which a return period ends, 0 to every_months - 1
    paid_after_months: int
    refunded_after_months: int


def settled(due: Floats, recovered: Floats, terms: ReturnTerms) -> Floats:
    """What is paid to or refunded by the authority by month.

    Parameters
    ----------
    due : (S, T) tax on sales that falls due in the month, positive
    recovered : (S, T) tax on purchases that may be recovered, positive
    terms : the returns; what would be settled after the last month is settled in it

    Returns
    -------
    (S, T) paid negative, refunded positive; adds up to recovered less due
    """
    size, months = due.shape
    every, before = terms.every_months, (terms.every_months - 1 - terms.first_ends)
    before %= every
    periods = -(-(months + before) // every)
    net = np.zeros((size, periods * every))
    net[:, before : before + months] = due - recovered
    net = net.reshape(size, periods, every).sum(-1)
    ends = np.minimum(np.arange(1, periods + 1) * every - 1 - before, months - 1)
    flows = np.zeros(due.shape)
    pays = np.minimum(ends + terms.paid_after_months, months - 1)
    gets = np.minimum(ends + terms.refunded_after_months, months - 1)
    for period in range(periods):
        flows[:, pays[period]] -= np.maximum(net[:, period], 0)
        flows[:, gets[period]] -= np.minimum(net[:, period], 0)
    return flows
