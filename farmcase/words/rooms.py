"""Titles, headings and labels of what is shown about the rooms hour by hour."""

from __future__ import annotations

STANDS_STILL = "too cold: growth stands still"
TOO_COOL = "cooler than the band"
IN_BAND = "within the band"
TOO_WARM = "warmer than the band"
FAR_TOO_WARM = "far too warm"
CLASSES = (STANDS_STILL, TOO_COOL, IN_BAND, TOO_WARM, FAR_TOO_WARM)

END_USES = {
    "fans": "Fans, light, fog",
    "lights": "Fans, light, fog",
    "humidifying": "Fans, light, fog",
    "heating": "Heating rooms",
    "cooling": "Cooling rooms",
    "cold_store": "Cold store",
    "heat_treatment": "Heat for substrate",
}
OTHER_USES = "Machines"
USE_ORDER = tuple(dict.fromkeys([*END_USES.values(), OTHER_USES]))

HOUR_MAP_NOTE = (
    "Settled year. Across: days; up: hours of the day, standard time; each cell is the mean of two "
    "hours on three days. The band is that of the crop of which most is started in the month."
)
PSYCHROMETRIC_NOTE = (
    "Hours of the settled year by air temperature and water in the air (darker: more hours). "
    "Curves: relative humidity. Outline: the band in which the crop gives its full kilograms."
)
END_USE_NOTE = "Settled year, all carriers, own solar included. Heat for substrate is fuel burnt."
SEASON_NOTE = (
    "Kilograms picked in each month of the settled year; learning counted as in that year."
)
ISO_NOTE = (
    "U-values are of plane layers with surface resistances after ISO 6946, plus the stated "
    "allowance for steel that goes through: the standard itself leaves out insulation bridged by "
    "metal."
)


def hour_map_title(room: str, cool: str, warm: str, fits: str) -> str:
    """How much of the year a room is outside the band."""
    return f"{room} is within the band in {fits} of the hours, cooler in {cool}, warmer in {warm}"


def psychrometric_title(room: str, crop: str, fits: str) -> str:
    """Hours of the year in which temperature and humidity suit a crop."""
    return f"Temperature and humidity of {room} suit {crop} in {fits} of the hours it stands there"


def end_use_title(parts: list[tuple[str, str, str]]) -> str:
    """The greatest use of energy of each build."""
    said = [f"{use.lower()} takes {share} of the energy ({build})" for build, use, share in parts]
    text = "; ".join(said)
    return text[:1].upper() + text[1:]


def season_title(parts: list[tuple[str, str, str]]) -> str:
    """How far the poorest month falls short of the best, by build."""
    said = [
        f"{build}: {month} gives {share} less than the best month" for build, month, share in parts
    ]
    return "; ".join(said)
