"""One run of a case: what a reader may ask of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from farmcase.errors import NotFoundError
from farmcase.inputs.case import Case
from farmcase.inputs.scope import scope_gaps
from farmcase.model.build_outcome import ONE, BuildOutcome
from farmcase.model.ledger import run_ledger
from farmcase.model.lines import OWN_WORK_VIEWS
from farmcase.model.measures import Measurer
from farmcase.model.remarks import remarks
from farmcase.money.returns import real_rate
from farmcase.words.labels import MEASURES
from farmcase.words.verdict import Facts, verdict

OWN_WORK_MEASURES = ("npv", "payback_years", "lowest_cash", "dscr_after_tax_and_drawings_minimum")


@dataclass(frozen=True)
class Outcome(Mapping[str, BuildOutcome]):
    """All builds of one run: `outcome["self_build"]` for one, `outcome.measures()` for all."""

    case: Case
    builds: Mapping[str, BuildOutcome]

    def __getitem__(self, build: str) -> BuildOutcome:
        if build not in self.builds:
            known = ", ".join(self.builds)
            raise NotFoundError(f"There is no build {build!r}; known are {known}.")
        return self.builds[build]

    def __iter__(self) -> Iterator[str]:
        return iter(self.builds)

    def __len__(self) -> int:
        return len(self.builds)

    def measures(self) -> pd.DataFrame:
        """Every measure of every build: rows measures, columns builds."""
        table = {b: {name: o.measure(name) for name in MEASURES} for b, o in self.items()}
        return pd.DataFrame(table).rename_axis("measure")

    def own_work(self) -> pd.DataFrame:
        """Own hours in three ways: npv, payback, lowest cash and lowest debt cover, by build.

        Rows are (view, measure); the headline charges own hours at the opportunity wage.
        """
        rows = {}
        for view in OWN_WORK_VIEWS:
            for name in OWN_WORK_MEASURES:
                rows[view, name] = {b: self.in_view(b, view)[name][0] for b in self}
        return pd.DataFrame(rows).T.rename_axis(["own_work", "measure"])

    def remarks(self, build: str, brief: bool = False) -> list[str]:
        """What must be said beside the numbers of a build; all of it, or the weightiest."""
        return remarks(self[build], brief)

    @property
    def real_discount_rate(self) -> float:
        """The discount rate less general price rises, exactly."""
        rate = self.case.money.discount_rate_per_year.likely
        return float(real_rate(rate, self.case.inflation.general.likely))

    @cached_property
    def verdict(self) -> str:
        """The choice in words: all builds and carrying on as now."""
        heading, money = self.case.heading, self.case.money
        facts = Facts(
            npv={b: o.measure("npv") for b, o in self.items()},
            owners_npv={b: o.measure("owners_npv") for b, o in self.items()},
            money_needed={b: o.measure("money_needed") for b, o in self.items()},
            labels={b: o.label for b, o in self.items()},
            other_views={
                view: {b: float(self.in_view(b, view)["npv"][0]) for b in self}
                for view in OWN_WORK_VIEWS[1:]
            },
            scope_gaps={b: scope_gaps(self.case, b) for b in self},
            years=heading.horizon_months / 12,
            rate=money.discount_rate_per_year.likely,
            wage=self.case.own_work.opportunity_wage_per_hour.likely,
            currency=heading.currency,
            locale=heading.locale,
            left_out=list(heading.left_out),
        )
        return verdict(facts)

    def in_view(self, build: str, view: str) -> Measurer:
        """The measures of a build with own hours charged in one of three ways."""
        found = self[build]
        if view == OWN_WORK_VIEWS[0]:
            return found.measurer
        ledger = run_ledger(found.inputs, found.physical, ONE, view)
        return Measurer(found.inputs, found.physical, ledger, ONE)
