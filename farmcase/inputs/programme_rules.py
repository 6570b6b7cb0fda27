"""What is written down about a grant or loan programme: what it pays, its rules, what it asks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from pydantic import Field, field_validator

from farmcase.inputs.estimate import Record, check_date
from farmcase.inputs.sections import check_currency

MEMORY = "memory"  # stands where a source would, for what was recalled and not seen

Mark = Literal["read", "second_hand", "memory_high", "memory_medium", "memory_low", "computed"]
Need = Literal["required", "required_from_memory", "conditional", "not_seen"]
Allowance = Literal["funded", "conditional", "refused", "not_fundable"]


class Dated(Record):
    """Base of what bears a date, "" where it bears none."""

    @field_validator("date", "text_date", check_fields=False)
    @classmethod
    def _date(cls, value: str) -> str:
        return check_date(value) if value else value


class Source(Dated):
    """A text that was read: what it is, where, and of which date."""

    title: str = Field(min_length=1)
    address: str = Field(min_length=1)
    date: str = ""


class Fact(Record):
    """A sentence about a programme, the key of its source, and how it is known."""

    says: str = Field(min_length=1)
    source: str
    mark: Mark

    @property
    def is_from_memory(self) -> bool:
        """Whether it was recalled and not seen."""
        return self.mark.startswith(MEMORY)


class Funding(Fact):
    """Whether a kind of cost is paid."""

    ruling: Allowance


class Share(Fact):
    """A share of the costs that count, 0 to 1."""

    share: float = Field(ge=0, le=1)


class MostShare(Fact):
    """The largest share of the whole that something may be, 0 to 1."""

    most_share: float = Field(ge=0, le=1)


class Amount(Fact):
    """The least and the most that is given, in the programme's currency."""

    least: float = Field(default=0.0, ge=0)
    most: float | None = Field(default=None, ge=0)


class Above(Fact):
    """An amount above which something is asked for, in the programme's currency."""

    above: float = Field(ge=0)


class Band(Record):
    """Quotes needed for an item up to a value; without a value for all above the last."""

    count: int = Field(ge=0)
    up_to: float | None = None


class Quotes(Fact):
    """Quotes needed for each item, in bands of rising value."""

    bands: tuple[Band, ...] = Field(min_length=1)


class Years(Fact):
    """A number of years."""

    years: int = Field(ge=0)


class Days(Fact):
    """A largest age in days."""

    most_days: int = Field(ge=0)


class Counts(Fact):
    """Whether something counts."""

    counts: bool


class Rules(Record):
    """The rules of a programme; one that is left out was not seen in what was read."""

    growing_projects: Fact | None = None  # present: projects of growers are not paid
    grant_share: Share | None = None
    match: Share | None = None
    amount: Amount | None = None
    planning_amount: Amount | None = None
    own_hours_as_match: Counts | None = None
    second_hand: Counts | None = None
    quotes: Quotes | None = None
    nothing_before_award: Fact | None = None
    paid_in_arrears: Fact | None = None
    kept: Years | None = None
    vat_irrecoverable_only: Fact | None = None
    feasibility_study: Above | None = None
    balance_sheet: Days | None = None
    projections: Years | None = None
    history: Years | None = None
    ineligible_costs: MostShare | None = None


class Asked(Record):
    """Whether a content of the application is asked for, and papers that no case folder holds."""

    need: Need
    attach: str = ""


class Programme(Dated):
    """A programme as it was read: dated, with sources; confirm with its own current papers."""

    label: str = Field(min_length=1)
    kind: Literal["grant", "loan"]
    jurisdiction: str = Field(min_length=1)
    currency: str
    text_date: str = ""
    note: str = ""
    declarations: tuple[str, ...] = ()
    sources: Mapping[str, Source]
    funds: Mapping[str, Funding]
    rules: Rules = Field(default_factory=Rules)
    facts: tuple[Fact, ...] = ()
    checklist: Mapping[str, Asked]

    @field_validator("currency")
    @classmethod
    def _currency(cls, value: str) -> str:
        return check_currency(value)

    def all_facts(self) -> dict[str, Fact]:
        """Every fact with its place in the file."""
        ruled = {f"rules.{name}": getattr(self.rules, name) for name in Rules.model_fields}
        return {
            **{f"funds.{kind}": fact for kind, fact in self.funds.items()},
            **{place: fact for place, fact in ruled.items() if fact is not None},
            **{f"facts.{i}": fact for i, fact in enumerate(self.facts)},
        }
