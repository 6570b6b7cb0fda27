"""The sections of case.toml about finance: loans, leases, owners, grants, gates, moves, taxes."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, field_validator

from farmcase.inputs.estimate import Estimate, number, ratio
from farmcase.inputs.origin import Priced
from farmcase.inputs.sections import InflationCategory
from farmcase.inputs.steps import check_stages, check_steps


class Loan(Priced):
    """A loan; the rate is the lender's nominal yearly rate, charged monthly.

    `term_months` counts from the first drawing, months of grace included. `drawn` gives stages,
    `rate_changes` what is added to the rate from a month on, `early_repaid` shares of the amount.
    """

    build: str
    label: str = ""
    kind: Literal["level_payment", "level_principal"] = "level_payment"
    amount: Estimate = number("money")
    rate_per_year: Estimate = number("share/year", le=1)
    rate_changes: str = ""
    term_months: int = number("months", ge=1, le=480)
    drawn_month: int = number("month", ge=0, le=480, default=0)
    drawn: str = ""
    gate: str = ""
    grace_months: int = number("months", ge=0, le=120, default=0)
    grace_kind: Literal["interest_paid", "interest_capitalised"] = "interest_paid"
    fee: Estimate = number("money", default=0.0)
    early_repaid: str = ""
    rounding: Literal["none", "payment", "payment_and_interest"] = "none"

    @field_validator("drawn")
    @classmethod
    def _drawn(cls, value: str) -> str:
        return check_stages(value)

    @field_validator("rate_changes")
    @classmethod
    def _changes(cls, value: str) -> str:
        return check_steps(value, -1.0, 1.0, example="25: 0.01")

    @field_validator("early_repaid")
    @classmethod
    def _repaid(cls, value: str) -> str:
        return check_steps(value, 0.0, 1.0, example="60: 0.25")


class Lease(Priced):
    """A leased unit: deposit, payments, the supplier's service, and what happens at the end.

    The deposit comes back in the last month of the term. When a unit that is grown in goes back,
    growing ends.
    """

    build: str
    label: str = ""
    starts_month: int = number("month", ge=0, le=480, default=0)
    term_months: int = number("months", ge=1, le=480)
    gate: str = ""
    deposit: Estimate = number("money", default=0.0)
    payment_per_month: Estimate = number("money/month")
    service_per_month: Estimate = number("money/month", default=0.0)
    inflates_with: InflationCategory = "none"
    vat_rate_share: float = number("share", le=1, default=0.0)
    grown_in: bool = True
    bought_at_end: bool = False
    purchase_price: Estimate = number("money", default=0.0)
    life_years: Estimate = number("years", ge=0.5, le=100, default=5.0)
    resale_share: Estimate = ratio(default=0.0)


class Share(Priced):
    """Money that owners or members put in, and when it goes back to them, if ever."""

    build: str
    label: str = ""
    kind: Literal["owners_money", "member_shares"] = "member_shares"
    amount: Estimate = number("money")
    paid_in_month: int = number("month", ge=0, le=480, default=0)
    withdrawn_month: int | None = number("month", ge=0, le=480, default=None)


class Grant(Priced):
    """A share of eligible spending, up to a ceiling, paid in arrears after each claim."""

    build: str
    label: str = ""
    programme: str = ""
    share: Estimate = ratio()
    ceiling: Estimate = number("money")
    award_gate: str = ""
    second_hand_counts: bool = False
    own_labour_counts: bool = False
    claim_every_months: int = number("months", ge=1, le=60)
    paid_after_months: int = number("months", ge=0, le=60)
    held_back_share: Estimate = ratio(default=0.0)
    held_back_months: int = number("months", ge=0, le=120, default=0)
    kept_months: int = number("months", ge=0, le=480, default=0)
    repaid_if_moved: Literal["all", "pro_rata"] = "all"


class Gate(Priced):
    """A consent or promise that must be there before what depends on it is paid or built."""

    build: str
    kind: Literal["planning", "power", "water", "tenure", "award", "finance"]
    label: str = ""
    month: Estimate = number("month", le=480)
    waits_for: str = ""
    applied_month: int = number("month", ge=0, le=480, default=0)
    cost: Estimate = number("money", default=0.0)


class Move(Priced):
    """The containers are moved to another place: its cost, and the months without production."""

    build: str
    label: str = ""
    month: int = number("month", ge=1, le=480)
    cost: Estimate = number("money")
    closed_months: int = number("months", ge=0, le=24, default=0)
    funded_items_leave: bool = False


class Vat(Priced):
    """VAT or sales tax: whether the business is registered, how, and when it is settled."""

    label: str = "VAT"
    scheme: Literal["not_registered", "standard", "cash", "farmer_flat_rate"]
    flat_rate_share: Estimate = ratio(default=0.0)
    recoverable_share: Estimate = ratio(default=1.0)
    purchases_rate_share: float = number("share", le=1, default=0.0)
    return_every_months: Literal[1, 2, 3, 6, 12] = 3
    first_return_ends: int = number("calendar month", ge=1, le=12)
    paid_after_months: int = number("months", ge=0, le=24)
    refunded_after_months: int = number("months", ge=0, le=24)


class Tax(Priced):
    """Tax on profit, and what a co-operative does with its surplus; rates are dated data.

    Of the surplus the price bonus is paid before tax, the dividend after it; the rest is reserve.
    """

    form: str = Field(min_length=1)
    rate_share: Estimate = ratio()
    tax_free_per_year: Estimate = number("money/year", default=0.0)
    higher_rate_share: Estimate = ratio(default=0.0)
    higher_from_per_year: Estimate = number("money/year", default=0.0)
    losses: Literal["carried_forward", "lost"] = "carried_forward"
    loss_most_share: Estimate = ratio(default=1.0)
    paid_after_months: int = number("months", ge=0, le=36)
    default_schedule: str = "follows_books"
    pool: str = ""
    own_work_deductible: bool | None = None
    price_bonus_share: Estimate = ratio(default=0.0)
    dividend_share: Estimate = ratio(default=0.0)
    distributed_after_months: int = number("months", ge=0, le=36, default=0)
