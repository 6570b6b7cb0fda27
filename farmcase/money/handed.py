"""Arrays as the kernels take them.

Numba compiles a kernel anew for every layout of its arrays and for arrays that may not be written
to, such as views that broadcast. All are handed over in one form, so that each kernel is compiled
once and its cache is found again.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray


def handed(array: ArrayLike, kind: type = float) -> NDArray[Any]:
    """The array in rows of one kind, one after the other; a copy only where it is not so yet."""
    return np.require(array, np.float64 if kind is float else np.int64, ["C", "W"])
