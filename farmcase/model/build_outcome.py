"""One build of one run: its rooms, money by month and measures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from farmcase.crop.cohort_kernel import LIMITS
from farmcase.errors import NotFoundError
from farmcase.model.gather import BuildInputs
from farmcase.model.hours import room_tables
from farmcase.model.kilograms import Expander
from farmcase.model.ledger import Ledger
from farmcase.model.measures import GROUPS, Measurer
from farmcase.model.physical import Physical
from farmcase.model.statements import Statements
from farmcase.words.labels import MONEY_LINES

ONE = np.zeros(1, np.int64)


@dataclass(frozen=True)
class BuildOutcome:
    """One build of one run."""

    inputs: BuildInputs
    physical: Physical
    ledger: Ledger

    @cached_property
    def measurer(self) -> Measurer:
        """Measures by name, each worked out when first asked for."""
        return Measurer(self.inputs, self.physical, self.ledger, ONE)

    def measure(self, name: str) -> float:
        """One measure.

        Raises
        ------
        NotFoundError when no measure has that name
        """
        if name not in GROUPS:
            raise NotFoundError(f"There is no measure {name!r}; known are {', '.join(GROUPS)}.")
        return float(self.measurer[name][0])

    @property
    def label(self) -> str:
        """The build as a reader calls it."""
        return self.inputs.case.builds[self.inputs.name].label

    @cached_property
    def monthly(self) -> pd.DataFrame:
        """Money lines by month (money; received positive), with month, label and kilograms."""
        lines = {
            name: np.broadcast_to(self.ledger.lines[name], (1, self.inputs.months))[0]
            for name in MONEY_LINES
        }
        frame = pd.DataFrame(lines, index=pd.Index(range(self.inputs.months), name="month"))
        frame.insert(0, "date", self.dates)
        frame["picked_kg"] = self.ledger.kilograms.picked[0].sum(0)
        frame["sold_kg"] = self.ledger.kilograms.filled.sold_kg[0].sum(0)
        frame["unsold_kg"] = self.ledger.kilograms.filled.unsold_kg[0].sum(0)
        frame["paid_hours"] = self.ledger.work.paid_hours[0]
        frame["own_hours"] = self.ledger.work.own_hours[0]
        expand = Expander(self.inputs, ONE)
        frame["energy_kwh"] = expand(self.physical.energy_kwh).sum((1, 2))[0]
        frame["water_l"] = expand(self.physical.water_l)[0]
        for name in ("started", "placed", "lost", "cleared"):
            frame[f"units_{name}"] = expand(getattr(self.physical, name)).sum(1)[0]
        return frame

    @cached_property
    def monthly_real(self) -> pd.DataFrame:
        """Money lines by month in money of the start month: divided by the level of prices.

        At the real discount rate, exactly (1 + nominal) / (1 + general rise) - 1, they are worth
        the same.
        """
        lines = self.monthly[list(MONEY_LINES)]
        return lines.div(self.ledger.levels["general"][0], axis=0)

    @cached_property
    def rooms(self) -> dict[str, pd.DataFrame]:
        """Every hour of the start-up year and the settled year, by room; see `model/hours`.

        Empty where the case gives its output instead of modelling its rooms.
        """
        if self.inputs.case.output is not None:
            return {}
        return room_tables(self.inputs, self.dates[self.inputs.start])

    @cached_property
    def dates(self) -> list[str]:
        """The calendar month of each month as YYYY-MM; month 0 is the start of the first."""
        year, month = (int(part) for part in self.inputs.case.heading.start_month.split("-"))
        counts = [year * 12 + month - 2 + m for m in range(self.inputs.months)]
        return [f"{count // 12:04d}-{count % 12 + 1:02d}" for count in counts]

    @cached_property
    def statements(self) -> Statements:
        """Profit and loss, cash flow and balance sheet, by fiscal year or month."""
        return Statements(self.inputs, self.ledger, self.dates)

    @property
    def paid_back_by_end_value(self) -> bool:
        """Whether the money comes back only because what is left is sold in the last month."""
        lines = self.ledger.lines
        total = lines["project_flow"][0].cumsum()
        released = lines["end_value"][0, -1] + lines["debtors_change"][0, -1]
        return bool(total[-2] < 0 <= total[-1] and total[-1] - released < 0)

    @property
    def months_below_again(self) -> list[int]:
        """Months after payback in which the project's total is below nil once more."""
        paid = self.measure("payback_years")
        if not np.isfinite(paid):
            return []
        flow = self.ledger.lines["project_flow"][0]
        back = int(np.ceil(paid * 12 + np.argmax(flow < 0) - 1e-9))
        later = np.flatnonzero(flow.cumsum()[back:] < -0.005) + back
        return [int(month) for month in later]

    @property
    def tightest_limit(self) -> str:
        """What held the starts back on most days of the settled year."""
        return LIMITS[int(self.physical.limit_days[0].argmax())]

    @cached_property
    def yearly(self) -> pd.DataFrame:
        """Money lines added up by year from the start; balances as at the end of the year."""
        frame = self.monthly.drop(columns="date")
        year = (frame.index.to_numpy() + 11) // 12
        balances = ["cash", "overdraft", "loan_balance"]
        summed = frame.drop(columns=balances).groupby(year).sum()
        summed[balances] = frame[balances].groupby(year).last()
        return summed.rename_axis("year")[list(frame.columns)]
