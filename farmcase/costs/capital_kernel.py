"""What is bought and built, row by row and purchase by purchase, for many scenarios.

Plain scalar code, compiled; see `costs/capital` for the meaning of each array.
"""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def follow_rows(given, out):
    """Spread every row's payments, replacements, write-off and end value over the months.

    Sums by grant and class are kept for first purchases only: replacements are not funded, but
    they are written off for tax like everything else.
    """
    scenarios, rows = given.cost.shape
    last = out.spending.shape[1] - 1
    for s in range(scenarios):
        extra = 1.0 + given.contingency[s]
        for p in range(given.pay_row.size):
            r, m = given.pay_row[p], given.pay_month[p]
            amount = given.cost[s, r] * given.pay_share[p] * given.level[s, m]
            own = given.own_cost[s, r] * given.pay_share[p] * given.wage_level[s, m]
            out.spending[s, m] += amount
            out.contingency[s, m] += amount * given.contingency[s]
            out.own[s, m] += own
            tax = amount * extra * given.vat_rate[r]
            out.vat[s, m] += tax
            whole = amount * extra + own + tax * given.vat_kept[s]
            taxed = amount * extra + tax * given.vat_kept[s] + own * given.own_deducted
            _write_off(given, out, s, r, whole, taxed, 0)
            _into_class(given, out, s, r, m, taxed)
            for g in range(given.eligible.shape[0]):
                if given.eligible[g, r]:
                    worth = given.own_worth[s, r] * given.pay_share[p] * given.wage_level[s, m]
                    counted = amount + worth * given.own_counts[g]
                    out.eligible[s, g, m] += counted
                    _granted(given, out, s, g, r, m, counted)
        for r in range(rows):
            _buy_again(given, out, s, r, last)


@compiled
def _write_off(given, out, s, r, whole, taxed, bought_again):
    """Straight-line slope of a first purchase from the month after it is in use."""
    months = out.spending.shape[1]
    life = given.life[s, r]
    first = given.ready[r] + 1 + bought_again
    if first > months - 1:
        return
    end = min(first + life, months)
    out.slope[s, first] += whole / life
    out.slope[s, end] -= whole / life
    if given.tax_class[r] == -1:
        out.book_slope[s, first] += taxed / life
        out.book_slope[s, end] -= taxed / life


@compiled
def _into_class(given, out, s, r, m, taxed):
    k = given.tax_class[r]
    if k >= 0:
        out.additions[s, k, m] += taxed
    elif k == -1:
        out.book_cost[s] += taxed


@compiled
def _granted(given, out, s, g, r, m, counted):
    """The eligible part of a payment, where its write-off and its allowances fall."""
    months = out.spending.shape[1]
    life, k = given.life[s, r], given.tax_class[r]
    first = given.ready[r] + 1
    if first <= months - 1:
        end = min(first + life, months)
        out.eligible_slope[s, g, first] += counted / life
        out.eligible_slope[s, g, end] -= counted / life
        if k == -1:
            out.granted_book_slope[s, g, first] += counted / life
            out.granted_book_slope[s, g, end] -= counted / life
    if k >= 0:
        out.granted_additions[s, g, k, m] += counted
    elif k == -1:
        out.granted_book_cost[s, g] += counted


@compiled
def _buy_again(given, out, s, r, last):
    """Replacements at the price of their month, none in the last month; the last is sold there."""
    life, at = given.life[s, r], given.ready[r]
    price = 0.0
    for p in range(given.pay_row.size):
        if given.pay_row[p] == r:
            price += given.cost[s, r] * given.pay_share[p] * given.level[s, given.pay_month[p]]
    while given.bought_again[r] and at + life < last:
        at += life
        price = given.cost[s, r] * given.level[s, at]
        tax = price * given.vat_rate[r]
        whole = price + tax * given.vat_kept[s]
        out.replacements[s, at] += price
        out.vat[s, at] += tax
        _write_off(given, out, s, r, whole, whole, at - given.ready[r])
        _into_class(given, out, s, r, at, whole)
    out.end_value[s] += price * given.resale_share[s, r]
    if given.tax_class[r] > -2:
        out.taxed_end_value[s] += price * given.resale_share[s, r]
