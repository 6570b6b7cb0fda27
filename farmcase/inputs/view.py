"""The case as one build sees it while it is being checked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from farmcase.errors import Fault
from farmcase.inputs.estimate import shown
from farmcase.inputs.faults import Origins, did_you_mean, listed


@dataclass(frozen=True)
class View:
    """Raw inputs, the records that could be read from them, and where each came from.

    `build` is the build that looks; "" stands for the base of the case.
    """

    build: str
    raw: dict[str, Any]
    parts: Mapping[str, Any]
    origins: Origins
    changed: frozenset[str] = frozenset()  # the paths that the build changes

    def is_whole(self, table: str) -> bool:
        """Whether every row of a table could be taken."""
        origins = self.origins
        needed = any(column.startswith(f"{table}.") for column in origins.absent)
        return table in self.raw and table not in origins.incomplete and not needed

    def mine(self, section: str, **wanted: str) -> dict[str, Mapping[str, Any]]:
        """The raw values of a section's records that belong to the build, by id."""
        return {
            identity: values
            for identity, values in self.raw.get(section, {}).items()
            if {"all", self.build} & set(str(values.get("build", "all")).split())
            and all(values.get(field) == word for field, word in wanted.items())
        }

    def records(self, section: str) -> dict[str, Any]:
        """The records of a section that belong to the build and could be read, by id."""
        mine = self.mine(section)
        return {k: v for k, v in self.parts.get(section, {}).items() if k in mine}

    def grown(self) -> dict[str, None]:
        """The crops that the build grows: those that the plans of its rooms name."""
        if "output" in self.raw:
            return {str(self.raw["output"].get("crop")): None}
        plans, grown = self.raw.get("plan", {}), {}
        for room in self.mine("rooms", kind="fruiting"):
            shares = plans.get(room, {}).get("start_share_by_month")
            grown.update(dict.fromkeys(shares if isinstance(shares, Mapping) else ()))
        return grown

    def blamed(self, record: str, *names: str) -> str:
        """The path of the field to correct: the one that the build changes, or else the first."""
        paths = [f"{record}.{name}" for name in names]
        return next((path for path in paths if path in self.changed), paths[0])

    def unknown(self, path: str, name: str, known: Iterable[str]) -> Fault:
        """A fault: a name that stands nowhere."""
        names = list(known)
        given, allowed = f"is {shown(name)}", f"known are {listed(names)}"
        return self.origins.at(path, given, allowed, did_you_mean(name, names))
