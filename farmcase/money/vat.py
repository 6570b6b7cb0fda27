"""VAT or sales tax: collected and paid with the bills, settled by period.

It is a debt or a claim, not income or cost, except for what cannot be recovered and what a
farmer's flat rate brings; both stand in lines of their own.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import handed
from farmcase.money.vat_kernel import settle

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
    before = (terms.every_months - 1 - terms.first_ends) % terms.every_months
    after = terms.paid_after_months, terms.refunded_after_months
    flows = np.zeros(due.shape)
    settle(handed(due), handed(recovered), before, terms.every_months, *after, flows)
    return flows
