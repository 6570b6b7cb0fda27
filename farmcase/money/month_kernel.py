"""The month recursion of one scenario after another: loans, overdraft, tax, surplus, cash.

Plain scalar code, compiled; see `money/months` for the meaning of each array. A line of a month
follows from inputs, from lines above it in the same month and from earlier months.
"""

from __future__ import annotations

import math

from farmcase.compiled import compiled


@compiled
def recur(given, loans, tax, owed, paid, state, out):
    """Fill the lines of every scenario; `owed`, `paid` (L,) and `state` (6,) are work space."""
    scenarios, months = given.flow.shape
    for s in range(scenarios):
        owed[:] = 0.0
        paid[:] = 0.0
        state[:] = 0.0
        balance = 0.0
        for m in range(months):
            charged = -min(0.0, balance) * given.overdraft_rate[s] / 12.0
            out.overdraft_interest[s, m] = -charged
            moved = 0.0
            for k in range(owed.size):
                moved += _loan_month(loans, owed, paid, s, m, k, out)
            out.loan_balance[s, m] = owed.sum()
            interest = out.loan_interest[s, m] + out.loan_fee[s, m] - charged
            _count(given, state, s, m, interest)
            if given.year_ends[m]:
                _year_end(tax, state, s, m, out)
            settled = out.tax_paid[s, m] + out.bonus_paid[s, m] + out.dividend_paid[s, m]
            balance += given.flow[s, m] + given.owners[s, m] + moved + settled - charged
            out.cash[s, m] = max(0.0, balance)
            out.overdraft[s, m] = max(0.0, -balance)


@compiled
def _loan_month(loans, owed, paid, s, m, k, out):
    """One loan in one month: what moves in cash. Draws come after interest and repayment."""
    begins, grace, end = loans.begins[k], loans.grace_ends[k], loans.ends[k]
    if m < begins or m > end:
        return 0.0
    moved = 0.0
    if m > begins:
        interest = _rounded(
            owed[k] * max(0.0, loans.rate[s, k] + loans.rate_added[k, m]) / 12.0,
            loans.rounding[k] == 2,
        )
        out.loan_interest[s, m] -= interest
        if m <= grace:
            if loans.capitalised[k]:
                owed[k] += interest
                out.loan_capitalised[s, m] += interest
            else:
                moved -= interest
        else:
            principal = _principal(loans, owed, paid, s, m, k, interest)
            owed[k] -= principal
            out.loan_principal[s, m] -= principal
            moved -= interest + principal
        early = min(owed[k], loans.early_share[k, m] * loans.amount[s, k])
        owed[k] -= early
        out.loan_early[s, m] -= early
        moved -= early
    drawn = loans.drawn_share[k, m] * loans.amount[s, k]
    if m == begins:
        out.loan_fee[s, m] -= loans.fee[s, k]
        moved -= loans.fee[s, k]
    if drawn > 0.0:
        owed[k] += drawn
        out.loan_drawn[s, m] += drawn
        moved += drawn
    return moved


@compiled
def _principal(loans, owed, paid, s, m, k, interest):
    """What is repaid by plan; the level sum is set anew after grace, draws and changes of rate."""
    left = loans.ends[k] - m + 1
    if left <= 1:
        return owed[k]
    if loans.sets_anew[k, m]:
        rate = max(0.0, loans.rate[s, k] + loans.rate_added[k, m]) / 12.0
        if loans.level_principal[k] or rate == 0.0:
            paid[k] = owed[k] / left
        else:
            paid[k] = owed[k] * rate / -math.expm1(-left * math.log1p(rate))
        paid[k] = _rounded(paid[k], loans.rounding[k] > 0)
    wanted = paid[k] if loans.level_principal[k] else paid[k] - interest
    return min(max(wanted, 0.0), owed[k])


@compiled
def _rounded(amount, to_the_cent):
    # halves go up, also those that binary numbers hold a trifle below
    return math.floor(amount * 100.0 + 0.5 + 1e-7) / 100.0 if to_the_cent else amount


@compiled
def _count(given, state, s, m, interest):
    """Add a month to the fiscal year: taxable profit without and with interest, book profit."""
    state[0] += given.taxable[s, m]
    state[1] += given.taxable[s, m] + interest
    state[2] += given.profit[s, m] + interest


@compiled
def _year_end(tax, state, s, m, out):
    """Tax of the fiscal year as if unlevered and as it is; the surplus shared among members.

    state: 0 and 1 taxable profit without and with interest, 2 book profit, 3 and 4 losses
    carried forward, 5 book profit kept so far.
    """
    months = out.cash.shape[1]
    due, state[3] = _tax_due(tax, s, state[0], state[3])
    pays = min(m + tax.paid_after, months - 1)
    out.project_tax[s, pays] -= due
    surplus = max(0.0, min(state[2], state[2] + state[5]))
    bonus = tax.bonus_share[s] * surplus
    due, state[4] = _tax_due(tax, s, state[1] - bonus, state[4])
    dividend = tax.dividend_share[s] * max(0.0, surplus - bonus - due)
    gives = min(m + tax.distributed_after, months - 1)
    out.tax_charge[s, m] -= due
    out.tax_paid[s, pays] -= due
    out.bonus_charge[s, m] -= bonus
    out.bonus_paid[s, gives] -= bonus
    out.dividend_charge[s, m] -= dividend
    out.dividend_paid[s, gives] -= dividend
    state[5] += state[2] - bonus - due - dividend
    state[0] = state[1] = state[2] = 0.0


@compiled
def _tax_due(tax, s, profit, losses):
    """Tax on a year's profit after earlier losses, and the losses that are left."""
    if profit <= 0.0:
        return 0.0, (losses - profit if tax.carried else 0.0)
    used = min(losses, tax.loss_most[s] * profit)
    taxed = max(0.0, profit - used - tax.free[s])
    due = tax.rate[s] * taxed
    if tax.higher_from[s] > 0.0:
        due += (tax.higher_rate[s] - tax.rate[s]) * max(0.0, profit - used - tax.higher_from[s])
    return due, losses - used
