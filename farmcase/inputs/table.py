"""The one table of all inputs: what drives tornado, simulation, forms and the register."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from farmcase.errors import NotFoundError
from farmcase.inputs.case import Case
from farmcase.inputs.estimate import Estimate, Record, read_estimate
from farmcase.inputs.frozen import Frozen
from farmcase.inputs.schema import split_path
from farmcase.inputs.sections import Build
from farmcase.words.labels import input_label

_OF_A_ROOM = ("plan", "climate")  # sections whose records have the ids of rooms


@dataclass(frozen=True)
class Input:
    """One number of a case with its range, origin, stage and limits."""

    path: str
    label: str
    unit: str
    low: float
    likely: float
    high: float
    source: str
    date: str
    status: str
    stage: str
    spec: Mapping[str, Any]


@lru_cache(maxsize=16)
def input_table(case: Case) -> Mapping[str, Input]:
    """Every number that may carry a range, by path, in the order of the files.

    A case never changes, so its table is made once.
    """
    table: dict[str, Input] = {}
    for section, identity, record in case.all_records():
        for name, spec in type(record).specs().items():
            path = ".".join(part for part in (section, identity, name) if part)
            value = getattr(record, name)
            if isinstance(value, Estimate):
                named = case.rooms.get(identity, record) if section in _OF_A_ROOM else record
                label = input_label(path, named)
                table[path] = _input(case, path, label, record, value, spec)
    for build, record in case.builds.items():
        for path, raw in record.with_.items():
            found = _changed_input(case, f"builds.{build}.with.{path}", path, raw, record)
            if found:
                table[found.path] = found
        for path, value in filled_anew(case, build).items():
            found = _changed_input(case, f"builds.{build}.with.{path}", path, value, record)
            if found:
                table[found.path] = found
    return Frozen(table)


_FILLED = (
    "containers",
    "climate",
    "crops",
    "vessels",
    "solar",
)  # sections whose gaps the reference tables fill


@lru_cache(maxsize=64)
def filled_anew(case: Case, build: str) -> Mapping[str, Estimate]:
    """What the reference tables fill in otherwise for a build than for the base of the case.

    A build that changes a box, a humidifier or a strain changes what is filled in for it, by path,
    as surely as if it stated that itself.
    """
    kept, seen = case.builds[build].with_, case.for_build(build)
    found = {}
    for section in _FILLED if kept else ():
        for identity, record in getattr(seen, section).items():
            base = getattr(case, section).get(identity)
            for name in type(record).specs() if base is not None else ():
                path, value = f"{section}.{identity}.{name}", getattr(record, name)
                if path not in kept and value != getattr(base, name):
                    found[path] = value
    return Frozen(found)


def _changed_input(case: Case, path: str, base: str, raw: Any, build: Build) -> Input | None:
    """An input that a build changes: its label names both, its origin is the build's."""
    try:
        record, name = case.record(base)
    except NotFoundError:
        return None
    spec = type(record).specs().get(name)
    if spec is None:
        return None
    section, identity, _ = split_path(base)
    named = case.rooms.get(identity, record) if section in _OF_A_ROOM else record
    label = f"{input_label(base, named)}, {build.label}"
    value = read_estimate(raw, spec)
    found = _input(case, path, label, record, value, spec)
    return replace(found, source=value.source or build.source, status=value.status or build.status)


def _input(
    case: Case, path: str, label: str, record: Record, value: Estimate, spec: dict[str, Any]
) -> Input:
    unit = str(spec["unit"]) or str(getattr(record, "unit", ""))
    date = value.date or getattr(record, "price_date", "")
    return Input(
        path=path,
        label=label,
        unit=unit.replace("money", case.heading.currency),
        low=value.low,
        likely=value.likely,
        high=value.high,
        source=value.source or getattr(record, "source", ""),
        date=date,
        status=value.status or getattr(record, "status", ""),
        stage=str(spec["stage"]),
        spec=spec,
    )


def bare(path: str) -> str:
    """A path without the build that changes it."""
    return path.split(".with.", 1)[-1]


def is_gate_month(path: str) -> bool:
    """Whether a path is the month of a gate."""
    return bare(path).startswith("gates.") and path.endswith(".month")
