"""The sections of case.toml about the business: who, where, money, tariffs and builds."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Literal

from babel import Locale, UnknownLocaleError
from babel.numbers import is_currency
from pydantic import Field, field_validator

from farmcase.inputs.estimate import (
    MOST,
    Estimate,
    Record,
    Status,
    check_date,
    number,
    problem,
    ratio,
    shown,
)
from farmcase.inputs.frozen import Frozen
from farmcase.inputs.origin import Priced, Sourced

FORMAT = 1

InflationCategory = Literal["general", "sales", "substrate", "energy", "wages", "none"]


def check_currency(value: str) -> str:
    """An ISO 4217 code."""
    if not is_currency(value):
        raise problem(
            f"is {shown(value)}",
            "allowed is a three-letter ISO 4217 code",
            "write for example EUR, GBP or USD",
        )
    return value


class Heading(Record):
    """The lines at the top of case.toml."""

    format: int
    name: str = Field(min_length=1)
    locale: str
    currency: str
    start_month: str
    horizon_months: int = number("months", ge=24, le=480)
    demonstration: bool = False
    left_out: tuple[str, ...] = ()

    @field_validator("format")
    @classmethod
    def _format(cls, value: int) -> int:
        if value != FORMAT:
            raise problem(
                f"is {shown(value)}",
                f"this version reads format {FORMAT}",
                "use a newer farmcase for a newer format, or correct the number",
            )
        return value

    @field_validator("locale")
    @classmethod
    def _locale(cls, value: str) -> str:
        try:
            Locale.parse(value)
        except (UnknownLocaleError, ValueError):
            raise problem(
                f"is {shown(value)}",
                "allowed is the short name of a language and country",
                "write for example en_IE",
            ) from None
        return value

    @field_validator("currency")
    @classmethod
    def _currency(cls, value: str) -> str:
        return check_currency(value)

    @field_validator("start_month")
    @classmethod
    def _start(cls, value: str) -> str:
        if not re.fullmatch(r"(19|20|21)[0-9]{2}-(0[1-9]|1[0-2])", value):
            raise problem(
                f"is {shown(value)}", "allowed is a month as YYYY-MM", "write for example 2027-03"
            )
        return value


class Who(Record):
    """The applicant, in words."""

    applicant: str = Field(min_length=1)
    legal_form: str = ""
    place: str = ""
    country: str = ""
    about: str = ""


class Site(Sourced):
    """Where the rooms stand and what they are connected to."""

    latitude_deg: float = number("°", stage="physical", ge=-66, le=66)
    longitude_deg: float = number("°", stage="physical", ge=-180, le=180)
    altitude_m: float = number("m", stage="physical", ge=-400, le=4000)
    time_zone: str
    supply_kw: float = number("kW", ge=0, le=10_000)
    weather: str = Field(min_length=1)
    weather_seed: int = number("seed", stage="physical", ge=0, le=1_000_000, default=1)
    steps_per_hour: int = number("steps", stage="physical", ge=1, le=60, default=1)
    co2_outside_ppm: float = number("ppm", stage="physical", ge=300, le=1000)
    ground_albedo: float = number("share", stage="physical", le=1)
    water: str = ""
    drain: str = ""


class Standing(Record):
    """The business as it stands; every line may be left out for a new business."""

    balance_sheet_date: str = ""
    cash: Estimate = number("money", default=0.0, ge=-MOST)
    debtors: Estimate = number("money", default=0.0)
    stock: Estimate = number("money", default=0.0)
    fixed_assets: Estimate = number("money", default=0.0)
    creditors: Estimate = number("money", default=0.0)
    loans_outstanding: Estimate = number("money", default=0.0)
    loan_payments_per_year: Estimate = number("money/year", default=0.0)
    sales_per_year: Estimate = number("money/year", default=0.0)
    costs_per_year: Estimate = number("money/year", default=0.0)
    household_other_income_per_year: Estimate = number("money/year", default=0.0)
    drawings_per_year: Estimate = number("money/year", default=0.0)
    loan_rate_per_year: Estimate = number("share/year", le=1, default=0.0)
    members: int = number("members", ge=0, le=100_000, default=0)
    source: str = ""
    status: Status = "guess"
    note: str = ""

    @field_validator("balance_sheet_date")
    @classmethod
    def _date(cls, value: str) -> str:
        return check_date(value) if value else value


class Money(Sourced):
    """Rates and the owners' own money; rates are annual."""

    discount_rate_per_year: Estimate = number("share/year", ge=0, le=1)
    owners_money: Estimate = number("money")
    overdraft_rate_per_year: Estimate = number("share/year", ge=0, le=1)
    overdraft_limit: Estimate = number("money")
    fiscal_year_end_month: int = number("calendar month", ge=1, le=12, default=12)
    grant_shown_as: Literal["deferred_income", "off_cost"] = "deferred_income"
    coverage_threshold: str = "sba_7a_coverage"


class Inflation(Sourced):
    """Yearly price rises by category, nominal."""

    general: Estimate = number("share/year", ge=-0.2, le=1)
    sales: Estimate = number("share/year", ge=-0.2, le=1)
    substrate: Estimate = number("share/year", ge=-0.2, le=1)
    energy: Estimate = number("share/year", ge=-0.2, le=1)
    wages: Estimate = number("share/year", ge=-0.2, le=1)


class OwnWork(Priced):
    """Own hours: what an hour is worth elsewhere, what is drawn, how many hours there are."""

    opportunity_wage_per_hour: Estimate = number("money/h")
    drawings_per_month: Estimate = number("money/month")
    hours_available_per_week: Estimate = number("h/week", le=10_000)


class Pay(Priced):
    """A pay band with what the employer adds."""

    label: str = ""
    wage_per_hour: Estimate = number("money/h")
    on_cost_share: Estimate = ratio(le=2.0)


class Carrier(Priced):
    """An energy carrier and its tariff."""

    label: str = ""
    price_per_kwh: Estimate = number("money/kWh")
    standing_charge_per_month: Estimate = number("money/month")
    capacity_charge_per_kw_month: Estimate = number("money/(kW month)")
    emissions_kgco2e_per_kwh: Estimate = number("kgCO2e/kWh", le=5)
    vat_rate_share: float = number("share", le=1, default=0.0)


class Water(Priced):
    """Water from the mains, with what it costs to send it off."""

    price_per_m3: Estimate = number("money/m3")
    vat_rate_share: float = number("share", le=1, default=0.0)


class Store(Priced):
    """From picking to sale: weight lost, kilograms lost, and what throwing away costs."""

    days_held: Estimate = number("days", stage="physical", ge=0.1, le=60)
    weight_loss_share_per_day: Estimate = ratio(le=0.5)
    bunching_loss_share: Estimate = ratio(le=0.9)
    disposal_cost_per_kg: Estimate = number("money/kg")


class Build(Sourced):
    """One way of doing it: the base of the case plus what is named under `with`."""

    label: str = Field(min_length=1)
    about: str = ""
    production_start_month: int = number("month", ge=1, le=240)
    contingency_share: Estimate = ratio(le=3.0)
    scope: Mapping[str, Literal["in_price", "already_have", "not_needed"]] = Field(
        default_factory=Frozen
    )
    with_: Mapping[str, Any] = Field(default_factory=Frozen, alias="with")
