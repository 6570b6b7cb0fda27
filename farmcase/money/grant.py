"""A grant as a flat share of eligible spending, up to a ceiling.

Paid as the money is spent: its real timing, in arrears after a claim, is not modelled yet, so
lowest cash is too good wherever a grant is counted. Screens and papers say so.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def flat_grant(eligible: Floats, share: Floats, ceiling: Floats) -> Floats:
    """Grant by month.

    Parameters
    ----------
    eligible : (S, T) eligible spending of the month, positive
    share : (S,) share of it that is granted
    ceiling : (S,) the most that is granted in all

    Returns
    -------
    (S, T) money received
    """
    granted = np.minimum(eligible.cumsum(-1) * share[:, None], ceiling[:, None])
    return np.diff(granted, axis=-1, prepend=0.0)
