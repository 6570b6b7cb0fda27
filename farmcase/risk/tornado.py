"""The tornado: one input at a time to its low and its high, the others at likely."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from farmcase.inputs.case import Case
from farmcase.inputs.growing import RESPONSES
from farmcase.inputs.table import Input, bare, input_table
from farmcase.model.evaluate import evaluate_many
from farmcase.words import levers as say


@dataclass(frozen=True)
class Tornado:
    """How far each input alone moves a measure.

    Attributes
    ----------
    measure : name of the measure
    base : build -> the measure at likely values
    table : one row for each build and input (or group of inputs that hang together), the widest
        first; columns build, path, label, unit, low, likely, high (NaN for a group), at_low,
        at_high, spread (the distance between the two ends, all in the measure's unit)
    tail : build -> how many inputs are left out of `table`, and their spreads added up
    """

    measure: str
    base: dict[str, float]
    table: pd.DataFrame
    tail: dict[str, tuple[int, float]]
    members: dict[str, tuple[str, ...]]


def tornado(
    case: Case,
    measure: str = "npv",
    builds: Iterable[str] | None = None,
    most: int = 15,
    grouped: bool = True,
) -> Tornado:
    """Move every uncertain input to its two ends.

    Parameters
    ----------
    case : the case
    measure : name of any measure
    builds : names of builds; all when left out
    most : rows kept for each build; the rest is counted and added up in `tail`
    grouped : whether inputs that hang together move together: the same number of one capital
        group, of one outlet's rows, of all rooms' plans, of the air of all rooms of a kind, of
        the responses of all crops

    Raises
    ------
    NotFoundError for an unknown measure or build
    """
    return tornadoes(case, (measure,), builds, most, grouped)[measure]


def tornadoes(
    case: Case,
    measures: Iterable[str],
    builds: Iterable[str] | None = None,
    most: int = 15,
    grouped: bool = True,
) -> dict[str, Tornado]:
    """The same for several measures, by measure: the rooms are run once for all of them."""
    wanted, named = list(builds or case.builds), list(measures)
    table = input_table(case)
    members = _members(case, table, grouped)
    ends = _two_ends(table, members)
    found = evaluate_many(case, ends, measures=named, builds=wanted).to_numpy()
    count = len(named)
    return {
        name: _tornado(case, name, members, found[:, k::count], wanted, most)
        for k, name in enumerate(named)
    }


def _tornado(
    case: Case,
    measure: str,
    members: dict[str, tuple[str, ...]],
    found: np.ndarray,
    wanted: list[str],
    most: int,
) -> Tornado:
    """One measure's tornado; `found` has a column for each build, the base in the last row."""
    table = input_table(case)
    base = dict(zip(wanted, found[-1].tolist(), strict=True))
    parts, tail = [], {}
    for column, build in enumerate(wanted):
        rows = _rows(case, table, members, found[:-1, column], build)
        parts.append(rows.iloc[:most])
        rest = rows["spread"].to_numpy()[most:]
        tail[build] = (int((rest > 0).sum()), float(np.nansum(rest)))
    return Tornado(measure, base, pd.concat(parts, ignore_index=True), tail, members)


def _members(case: Case, table: Mapping[str, Input], grouped: bool) -> dict[str, tuple[str, ...]]:
    """Key -> the paths that move together; a build's own change moves with what it changes."""
    members: dict[str, list[str]] = {}
    for path, row in table.items():
        if row.low < row.high:
            key = _key(case, bare(path)) if grouped else bare(path)
            members.setdefault(key, []).append(path)
    return {key: tuple(paths) for key, paths in members.items()}


def _key(case: Case, path: str) -> str:
    """What a path is grouped under: capital group, outlet or plan with the field, or itself."""
    parts = path.split(".")
    if parts[0] == "capital":
        return f"capital.{case.capital[parts[1]].group}.{parts[2]}"
    if parts[0] == "sales":
        return f"sales.{case.sales[parts[1]].outlet}.{parts[2]}"
    if parts[0] == "plan":
        return f"plan.all.{parts[2]}"
    if parts[0] == "climate":
        return f"climate.{case.rooms[parts[1]].kind}.{parts[2]}"
    if parts[0] == "containers" or (parts[0] == "crops" and parts[2] in RESPONSES):
        return f"{parts[0]}.all.{parts[2]}"
    return path


def _two_ends(table: Mapping[str, Input], members: Mapping[str, tuple[str, ...]]) -> pd.DataFrame:
    """A row with each key at its low, one with it at its high, in turn; the base is last."""
    paths = [path for group in members.values() for path in group]
    place = {path: i for i, path in enumerate(paths)}
    likely = np.array([table[path].likely for path in paths])
    values = np.tile(likely, (2 * len(members) + 1, 1))
    for k, group in enumerate(members.values()):
        for path in group:
            values[2 * k, place[path]] = table[path].low
            values[2 * k + 1, place[path]] = table[path].high
    return pd.DataFrame(values, columns=pd.Index(paths))


def _rows(
    case: Case,
    table: Mapping[str, Input],
    members: Mapping[str, tuple[str, ...]],
    found: np.ndarray,
    build: str,
) -> pd.DataFrame:
    ends = found.reshape(-1, 2)
    rows = []
    for (key, group), (at_low, at_high) in zip(members.items(), ends, strict=True):
        mine = _for_build(group, build)
        if not mine:
            continue
        single = table[mine[0]] if len(mine) == 1 else None
        rows.append(
            {
                "build": build,
                "path": key,
                "label": single.label if single else _group_label(case, table, mine),
                "unit": table[mine[0]].unit,
                "low": single.low if single else np.nan,
                "likely": single.likely if single else np.nan,
                "high": single.high if single else np.nan,
                "at_low": at_low,
                "at_high": at_high,
                "spread": abs(at_high - at_low),
            }
        )
    frame = pd.DataFrame(rows)
    order = np.argsort(-frame["spread"].fillna(-1.0).to_numpy(), kind="stable")
    return frame.iloc[order].reset_index(drop=True)


def _for_build(group: tuple[str, ...], build: str) -> list[str]:
    """The paths of a group that a build reads: its own changes instead of what they change."""
    own = f"builds.{build}.with."
    changed = {bare(path) for path in group if path.startswith(own)}
    return [
        path
        for path in group
        if path.startswith(own) or (".with." not in path and path not in changed)
    ]


def _group_label(case: Case, table: Mapping[str, Input], paths: list[str]) -> str:
    section, identity, _ = bare(paths[0]).split(".")
    field = table[paths[0]].label.split(",")[0]
    if section == "capital":
        return say.group_of_rows(field, case.capital[identity].group, len(paths))
    if section == "sales":
        return say.group_of_rows(field, case.sales[identity].outlet, len(paths))
    if section == "climate":
        return say.all_rooms(field, case.rooms[identity].kind)
    return say.all_of_them(field, section)
