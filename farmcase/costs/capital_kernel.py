"""What is bought and built, row by row and purchase by purchase, for many scenarios.

Plain scalar code, compiled; see `costs/capital` for the meaning of each array. Numbers of rows come
with a row for every scenario or with one that stands for all. Helpers are handed single rows: many
arrays at once are slow to hand on.
"""

from __future__ import annotations

from farmcase.compiled import compiled


@compiled
def follow_rows(given, rows, slopes, out):
    """Spread every row's payments, replacements, write-off and end value over the months.

    Sums by grant and class are kept for first purchases only: replacements are not funded, but
    they are written off for tax like everything else. `rows` (3 + G, R) is worked in: of each row
    its price, its cost in the books and for tax, and what each grant counts of it; `slopes`
    (2 + 2 G, T + 1) too: what is written off in the books, of it in the same way for tax, and the
    two of what each grant counts.
    """
    for s in range(out.spending.shape[0]):
        rows[:] = 0.0
        slopes[:] = 0.0
        _pay(given, rows, s, out)
        _count(given, rows, s, out)
        _put_in_use(given, rows, slopes, s)
        _buy_again(given, rows[0], slopes, s, out)
        _add_up(slopes[0], out.slope[s])
        _add_up(slopes[1], out.book_slope[s])
        for g in range(given.eligible.shape[0]):
            _add_up(slopes[2 + 2 * g], out.eligible_slope[s, g])
            _add_up(slopes[3 + 2 * g], out.granted_book_slope[s, g])


@compiled
def _at(table, s):
    """The row of a scenario, or the one that stands for all."""
    return min(s, table.shape[0] - 1)


@compiled
def _pay(given, rows, s, out):
    """Payments of first purchases."""
    cost = given.cost[_at(given.cost, s)]
    own_cost = given.own_cost[_at(given.own_cost, s)]
    level, wage_level = given.level[s], given.wage_level[s]
    extra, kept, own_deducted = given.contingency[s], given.vat_kept[s], given.own_deducted
    spending, owned, vat, additions = out.spending[s], out.own[s], out.vat[s], out.additions[s]
    priced, booked, for_tax, book_cost = rows[0], rows[1], rows[2], 0.0
    for p in range(given.pay_row.size):
        r, m, share = given.pay_row[p], given.pay_month[p], given.pay_share[p]
        amount = cost[r] * share * level[m]
        own = own_cost[r] * share * wage_level[m]
        tax = amount * (1.0 + extra) * given.vat_rate[r]
        with_all = amount * (1.0 + extra) + tax * kept
        taxed = with_all + own * own_deducted
        spending[m] += amount
        owned[m] += own
        vat[m] += tax
        priced[r] += amount
        booked[r] += with_all + own
        for_tax[r] += taxed
        k = given.tax_class[r]
        if k >= 0:
            additions[k, m] += taxed
        elif k == -1:
            book_cost += taxed
    out.book_cost[s] = book_cost
    contingency = out.contingency[s]
    for m in range(spending.size):
        contingency[m] = spending[m] * extra


@compiled
def _count(given, rows, s, out):
    """What each grant counts of the payments."""
    cost = given.cost[_at(given.cost, s)]
    own_worth = given.own_worth[_at(given.own_worth, s)]
    level, wage_level = given.level[s], given.wage_level[s]
    for g in range(given.eligible.shape[0]):
        eligible, granted = out.eligible[s, g], out.granted_additions[s, g]
        counted_row = rows[3 + g]
        book_cost = 0.0
        for p in range(given.pay_row.size):
            r, m, share = given.pay_row[p], given.pay_month[p], given.pay_share[p]
            if given.eligible[g, r]:
                worth = own_worth[r] * share * wage_level[m]
                counted = cost[r] * share * level[m] + worth * given.own_counts[g]
                counted_row[r] += counted
                eligible[m] += counted
                k = given.tax_class[r]
                if k >= 0:
                    granted[k, m] += counted
                elif k == -1:
                    book_cost += counted
        out.granted_book_cost[s, g] = book_cost


@compiled
def _put_in_use(given, rows, slopes, s):
    """First purchases are written off from the month after the row is in use."""
    lives = given.life[_at(given.life, s)]
    for r in range(lives.size):
        first, life, as_books = given.ready[r] + 1, lives[r], given.tax_class[r] == -1
        _write_off(slopes[0], first, life, rows[1, r])
        if as_books:
            _write_off(slopes[1], first, life, rows[2, r])
        for g in range(given.eligible.shape[0]):
            if given.eligible[g, r]:
                _write_off(slopes[2 + 2 * g], first, life, rows[3 + g, r])
                if as_books:
                    _write_off(slopes[3 + 2 * g], first, life, rows[3 + g, r])


@compiled
def _write_off(slope, first, life, cost):
    """The change of a straight-line slope where it begins and where it ends."""
    if first < slope.size - 1:
        monthly = cost / life
        slope[first] += monthly
        slope[min(first + life, slope.size - 1)] -= monthly


@compiled
def _add_up(changes, slope):
    total = 0.0
    for m in range(slope.size):
        total += changes[m]
        slope[m] = total


@compiled
def _buy_again(given, prices, slopes, s, out):
    """Replacements at the price of their month, none in the last month; the last is sold there."""
    cost, lives = given.cost[_at(given.cost, s)], given.life[_at(given.life, s)]
    resale = given.resale_share[_at(given.resale_share, s)]
    level, kept = given.level[s], given.vat_kept[s]
    replaced, vat, additions = out.replacements[s], out.vat[s], out.additions[s]
    last, book_cost, sold, sold_taxed = replaced.size - 1, 0.0, 0.0, 0.0
    for r in range(lives.size):
        price, at, life, k = prices[r], given.ready[r], lives[r], given.tax_class[r]
        while given.bought_again[r] and at + life < last:
            at += life
            price = cost[r] * level[at]
            tax = price * given.vat_rate[r]
            whole = price + tax * kept
            replaced[at] += price
            vat[at] += tax
            _write_off(slopes[0], at + 1, life, whole)
            if k == -1:
                _write_off(slopes[1], at + 1, life, whole)
                book_cost += whole
            elif k >= 0:
                additions[k, at] += whole
        sold += price * resale[r]
        if k > -2:
            sold_taxed += price * resale[r]
    out.book_cost[s] += book_cost
    out.end_value[s], out.taxed_end_value[s] = sold, sold_taxed
