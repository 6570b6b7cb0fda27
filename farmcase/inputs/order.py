"""Two numbers of one record that must stand in an order, and the sentence where they do not."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from farmcase.errors import Fault
from farmcase.inputs.estimate import Estimate, Record
from farmcase.inputs.view import View

_ALIKE = (("low", "low"), ("likely", "likely"), ("high", "high"))
_MEETING = (("high", "low"),)
_LIKELY = (("likely", "likely"),)


class Order(NamedTuple):
    """What must hold of two fields of a record.

    `is_strict` where they may not be equal either. `ends` are the ends of both ranges that are
    compared: like with like, or those that meet where no formula holds once the two have passed
    each other, or the likely values alone.
    """

    lower: str
    upper: str
    is_strict: bool = False
    ends: tuple[tuple[str, str], ...] = _ALIKE


def apart(lower: str, upper: str) -> Order:
    """Two numbers that stay apart wherever in their ranges they are."""
    return Order(lower, upper, True, _MEETING)


def likely_below(lower: str, upper: str) -> Order:
    """Two numbers of which the likely values stay apart."""
    return Order(lower, upper, True, _LIKELY)


def order_faults(view: View, path: str, record: Record, orders: Iterable[Order]) -> Iterable[Fault]:
    """A fault for each order that the numbers of a record break."""
    for order in orders:
        for below, above in order.ends:
            low = getattr(getattr(record, order.lower), below)
            high = getattr(getattr(record, order.upper), above)
            if low > high or (order.is_strict and low == high):
                yield _fault(view, path, record, order, {order.lower: below, order.upper: above})
                break


def _fault(view: View, path: str, record: Record, order: Order, ends: dict[str, str]) -> Fault:
    blamed = view.blamed(path, order.lower, order.upper)
    first = blamed.split(".")[-1]
    second = order.upper if first == order.lower else order.lower
    texts = [end_text(getattr(record, name), ends[name]) for name in (first, second)]
    given = f"is {texts[0]} and {second} {texts[1]}"
    relation = "below" if order.is_strict else "no more than"
    allowed = f"{order.lower} must be {relation} {order.upper}"
    return view.origins.at(blamed, given, allowed, "correct one of the two")


def end_text(value: Estimate, end: str) -> str:
    """One end of a range as it stands in a sentence, named where there is a range."""
    return f"{getattr(value, end):g}" + (f" ({end})" if value.is_uncertain else "")
