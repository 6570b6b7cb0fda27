"""The numbers of one build as arrays: a row of scenarios, a column for each record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from farmcase.errors import NotFoundError
from farmcase.inputs.case import Case
from farmcase.inputs.steps import read_steps
from farmcase.inputs.table import filled_anew
from farmcase.model.price_levels import PRICE_LEVELS, month_count
from farmcase.model.scenarios import Scenarios, as_scenarios
from farmcase.model.timetable import Item, Timetable, timetable

Floats = NDArray[np.float64]
Number = TypeVar("Number", np.float64, np.int64)
Made = TypeVar("Made")


class _Rises(NamedTuple):
    """By which price level and over how many months each price of a column has risen."""

    kinds: tuple[tuple[str, int], ...]  # category and months, each pair once
    of_record: NDArray[np.int64]  # (R,) place in `kinds`


class BuildInputs:
    """One build's view of a case, with the numbers that scenarios change.

    Arrays have shape (1, ...) where no scenario touches them and (S, ...) where one does, so
    that they broadcast.

    Parameters
    ----------
    case : the whole case
    build : name of the build
    scenarios : path -> values, (S,) each; paths that the build itself changes, or that are filled
        in anew for it, keep the build's value unless the scenario names `builds.BUILD.with.PATH`
    """

    def __init__(self, case: Case, build: str, scenarios: Mapping[str, Floats] | Scenarios) -> None:
        self.name = build
        self.whole = case
        self.case = case.for_build(build)
        self._shared: dict[Any, Any] = {}
        own = f"builds.{build}.with."
        kept = {**self.case.builds[build].with_, **filled_anew(case, build)}
        given = scenarios if isinstance(scenarios, Scenarios) else as_scenarios(scenarios)
        self._places = {p: i for p, i in given.places.items() if p not in kept}
        self._places.update(
            {p.removeprefix(own): i for p, i in given.places.items() if p.startswith(own)}
        )
        self._take(given.numbers)

    def _take(self, numbers: Floats) -> None:
        self.size = len(numbers)
        self._numbers = numbers
        self._columns: dict[tuple[str, str], Floats] = {}
        self._priced: dict[tuple[str, str], Floats] = {}
        self._levels: dict[Any, Floats] = {}

    def anew(self, numbers: Floats) -> BuildInputs:
        """The same with other numbers of the same paths, (S, P); what hangs on none is kept."""
        other = object.__new__(BuildInputs)
        other.__dict__.update(self.__dict__)
        other._take(numbers)
        return other

    def place_of(self, path: str) -> int | None:
        """The column of the scenarios that an input of the build stands in, if they change it."""
        return self._places.get(path)

    def varies(self, *paths: str) -> bool:
        """Whether scenarios change any of some inputs."""
        return any(path in self._places for path in paths)

    def once(self, key: object, make: Callable[[], Made]) -> Made:
        """What hangs on the case and the months of its gates alone, made once for all scenarios.

        Nobody may write into it.
        """
        if key not in self._shared:
            self._shared[key] = make()
        return self._shared[key]

    def once_of(self, source: object, key: object, make: Callable[[], Made]) -> Made:
        """The same for what hangs on one other thing too, such as what the first stage gave."""
        # held on to, so that nothing else can get its identity
        return self.once((key, id(source)), lambda: (source, make()))[1]

    @property
    def nothing(self) -> Floats:
        """A line that is nil in every month, (S, T); it takes no memory, and sums pass it over."""
        return np.broadcast_to(0.0, (self.size, self.months))

    def value(self, path: str) -> Floats:
        """One number of a section as (1,) or (S,)."""
        if path in self._places:
            return self._numbers[:, self._places[path]]
        return self.once(("value", path), lambda: np.array([self._likely(path)]))

    def each(self, path: str) -> Floats:
        """The same with a number for every scenario, (S,), laid out for kernels."""
        if path in self._places:
            return self._numbers[:, self._places[path]].copy()
        key = "each", path, self.size
        return self.once(key, lambda: np.full(self.size, self._likely(path)))

    def _likely(self, path: str) -> float:
        record, name = self.case.record(path)
        return getattr(record, name).likely

    def records(self, section: str) -> Mapping[str, Any]:
        """The build's records of a section, by id."""
        return getattr(self.case, section)

    def column(self, section: str, name: str) -> Floats:
        """One field of all records of a section as (1, R) or (S, R); not to be written into."""
        key = section, name
        if key not in self._columns:
            base, which, places = self.once(("column", *key), lambda: self._base(section, name))
            if places.size == base.size > 0:
                base = self._numbers.take(places, axis=1)
            elif places.size:
                base = np.repeat(base, self.size, axis=0)
                base[:, which] = self._numbers.take(places, axis=1)
            self._columns[key] = base
        return self._columns[key]

    def _base(self, section: str, name: str) -> tuple[Floats, NDArray[np.int64], NDArray[np.int64]]:
        """A column at its likely values; which records scenarios change, and their places."""
        records = self.records(section)
        base = np.array([[getattr(r, name).likely for r in records.values()]], float)
        paths = [f"{section}.{identity}.{name}" for identity in records]
        which = [i for i, path in enumerate(paths) if path in self._places]
        places = [self._places[paths[i]] for i in which]
        return base.reshape(1, len(records)), np.array(which, int), np.array(places, int)

    def full(self, section: str, name: str) -> Floats:
        """A column with a row for every scenario, (S, R)."""
        return broadcast(self.column(section, name), self.size)

    def priced(self, section: str, name: str) -> Floats:
        """A column of prices, each brought from its own date to the start month, (1|S, R)."""
        key = section, name
        if key not in self._priced:
            prices = self.column(section, name)
            rises = self.once(("rises", *key), lambda: self._rises(section, name))
            if len(rises.kinds) == 1:
                prices = prices * self._level(*rises.kinds[0])[:, None]
            elif rises.kinds:
                prices = prices * self._levels_of(rises.kinds).take(rises.of_record, axis=1)
            self._priced[key] = prices
        return self._priced[key]

    def _rises(self, section: str, name: str) -> _Rises:
        category = PRICE_LEVELS.get(f"{section}.{name}", "")
        every = [self._rise(r, name, category) for r in self.records(section).values()]
        kinds = tuple(dict.fromkeys(every))
        return _Rises(kinds, np.array([kinds.index(kind) for kind in every], np.int64))

    def _rise(self, record: Any, name: str, category: str) -> tuple[str, int]:
        """The price level that a price follows, and the months from its date to the start."""
        category = category or record.inflates_with
        if category == "none":
            return category, 0
        date = getattr(record, name).date or record.price_date
        return category, self.first_month - month_count(date)

    def price(self, path: str) -> Floats:
        """One price of a section, brought from its date to the start month, (1,) or (S,)."""
        section, name = path.split(".")
        record = getattr(self.case, section)
        rise = self.once(("rise", path), lambda: self._rise(record, name, PRICE_LEVELS[path]))
        return self.value(path) * self._level(*rise)

    def _levels_of(self, kinds: tuple[tuple[str, int], ...]) -> Floats:
        """What prices have risen by, a column for each kind of rise, (1|S, kinds)."""
        if kinds not in self._levels:
            levels = [self._level(*kind) for kind in kinds]
            self._levels[kinds] = np.stack(np.broadcast_arrays(*levels), axis=-1)
        return self._levels[kinds]

    def _level(self, category: str, gap: int) -> Floats:
        """What prices have risen by over some months before the start, (1,) or (S,)."""
        if category == "none":
            return np.ones(1)
        if (category, gap) not in self._levels:
            rise = self.value(f"inflation.{category}")
            self._levels[category, gap] = (1 + rise) ** (gap / 12)
        return self._levels[category, gap]

    def texts(self, section: str, name: str) -> list[Any]:
        """One plain field of all records of a section; not to be written into."""
        return self.once(
            ("texts", section, name),
            lambda: [getattr(record, name) for record in self.records(section).values()],
        )

    @cached_property
    def months(self) -> int:
        """Months looked ahead, month 0 included."""
        return self.case.heading.horizon_months + 1

    @cached_property
    def timetable(self) -> Timetable:
        """The months of the build after its gates; all scenarios share the months of gates.

        Raises
        ------
        NotFoundError when scenarios with gates in different months are put together
        """
        gates = self.records("gates")
        months = np.rint(self.column("gates", "month")).astype(int)
        if (months != months[:1]).any():
            raise NotFoundError("Scenarios with gates in different months are run one by one.")
        return self.timetable_at(dict(zip(gates, months[0].tolist(), strict=True)))

    def timetable_at(self, gate_months: Mapping[str, int]) -> Timetable:
        """The months of the build with each gate in a month of its own."""
        gates = self.records("gates")
        return timetable(
            gate_months,
            {name: gate.waits_for.split() for name, gate in gates.items()},
            {
                name: Item(row.payments, tuple(row.gate.split()), row.lead_months)
                for name, row in self.records("capital").items()
            },
            [*self.leased(), *self.borrowed()],
            self.case.builds[self.name].production_start_month,
        )

    def leased(self) -> list[Item]:
        """Leased units hold back what is planned for later, as bought ones do."""
        return [
            Item(((lease.starts_month, 1.0),), tuple(lease.gate.split()))
            for lease in self.records("leases").values()
        ]

    def borrowed(self) -> list[Item]:
        """Loans wait for their gates, but hold back nothing."""
        return [
            Item(
                read_steps(loan.drawn) or ((loan.drawn_month, 1.0),),
                tuple(loan.gate.split()),
                holds=False,
            )
            for loan in self.records("loans").values()
        ]

    @cached_property
    def start(self) -> int:
        """Month of the first starts; the last month where gates push it beyond all others."""
        return min(self.timetable.start, self.months - 1)

    @cached_property
    def first_month(self) -> int:
        """The calendar month of month 0, counted from the year 0."""
        return month_count(self.case.heading.start_month) - 1

    @cached_property
    def calendar(self) -> NDArray[np.int64]:
        """Calendar month (0 to 11) of each month from the start; month 1 is the start month."""
        return (self.first_month + np.arange(self.months)) % 12

    @cached_property
    def production(self) -> NDArray[np.int64]:
        """For each month: its place in the two years of production that are run, or -1 before.

        Months after the settled year stand for the same month of the settled year. In months
        that a move closes nothing is produced, nor after a leased unit that is grown in goes back.
        """
        passed = np.arange(self.months) - self.start
        settled = 12 + passed % 12
        place = np.where(passed < 0, -1, np.where(passed < 24, passed, settled))
        for move in self.records("moves").values():
            place[move.month : move.month + move.closed_months] = -1
        for lease in self.records("leases").values():
            if lease.grown_in and not lease.bought_at_end:
                begins = self.timetable.after(lease.starts_month, lease.gate.split())
                place[begins + lease.term_months :] = -1
        return place

    def by_crop(self, name: str) -> Floats:
        """A field of the crops that the build grows, (1, C) or (S, C)."""
        return self.column("crops", name)


def broadcast(array: NDArray[Number], size: int) -> NDArray[Number]:
    """An array of one scenario or of all, as all."""
    if len(array) == size:
        return array
    return np.broadcast_to(array, (size, *array.shape[1:]))
