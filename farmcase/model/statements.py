"""Profit and loss, cash flow and balance sheet of a build, by month and by fiscal year.

Tables have lines as rows and periods as columns; received and owned are positive, paid and owed
as in their labels. Each line is the sum of the months of its year, each balance that of the last.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.model.balance_sheet import ASSETS, EQUITY, LIABILITIES, balances
from farmcase.model.gather import BuildInputs
from farmcase.model.ledger import Ledger
from farmcase.model.lines import CAPITALISED, EXPENSED, OPERATING, added
from farmcase.model.profit_tax import years_of
from farmcase.money.fiscal_years import by_fiscal_year
from farmcase.words.labels import BALANCES, MONEY_LINES, TOTALS

Floats = NDArray[np.float64]
WRITTEN_OFF = ("depreciation", "grant_released", "disposal_gain")
INTEREST = ("loan_interest", "loan_fee", "overdraft_interest")
SHARED_OUT = ("tax_charge", "bonus_charge", "dividend_charge")
WAITING = ("debtors_change", "vat_on_sales", "vat_on_purchases", "vat_settled", "lease_deposit")
BOUGHT = (*CAPITALISED, *EXPENSED, "end_value", "grant")
OF_OWNERS = ("owners_money", "owners_withdrawn", "bonus_paid", "dividend_paid")
OF_LENDERS = ("loan_drawn", "loan_fee", "loan_interest", "loan_capitalised", "loan_principal")
LENT = (*OF_LENDERS, "loan_early", "overdraft_interest")


@dataclass(frozen=True)
class Statements:
    """The three statements of one build at its likely values."""

    inputs: BuildInputs
    ledger: Ledger
    dates: list[str]

    @property
    def _lines(self) -> dict[str, Floats]:
        lines = {name: line[0] for name, line in self.ledger.lines.items()}
        return lines | {"depreciation": -lines["depreciation"]}

    def profit_and_loss(self, monthly: bool = False) -> pd.DataFrame:
        """From sales to the profit that is kept."""
        lines, add = self._lines, self._add
        rows = {name: lines[name] for name in OPERATING}
        rows["operating_surplus"] = add(OPERATING)
        rows |= {name: lines[name] for name in (*EXPENSED, *WRITTEN_OFF)}
        rows["profit_before_interest"] = add((*OPERATING, *EXPENSED, *WRITTEN_OFF))
        rows |= {name: lines[name] for name in INTEREST}
        rows["profit_before_tax"] = add((*OPERATING, *EXPENSED, *WRITTEN_OFF, *INTEREST))
        rows |= {name: lines[name] for name in SHARED_OUT}
        rows["profit_kept"] = rows["profit_before_tax"] + add(SHARED_OUT)
        return self._flows(rows, monthly)

    def cash_flow(self, monthly: bool = False) -> pd.DataFrame:
        """From the operating surplus to cash less overdraft."""
        lines, add = self._lines, self._add
        rows = {"operating_surplus": lines["operating_surplus"]}
        rows |= {name: lines[name] for name in (*WAITING, "tax_paid")}
        running = ("operating_surplus", *WAITING, "tax_paid")
        rows["cash_from_running"] = add(running)
        rows |= {name: lines[name] for name in BOUGHT}
        rows["cash_from_building"] = add(BOUGHT)
        rows |= {name: lines[name] for name in LENT}
        rows["cash_from_lenders"] = add(LENT)
        rows |= {name: lines[name] for name in OF_OWNERS}
        rows["cash_from_owners"] = add(OF_OWNERS)
        rows["change_in_cash"] = add((*running, *BOUGHT, *LENT, *OF_OWNERS))
        table = self._flows(rows, monthly)
        closing = self._closing({"closing": lines["cash"] - lines["overdraft"]}, monthly)[0]
        table.loc[TOTALS["opening_cash"]] = np.concatenate([[0.0], closing[:-1]])
        table.loc[TOTALS["closing_cash"]] = closing
        return table

    def balance_sheet(self, monthly: bool = False) -> pd.DataFrame:
        """What is owned, owed and the owners' own at the end of each period."""
        found = {name: line[0] for name, line in balances(self.ledger.lines).items()}
        off_cost = self.inputs.case.money.grant_shown_as == "off_cost"
        if off_cost:
            found["fixed_assets"] = found["fixed_assets"] - found.pop("deferred_grant")
        groups = (("assets", ASSETS), ("liabilities", LIABILITIES), ("equity", EQUITY))
        rows: dict[str, Floats] = {}
        for total, names in groups:
            mine = {name: found[name] for name in names if name in found}
            rows |= mine
            rows[f"total_{total}"] = np.sum(list(mine.values()), axis=0)
        values = self._closing(rows, monthly)
        return self._table(rows, values, monthly)

    def _add(self, names: tuple[str, ...]) -> Floats:
        return added(self._lines, names)

    def _flows(self, rows: Mapping[str, Floats], monthly: bool) -> pd.DataFrame:
        values = np.stack(list(rows.values()))
        if not monthly:
            values = by_fiscal_year(values, years_of(self.inputs))
        return self._table(rows, values, monthly)

    def _closing(self, rows: Mapping[str, Floats], monthly: bool) -> Floats:
        values = np.stack(list(rows.values()))
        return values if monthly else values[:, last_months(self.inputs)]

    def _table(self, rows: Mapping[str, Floats], values: Floats, monthly: bool) -> pd.DataFrame:
        """A table without the lines that are nil throughout; sums always stay."""
        periods = self.dates if monthly else year_names(self.inputs, self.dates)
        kept = [i for i, name in enumerate(rows) if name in TOTALS or values[i].any()]
        names = list(rows)
        labels = pd.Index([_label(names[i]) for i in kept], name="line")
        return pd.DataFrame(values[kept] + 0.0, index=labels, columns=pd.Index(periods))


def _label(name: str) -> str:
    for labels in (TOTALS, BALANCES, MONEY_LINES):
        if name in labels:
            return labels[name]
    raise KeyError(name)


def last_months(inputs: BuildInputs) -> NDArray[np.int64]:
    """The last month of each fiscal year within the months looked ahead, (Y,)."""
    of_month = years_of(inputs).of_month
    return np.searchsorted(of_month, np.arange(of_month[-1] + 1), side="right") - 1


def year_names(inputs: BuildInputs, dates: list[str]) -> list[str]:
    """Each fiscal year as the month in which it ends, or in which the months looked ahead end."""
    return [f"to {dates[month]}" for month in last_months(inputs)]
