"""The balance sheet of each month: every balance rolled forward from its own lines, no plug."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from farmcase.errors import BalanceError
from farmcase.model.lines import CAPITALISED, FINANCING

Floats = NDArray[np.float64]
ASSETS = ("fixed_assets", "debtors", "grant_due", "lease_deposits", "cash")
LIABILITIES = (
    "overdraft",
    "loan_balance",
    "vat_owed",
    "tax_owed",
    "members_owed",
    "deferred_grant",
)
EQUITY = ("owners_capital", "profit_retained")
_MOST = 0.005  # money; half a cent


def balances(lines: Mapping[str, Floats]) -> dict[str, Floats]:
    """Every balance at the end of each month, (S, T): opening plus what its lines add.

    VAT owed may be below nil, which is a claim. In the last month fixed assets are sold, so that
    nothing of them is left.
    """

    def added(*names: str) -> Floats:
        return np.sum([lines[name] for name in names], axis=0)

    bought = -added(*CAPITALISED) - lines["depreciation"]
    sold = lines["end_value"] - lines["disposal_gain"]
    moves = {
        "fixed_assets": bought - sold,
        "debtors": -lines["debtors_change"],
        "grant_due": lines["grant_claimed"] - lines["grant"],
        "lease_deposits": -lines["lease_deposit"],
        "vat_owed": added("vat_on_sales", "vat_on_purchases", "vat_settled"),
        "tax_owed": lines["tax_paid"] - lines["tax_charge"],
        "members_owed": added("bonus_paid", "dividend_paid")
        - added("bonus_charge", "dividend_charge"),
        "deferred_grant": lines["grant_claimed"] - lines["grant_released"],
        "owners_capital": added("owners_money", "owners_withdrawn"),
        "profit_retained": lines["profit_kept"],
    }
    found = {name: move.cumsum(-1) for name, move in moves.items()}
    found.update({name: lines[name] for name in ("cash", "overdraft", "loan_balance")})
    return {name: found[name] for name in (*ASSETS, *LIABILITIES, *EQUITY)}


def check(build: str, lines: Mapping[str, Floats]) -> None:
    """Cash follows from the lines, loans from theirs, and assets equal liabilities and equity.

    Raises
    ------
    BalanceError naming the build, what does not close and by how much
    """
    moves = lines["project_before_tax"] + np.sum([lines[name] for name in FINANCING], axis=0)
    scale = np.abs(moves).cumsum(-1)
    closes(build, "cash", moves.cumsum(-1) - lines["cash"] + lines["overdraft"], scale)
    loans = ("loan_drawn", "loan_capitalised", "loan_principal", "loan_early")
    owed = np.sum([lines[name] for name in loans], axis=0).cumsum(-1)
    closes(build, "loans", owed - lines["loan_balance"], scale)
    found = balances(lines)
    left = np.sum([found[name] for name in ASSETS], axis=0)
    left = left - np.sum([found[name] for name in (*LIABILITIES, *EQUITY)], axis=0)
    closes(build, "assets, liabilities and equity", left, scale)


def closes(build: str, what: str, difference: Floats, size: Floats) -> None:
    """Stop a run whose balance is out by half a cent, or by what numbers of its size lose.

    Raises
    ------
    BalanceError
    """
    if not (np.abs(difference) <= np.maximum(_MOST, 1e-12 * size)).all():
        worst = np.nanmax(np.abs(difference))
        raise BalanceError(f"{build}: the balance of {what} does not close (by {worst:.3g}).")
