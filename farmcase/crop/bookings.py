"""Clocks of development, and places booked day by day; compiled for the cohorts."""

from __future__ import annotations

import numpy as np

from farmcase.compiled import compiled


@compiled
def clock_at(clock, time):
    """Development [days] reached at a time [days], from a daily clock."""
    day = min(int(time), clock.size - 2)
    return clock[day] + (time - day) * (clock[day + 1] - clock[day])


@compiled
def time_at(clock, development, start):
    """First time [days] from `start` on at which a development [days] is reached."""
    day = min(int(start), clock.size - 2)
    while day < clock.size - 2 and clock[day + 1] < development:
        day += 1
    return day + (development - clock[day]) / (clock[day + 1] - clock[day])


@compiled
def spread(target, time, amount, month_of_day):
    """Add an amount to the months of the two days it falls on."""
    day = min(int(time), month_of_day.size - 2)
    late = min(1.0, time - day)
    target[month_of_day[day]] += amount * (1.0 - late)
    target[month_of_day[day + 1]] += amount * late


@compiled
def book(occupied, start, end, units):
    """Take places from start to end [days]; a part of a day counts by its part."""
    for day in range(int(start), min(int(end) + 1, occupied.size)):
        part = min(end, day + 1.0) - max(start, float(day))
        if part > 0.0:
            occupied[day] += units * part


@compiled
def fewest_free(occupied, places, start, end):
    """Fewest places free on any day from start to end [days]."""
    free = np.inf
    for day in range(int(start), min(int(np.ceil(end)), occupied.size)):
        free = min(free, places[day] - occupied[day])
    return max(0.0, free)
