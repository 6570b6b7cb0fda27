"""The ratios a lender reads: what is owed against what is owned, and cash against payments.

Arrays of any shape that broadcast together, mostly (S,) or (S, years), give an array of that shape.
All that goes in is a size: debts, interest, payments, living and taxes are positive here, unlike
flows, where what is paid is negative. A ratio is NaN, without a warning, where what it is divided
by is nil: there is then nothing to be measured against, which is neither good nor bad.

What a lender asks for is data: the `measure` of a row of `data/reference/thresholds.csv` is the
name of a function here where the row judges one of these. Nothing here decides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def _over(top: ArrayLike, bottom: ArrayLike) -> Floats:
    """One array over another; NaN where the lower one is nil."""
    above, below = np.broadcast_arrays(np.asarray(top, float), np.asarray(bottom, float))
    result = np.full(above.shape, np.nan)
    np.divide(above, below, out=result, where=below != 0)
    return result


# The balance sheet.


def current_ratio(current_assets: ArrayLike, current_debts: ArrayLike) -> Floats:
    """What turns into cash within a year over what is due within a year.

    NaN where nothing is due. Source: Cornell Small Farms Program, financial scorecard.
    """
    return _over(current_assets, current_debts)


def working_capital_share_of_gross_income(
    current_assets: ArrayLike, current_debts: ArrayLike, gross_income: ArrayLike
) -> Floats:
    """Current assets less current debts, over a year's gross income; negative where more is due.

    NaN where there is no income. Source: Cornell Small Farms Program, financial scorecard.
    """
    working = np.asarray(current_assets, float) - np.asarray(current_debts, float)
    return _over(working, gross_income)


def debt_share_of_assets(debts: ArrayLike, assets: ArrayLike) -> Floats:
    """All debts over all assets; above 1 where more is owed than owned.

    NaN where there are no assets. Source: Cornell Small Farms Program, financial scorecard.
    """
    return _over(debts, assets)


def debt_to_equity(debts: ArrayLike, equity: ArrayLike) -> Floats:
    """All debts over the owners' equity.

    NaN where equity is nil. Negative where equity is negative: that is no low ratio but a business
    that owes more than it owns. Source: OpenStax, Principles of Finance, 6.4.
    """
    return _over(debts, equity)


def debt_to_equity_of_share(debt_share: ArrayLike) -> Floats:
    """Debt to equity of a business whose debts are this share of its assets: s / (1 - s).

    NaN where all assets are owed. Source: assets are debts plus equity; Northland farm averages
    of 2004 print both.
    """
    share = np.asarray(debt_share, float)
    return _over(share, 1 - share)


# A year's earnings.


def ebitda(
    net_income: ArrayLike, tax: ArrayLike, interest: ArrayLike, depreciation: ArrayLike
) -> Floats:
    """Earnings before interest, tax and depreciation, in money.

    Source: OpenStax, Principles of Finance, 5.1.
    """
    parts = (np.asarray(part, float) for part in (net_income, tax, interest, depreciation))
    return np.asarray(sum(parts), float)


def times_interest_earned(operating_income: ArrayLike, interest: ArrayLike) -> Floats:
    """Income before interest and tax over the interest of the same year.

    NaN where there is no interest. Source: OpenStax, Principles of Finance, 6.4.
    """
    return _over(operating_income, interest)


def return_on_assets(
    net_income: ArrayLike, interest: ArrayLike, own_work: ArrayLike, average_assets: ArrayLike
) -> Floats:
    """Net income with interest added back, less the worth of unpaid work, over average assets.

    Parameters
    ----------
    own_work : the owners' and members' unpaid hours at their worth; nil where all work is paid
    average_assets : mean of the year's first and last day

    NaN where there are no assets. Source: farmdoc (University of Illinois), ratio definitions.
    """
    income = np.asarray(net_income, float) + np.asarray(interest, float)
    return _over(income - np.asarray(own_work, float), average_assets)


def return_on_equity(
    net_income: ArrayLike, own_work: ArrayLike, average_equity: ArrayLike
) -> Floats:
    """Net income less the worth of unpaid work, over average equity; interest stays a cost.

    NaN where equity is nil; without meaning where it is negative. Source: farmdoc (University of
    Illinois), ratio definitions.
    """
    return _over(np.asarray(net_income, float) - np.asarray(own_work, float), average_equity)


# Cash against payments.


def cover(cash_available: ArrayLike, debt_service: ArrayLike) -> Floats:
    """Debt-service cover: cash that is there for lenders over the interest and principal due.

    Which cash is meant (before drawings, or after tax and drawings) is for the caller to choose
    and to say. NaN where nothing is due. Source: SBA SOP 50 10 5(F), 2014, with EBITDA as the cash.
    """
    return _over(cash_available, debt_service)


def capital_debt_repayment_capacity(
    net_income: ArrayLike,
    depreciation: ArrayLike,
    other_income: ArrayLike,
    living: ArrayLike,
    income_tax: ArrayLike,
    term_interest: ArrayLike,
) -> Floats:
    """What a year leaves for term debt and for replacing things, in money.

    Parameters
    ----------
    net_income : of the farm, after depreciation and interest, before income tax
    other_income : earned outside the farm
    living : drawn by the owners' households
    term_interest : interest on term loans, which net income has already paid

    Source: Michigan State University Extension, Financial ratios part 13 of 21; Purdue University,
    Benchmarking repayment capacity measures, 29 September 2020.
    """
    added = (np.asarray(a, float) for a in (net_income, depreciation, other_income, term_interest))
    return np.asarray(sum(added) - np.asarray(living, float) - np.asarray(income_tax, float))


def capital_debt_repayment_margin(capacity: ArrayLike, term_debt_service: ArrayLike) -> Floats:
    """Repayment capacity less interest and principal due on term loans and leases, in money.

    Operating debt left unpaid in earlier years counts with what is due. Source: Michigan State
    University Extension, Financial ratios part 13 of 21.
    """
    return np.asarray(capacity, float) - np.asarray(term_debt_service, float)


def term_debt_coverage(capacity: ArrayLike, term_debt_service: ArrayLike) -> Floats:
    """Repayment capacity over interest and principal due on term loans and leases.

    NaN where nothing is due. Source: Purdue University, Benchmarking repayment capacity measures,
    29 September 2020.
    """
    return _over(capacity, term_debt_service)


def replacement_margin(
    capacity: ArrayLike, term_debt_service: ArrayLike, replacements: ArrayLike
) -> Floats:
    """What repayment capacity leaves after term debt and after replacing what wears out, in money.

    Source: Purdue University, Measuring repayment capacity and farm growth potential.
    """
    margin = capital_debt_repayment_margin(capacity, term_debt_service)
    return margin - np.asarray(replacements, float)


def replacement_coverage(
    capacity: ArrayLike, term_debt_service: ArrayLike, replacements: ArrayLike
) -> Floats:
    """Repayment capacity over term debt service and replacements paid in cash, together.

    It is above 1 exactly where capacity less replacements still covers the debt service. NaN where
    neither is due. Source: Michigan State University Extension, Financial ratios part 16 of 21;
    Farm Financial Standards Council as read by Purdue University, 29 September 2020.
    """
    return _over(capacity, np.asarray(term_debt_service, float) + np.asarray(replacements, float))


def loan_life_cover(
    cash_available: ArrayLike, loan_balance: ArrayLike, interest_charged: ArrayLike
) -> Floats:
    """Worth of the cash available while a loan is still owed, over what is owed.

    Parameters
    ----------
    cash_available : (..., T) cash for lenders at the end of each period
    loan_balance : (..., T) owed at the end of each period; several loans added up
    interest_charged : (..., T) interest of each period, paid or added to what is owed

    Returns
    -------
    (..., T) cover at the end of each period, of the cash of later periods up to the one in which
    the last of the loan is paid; NaN where nothing is owed

    Each period's cash is discounted at that period's interest over the balance it was charged on:
    the loan's own rate, changing with it, and the weighted rate where loans are added up. Cash
    that equals the debt service gives exactly 1. A loan that is still owed at the end of the
    arrays is measured by the cash within them only.

    Source: present value of cash over the loan's life over the loan, at the weighted rate of the
    debt (moneyterms.co.uk, loan life cover ratio; felix.fe.training, lesson 3679).
    """
    given = (np.asarray(a, float) for a in (cash_available, loan_balance, interest_charged))
    cash, owed, interest = np.broadcast_arrays(*given)
    opening = np.zeros(owed.shape)
    opening[..., 1:] = owed[..., :-1]
    rate = np.nan_to_num(_over(interest, opening))  # no opening balance: nothing to discount
    factor = (1 / (1 + rate)).cumprod(-1)
    worth = np.where(opening > 0, cash * factor, 0.0)
    later = np.zeros(worth.shape)
    later[..., :-1] = worth[..., :0:-1].cumsum(-1)[..., ::-1]
    return np.where(owed > 0, _over(later / factor, owed), np.nan)
