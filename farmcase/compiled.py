"""The compiler for the two kernels, with a cache where one can be written.

On an installation that nothing may be written to, the kernels compile without a cache, and a
line in the log says so once.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any

import numba

_log = logging.getLogger("farmcase")
_told = False


def compiled(function: Callable[..., Any]) -> Any:
    """A plain scalar function, compiled without parallel threads or loosened arithmetic."""
    global _told
    try:
        return numba.njit(cache=True, nogil=True)(function)
    except RuntimeError as error:
        if "cache" not in str(error) and "locator" not in str(error):
            raise
        if not _told:
            _log.warning("No cache can be written here; the kernels compile at each start.")
            _told = True
        return numba.njit(nogil=True)(function)
