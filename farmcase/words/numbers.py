"""Numbers as a reader of the case's language sees them; only here are they rounded."""

from __future__ import annotations

import datetime as dt
import math
from copy import copy

from babel import Locale
from babel.dates import format_date
from babel.numbers import format_decimal, format_percent

NEVER = "never"
NONE = "–"


def money(amount: float, currency: str, locale: str, decimals: int = 0) -> str:
    """Money with its currency sign, rounded to whole units unless said."""
    if not math.isfinite(amount):
        return NONE
    parsed = Locale.parse(locale)
    pattern = copy(parsed.currency_formats["standard"])
    pattern.frac_prec = (decimals, decimals)
    rounded = round(amount, decimals) + 0.0
    return pattern.apply(rounded, parsed, currency=currency, currency_digits=False)


def plain(value: float, locale: str, decimals: int = 0) -> str:
    """A number with the language's decimal sign and thousands mark."""
    if not math.isfinite(value):
        return NONE
    pattern = "#,##0" + ("." + "0" * decimals if decimals else "")
    return format_decimal(round(value, decimals) + 0.0, format=pattern, locale=locale)


def percent(share: float, locale: str, decimals: int = 0) -> str:
    """A share as percent."""
    if not math.isfinite(share):
        return NONE
    pattern = "#,##0" + ("." + "0" * decimals if decimals else "") + " %"
    return format_percent(round(share, decimals + 2) + 0.0, format=pattern, locale=locale)


def month_name(date: str, locale: str) -> str:
    """A month given as YYYY-MM, in the reader's language."""
    year, month = (int(part) for part in date.split("-"))
    return format_date(dt.date(year, month, 1), "MMM yyyy", locale=locale)


def month_of_year(date: str, locale: str) -> str:
    """The calendar month of a month given as YYYY-MM, in the reader's language."""
    year, month = (int(part) for part in date.split("-"))
    return format_date(dt.date(year, month, 1), "LLL", locale=locale)


def measure_text(value: float, unit: str, currency: str, locale: str) -> str:
    """A measure with the rounding its unit calls for, without the unit's name."""
    if unit in ("money", "money/year"):
        return money(value, currency, locale)
    if unit == "money/kg":
        return money(value, currency, locale, 2)
    if unit == "years":
        return plain(value, locale, 1) if math.isfinite(value) else NEVER
    if unit in ("share", "share/year"):
        return percent(value, locale, 1)
    return plain(value, locale, _DECIMALS.get(unit, 2))


_DECIMALS = {"kg/year": 0, "h/week": 1, "h": 0, "rates": 0, "kWh/kg": 2, "L/kg": 1, "ratio": 2}
