"""What is bought and built: spending by month, replacements, write-off and end value.

Rows R, payments P (a row may be paid in stages), classes of allowances C, grants G, scenarios S,
months T from the start (month 0). A row is in use from its month, lasts its life and is bought
again at the price of that month; in the last month nothing is bought again.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.compiled import solid
from farmcase.costs.capital_kernel import follow_rows

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
BOOKS, NO_ALLOWANCE = -1, -2  # classes of rows that tax writes off as the books do, or never


class CapitalRows(NamedTuple):
    """What the rows are; money at start-month prices, without VAT.

    Where it says (S or 1, R), one row may stand for all scenarios.
    """

    cost: Floats  # (S or 1, R)
    own_cost: Floats  # (S or 1, R) own hours of the build at what they are charged
    own_worth: Floats  # (S or 1, R) own hours of the build at what an hour is worth, for grants
    pay_row: Ints  # (P,) the row that each payment belongs to
    pay_month: Ints  # (P,)
    pay_share: Floats  # (P,) shares of one row make 1
    ready: Ints  # (R,) month from which a row is in use; written off from the next
    bought_again: Ints  # (R,) 1 where it is replaced at the end of its life
    life: Ints  # (S or 1, R) months
    resale_share: Floats  # (S or 1, R)
    level: Floats  # (S, T) price level of each month
    wage_level: Floats  # (S, T)
    contingency: Floats  # (S,) share on top of first purchases
    vat_rate: Floats  # (R,)
    vat_kept: Floats  # (S,) share of VAT that cannot be recovered
    tax_class: Ints  # (R,) class of allowances, BOOKS or NO_ALLOWANCE
    own_deducted: float  # 1 where own hours of the build are deducted for tax
    eligible: Ints  # (G, R) 1 where a grant counts the row
    own_counts: Floats  # (G,) 1 where it counts own hours too


class CapitalFlows(NamedTuple):
    """Nominal money by month, all positive; what is `granted` is of first purchases alone."""

    spending: Floats  # (S, T) first purchases
    own: Floats  # (S, T) own hours of the build
    contingency: Floats  # (S, T)
    replacements: Floats  # (S, T)
    vat: Floats  # (S, T) VAT paid on all of these
    slope: Floats  # (S, T) written off in the books
    book_slope: Floats  # (S, T) of it, deducted for tax in the same way
    book_cost: Floats  # (S,) cost of rows that are deducted in that way
    additions: Floats  # (S, C, T) spending that enters a class of allowances
    eligible: Floats  # (S, G, T) spending that a grant counts
    eligible_slope: Floats  # (S, G, T) its write-off in the books
    granted_additions: Floats  # (S, G, C, T)
    granted_book_slope: Floats  # (S, G, T)
    granted_book_cost: Floats  # (S, G)
    end_value: Floats  # (S,) resale in the last month
    taxed_end_value: Floats  # (S,) of it, of rows that have allowances


def capital_flows(rows: CapitalRows, classes: int) -> CapitalFlows:
    """Follow every row through its payments and purchases.

    Parameters
    ----------
    rows : see `CapitalRows`
    classes : number of classes of allowances
    """
    size, months = rows.level.shape
    grants = rows.eligible.shape[0]
    by_grant = (size, grants)
    shapes = {
        "book_cost": (size,),
        "additions": (size, classes, months),
        "eligible": (*by_grant, months),
        "eligible_slope": (*by_grant, months),
        "granted_additions": (*by_grant, classes, months),
        "granted_book_slope": (*by_grant, months),
        "granted_book_cost": by_grant,
        "end_value": (size,),
        "taxed_end_value": (size,),
    }
    names = CapitalFlows._fields
    out = CapitalFlows._make(np.zeros(shapes.get(name, (size, months))) for name in names)
    work = np.zeros((3 + grants, rows.ready.size)), np.zeros((2 + 2 * grants, months + 1))
    follow_rows(solid(rows), *work, out)
    return out
