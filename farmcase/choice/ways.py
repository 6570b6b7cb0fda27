"""Ways to try: columns of values, what each changes in a case, and which are tried together."""

from __future__ import annotations

import copy
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.errors import FarmcaseError, Fault
from farmcase.inputs.case import Case
from farmcase.inputs.defaults import with_defaults
from farmcase.inputs.faults import validate
from farmcase.inputs.schema import ROW_SECTIONS, model_of, put, split_path
from farmcase.inputs.table import input_table
from farmcase.words import explore as say

Changes = dict[str, Any]
Values = Mapping[str, Sequence[Any] | Mapping[str, Mapping[str, Any]]]
MOST_COMBINATIONS = 2000


class Axis(NamedTuple):
    """One column of the table: its values as shown, and the changes that each stands for."""

    name: str
    shown: tuple[Any, ...]
    changes: tuple[Changes, ...]


def axes_of(values: Values) -> tuple[Axis, ...]:
    """The columns of what is to be tried, checked for number and for paths named twice.

    Parameters
    ----------
    values : path -> values; or a heading -> {name: {path: value, ...}}

    Raises
    ------
    FarmcaseError when a column has no values, there are too many, or a path stands in two columns
    """
    axes = []
    for name, ways in values.items():
        if isinstance(ways, Mapping):
            axes.append(Axis(name, tuple(ways), tuple(dict(each) for each in ways.values())))
        else:
            plain = [_plain(value) for value in ways]
            axes.append(Axis(name, tuple(plain), tuple({name: value} for value in plain)))
    for axis in axes:
        if not axis.shown:
            raise FarmcaseError(say.no_values(axis.name))
    count = math.prod(len(axis.shown) for axis in axes)
    if count > MOST_COMBINATIONS:
        raise FarmcaseError(say.too_many(count, MOST_COMBINATIONS))
    homes: dict[str, str] = {}
    for axis in axes:
        for path in {path for each in axis.changes for path in each}:
            if homes.setdefault(path, axis.name) != axis.name:
                raise FarmcaseError(say.path_twice(path, homes[path], axis.name))
    return tuple(axes)


def _plain(value: Any) -> Any:
    """A number of numpy as one of Python; a list as a tuple, which a cell of the table can hold."""
    value = value.tolist() if isinstance(value, np.generic | np.ndarray) else value
    return tuple(value) if isinstance(value, list) else value


def value_faults(case: Case, changes: Changes) -> Iterator[Fault]:
    """What is wrong with values by themselves, whatever they are combined with."""
    filled = with_defaults(case.raw, case.folder)
    for path, value in changes.items():
        section, identity, name = split_path(path)
        raw = copy.deepcopy({section: filled.get(section, {})})
        origins = case.origins.copy()
        origins.places[path] = (say.PLACE, None)
        fault = put(raw, path, value, origins)
        if fault:
            yield fault
        elif section == "builds" and name.startswith("with."):
            yield from value_faults(case, {name.removeprefix("with."): value})
        else:
            record = raw[section][identity] if section in ROW_SECTIONS else raw[section]
            home = "" if section == "heading" else path.removesuffix(f".{name}")
            yield from validate(model_of(section), record, home, origins)[1]


def together(case: Case, axes: tuple[Axis, ...], row: tuple[int, ...]) -> Changes:
    """The changes of one combination, with those of what builds change themselves."""
    named = {p: v for i, axis in zip(row, axes, strict=True) for p, v in axis.changes[i].items()}
    spread = {
        f"builds.{build}.with.{path}": value
        for path, value in named.items()
        for build, record in case.builds.items()
        if path in record.with_
    }
    return {**spread, **named}


def by_choice(
    case: Case, changes: list[Changes]
) -> Iterator[tuple[Changes, NDArray[np.int64], pd.DataFrame]]:
    """Each set of choices, the combinations that share it, and the numbers they differ in.

    With a choice go the numbers of the first combination that has it: a heater is no valid choice
    without its power.
    """
    known = input_table(case)
    paths = list(dict.fromkeys(path for each in changes for path in each if path in known))
    groups: dict[str, list[int]] = {}
    choices = [{p: v for p, v in each.items() if p not in known} for each in changes]
    for i, chosen in enumerate(choices):
        groups.setdefault(repr(chosen), []).append(i)
    for rows in groups.values():
        table = {p: [changes[i].get(p, known[p].likely) for i in rows] for p in paths}
        chosen = choices[rows[0]]
        with_it = {p: v for p, v in changes[rows[0]].items() if p in known} if chosen else {}
        frame = pd.DataFrame(table, index=range(len(rows)))
        yield {**chosen, **with_it}, np.array(rows), frame
