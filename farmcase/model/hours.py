"""Every hour of every room of a build, as tables that a reader can add up again."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.crop.cohort_kernel import DAYS, Plan
from farmcase.energy.fields_kernel import AIR_KG, HOUR, OUT_C, OUT_RATIO
from farmcase.energy.room_year import hourly_table
from farmcase.energy.tally_kernel import Scenario, Site
from farmcase.model.gather import BuildInputs
from farmcase.model.room_inputs import scenarios, site_of
from farmcase.model.rooms import plans
from farmcase.model.shell import enclosed_rooms
from farmcase.model.utilities import treat


def told_to_rooms(
    inputs: BuildInputs, steps_per_hour: int | None = None
) -> tuple[Site, list[Plan], list[Scenario]]:
    """What the room year is told about a build: site, and plan and rooms of every scenario."""
    assert inputs.case.site is not None
    steps = steps_per_hour or inputs.case.site.steps_per_hour
    site = site_of(inputs.case, int(inputs.calendar[inputs.start]), steps)
    return site, plans(inputs, treat(inputs).units_per_week), scenarios(inputs)


def hours_of(first_month: str) -> pd.DatetimeIndex:
    """The hours of two years of 365 days from a month (YYYY-MM), in local standard time."""
    start = pd.Timestamp(f"{first_month}-01")
    hours = pd.date_range(start, periods=(DAYS + 2) * 24, freq="h")
    is_leap_day = (hours.month == 2) & (hours.day == 29)
    return pd.DatetimeIndex(hours[~is_leap_day][: DAYS * 24], name="hour")


def room_tables(
    inputs: BuildInputs, first_month: str, steps_per_hour: int | None = None
) -> dict[str, pd.DataFrame]:
    """Every hour of the two years, by room.

    Temperature, humidity and CO2 are means of the hour where not said to be of its end; what flows
    is of the hour, into the air and mass of the room as positive, but `cooling_kwh`,
    `condensate_heat_kwh`, `coil_kg` and `condensed_kg`, which go out. Columns that end in
    `_residual` are what heat, water and CO2 do not close by.

    Parameters
    ----------
    inputs : the build, one scenario
    first_month : month of the first starts as YYYY-MM
    steps_per_hour : another step than that of the case

    Returns
    -------
    by id of the room; rows are hours in local standard time, without 29 February
    """
    site, told, made = told_to_rooms(inputs, steps_per_hour)
    table = hourly_table(site, told[0], made[0])
    index = hours_of(first_month)
    place = (site.first_hour + np.arange(index.size)) % 8760
    outside: NDArray[np.float64] = site.outside[place]
    found = {}
    for r, name in enumerate(enclosed_rooms(inputs.case)):
        frame = pd.DataFrame(table[r], index=index, columns=list(HOUR))
        frame.insert(0, "outside_temp_c", outside[:, OUT_C])
        frame.insert(1, "outside_humidity_ratio", outside[:, OUT_RATIO])
        frame["air_kg"] = made[0].rooms[r, AIR_KG]
        found[name] = frame
    return found
