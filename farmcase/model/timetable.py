"""When things happen: gates, payments, the first starts, and what holds them back.

The plan gives months from the start. What waits for a gate is paid when it opens, and whatever
was planned for a later month slides with it, so that the order of the plan is kept and nothing
that depends on a gate is paid or built before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

Steps = tuple[tuple[int, float], ...]


@dataclass(frozen=True)
class Timetable:
    """The months of one build, after its gates."""

    opens: Mapping[str, int]  # month in which each gate is open
    payments: Mapping[str, Steps]  # of each capital row: month and share of its price
    ready: Mapping[str, int]  # month from which each capital row is in use
    start: int  # month of the first starts
    planned_start: int
    spare: Mapping[str, int]  # months by which each gate might be later; below 0 it holds back
    critical: str  # the gate with the least to spare; "" where none is waited for
    delays: tuple[tuple[int, int], ...]  # planned month, months late

    def slide(self, planned: int) -> int:
        """The month in which something happens that was planned for another."""
        return planned + _late(self.delays, planned)

    def after(self, planned: int, gates: Iterable[str]) -> int:
        """The same for what also waits for gates of its own."""
        return max([self.slide(planned), *(self.opens[gate] for gate in gates)])


def timetable(
    gate_months: Mapping[str, int],
    waits: Mapping[str, list[str]],
    rows: Mapping[str, Any],
    planned_start: int,
) -> Timetable:
    """Work out the months of a build.

    Parameters
    ----------
    gate_months : month of each gate by itself
    waits : the gates that each gate waits for
    rows : capital rows by id, with `payments`, `gate` and `lead_months`
    planned_start : month of the first starts by the plan
    """
    opens: dict[str, int] = {}
    for gate in gate_months:
        _open(gate, gate_months, waits, opens)
    delays, spare = _delays(rows, opens)
    payments, ready = {}, {}
    for name, row in rows.items():
        gates = row.gate.split()
        moved = [(_moved(m, gates, opens, delays), share) for m, share in row.payments]
        payments[name] = tuple(moved)
        ready[name] = moved[-1][0] + row.lead_months
    needed = [ready[name] for name, row in rows.items() if row.payments[0][0] < planned_start]
    start = max([planned_start + _late(delays, planned_start), *needed])
    critical = min(spare, key=lambda gate: spare[gate], default="")
    return Timetable(opens, payments, ready, start, planned_start, spare, critical, delays)


def _open(
    gate: str, months: Mapping[str, int], waits: Mapping[str, list[str]], opens: dict[str, int]
) -> int:
    if gate not in opens:
        before = [_open(other, months, waits, opens) for other in waits.get(gate, [])]
        opens[gate] = max([months[gate], *before])
    return opens[gate]


def _delays(
    rows: Mapping[str, Any], opens: Mapping[str, int]
) -> tuple[tuple[tuple[int, int], ...], dict[str, int]]:
    """By how many months payments are held up, by the month they were planned for."""
    late: dict[int, int] = {}
    spare: dict[str, int] = {}
    for row in rows.values():
        planned = row.payments[0][0]
        for gate in row.gate.split():
            left = planned - opens[gate]
            spare[gate] = min(spare.get(gate, left), left)
            late[planned] = max(late.get(planned, 0), -left)
    return tuple(sorted((m, d) for m, d in late.items() if d > 0)), spare


def _late(delays: tuple[tuple[int, int], ...], planned: int) -> int:
    """The longest delay of what was planned for an earlier month."""
    return max((late for month, late in delays if month < planned), default=0)


def _moved(
    planned: int, gates: list[str], opens: Mapping[str, int], delays: tuple[tuple[int, int], ...]
) -> int:
    return max([planned + _late(delays, planned), *(opens[gate] for gate in gates)])
