"""The numbers of one build as arrays: a row of scenarios, a column for each record."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from farmcase.inputs.case import Case
from farmcase.inputs.table import filled_anew

Floats = NDArray[np.float64]
Number = TypeVar("Number", np.float64, np.int64)


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

    def __init__(self, case: Case, build: str, scenarios: Mapping[str, Floats]) -> None:
        self.name = build
        self.whole = case
        self.case = case.for_build(build)
        self.size = max([1, *(len(values) for values in scenarios.values())])
        own = f"builds.{build}.with."
        kept = {**self.case.builds[build].with_, **filled_anew(case, build)}
        self._varied = {p: v for p, v in scenarios.items() if p not in kept}
        self._varied.update(
            {p.removeprefix(own): v for p, v in scenarios.items() if p.startswith(own)}
        )

    def value(self, path: str) -> Floats:
        """One number of a section as (1,) or (S,)."""
        if path in self._varied:
            return np.asarray(self._varied[path], float)
        record, name = self.case.record(path)
        return np.array([getattr(record, name).likely])

    def records(self, section: str) -> Mapping[str, Any]:
        """The build's records of a section, by id."""
        return getattr(self.case, section)

    def column(self, section: str, name: str) -> Floats:
        """One field of all records of a section as (1, R) or (S, R)."""
        records = self.records(section)
        base = np.array([[getattr(r, name).likely for r in records.values()]], float)
        base = base.reshape(1, len(records))
        varied = [
            (i, self._varied[f"{section}.{identity}.{name}"])
            for i, identity in enumerate(records)
            if f"{section}.{identity}.{name}" in self._varied
        ]
        if not varied:
            return base
        full = np.repeat(base, self.size, axis=0)
        for index, values in varied:
            full[:, index] = values
        return full

    def full(self, section: str, name: str) -> Floats:
        """A column with a row for every scenario, (S, R)."""
        return broadcast(self.column(section, name), self.size)

    def texts(self, section: str, name: str) -> list[Any]:
        """One plain field of all records of a section."""
        return [getattr(record, name) for record in self.records(section).values()]

    @cached_property
    def months(self) -> int:
        """Months looked ahead, month 0 included."""
        return self.case.heading.horizon_months + 1

    @cached_property
    def start(self) -> int:
        """Month of the first starts."""
        return self.case.builds[self.name].production_start_month

    @cached_property
    def calendar(self) -> NDArray[np.int64]:
        """Calendar month (0 to 11) of each month from the start; month 1 is the start month."""
        first = int(self.case.heading.start_month[5:7]) - 1
        return (first - 1 + np.arange(self.months)) % 12

    @cached_property
    def production(self) -> NDArray[np.int64]:
        """For each month: its place in the two years of production that are run, or -1 before.

        Months after the settled year stand for the same month of the settled year.
        """
        passed = np.arange(self.months) - self.start
        settled = 12 + passed % 12
        return np.where(passed < 0, -1, np.where(passed < 24, passed, settled))

    def by_crop(self, name: str) -> Floats:
        """A field of the crops that the build grows, (1, C) or (S, C)."""
        return self.column("crops", name)


def broadcast(array: NDArray[Number], size: int) -> NDArray[Number]:
    """An array of one scenario or of all, as all."""
    return np.broadcast_to(array, (size, *array.shape[1:]))
