"""The sections of case.toml about boxes, rooms, their air, and panels on the roof."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import Field, field_validator

from farmcase.inputs.estimate import Estimate, number, problem, ratio, shown
from farmcase.inputs.frozen import Frozen
from farmcase.inputs.origin import Months, Priced, Sourced, check_twelve

FACES = ("front", "back", "left", "right", "roof", "floor")


class Container(Sourced):
    """A box: its kind is a row of the reference table of containers.

    The front is the door end; left and right are those of one who faces the doors from outside.
    """

    build: str
    kind: str
    label: str = ""
    door_bearing_deg: float = number("°", stage="physical", le=360, default=180.0)
    paint: Literal["light", "medium", "dark"] = "medium"
    roof_sun_share: Estimate = ratio(stage="physical", default=1.0)
    walls_sun_share: Estimate = ratio(stage="physical", default=1.0)
    foam_ageing_scale: Estimate = number("share", stage="physical", ge=1, le=5, default=1.0)
    partition: str = ""
    partition_m: float = number("m", stage="physical", le=0.4, default=0.0)
    touches: Mapping[str, str] = Field(default_factory=Frozen)

    @field_validator("touches", mode="before")
    @classmethod
    def _faces(cls, value: Any) -> Any:
        for face in value if isinstance(value, Mapping) else ():
            if face not in FACES:
                allowed = "allowed are " + ", ".join(FACES)
                raise problem(f"names the face {shown(face)}", allowed, "name one of these")
        return value


RoomKind = Literal["fruiting", "spawn_run", "cold_store", "lobby", "prep"]
CLIMATE_KINDS = ("fruiting", "spawn_run", "cold_store")


class Room(Sourced):
    """A share of a container's length, or a covered area, with its lining and racks."""

    build: str
    kind: RoomKind
    label: str = ""
    container: str = ""
    length_share: float = number("share", stage="physical", ge=0.01, le=1, default=1.0)
    insulation: str = ""
    insulation_m: float = number("m", stage="physical", le=0.4, default=0.0)
    floor_insulation_m: float | None = number("m", stage="physical", le=0.4, default=None)
    inner_face: str = ""
    inner_face_m: float = number("m", stage="physical", le=0.1, default=0.0)
    area_m2: float | None = number("m2", stage="physical", ge=0.5, default=None)
    rack_rows: int = number("rows", stage="physical", le=20, default=0)
    rack_levels: int = number("levels", stage="physical", le=12, default=0)
    rack_depth_m: float = number("m", stage="physical", le=3, default=0.0)
    aisle_m: float = number("m", stage="physical", le=3, default=0.0)
    end_clearance_m: float = number("m", stage="physical", le=5, default=0.0)
    place_width_m: float = number("m", stage="physical", ge=0, le=3, default=0.0)
    place_depth_m: float = number("m", stage="physical", ge=0, le=3, default=0.0)
    kg_per_place: float = number("kg", stage="physical", le=500, default=0.0)

    @property
    def lining_m(self) -> float:
        """Thickness of the lining of walls and ceiling."""
        return self.insulation_m + self.inner_face_m

    @property
    def floor_lining_m(self) -> float:
        """Thickness of the lining of the floor: that of the walls where none is stated."""
        if self.floor_insulation_m is None:
            return self.lining_m
        return self.floor_insulation_m + self.inner_face_m


class Climate(Sourced):
    """The air of a room: set points, plant, fans, leakage. A room without plant runs free."""

    heating: Literal["none", "heater", "heat_pump"] = "none"
    heat_to_c: Estimate = number("°C", stage="physical", ge=-5, le=40, default=0.0)
    heat_kw: Estimate = number("kW", stage="physical", le=200, default=0.0)
    heat_carrier: str = "electricity"
    heater_efficiency_share: Estimate = number("share", stage="physical", ge=0.05, default=1.0)
    rated_cop: Estimate = number("ratio", stage="physical", le=10, default=0.0)
    cooling: Literal["none", "unit"] = "none"
    cool_to_c: Estimate = number("°C", stage="physical", ge=-5, le=60, default=60.0)
    cool_kw: Estimate = number("kW", stage="physical", le=200, default=0.0)
    rated_eer: Estimate = number("ratio", stage="physical", le=10, default=0.0)
    outside_air_cools: bool = False
    humidifier: Literal["none", "fog", "ultrasonic", "pad", "steam"] = "none"
    humidify_to_share: Estimate = ratio(stage="physical", le=0.99, default=0.9)
    humidify_l_per_h: Estimate = number("L/h", stage="physical", le=1000, default=0.0)
    humidifier_kwh_per_l: Estimate = number("kWh/L", stage="physical", le=2, default=0.0)
    fresh_air_least_m3_per_h: Estimate = number("m3/h", stage="physical", le=20_000, default=0.0)
    fresh_air_most_m3_per_h: Estimate = number("m3/h", stage="physical", le=20_000, default=0.0)
    co2_most_ppm: Estimate = number("ppm", stage="physical", ge=450, le=50_000, default=50_000.0)
    fan_pressure_pa: Estimate = number("Pa", stage="physical", le=2000, default=0.0)
    fan_efficiency_share: Estimate = number("share", stage="physical", ge=0.02, le=1, default=1.0)
    heat_recovery_share: Estimate = ratio(stage="physical", le=0.95, default=0.0)
    leakage_changes_per_h: Estimate = number("1/h", stage="physical", le=20, default=0.0)
    bridging_w_per_m2_k: Estimate = number("W/(m2 K)", stage="physical", le=5, default=0.0)
    mixing_fans_kw: Estimate = number("kW", stage="physical", le=20, default=0.0)
    lights_kw: Estimate = number("kW", stage="physical", le=20, default=0.0)
    lights_hours_per_day: Estimate = number("h/day", stage="physical", le=24, default=0.0)
    lights_from_hour: float = number("h", stage="physical", le=24, default=7.0)
    door_openings_per_day: Estimate = number("1/day", stage="physical", le=1000, default=0.0)
    closed_by_month: Months = number("share", stage="physical", le=1, default=(0.0,) * 12)

    @field_validator("closed_by_month")
    @classmethod
    def _twelve(cls, value: Months) -> Months:
        if any(month not in (0, 1) for month in value):
            raise problem(
                "has a part of a month", "allowed are 0 (open) and 1 (closed)", "use 0 or 1"
            )
        return check_twelve(value)


class Solar(Priced):
    """Own panels: what they give is used first, the rest is sent out; cost in capital.csv."""

    build: str
    label: str = ""
    peak_kw: Estimate = number("kW", stage="physical", le=1000)
    tilt_deg: float = number("°", stage="physical", le=90)
    bearing_deg: float = number("°", stage="physical", le=360)
    performance_share: Estimate = ratio(stage="physical")
    sent_price_per_kwh: Estimate = number("money/kWh", default=0.0)


class Band(Priced):
    """Hours of the week in which a carrier has a price of its own; the first that fits counts."""

    carrier: str
    label: str = ""
    from_hour: float = number("h", stage="physical", le=24)
    to_hour: float = number("h", stage="physical", le=24)
    days: Literal["all", "weekdays", "weekend"] = "all"
    price_per_kwh: Estimate = number("money/kWh")


class Leaving(Priced):
    """What leaves the farm besides mushrooms: spent substrate and waste water.

    Prices are received when above nil and paid when below.
    """

    spent_share: Estimate = ratio(stage="physical")
    spent_price_per_tonne: Estimate = number("money/t", ge=-10_000)
    waste_water_price_per_m3: Estimate = number("money/m3", ge=-10_000, default=0.0)
    waste_water_share: Estimate = ratio(stage="physical", default=1.0)
