"""The sections of case.toml about rooms, crops and machines."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import Field, field_validator

from farmcase.inputs.estimate import Estimate, check_number, number, problem, ratio, shown
from farmcase.inputs.origin import Months, Sourced, check_twelve


class Crop(Sourced):
    """A species and strain on one substrate, in one kind of unit."""

    label: str
    species: str
    strain: str = "any"
    recipe: str
    unit: Literal["bag", "bucket", "block"]
    unit_wet_kg: Estimate = number("kg", stage="physical", ge=0.1, le=60)
    moisture_share: Estimate = ratio(stage="physical", le=0.95)
    biological_efficiency_share: Estimate = ratio(le=2.5)
    flush_shares: Months = number("share", stage="money", le=1)
    flushes_kept: int = number("flushes", stage="physical", ge=1, le=8)
    spawn_run_days: Estimate = number("days", stage="physical", ge=0, le=200)
    first_flush_days: Estimate = number("days", stage="physical", ge=1, le=90)
    flush_interval_days: Estimate = number("days", stage="physical", ge=1, le=90)
    clear_days: Estimate = number("days", stage="physical", ge=0, le=60)
    spawn_run_loss_share: Estimate = ratio(stage="physical", le=0.9)
    second_grade_share: Estimate = ratio(le=0.9)
    planned_kg_per_unit: float = number("kg", stage="physical", ge=0.01, le=60)
    bulk_density_kg_per_m3: float | None = number(
        "kg/m3", stage="physical", ge=50, le=1500, default=None
    )
    # What the crop does with temperature and air; filled from the table of responses where left
    # out (see inputs/defaults).
    spread_days: Estimate = number("days", stage="physical", ge=0.5, le=60)
    growth_minimum_c: Estimate = number("°C", stage="physical", ge=-10, le=60)
    growth_optimum_c: Estimate = number("°C", stage="physical", ge=-10, le=60)
    growth_maximum_c: Estimate = number("°C", stage="physical", ge=-10, le=60)
    growth_reference_c: Estimate = number("°C", stage="physical", ge=-10, le=60)
    core_excess_k: Estimate = number("K", stage="physical", le=20)
    heat_damage_c: Estimate = number("°C", stage="physical", ge=10, le=70)
    cold_damage_c: Estimate = number("°C", stage="physical", ge=-40, le=20)
    damage_share_per_day: Estimate = number("share/(day K)", stage="physical", le=5)
    pin_low_c: Estimate = number("°C", stage="physical", ge=-10, le=60)
    pin_high_c: Estimate = number("°C", stage="physical", ge=-10, le=60)
    pin_days: Estimate = number("days", stage="physical", ge=0.2, le=30)
    pin_shoulder_k: Estimate = number("K", stage="physical", ge=0.1, le=40)
    pin_slowest_share: Estimate = number("share", stage="physical", ge=0.02, le=1)
    fruit_stop_c: Estimate = number("°C", stage="physical", ge=-20, le=40)
    fruit_reference_c: Estimate = number("°C", stage="physical", ge=-10, le=60)
    fruit_low_c: Estimate = number("°C", stage="physical", ge=-10, le=60)
    fruit_high_c: Estimate = number("°C", stage="physical", ge=-10, le=60)
    fruit_hot_k: Estimate = number("K", stage="physical", ge=0.1, le=60)
    fruit_cold_k: Estimate = number("K", stage="physical", ge=0.1, le=60)
    co2_limit_ppm: Estimate = number("ppm", stage="physical", ge=300, le=50_000)
    co2_loss_share_per_1000_ppm: Estimate = number("share/1000 ppm", stage="physical", le=2)
    fruit_humidity_low_share: Estimate = ratio(stage="physical")
    fruit_humidity_high_share: Estimate = ratio(stage="physical")
    co2_g_per_kg_h_spawn_run: Estimate = number("g/(kg h)", stage="physical", le=5)
    co2_g_per_kg_h_fruiting: Estimate = number("g/(kg h)", stage="physical", le=5)
    co2_reference_c: Estimate = number("°C", stage="physical", ge=-10, le=60)
    co2_q10: Estimate = number("ratio", stage="physical", ge=1, le=8)
    wet_area_m2_per_unit: Estimate = number("m2", stage="physical", le=5)

    @field_validator("flush_shares")
    @classmethod
    def _sum(cls, value: Months) -> Months:
        if abs(sum(value) - 1) > 1e-6:
            raise problem(
                f"adds up to {sum(value):g}",
                "allowed are shares that add up to 1",
                "give every flush its share of the whole crop",
            )
        return value


# The fields of a crop that the table of responses knows.
RESPONSES = tuple(Crop.model_fields)[tuple(Crop.model_fields).index("spread_days") :]


class Starts(Sourced):
    """How many units are started, and what the plan counts on."""

    wanted_units_per_week: Estimate = number("units/week", stage="physical", le=100_000)
    planned_hours_per_unit: float = number("h", stage="physical", ge=0, le=24)
    hours_available_per_week: Estimate = number("h/week", stage="physical", le=10_000)


class Plan(Sourced):
    """The crop plan of one fruiting room by month of the year."""

    start_share_by_month: Mapping[str, Months] = Field(min_length=1)
    pace_scale: Estimate = number("share", stage="physical", ge=0.2, le=2, default=1.0)
    empty_days_by_month: Months = number("days", stage="physical", le=28, default=(0.0,) * 12)
    cleaning_days: Estimate = number("days", stage="physical", le=60, default=0.0)

    @field_validator("start_share_by_month", mode="before")
    @classmethod
    def _profiles(cls, value: Any) -> Any:
        if not isinstance(value, Mapping):
            remedy = "write for example start_share_by_month.my_crop = [...]"
            raise problem(f"is {shown(value)}", "allowed is a list for each crop", remedy)
        spec = {"unit": "share", "ge": 0.0, "le": 1.0}
        checked = {}
        for crop, months in value.items():
            if not isinstance(months, list | tuple) or len(months) != 12:
                count = len(months) if isinstance(months, list | tuple) else "no list of"
                raise problem(
                    f"has {count} entries",
                    "allowed are twelve, January to December",
                    "give one share for each month of the year",
                    inside=str(crop),
                )
            checked[str(crop)] = tuple(
                check_number(m, spec, f"entry {i + 1} =", inside=str(crop))
                for i, m in enumerate(months)
            )
        return checked

    @field_validator("empty_days_by_month")
    @classmethod
    def _twelve(cls, value: Months) -> Months:
        return check_twelve(value)


class Vessel(Sourced):
    """Where substrate is heat-treated; the batches it can do in a week are a limit.

    `rated_kw` is what its burner or element draws; how long a batch takes follows from the heat.
    """

    build: str
    treatment: Literal["hot_water", "steam", "cold_lime", "sterilising"]
    label: str = ""
    carrier: str
    units_per_batch: Estimate = number("units", stage="physical", ge=0.1, le=10_000)
    batches_per_week: Estimate = number("batches/week", stage="physical", le=100)
    hours_available_per_week: Estimate = number("h/week", stage="physical", le=168, default=168.0)
    rated_kw: Estimate = number("kW", stage="physical", le=1000)
    efficiency_share: Estimate = number("share", stage="physical", ge=0.05, le=1)
    start_c: Estimate = number("°C", stage="physical", ge=0, le=60)
    treat_to_c: Estimate = number("°C", stage="physical", ge=0, le=150)
    hold_hours: Estimate = number("h", stage="physical", le=72)
    handling_hours: Estimate = number("h", stage="physical", le=72)
    loss_kw: Estimate = number("kW", stage="physical", le=100)
    water_l_per_batch: Estimate = number("L", stage="physical", default=0.0)
    kept_water_share: Estimate = ratio(stage="physical", default=0.0)
    kept_water_c: Estimate = number("°C", stage="physical", le=100, default=0.0)
    steam_l_per_batch: Estimate = number("L", stage="physical", default=0.0)


EndUse = Literal[
    "fans", "lights", "humidifying", "heating", "cooling", "cold_store", "controls", "other"
]


class Machine(Sourced):
    """A machine by its rated power, hours a day and duty by month."""

    build: str
    end_use: EndUse
    carrier: str
    label: str = ""
    room: str = ""
    count: int = number("machines", stage="physical", ge=1, le=1000, default=1)
    rated_kw: Estimate = number("kW", stage="physical", le=1000)
    hours_per_day: Estimate = number("h/day", stage="physical", le=24)
    duty_share: Estimate = ratio(stage="physical", default=1.0)
    duty_by_month: Months = number("share", stage="physical", le=1, default=(1.0,) * 12)
    water_l_per_h: Estimate = number("L/h", stage="physical", le=10_000, default=0.0)

    @field_validator("duty_by_month")
    @classmethod
    def _twelve(cls, value: Months) -> Months:
        return check_twelve(value)


class Learning(Sourced):
    """Start-up: the share of the full yield in the first month, and the months until it is full."""

    first_month_yield_share: Estimate = ratio()
    months: Estimate = number("months", ge=0, le=60)


class GivenOutput(Sourced):
    """Output and use by calendar month, for a case that does not model its rooms."""

    given: Literal[True]
    crop: str
    picked_kg_by_month: Months = number("kg", stage="physical")
    units_started_by_month: Months = number("units", stage="physical", default=(0.0,) * 12)
    electricity_kwh_by_month: Months = number("kWh", stage="physical", default=(0.0,) * 12)
    water_l_by_month: Months = number("L", stage="physical", default=(0.0,) * 12)

    @field_validator(
        "picked_kg_by_month",
        "units_started_by_month",
        "electricity_kwh_by_month",
        "water_l_by_month",
    )
    @classmethod
    def _twelve(cls, value: Months) -> Months:
        return check_twelve(value)


class Season(Sourced):
    """How demand at an outlet runs over the year: a share of its weekly limit for each month."""

    label: str = ""
    shares: Months = number("share", stage="physical", le=5)

    @field_validator("shares")
    @classmethod
    def _twelve(cls, value: Months) -> Months:
        return check_twelve(value)
