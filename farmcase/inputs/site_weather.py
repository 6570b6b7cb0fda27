"""The weather of the site of a case."""

from __future__ import annotations

from pathlib import Path

from farmcase.inputs.reference import reference_table
from farmcase.inputs.sections import Site
from farmcase.inputs.weather import Weather, read_weather


def weather_of_site(folder: Path | None, site: Site) -> Weather:
    """The weather file that a site names, read once; spells of normals last as the table says.

    Raises
    ------
    CaseError with every fault of the file
    """
    physics = reference_table("physics", folder)
    return read_weather(
        folder,
        site.weather,
        site.latitude_deg,
        site.longitude_deg,
        site.altitude_m,
        site.time_zone,
        site.weather_seed,
        float(physics["normals_noise_persistence"]["likely"]),
    )
