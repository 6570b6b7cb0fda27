"""Rules of programmes as sums: quotes by value, months before an award, share and ceiling."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterable, Mapping, Sequence


def quotes_needed(amount: float, bands: Sequence[tuple[float, int]]) -> int:
    """Quotes that an item of a value needs.

    Parameters
    ----------
    amount : money
    bands : (largest value, quotes) in rising order; the last holds for all above
    """
    for largest, count in bands:
        if amount <= largest:
            return count
    return bands[-1][1]


def granted(funded: float, share: float, least: float, most: float) -> float:
    """A share of what is funded, up to a ceiling; nothing where that is below the least, money."""
    amount = min(share * funded, most)
    return amount if amount >= least else 0.0


def open_months(months: Mapping[str, float], waits: Mapping[str, Sequence[str]]) -> dict[str, int]:
    """The month each gate opens: its own, or that of a gate it waits for where that is later.

    Parameters
    ----------
    months : gate -> month, rounded to whole months
    waits : gate -> gates it waits for; no rings
    """
    opened: dict[str, int] = {}

    def month_of(gate: str) -> int:
        if gate not in opened:
            before = [month_of(name) for name in waits.get(gate, ()) if name in months]
            opened[gate] = max([round(months[gate]), *before])
        return opened[gate]

    return {gate: month_of(gate) for gate in months}


def first_payment(planned: Iterable[int], opened: Iterable[int]) -> int:
    """The month of the first payment: as planned, or when the last of its gates opens."""
    return max([min(planned), *opened])


def vat_parts(vat: float, recoverable_share: float) -> tuple[float, float]:
    """VAT that is claimed back, and VAT that is borne; money, together the whole."""
    recovered = vat * recoverable_share
    return recovered, vat - recovered


def age_days(date: str, start_month: str) -> int:
    """Days from a date to the first day of a month.

    Parameters
    ----------
    date : YYYY-MM-DD, or YYYY-MM for the last day of that month
    start_month : YYYY-MM
    """
    if len(date) == len("YYYY-MM"):
        year, month = (int(part) for part in date.split("-"))
        date = f"{date}-{calendar.monthrange(year, month)[1]:02d}"
    start = dt.date.fromisoformat(f"{start_month}-01")
    return (start - dt.date.fromisoformat(date)).days


def match_needed(funded: float, grant: float, own_share: float) -> float:
    """Money to be found beside a grant: what it leaves, and no less than the match asked for.

    Parameters
    ----------
    funded, grant : money that counts, and what is granted of it
    own_share : share of what counts that must be matched
    """
    return max(funded - grant, own_share * funded)
