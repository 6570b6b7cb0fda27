"""The balance sheet of each month: every balance rolled forward from its own lines, no plug."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import handed
from farmcase.errors import BalanceError
from farmcase.model.balance_kernel import widest_gaps
from farmcase.model.lines import CAPITALISED, FINANCING, INVESTING, OPERATING, added

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
# The lines that each balance is rolled forward by, and with which sign. VAT owed may be below nil,
# which is a claim. In the last month fixed assets are sold, so that nothing of them is left.
ROLLED: Mapping[str, Mapping[str, int]] = {
    "fixed_assets": {
        **dict.fromkeys(CAPITALISED, -1),
        "depreciation": -1,
        "end_value": -1,
        "disposal_gain": 1,
    },
    "debtors": {"debtors_change": -1},
    "grant_due": {"grant_claimed": 1, "grant": -1},
    "lease_deposits": {"lease_deposit": -1},
    "vat_owed": {"vat_on_sales": 1, "vat_on_purchases": 1, "vat_settled": 1},
    "tax_owed": {"tax_charge": -1, "tax_paid": 1},
    "members_owed": {
        "bonus_charge": -1,
        "dividend_charge": -1,
        "bonus_paid": 1,
        "dividend_paid": 1,
    },
    "deferred_grant": {"grant_claimed": 1, "grant_released": -1},
    "owners_capital": {"owners_money": 1, "owners_withdrawn": 1},
    "profit_retained": {"profit_kept": 1},
}
_HELD = ("cash", "overdraft", "loan_balance")  # kept by the month recursion itself
_LOANS = ("loan_drawn", "loan_capitalised", "loan_principal", "loan_early")


def balances(lines: Mapping[str, Floats]) -> dict[str, Floats]:
    """Every balance at the end of each month, (S, T): opening plus what its lines add."""
    found = {name: _rolled(lines, moves) for name, moves in ROLLED.items()}
    found.update({name: lines[name] for name in _HELD})
    return {name: found[name] for name in (*ASSETS, *LIABILITIES, *EQUITY)}


def _rolled(lines: Mapping[str, Floats], moves: Mapping[str, int]) -> Floats:
    more = [name for name, sign in moves.items() if sign > 0]
    less = [name for name, sign in moves.items() if sign < 0]
    total = added(lines, more) if more else -added(lines, less)
    if more and less:
        total -= added(lines, less)
    return total.cumsum(-1)


def _checks() -> tuple[list[str], NDArray[np.float64], NDArray[np.float64]]:
    """Names of the lines that are added up, and the signs of lines and levels in each check."""
    cash: dict[str, float] = dict.fromkeys((*OPERATING, *INVESTING, *FINANCING), 1.0)
    loans: dict[str, float] = dict.fromkeys(_LOANS, 1.0)
    books: dict[str, float] = {}
    for name, moves in ROLLED.items():
        side = 1.0 if name in ASSETS else -1.0
        for line, sign in moves.items():
            books[line] = books.get(line, 0.0) + side * sign
    names = list(dict.fromkeys([*cash, *books]))
    weights = np.array([[each.get(n, 0.0) for n in names] for each in (cash, loans, books)])
    levels = np.array([[-1.0, 1.0, 0.0], [0.0, 0.0, -1.0], [1.0, -1.0, -1.0]])  # as in _HELD
    return names, weights, levels


_NAMES, _WEIGHTS, _LEVELS = _checks()
_CHECKS = ("cash", "loans", "assets, liabilities and equity")


def check(build: str, lines: Mapping[str, Floats]) -> None:
    """Cash follows from the lines, loans from theirs, and assets equal liabilities and equity.

    Raises
    ------
    BalanceError naming the build, what does not close and by how much
    """
    size, months = lines["cash"].shape
    gaps = np.zeros((len(_CHECKS), size))
    flows = tuple(handed(lines[name]) for name in _NAMES)
    held = tuple(handed(lines[name]) for name in _HELD)
    widest_gaps(flows, _WEIGHTS, held, _LEVELS, np.zeros(months), gaps)
    scale = np.abs(lines["project_before_tax"]).sum(-1) + lines["loan_drawn"].sum(-1)
    for what, gap in zip(_CHECKS, gaps, strict=True):
        closes(build, what, gap, scale)


def closes(build: str, what: str, difference: Floats, size: Floats) -> None:
    """Stop a run whose balance is out by half a cent, or by what numbers of its size lose.

    Raises
    ------
    BalanceError
    """
    if not (np.abs(difference) <= np.maximum(_MOST, 1e-12 * size)).all():
        worst = np.nanmax(np.abs(difference))
        raise BalanceError(f"{build}: the balance of {what} does not close (by {worst:.3g}).")
