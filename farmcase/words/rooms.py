"""Titles, headings and labels of what is shown about the rooms hour by hour."""

from __future__ import annotations

from collections.abc import Sequence

from farmcase.words.charts import listed

_KEPT = "\u00a0"  # a space at which no line breaks

# Steps of the maps, from the coldest up and from the driest up.
WARMTH_STEPS = (
    "too cold, growth stands still",
    "cooler than the band",
    "band, its cool part",
    "band, its middle",
    "band, its warm part",
    "warmer than the band",
    "too hot, half the kilograms or less",
)
HUMIDITY_STEPS = (
    "much drier than the band",
    "drier than the band",
    "within the band",
    "damper than the band",
    "damper still, near saturation",
)
DAY_AXIS = "Time of year (months)"
HOUR_AXIS = "Time of day (hours)"
TEMPERATURE_AXIS = "Air temperature (°C)"
RATIO_AXIS = "Water in the air (g per kg of dry air)"
HOURS = "Hours a year"

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
# What a room takes, in the order of energy/tally_kernel.USES.
ROOM_USES = ("Fans", "Light", "Fog or steam", "Heating", "Cooling")

END_USE_NOTE = (
    "Settled year by calendar month, all carriers in kWh, own solar included. Heat for substrate "
    "is what its vessels take of their fuel."
)
SEASON_NOTE = "Kilograms picked in each calendar month of the settled year."
ISO_NOTE = (
    "U-values are of plane layers with surface resistances after ISO 6946, plus the stated "
    "allowance for steel that goes through: the standard does not cover insulation bridged by "
    "metal, so the allowance is a range to be asked for or measured."
)
AS_PLANNED = "as planned"
WITH_HEAT = "with heating"


def span(low: str, high: str, unit: str) -> str:
    """From one number to another."""
    return f"{low} to {high}{_KEPT}{unit}"


def below(number: str, unit: str) -> str:
    """All under a number."""
    return f"below {number}{_KEPT}{unit}"


def above(number: str, unit: str) -> str:
    """All over a number."""
    return f"above {number}{_KEPT}{unit}"


def room_of_build(room: str, build: str) -> str:
    """A room, and the build whose room it is."""
    return f"{room} ({build})"


def _crops(crops: Sequence[str]) -> str:
    """One crop by its name, several as the crop of the month."""
    return crops[0] if len(crops) == 1 else "the crop of the month"


def hour_map_title(room: str, crops: Sequence[str], cool: str, warm: str) -> str:
    """How much of the time a room is too cold and too warm."""
    return f"{room} is too cold for {_crops(crops)} in {cool} of the hours and too warm in {warm}"


def fits_title(room: str, crops: Sequence[str], inside: str) -> str:
    """A room that is hardly ever outside the band."""
    return f"{room} is as warm as {_crops(crops)} wants it in {inside} of the hours"


def humidity_map_title(room: str, crops: Sequence[str], dry: str, damp: str) -> str:
    """How much of the time the air is too dry, and damper than the band."""
    return (
        f"The air of {room} is too dry for {_crops(crops)} in {dry} of the hours and damper than "
        f"its band in {damp}"
    )


def plain_map_title(room: str, low: str, high: str, unit: str) -> str:
    """Where the middle nine tenths of the hours of a room without a crop plan lie."""
    return f"{room} is between {low} and {high}{_KEPT}{unit} in nine of ten hours"


def map_note(days: int, hours: int, has_band: bool) -> str:
    """What a map of hours shows."""
    cell = "every hour is drawn"
    if days > 1 or hours > 1:
        of = f"{days} days" if hours == 1 else f"{hours} hours on {days} days"
        cell = f"a cell is the mean of {of}"
    note = f"Settled year, local standard time; {cell}."
    if has_band:
        note += " Counted are the hours in which units stand there."
    return note


def changing_bands(rows: Sequence[tuple[str, Sequence[tuple[str, str]], str]]) -> str:
    """Whose band counts when: crop, first and last month of each time, its band."""
    said = []
    for crop, times, band in rows:
        when = [first if first == last else f"{first} to {last}" for first, last in times]
        said.append(f"{crop} {band} ({listed(when)})")
    return f"Bands, by the crop of which most is started: {'; '.join(said)}."


def weather_words(kind: str, name: str) -> str:
    """Where the weather is from."""
    if kind == "monthly normals":
        return f"Weather: a year of hours made from monthly normals ({name})."
    return f"Weather: {kind} file {name}."


def psychrometric_title(room: str, rows: Sequence[tuple[str, str]]) -> str:
    """In how many of its hours each crop has the temperature and humidity that it asks for."""
    said = listed([f"{crop} in {share}" for crop, share in rows])
    of = "it stands" if len(rows) == 1 else "each stands"
    return f"Temperature and humidity of {room} are right for {said} of the hours {of} there"


def plain_air_title(room: str, cool: str, warm: str, dry: str, damp: str) -> str:
    """Where the middle nine tenths of temperature and of humidity lie."""
    return (
        f"{room} is between {cool} and {warm}{_KEPT}°C in nine of ten hours, and between {dry} "
        f"and {damp} % humidity"
    )


def hours_named(least: int | None, next_step: int | None) -> str:
    """A step of hours."""
    return f"{least} or more" if next_step is None else f"{least} to {next_step - 1}"


def psychrometric_note(hectopascals: str, piece: tuple[str, str], has_bands: bool) -> str:
    """How to read the chart."""
    note = (
        f"Hours of the settled year in pieces of {piece[0]} K by {piece[1]} of humidity. Curves: "
        f"relative humidity, the heavy one saturation, at {hectopascals} hPa."
    )
    bands = " Outlines: where temperature and humidity give a crop its full kilograms."
    return note + (bands if has_bands else "")


def band_words(crop: str, low: str, high: str, damp: str) -> str:
    """The band of a crop."""
    return f"{crop}: {span(low, high, '°C')}, {damp} humidity or more"


def end_use_title(parts: Sequence[tuple[str, str, str]]) -> str:
    """The greatest use of energy of each build: build, use, its share."""
    uses = {use for _, use, _ in parts}
    if len(uses) == 1:
        shares = listed([f"{share} ({build})" for build, _, share in parts])
        return f"{parts[0][1]} takes the largest part of the energy: {shares}"
    said = [f"{use.lower()} with {share} ({build})" for build, use, share in parts]
    return "The largest part of the energy is " + listed(said)


def season_title(parts: Sequence[tuple[str, str, str, str]]) -> str:
    """How far the poorest month falls short of the best: build, month, share less, best month."""
    said = [
        f"{build} picks {share} less in {low} than in {high}" for build, low, share, high in parts
    ]
    return "; ".join(said)


def loses_most(
    build: str, plain: str, other: str, year: str, month: str, here: str, there: str
) -> str:
    """What one way of running a build picks less than another, and in which month most."""
    return (
        f"{build} picks {year} kg a year less {plain} than {other}; {month} loses most ({here} "
        f"against {there} kg)"
    )


def loses_nothing(build: str, plain: str, other: str) -> str:
    """No kilograms gained by the other way."""
    return f"{build} picks as much in the year {plain} as {other}, or more"


def difference_note(energy: str) -> str:
    """What the other way takes besides."""
    return f"{SEASON_NOTE} Shaded: the difference, for {energy} kWh a year more."


def beside(rooms: Sequence[str]) -> str:
    """What a face borders on."""
    return f"beside {listed(rooms)}"


def bought_in(band: str) -> str:
    """What was bought in a band of the tariff."""
    return f"bought {band}"


# The tables.
IN_YEAR = "In the settled year"
COLDEST, WARMEST = "Coldest month, mean", "Warmest month, mean"
DRIEST, DAMPEST = "Driest month, mean", "Dampest month, mean"
WITHIN = "Hours within the band"
WET = "Hours with wet cold bridges"
ALL_ENERGY = "Energy in all, kWh"
HUMIDIFIED, DRAINED = "Water of the humidifier, L", "Water drained by coil and walls, L"
CROP_TABLE = (
    "Room",
    "Crop",
    "Band",
    "Hours it stands",
    "Within",
    "Too cold",
    "Too warm",
    "Too dry",
)
LOST = "Kilograms lost to climate"
CROP_NOTE = (
    "Shares of the hours; one hour can be too cold and too dry, which is told of crops that stand "
    "there all the time. Kilograms lost are those of the crop in all rooms, stale air included."
)
FACE_HEADING = "Outside area, m2, and U-value of its layers, W/(m2 K)"
BRIDGING = "Added for steel bridges, W/(m2 K)"
LOSS = "Loss through all of it, W/K"
ENERGY_HEADING = "kWh in the settled year"
USED = "used in all"
PLAIN_PRICE = "at the plain price"
OWN_USED, OWN_SENT = "own solar used", "own solar sent out"
PEAK, STAGGERED = "highest hour, all at once, kW", "highest hour, staggered, kW"
LEAVING = (
    "Water of humidifiers, m3",
    "Water of vessels and machines, m3",
    "Water taken in all, m3",
    "Condensate drained, m3",
    "Waste water in all, m3",
    "Spent substrate and lost units, t",
    "Units waiting for a place, mean",
)
CLOSURE_HEADING = "Both years together do not close by"
CLOSURE_PARTS = (("Heat", "kWh"), ("Water", "kg"), ("CO2", "kg"))
RISK_HEADING = ("Where", "Caution", "Ask")
WHOLE_SITE = "everywhere"


def co2_hours(minutes: bool, limit: str) -> str:
    """Heading of the hours in which people must not work."""
    over = "15-minute" if minutes else "8-hour"
    return f"Hours above the {over} limit for people ({limit} ppm of CO2)"


def uses_kwh(use: str) -> str:
    """Heading of one end use of a room."""
    return f"{use}, kWh"


def less_than(bound: str, unit: str) -> str:
    """A small number by what it lies below."""
    return f"below {bound} {unit}"


def over_limit(room: str, hours: str, limit: str) -> str:
    """A room whose air people must not work in, with its hours."""
    return f"{room} ({hours} h a year above {limit} ppm)"
