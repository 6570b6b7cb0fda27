"""The compiler of the kernels, with a cache where one can be written.

On an installation that nothing may be written to, the kernels compile without a cache, and a
line in the log says so once.
"""

from __future__ import annotations

import ctypes
import hashlib
import logging
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numba
import numpy as np
from numpy.typing import ArrayLike, NDArray

_log = logging.getLogger("farmcase")
_told = _said = False


def _stamp() -> str:
    """What the kernels and their constants read like now; compiled code of another is stale."""
    digest = hashlib.sha256()
    here = Path(__file__).parent
    constants = (here / "moist_air.py", here / "climate" / "fresh_air.py")
    for path in (*constants, *sorted(here.glob("*/*_kernel.py"))):
        digest.update(path.read_bytes())
    return digest.hexdigest()


_STAMP = _stamp()
_OPTIONS: dict[str, Any] = {"nogil": True, "_nrt": False}
_PREPARING = "First use on this computer: the calculation is being prepared, about a minute, once."


def say_if_unprepared(kernel: Any) -> None:
    """Say once that a kernel must be compiled first, so that nobody thinks it hangs."""
    global _said
    cache = getattr(getattr(kernel, "_cache", None), "_cache_file", None)
    if _said or cache is None:
        return
    _said = True
    if not cache._load_index():
        _log.warning(_PREPARING)


_KEEP_FREED, _MAP_FROM = -1, -3  # M_TRIM_THRESHOLD and M_MMAP_THRESHOLD of malloc.h


@cache
def keep_memory() -> None:
    """Ask the C library to keep what is freed for the next block instead of giving it back.

    Blocks of scenarios ask for the same arrays again and again; getting each anew from the system
    took a quarter of the time of a large table. Where the C library is another, nothing is done.
    """
    if sys.platform != "linux":
        return
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError):
        return
    mallopt(_KEEP_FREED, 2**30)
    mallopt(_MAP_FROM, 2**28)


Parts = TypeVar("Parts", bound=tuple)
_LINE = 8  # numbers in a line of the processor's cache
_FLOAT, _INT = np.dtype(np.float64), np.dtype(np.int64)


def handed(array: ArrayLike, kind: type = float) -> NDArray[Any]:
    """An array in rows of one kind, one after the other; a copy only where it is not so yet.

    Numba compiles a kernel anew for every layout of its arrays and for arrays that may not be
    written to, such as views that broadcast. All are handed over in one form, so that each kernel
    is compiled once and its cache is found again.
    """
    wanted = _FLOAT if kind is float else _INT
    if isinstance(array, np.ndarray) and array.dtype == wanted and array.flags.carray:
        return array
    return np.require(array, wanted, ["C", "W"])


def work_space(*shape: int) -> NDArray[np.float64]:
    """Nil, to be worked in by a kernel; begins where a line of the processor's cache does."""
    count = int(np.prod(shape))
    whole = np.zeros(count + _LINE)
    first = -whole.ctypes.data // whole.itemsize % _LINE
    return whole[first : first + count].reshape(shape)


def solid(parts: Parts) -> Parts:
    """A named tuple with its arrays as `handed`, whole numbers kept whole."""
    return type(parts)._make(  # pyright: ignore[reportAttributeAccessIssue]
        handed(part, int if part.dtype.kind == "i" else float)
        if isinstance(part, np.ndarray)
        else part
        for part in parts
    )


def compiled(function: Callable[..., Any]) -> Any:
    """A plain scalar function, compiled without parallel threads or loosened arithmetic.

    Kernels make no arrays of their own (`_nrt=False`): what they fill is handed to them. Counting
    who holds which array would otherwise take a third of their time.

    Numba itself looks only at the file of the outermost function to tell whether cached code is
    stale. Kernels call one another across files, so the stamp of the cache is taken over all.
    """
    global _told
    try:
        made: Any = numba.njit(cache=True, **_OPTIONS)(function)
        if hasattr(made, "_cache"):  # not there where compiling is switched off
            made._cache._cache_file._source_stamp = _STAMP
        return made
    except RuntimeError as error:
        if "cache" not in str(error) and "locator" not in str(error):
            raise
        if not _told:
            _log.warning("No cache can be written here; the kernels compile at each start.")
            _told = True
        return numba.njit(**_OPTIONS)(function)
