"""Which room to build: all combinations of some values, by what they cost and what they are worth.

What is explored are ways: a path with the values it takes, or a heading of one's own with named
sets of changes that belong together (a thicker lining and what it costs). A value moves the input
itself and also what builds change of it, so that each row holds for every build.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmcase.choice.ways import Axis, Changes, Values, axes_of, by_choice, together, value_faults
from farmcase.errors import CaseError, NotFoundError
from farmcase.inputs.case import Case, in_order
from farmcase.inputs.faults import listed
from farmcase.inputs.schema import split_path
from farmcase.inputs.table import input_table
from farmcase.model.evaluate import evaluate_many
from farmcase.words.labels import input_label

Floats = NDArray[np.float64]
ALWAYS = ("npv", "energy_kwh_per_kg", "output_kg_per_year", "payback_years")
# What a way is weighed by against what it costs: whether more of it is better.
MORE_IS_BETTER: dict[str, bool] = {
    "npv": True,
    "equivalent_annual_value": True,
    "profitability_index": True,
    "irr": True,
    "mirr": True,
    "lowest_cash": True,
    "margin_of_safety_share": True,
    "output_kg_per_year": True,
    "payback_years": False,
    "discounted_payback_years": False,
    "levelised_cost_per_kg": False,
    "break_even_price_per_kg": False,
    "break_even_output_kg_per_year": False,
    "energy_kwh_per_kg": False,
    "water_l_per_kg": False,
    "emissions_kgco2e_per_kg": False,
    "labour_h_per_kg": False,
}


@dataclass(frozen=True, eq=False)
class Explored:
    """All combinations that were tried.

    Attributes
    ----------
    case : the case that every combination changes
    axes : what was varied, in the order of the columns
    measure : what is weighed against capital
    table : a row for each combination and build. Columns are the axes, `build`, `capital` (all
        that is spent to build before grant: rows of capital, contingency, own hours to build,
        consents and connections, in money of the month it is paid; replacements left out), the
        measures, `on_front` and `fault`, which says why a combination is no valid case ("" where
        it is one)
    """

    case: Case
    axes: tuple[Axis, ...]
    measure: str
    table: pd.DataFrame

    @property
    def names(self) -> list[str]:
        """The columns that were varied."""
        return [axis.name for axis in self.axes]


def explore(
    case: Case,
    values: Values,
    builds: Iterable[str] | None = None,
    measure: str = "npv",
) -> Explored:
    """Every combination of some values, with cost, worth and energy, and the sensible front.

    On the front is a row that no other beats: none costs as little or less and is as good or
    better, one of the two truly. That is over all builds. Where ways are weighed by net present
    value, carrying on as now (no cost, no worth) is one of the others, so that a row that is not
    worth more than nil is never on it.

    Parameters
    ----------
    case : the case
    values : path -> values; or a heading -> {name: {path: value, ...}}, changes made together
    builds : names of the builds wanted; all when left out
    measure : what is weighed against capital, one of `MORE_IS_BETTER`

    Raises
    ------
    CaseError listing every path that leads nowhere and every value outside its limits
    NotFoundError for an unknown measure or build
    FarmcaseError when there is nothing to try, too much, or one path in two columns
    """
    wanted = _wanted(case, builds, measure)
    axes = axes_of(values)
    faults = [f for axis in axes for each in axis.changes for f in value_faults(case, each)]
    if faults:
        raise CaseError(in_order(faults))
    rows = list(product(*(range(len(axis.shown)) for axis in axes)))
    changes = [together(case, axes, row) for row in rows]
    measures = list(dict.fromkeys((*ALWAYS, measure)))
    found = _run(case, changes, wanted, measures)
    shown = {axis.name: [axis.shown[row[i]] for row in rows] for i, axis in enumerate(axes)}
    frames = [
        pd.DataFrame({**shown, "build": build, **found[build]}, index=range(len(rows)))
        for build in wanted
    ]
    table = pd.concat(frames, ignore_index=True)
    worth = table[measure].to_numpy(float) * (1 if MORE_IS_BETTER[measure] else -1)
    least = 0.0 if measure == "npv" else -math.inf
    table["on_front"] = front(table["capital"].to_numpy(float), worth, least)
    table["fault"] = table.pop("fault")
    return Explored(case, axes, measure, table)


def front(cost: Floats, worth: Floats, least: float = -math.inf) -> NDArray[np.bool_]:
    """Which points no other beats at lower or equal cost and higher or equal worth, (N,).

    Points alike in both do not beat each other. Points without a number, and those worth no more
    than `least`, are not on the front.
    """
    kept = np.isfinite(cost) & np.isfinite(worth) & (worth > least)
    order = np.lexsort((-worth, cost))
    order = order[kept[order]]
    on = np.zeros(cost.shape, bool)
    best, at = -math.inf, math.nan
    for i in order:
        if worth[i] > best:
            best, at = worth[i], cost[i]
            on[i] = True
        elif worth[i] == best and cost[i] == at:
            on[i] = True
    return on


def axis_labels(explored: Explored) -> dict[str, tuple[str, str]]:
    """Label and unit of each column that was varied; a heading of one's own is its own label."""
    return {axis.name: _label(explored.case, axis) for axis in explored.axes}


def _label(case: Case, axis: Axis) -> tuple[str, str]:
    known = input_table(case)
    if axis.name in known:
        return known[axis.name].label, known[axis.name].unit
    try:
        record, name = case.record(axis.name)
    except NotFoundError:
        return axis.name, ""
    section, identity, _ = split_path(axis.name)
    named = case.rooms.get(identity, record) if section == "plan" else record
    extra = type(record).model_fields[name].json_schema_extra
    unit = str(extra.get("unit", "")) if isinstance(extra, dict) else ""
    label = input_label(axis.name, named if identity else None)
    return label, unit.replace("money", case.heading.currency)


def _wanted(case: Case, builds: Iterable[str] | None, measure: str) -> list[str]:
    if measure not in MORE_IS_BETTER:
        known = ", ".join(MORE_IS_BETTER)
        raise NotFoundError(f"Ways are not weighed by {measure!r}; known are {known}.")
    wanted = list(case.builds if builds is None else builds)
    for build in wanted:
        if build not in case.builds:
            raise NotFoundError(f"There is no build {build!r}; known are {listed(case.builds)}.")
    return wanted


def _run(
    case: Case, changes: list[Changes], builds: list[str], measures: list[str]
) -> dict[str, dict[str, Any]]:
    """For each build its columns, a value for each combination."""
    count = len(changes)
    found: dict[str, dict[str, Any]] = {
        build: {
            **{name: np.full(count, np.nan) for name in ("capital", *measures)},
            "fault": np.full(count, "", object),
        }
        for build in builds
    }
    for chosen, rows, numbers in by_choice(case, changes):
        for build, varied in _varied(case, chosen, builds).items():
            columns = found[build]
            if isinstance(varied, str):
                columns["fault"][rows] = varied
                continue
            result = evaluate_many(varied, numbers, [*measures, "cost_to_build"], [build])
            for name in measures:
                columns[name][rows] = result[build, name].to_numpy(float)
            columns["capital"][rows] = result[build, "cost_to_build"].to_numpy(float)
    return found


def _varied(case: Case, chosen: Changes, builds: list[str]) -> dict[str, Case | str]:
    """For each build the case with the choices, or what makes it no valid case.

    Where they do not suit all builds together, each is tried for itself, with the choices as
    what it alone changes.
    """
    try:
        varied = case.vary(chosen) if chosen else case
        return dict.fromkeys(builds, varied)
    except CaseError as error:
        if len(case.builds) == 1:
            return dict.fromkeys(builds, _sentences(error))
    found: dict[str, Case | str] = {}
    for build in builds:
        own = f"builds.{build}.with."
        mine = {p: v for p, v in chosen.items() if not p.startswith("builds.")}
        changes = {**{own + p: v for p, v in mine.items()}, **_of_build(chosen, build)}
        try:
            found[build] = case.vary(changes)
        except CaseError as error:
            found[build] = _sentences(error)
    return found


def _of_build(chosen: Changes, build: str) -> Changes:
    return {path: value for path, value in chosen.items() if path.startswith(f"builds.{build}.")}


def _sentences(error: CaseError) -> str:
    return " ".join(fault.sentence() for fault in error.faults)
