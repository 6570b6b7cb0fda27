"""Time bands of a tariff: which hour of the year falls into which.

Hours of the year are those of local standard time, as the weather and the rooms have them;
bands go by the clock, which is put forward in summer in many places.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from functools import lru_cache
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

from farmcase.errors import NotFoundError

Ints = NDArray[np.int64]
Days = Literal["all", "weekdays", "weekend"]
Band = tuple[float, float, Days, tuple[int, ...]]

HOURS = 8760
_HOUR = dt.timedelta(hours=1)
_SATURDAY = 5


class Clock(NamedTuple):
    """What the clock shows as each hour of the year begins, (8760,) each."""

    hour: Ints  # 0 to 23
    weekday: Ints  # 0 is Monday
    month: Ints  # 1 to 12


@lru_cache(maxsize=16)
def clock_of_year(time_zone: str, year: int) -> Clock:
    """The clock at every hour of a year of 365 days in local standard time.

    Standard time is the lesser of the zone's distances from UTC in that year: that of the winter,
    also where the law calls the summer's the standard (Europe/Dublin). 29 February is left out;
    weekdays are those of the calendar. Where the clock is half an hour off standard time, an hour
    counts for that in which it begins.

    Parameters
    ----------
    time_zone : name in the IANA time zone database, as "Europe/Dublin"
    year : which year's calendar and summer time

    Raises
    ------
    NotFoundError when there is no such time zone
    """
    zone = _zone(time_zone)
    first = dt.datetime(year, 1, 1, tzinfo=dt.UTC)
    days = [first + dt.timedelta(days=d) for d in range(366)]
    offset = min(day.astimezone(zone).utcoffset() or dt.timedelta() for day in days)
    begins = [first + i * _HOUR for i in range(366 * 24)]
    kept = [t for t in begins if t.year == year and (t.month, t.day) != (2, 29)]
    seen = [(t - offset).astimezone(zone) for t in kept]
    columns = np.array([(t.hour, t.weekday(), t.month) for t in seen], np.int64).T
    columns.setflags(write=False)
    return Clock(*columns)


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise NotFoundError(
            f"There is no time zone {name!r}; write it as in the IANA list, for example "
            "'Europe/Dublin'."
        ) from error


def band_index(clock: Clock, bands: Sequence[Band]) -> Ints:
    """Which band each hour falls into, (8760,): the first that fits, k + 1 for band k, else 0.

    Parameters
    ----------
    clock : from `clock_of_year`
    bands : (from_hour, to_hour, days, months) each, in the order in which they are tried. Hours
        run 0 to 24; from above to goes over midnight, from equal to is the whole day. Days are
        "all", "weekdays" (Monday to Friday) or "weekend", months 1 to 12, none for all. Day and
        month are those of the hour itself: a band of weekdays from 23 to 7 ends on Friday at
        midnight and goes on with Monday at 0
    """
    index = np.zeros(clock.hour.shape, np.int64)
    for k, band in enumerate(bands):
        index[(index == 0) & _fits(clock, band)] = k + 1
    return index


def _fits(clock: Clock, band: Band) -> NDArray[np.bool_]:
    begin, end, days, months = band
    after, before = clock.hour >= begin, clock.hour < end
    if begin == end:
        fits = np.ones(clock.hour.shape, bool)
    else:
        fits = after & before if begin < end else after | before
    if days != "all":
        fits = fits & ((clock.weekday >= _SATURDAY) == (days == "weekend"))
    return fits & np.isin(clock.month, months) if months else fits
