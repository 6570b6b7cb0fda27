"""Scenarios whose gates come to the same timetable, so that they can be run together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from farmcase.inputs.case import Case
from farmcase.inputs.table import bare, is_gate_month
from farmcase.model.gather import BuildInputs
from farmcase.model.timetable import Timetable

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]


def by_timetable(
    case: Case, build: str, values: Mapping[str, Floats], count: int
) -> Iterator[tuple[Rows, dict[str, float]]]:
    """Rows that share a timetable, and months of gates that lead to it.

    Parameters
    ----------
    case, build : the build that is run
    values : path -> values, (count,) each
    count : number of scenarios

    Notes
    -----
    Many months of gates lead to one timetable: what matters is when things are paid, drawn and
    started, not when a gate opens for which nothing waits.
    """
    inputs = BuildInputs(case, build, {})
    mine = inputs.records("gates")
    paths = [p for p in values if is_gate_month(p) and bare(p).split(".")[1] in mine]
    if not paths or not count:
        yield np.arange(count), {}
        return
    months = np.stack([values[path] for path in paths], axis=1)
    rounded, place = np.unique(np.rint(months), axis=0, return_inverse=True)
    known: dict[tuple[object, ...], int] = {}
    group = np.zeros(len(rounded), np.int64)
    first: list[int] = []
    for i, row in enumerate(rounded):
        at_gates = inputs.anew({p: np.array([m]) for p, m in zip(paths, row, strict=True)})
        key = _what_follows(at_gates, at_gates.timetable)
        if key not in known:
            known[key] = len(first)
            first.append(i)
        group[i] = known[key]
    of_row = group[place.reshape(-1)]
    for g, i in enumerate(first):
        chosen = dict(zip(paths, rounded[i].tolist(), strict=True))
        yield np.flatnonzero(of_row == g), chosen


def _what_follows(inputs: BuildInputs, table: Timetable) -> tuple[object, ...]:
    """All months that a timetable gives to what is paid, drawn, leased, granted and started."""
    opens, after = table.opens, table.after
    loans = [after(month, item.gates) for item in inputs.borrowed() for month, _ in item.steps]
    leases = [after(month, item.gates) for item in inputs.leased() for month, _ in item.steps]
    awards = [
        max((opens[name] for name in grant.award_gate.split()), default=0)
        for grant in inputs.records("grants").values()
    ]
    costs = [min(gate.applied_month, opens[name]) for name, gate in inputs.records("gates").items()]
    paid = (*table.payments.values(), *table.ready.values())
    return (*paid, table.start, table.delays, *loans, *leases, *awards, *costs)
