"""Run a case once, or for a table of scenarios."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from numbers import Real
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pydantic_core import PydanticCustomError

from farmcase.compiled import keep_memory
from farmcase.errors import CaseError, Fault, NotFoundError
from farmcase.inputs.case import Case
from farmcase.inputs.estimate import check_number
from farmcase.inputs.table import Input, input_table, is_gate_month
from farmcase.model import balance_sheet
from farmcase.model.build_outcome import ONE, BuildOutcome
from farmcase.model.gate_groups import by_timetable
from farmcase.model.gather import BuildInputs
from farmcase.model.ledger import Ledger, run_ledger
from farmcase.model.measures import GROUPS, Measurer
from farmcase.model.outcome import Outcome
from farmcase.model.physical import Physical, run_physical
from farmcase.model.scenarios import Scenarios, as_scenarios
from farmcase.words.labels import MEASURES

Floats = NDArray[np.float64]
THREADS = 2
BLOCK = 512  # scenarios worked on at once, whatever the size of the table


def evaluate(case: Case) -> Outcome:
    """Run every build of a case at its likely values.

    Raises
    ------
    BalanceError when units, kilograms or cash do not close
    """
    with ThreadPoolExecutor(THREADS) as pool:
        ran = pool.map(lambda name: _run_build(case, name), case.builds)
        return Outcome(case, dict(zip(case.builds, ran, strict=True)))


def _run_build(case: Case, name: str) -> BuildOutcome:
    inputs = BuildInputs(case, name, {})
    physical = run_physical(inputs)
    ledger = run_ledger(inputs, physical, ONE)
    check_balances(inputs, ledger)
    return BuildOutcome(inputs, physical, ledger)


def check_balances(inputs: BuildInputs, ledger: Ledger) -> None:
    """Kilograms picked are all sold, lost or thrown away; cash and balance sheet close.

    Raises
    ------
    BalanceError naming the build and the difference
    """
    total = ledger.kilograms.saleable.sum(1)
    out = ledger.sales.sold_kg + ledger.sales.unsold_kg
    balance_sheet.closes(inputs.name, "kilograms", total - out, total)
    balance_sheet.check(inputs.name, ledger.lines)


def evaluate_many(
    case: Case,
    scenarios: pd.DataFrame | None = None,
    measures: Sequence[str] = ("npv",),
    builds: Iterable[str] | None = None,
) -> pd.DataFrame:
    """Measures of every build for a table of scenarios.

    Parameters
    ----------
    case : the case that every row changes
    scenarios : columns are paths, rows scenarios; numbers are run together, other values
        (names, dates, choices) by the rows that share them
    measures : names of the measures wanted
    builds : names of the builds wanted; all when left out

    Returns
    -------
    DataFrame with the index of `scenarios` and columns (build, measure)

    Raises
    ------
    CaseError listing every value outside its limits and every path that leads nowhere
    NotFoundError for an unknown measure or build
    """
    table = pd.DataFrame(index=[0]) if scenarios is None else scenarios
    wanted = list(builds or case.builds)
    _check_names(measures, wanted, case)
    known = input_table(case)
    numbers = [path for path in table.columns if path in known]
    choices = [path for path in table.columns if path not in known]
    _check_values(table, numbers, known)
    columns = pd.MultiIndex.from_product([wanted, list(measures)], names=["build", "measure"])
    result = np.empty((len(table), len(columns)))
    for varied, rows in _by_choice(case, table, choices):
        values = {path: table[path].to_numpy(float)[rows] for path in numbers}
        given = as_scenarios(values, len(rows))
        for b, build in enumerate(wanted):
            found = _run_scenarios(varied, build, given, measures)
            result[rows, b * len(measures) : (b + 1) * len(measures)] = found
    return pd.DataFrame(result, index=table.index, columns=columns)


def _by_choice(
    case: Case, table: pd.DataFrame, choices: list[str]
) -> Iterator[tuple[Case, NDArray[np.int64]]]:
    """The case with each set of choices in the table, and the rows that share it."""
    if not choices:
        yield case, np.arange(len(table))
        return
    keys = [tuple(_plain(v) for v in row) for row in table[choices].itertuples(index=False)]
    for key in dict.fromkeys(keys):
        rows = np.array([i for i, other in enumerate(keys) if other == key])
        yield case.vary(dict(zip(choices, key, strict=True))), rows


def _plain(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value


def _run_scenarios(case: Case, build: str, given: Scenarios, measures: Sequence[str]) -> Floats:
    result = np.empty((len(given.numbers), len(measures)))
    years: dict[int, Physical] = {}  # of rooms that nothing changes, by the month they begin in
    inputs = BuildInputs(case, build, given.rows(slice(1)))
    for rows, mine in by_timetable(inputs, given):
        result[rows] = _run_together(case, build, mine, measures, years)
    return result


def _run_together(
    case: Case,
    build: str,
    given: Scenarios,
    measures: Sequence[str],
    years: dict[int, Physical],
) -> Floats:
    count = len(given.numbers)
    result = np.empty((count, len(measures)))
    if count == 0:
        return result
    if count > BLOCK:
        keep_memory()
    shared = BuildInputs(case, build, given.rows(slice(1)))
    assert shared.timetable and shared.calendar.size and shared.production.size  # blocks share them
    physical, group = _physical_groups(shared, given, years)

    def run(first: int) -> None:
        rows = slice(first, min(first + BLOCK, count))
        inputs = shared.anew(given.numbers[rows])
        ledger = run_ledger(inputs, physical, group[rows])
        check_balances(inputs, ledger)
        measurer = Measurer(inputs, physical, ledger, group[rows])
        for j, name in enumerate(measures):
            result[rows, j] = measurer[name]

    # numpy and the kernels let other threads run; each block fills rows of its own
    with ThreadPoolExecutor(THREADS) as pool:
        list(pool.map(run, range(0, count, BLOCK)))
    return result


def _physical_groups(
    shared: BuildInputs, given: Scenarios, years: dict[int, Physical]
) -> tuple[Physical, NDArray[np.int64]]:
    """The first stage, once for each different set of its inputs; gates set its first month."""
    case, build, count = shared.whole, shared.name, len(given.numbers)
    known = input_table(case)
    gates = [path for path in given.places if is_gate_month(path)]
    paths = [p for p in given.places if known[p].stage == "physical" and p not in gates]
    if not paths:
        month = int(shared.calendar[shared.start])
        if month not in years:
            years[month] = run_physical(shared)
        return years[month], np.zeros(count, np.int64)
    told = Scenarios(
        {path: i for i, path in enumerate([*gates, *paths])},
        given.numbers[:, [given.places[path] for path in [*gates, *paths]]],
    )
    _, first, group = np.unique(
        told.numbers[:, len(gates) :], axis=0, return_index=True, return_inverse=True
    )
    physical = run_physical(BuildInputs(case, build, told.rows(first)))
    return physical, group.reshape(-1).astype(np.int64)


def _check_names(measures: Sequence[str], builds: list[str], case: Case) -> None:
    for name in measures:
        if name not in GROUPS:
            known = ", ".join(MEASURES)
            raise NotFoundError(f"There is no measure {name!r}; known are {known}.")
    for build in builds:
        if build not in case.builds:
            known = ", ".join(case.builds)
            raise NotFoundError(f"There is no build {build!r}; known are {known}.")


def _check_values(table: pd.DataFrame, paths: list[str], known: Mapping[str, Input]) -> None:
    faults = []
    for path in paths:
        for i in _outside(table[path], known[path]):
            faults.append(_value_fault(table.index[i], table[path].iloc[i], known[path]))
    if faults:
        raise CaseError(faults)


def _outside(column: pd.Series, known: Input) -> NDArray[np.int64]:
    """The places of rows whose value is no number or outside the limits of its input."""
    plain = column.dtype.kind in "fi"
    numbers = column if plain else column.map(lambda v: v if _is_number(v) else np.nan)
    values = numbers.to_numpy(float)
    good = np.isfinite(values) & (values >= known.spec["ge"]) & (values <= known.spec["le"])
    return np.flatnonzero(~good)


def _is_number(value: Any) -> bool:
    return isinstance(value, Real) and not isinstance(value, bool)


def _value_fault(row: Any, value: Any, known: Input) -> Fault:
    given, allowed, remedy = f"is {value!r}", "allowed is a number", "correct it"
    try:
        check_number(_plain(value), known.spec)
    except PydanticCustomError as error:
        context = error.context or {}
        given, allowed, remedy = context["given"], context["allowed"], context["remedy"]
    what = f"row {row!r}, {known.label} ({known.path})"
    return Fault("scenarios", None, what, given, allowed, remedy)
