"""When things happen: gates, payments, the first starts, and what holds them back.

The plan gives months from the start. What waits for a gate is paid when it opens, and whatever
was planned for a later month slides with it, so that the order of the plan is kept and nothing
that depends on a gate is paid or built before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

Steps = tuple[tuple[int, float], ...]


@dataclass(frozen=True)
class Item:
    """Something paid for, leased or borrowed: planned months, and the gates it waits for."""

    steps: Steps  # month and share of its price or amount
    gates: tuple[str, ...] = ()
    lead_months: int = 0  # from the last payment until it is in use
    holds: bool = True  # whether what is planned for later, and the first starts, wait with it


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

    @property
    def as_critical(self) -> list[str]:
        """All gates with as little to spare as the critical one."""
        least = self.spare.get(self.critical, 0)
        return [gate for gate, left in self.spare.items() if left == least]


def timetable(
    gate_months: Mapping[str, int],
    waits: Mapping[str, list[str]],
    rows: Mapping[str, Item],
    others: Iterable[Item],
    planned_start: int,
) -> Timetable:
    """Work out the months of a build.

    Parameters
    ----------
    gate_months : month of each gate by itself
    waits : the gates that each gate waits for
    rows : capital rows by id
    others : leases, loans and whatever else waits for gates
    planned_start : month of the first starts by the plan
    """
    opens: dict[str, int] = {}
    for gate in gate_months:
        _open(gate, gate_months, waits, opens)
    items = [*rows.values(), *others]
    delays = _delays(items, opens)
    payments, ready = {}, {}
    for name, row in rows.items():
        moved = [(_moved(m, row.gates, opens, delays), share) for m, share in row.steps]
        payments[name] = tuple(moved)
        ready[name] = moved[-1][0] + row.lead_months
    needed = [
        _moved(item.steps[-1][0], item.gates, opens, delays) + item.lead_months
        for item in items
        if item.holds and item.steps[0][0] < planned_start
    ]
    start = max([planned_start + _late(delays, planned_start), *needed])
    spare = _spare(items, opens, waits)
    # of gates with as little to spare, one that no other gate holds back
    order = sorted(spare, key=lambda gate: (spare[gate], opens[gate] != gate_months[gate]))
    return Timetable(
        opens, payments, ready, start, planned_start, spare, next(iter(order), ""), delays
    )


def _open(
    gate: str, months: Mapping[str, int], waits: Mapping[str, list[str]], opens: dict[str, int]
) -> int:
    if gate not in opens:
        before = [_open(other, months, waits, opens) for other in waits.get(gate, [])]
        opens[gate] = max([months[gate], *before])
    return opens[gate]


def _delays(items: list[Item], opens: Mapping[str, int]) -> tuple[tuple[int, int], ...]:
    """By how many months things are held up, by the month they were planned for."""
    late: dict[int, int] = {}
    for item in items:
        planned = item.steps[0][0]
        for gate in item.gates if item.holds else ():
            late[planned] = max(late.get(planned, 0), opens[gate] - planned)
    return tuple(sorted((m, d) for m, d in late.items() if d > 0))


def _spare(
    items: list[Item], opens: Mapping[str, int], waits: Mapping[str, list[str]]
) -> dict[str, int]:
    """Months by which each gate that something waits for might open later, by way of others too."""
    spare: dict[str, int] = {}
    for item in items:
        for gate in item.gates:
            left = item.steps[0][0] - opens[gate]
            spare[gate] = min(spare.get(gate, left), left)
    for _ in waits:  # as many rounds as the longest chain could need
        for gate, before in waits.items():
            for other in before if gate in spare else ():
                left = spare[gate] + opens[gate] - opens[other]
                spare[other] = min(spare.get(other, left), left)
    return {gate: spare[gate] for gate in opens if gate in spare}


def _late(delays: tuple[tuple[int, int], ...], planned: int) -> int:
    """The longest delay of what was planned for an earlier month."""
    return max((late for month, late in delays if month < planned), default=0)


def _moved(
    planned: int,
    gates: Iterable[str],
    opens: Mapping[str, int],
    delays: tuple[tuple[int, int], ...],
) -> int:
    return max([planned + _late(delays, planned), *(opens[gate] for gate in gates)])
