"""What members of a co-operative put in and get back, for each of them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from farmcase.errors import NotFoundError
from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.finance import shares_of
from farmcase.model.profit_tax import years_of
from farmcase.model.statements import year_names
from farmcase.money.fiscal_years import by_fiscal_year
from farmcase.words.labels import MEMBERS


def member_table(outcome: BuildOutcome) -> pd.DataFrame:
    """Money put in, hours worked and money got back by one member on average, by fiscal year.

    Put in are the members' shares, or where there are none the owners' money.

    Raises
    ------
    NotFoundError when the case names no members
    """
    inputs = outcome.inputs
    count = inputs.case.standing.members
    if not count:
        raise NotFoundError("The case names no members: give standing.members.")
    lines, years = outcome.ledger.lines, years_of(inputs)
    put_in, taken_out = shares_of(inputs, "member_shares")
    if not put_in.any():
        put_in, taken_out = lines["owners_money"], -lines["owners_withdrawn"]
    got = lines["bonus_paid"] + lines["dividend_paid"] - taken_out
    own_pay = lines["own_work"] + lines["own_build_work"]
    rows = {
        "put_in": put_in,
        "hours": outcome.ledger.work.own_hours + build_hours(outcome),
        "own_pay": -own_pay,
        "got_back": -got,
        "so_far": (-got - own_pay - put_in).cumsum(-1),
    }
    values = [by_fiscal_year(line[0], years) / count for name, line in rows.items()][:-1]
    ends = np.searchsorted(years.of_month, np.arange(values[0].size), side="right") - 1
    values.append(rows["so_far"][0, ends] / count)
    labels = pd.Index([MEMBERS[name] for name in rows], name="line")
    names = pd.Index(year_names(inputs, outcome.dates))
    return pd.DataFrame(np.stack(values), index=labels, columns=names)


def build_hours(outcome: BuildOutcome) -> np.ndarray:
    """Own hours of the build in the months in which its rows are paid, (1, T)."""
    inputs = outcome.inputs
    hours = np.zeros((1, inputs.months))
    own = inputs.column("capital", "own_labour_hours")[0].tolist()
    for whole, steps in zip(own, inputs.timetable.payments.values(), strict=True):
        for month, share in steps:
            hours[0, min(month, inputs.months - 1)] += whole * share
    return hours
