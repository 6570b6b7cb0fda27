"""The rows of the case's tables, one class each; columns are fields, in the order of the file."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, field_validator

from farmcase.inputs.estimate import Estimate, Record, Status, check_date, number, ratio
from farmcase.inputs.sections import InflationCategory, check_currency
from farmcase.inputs.steps import check_stages, read_steps


class Row(Record):
    """A row: its build (one, several separated by a space, or `all`), source and status."""

    build: str = "all"
    source: str = Field(min_length=1)
    status: Status
    note: str = ""


class PricedRow(Row):
    """A row with money in it."""

    price_date: str

    @field_validator("price_date")
    @classmethod
    def _date(cls, value: str) -> str:
        return check_date(value)


class CapitalRow(PricedRow):
    """One thing bought or done. Prices without VAT; own hours are for the whole row.

    `stages` splits the price over months; `month_paid` is then left out. `gate` may name several.
    """

    group: str = Field(min_length=1)
    item: str = Field(min_length=1)
    scope: str = ""
    quantity: Estimate = number("", ge=0)
    unit: str = Field(min_length=1)
    unit_cost: Estimate = number("money")
    cost_currency: str = ""
    exchange_rate: Estimate = number("money per unit of the cost's currency", default=1.0)
    month_paid: int = number("month", ge=0, le=480, default=0)
    stages: str = ""
    lead_months: int = number("months", ge=0, le=60, default=0)
    gate: str = ""
    life_years: Estimate = number("years", ge=0.5, le=100)
    resale_share: Estimate = ratio(default=0.0)
    forced_sale_share: Estimate = ratio(default=0.0)
    tax_class: str = ""
    vat_rate_share: float = number("share", le=1, default=0.0)
    second_hand: bool = False
    own_labour_hours: Estimate = number("h", default=0.0)
    grant_eligible: bool = False
    quotes_held: int = number("quotes", ge=0, le=20, default=0)

    @field_validator("cost_currency")
    @classmethod
    def _currency(cls, value: str) -> str:
        return check_currency(value) if value else value

    @field_validator("stages")
    @classmethod
    def _stages(cls, value: str) -> str:
        return check_stages(value)

    @property
    def payments(self) -> tuple[tuple[int, float], ...]:
        """Planned months and the share of the price that is paid in each."""
        return read_steps(self.stages) or ((self.month_paid, 1.0),)


class SubstrateRow(PricedRow):
    """An ingredient of a recipe, or a bought-in block.

    `share` is of the dry mass for base, supplement and mineral, of the wet mass for spawn, and
    pieces per unit for bags, buckets and bought-in blocks.
    """

    recipe: str = Field(min_length=1)
    substrate_source: Literal["own", "ready_to_spawn", "ready_to_fruit"]
    ingredient: str = Field(min_length=1)
    role: Literal["base", "supplement", "mineral", "spawn", "wrapping", "block"]
    share: Estimate = number("share or pieces", ge=0, le=100)
    moisture_share: Estimate = ratio(le=0.95, default=0.0)
    carbon_share: float = number("share of dry mass", le=1, default=0.0)
    nitrogen_share: float = number("share of dry mass", le=1, default=0.0)
    price: Estimate = number("money per unit")
    unit: Literal["kg", "piece"]
    freight: Estimate = number("money per unit", default=0.0)
    vat_rate_share: float = number("share", le=1, default=0.0)
    minimum_order: float = number("units", default=0.0)
    lead_time_days: float = number("days", le=365, default=0.0)
    age_limit_days: float = number("days", le=3650, default=0.0)
    failed_share: Estimate = ratio(stage="physical", le=0.9, default=0.0)


Driver = Literal[
    "unit_prepared",
    "unit_spawned",
    "unit_placed",
    "unit_cleared",
    "kg_picked",
    "room_week",
    "delivery",
    "month",
]


class LabourRow(Row):
    """A task: hours for each unit of its driver, done by a pay band or by the owners (`own`)."""

    task: str = Field(min_length=1)
    driver: Driver
    hours: Estimate = number("h per unit of the driver", le=2000)
    pay: str = Field(min_length=1)


class SalesRow(PricedRow):
    """An outlet and what it takes of one crop, grade and form."""

    outlet: str = Field(min_length=1)
    crop: str
    grade: Literal["first", "second"] = "first"
    form: str = "fresh"
    price_per_kg: Estimate = number("money/kg")
    most_kg_per_week: Estimate = number("kg/week", stage="physical")
    volume_response: Estimate = number(
        "percent of kg per percent of price", ge=-10, le=0, default=0.0
    )
    build_up_months: Estimate = number("months", stage="physical", le=60, default=0.0)
    fee_share: Estimate = ratio(le=0.9, default=0.0)
    packaging_per_kg: Estimate = number("money/kg", default=0.0)
    delivery_per_kg: Estimate = number("money/kg", default=0.0)
    deliveries_per_week: Estimate = number("deliveries/week", le=50, default=0.0)
    cost_per_delivery: Estimate = number("money", default=0.0)
    vat_rate_share: float = number("share", le=1, default=0.0)
    buyer_registered: bool = False
    payment_delay_days: Estimate = number("days", le=180, default=0.0)
    season: str = ""
    evidence: Literal["contract", "letter", "trial_sales", "conversation", "hope"]
    evidence_date: str = ""

    @field_validator("evidence_date")
    @classmethod
    def _evidence_date(cls, value: str) -> str:
        return check_date(value) if value else value


class RepeatingRow(PricedRow):
    """An amount that comes back every month, quarter or year, or once."""

    item: str = Field(min_length=1)
    amount: Estimate = number("money per period")
    period: Literal["month", "quarter", "year", "once"]
    starts_month: int = number("month", ge=0, le=480, default=1)
    ends_month: int | None = number("month", ge=0, le=480, default=None)
    inflates_with: InflationCategory = "general"
    vat_rate_share: float = number("share", le=1, default=0.0)


class OverheadRow(RepeatingRow):
    """A running cost."""


class IncomeRow(RepeatingRow):
    """Other income, stated as it is."""
