"""Levers: inputs that a board moves together, each a set of paths scaled by one number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from farmcase.inputs.case import Case
from farmcase.inputs.table import Input, bare, input_table
from farmcase.words import levers as say


@dataclass(frozen=True)
class Lever:
    """Paths that move together, with their likely values and how far they may be scaled."""

    name: str
    label: str
    likely: Mapping[str, float]
    most: float  # the largest scale that keeps every path within its limits

    def scaled(self, scale: float) -> dict[str, float]:
        """The values of its paths at a scale."""
        return {path: value * scale for path, value in self.likely.items()}


def common_levers(case: Case) -> dict[str, Lever]:
    """Price, yield, wage, tariff, and the build cost of each build; only those that hold money."""
    table = input_table(case)
    fields = {
        "price": ("sales", "price_per_kg"),
        "yield": ("crops", "biological_efficiency_share"),
    }
    levers = {
        name: _lever(name, say.LABELS[name], table, _paths(table, *where))
        for name, where in fields.items()
    }
    tariffs = [
        *_paths(table, "carriers", "price_per_kwh"),
        *_paths(table, "bands", "price_per_kwh"),
    ]
    levers["tariff"] = _lever("tariff", say.LABELS["tariff"], table, tariffs)
    wages = [*_paths(table, "pay", "wage_per_hour"), "own_work.opportunity_wage_per_hour"]
    levers["wage"] = _lever("wage", say.LABELS["wage"], table, wages)
    for build in case.builds:
        rows = [
            f"capital.{i}.unit_cost"
            for i, row in case.capital.items()
            if row.build.split() == [build]
        ]
        name = f"build_cost_{build}"
        levers[name] = _lever(name, say.build_cost(case.builds[build].label), table, rows)
    return {name: lever for name, lever in levers.items() if any(lever.likely.values())}


def _paths(table: Mapping[str, Input], section: str, field: str) -> list[str]:
    return [
        path
        for path in table
        if bare(path).startswith(f"{section}.") and path.endswith(f".{field}")
    ]


def _lever(name: str, label: str, table: Mapping[str, Input], paths: list[str]) -> Lever:
    likely = {path: table[path].likely for path in paths}
    limits = [table[p].spec["le"] / value for p, value in likely.items() if value > 0]
    return Lever(name, label, likely, min(limits, default=1.0))
