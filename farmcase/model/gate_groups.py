"""Scenarios whose gates come to the same timetable, so that they can be run together."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from farmcase.model.gather import BuildInputs
from farmcase.model.scenarios import Scenarios
from farmcase.model.timetable import Timetable


def by_timetable(
    inputs: BuildInputs, given: Scenarios
) -> Iterator[tuple[NDArray[np.int64] | slice, Scenarios]]:
    """Rows that share a timetable, and those scenarios with months of gates that lead to it.

    Many months of gates lead to one timetable: what matters is when things are paid, drawn and
    started, not when a gate opens for which nothing waits.

    Parameters
    ----------
    inputs : of the build, for its gates and what waits for them
    given : all scenarios
    """
    gates = {name: inputs.place_of(f"gates.{name}.month") for name in inputs.records("gates")}
    varied = {name: place for name, place in gates.items() if place is not None}
    if not varied or not len(given.numbers):
        yield slice(None), given
        return
    likely = dict(zip(gates, np.rint(inputs.column("gates", "month")[0]).astype(int), strict=True))
    places = list(varied.values())
    months, place = np.unique(np.rint(given.numbers[:, places]), axis=0, return_inverse=True)
    known: dict[tuple[object, ...], int] = {}
    group = np.zeros(len(months), np.int64)
    for i, row in enumerate(months.astype(int).tolist()):
        table = inputs.timetable_at({**likely, **dict(zip(varied, row, strict=True))})
        group[i] = known.setdefault(_what_follows(inputs, table), i)
    of_row = group[place.reshape(-1)]
    for i in known.values():
        rows = np.flatnonzero(of_row == i)
        mine = given.rows(rows)
        mine.numbers[:, places] = months[i]
        yield rows, mine


def _what_follows(inputs: BuildInputs, table: Timetable) -> tuple[object, ...]:
    """All months that a timetable gives to what is paid, drawn, leased, granted and started."""
    opens, after = table.opens, table.after
    items = [*inputs.borrowed(), *inputs.leased()]
    later = [after(month, item.gates) for item in items for month, _ in item.steps]
    awards = [
        max((opens[name] for name in grant.award_gate.split()), default=0)
        for grant in inputs.records("grants").values()
    ]
    costs = [min(gate.applied_month, opens[name]) for name, gate in inputs.records("gates").items()]
    paid = (*table.payments.values(), *table.ready.values())
    return (*paid, table.start, table.delays, *later, *awards, *costs)
