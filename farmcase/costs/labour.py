"""Hours of work by task, from what drives each, and what they cost."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import handed
from farmcase.costs.labour_kernel import add_up_work

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Work(NamedTuple):
    """Hours and money by month, (S, T), positive; money at start-month wages."""

    wages: Floats
    paid_hours: Floats
    own_hours: Floats
    by_weight: Floats  # wages of work by the kilogram picked
    own_by_weight: Floats  # own hours of such work


def work_by_month(
    hours: Floats, driver: Ints, own: Ints, by_weight: Ints, pay: Floats, amounts: Floats
) -> Work:
    """Hours and pay of all tasks K.

    Parameters
    ----------
    hours : (S, K) for each unit of a task's driver
    driver : (K,) place of the driver in `amounts`
    own, by_weight : (K,) 1 where the owners do it; where it goes by kilograms picked
    pay : (S, K) an hour of the task with on-costs, at start-month wages
    amounts : (S or 1, D, T) how much there is of each driver
    """
    shape = (hours.shape[0], amounts.shape[-1])
    out = Work._make(np.zeros(shape) for _ in Work._fields)
    add_up_work(
        handed(hours),
        handed(driver, int),
        handed(own, int),
        handed(by_weight, int),
        handed(pay),
        handed(amounts),
        np.zeros((amounts.shape[1], 5)),
        out,
    )
    return out
