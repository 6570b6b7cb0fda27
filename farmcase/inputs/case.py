"""The case: every input of a business case, frozen, checked, and varied by named changes."""

from __future__ import annotations

import copy
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from farmcase.errors import CaseError, Fault, NotFoundError
from farmcase.inputs import building as b
from farmcase.inputs import finance as f
from farmcase.inputs import growing as g
from farmcase.inputs import rows as r
from farmcase.inputs import sections as s
from farmcase.inputs.checks import cross_check
from farmcase.inputs.defaults import unstated_responses, with_defaults
from farmcase.inputs.estimate import ORIGIN_PARTS, Estimate, Record, read_estimate, shown
from farmcase.inputs.faults import Origins, listed, validate
from farmcase.inputs.frozen import Frozen
from farmcase.inputs.schema import (
    NAMED,
    NEEDED,
    NEEDED_WITH_ROOMS,
    ROW_SECTIONS,
    SINGLE,
    TABLES,
    put,
    split_path,
)


@dataclass(frozen=True, eq=False)
class Case:
    """All inputs of a business case; read with `open_case`, changed only as a copy by `vary`.

    Sections are attributes (`case.money.discount_rate_per_year`), named records and table rows
    dictionaries by id (`case.sales["corner_shops"].price_per_kg`).
    """

    heading: s.Heading
    who: s.Who
    money: s.Money
    inflation: s.Inflation
    own_work: s.OwnWork
    store: s.Store
    site: s.Site | None = None
    standing: s.Standing = field(default_factory=s.Standing)
    water: s.Water | None = None
    starts: g.Starts | None = None
    learning: g.Learning | None = None
    output: g.GivenOutput | None = None
    leaving: b.Leaving | None = None
    vat: f.Vat | None = None
    tax: f.Tax | None = None
    builds: Mapping[str, s.Build] = field(default_factory=Frozen)
    carriers: Mapping[str, s.Carrier] = field(default_factory=Frozen)
    pay: Mapping[str, s.Pay] = field(default_factory=Frozen)
    containers: Mapping[str, b.Container] = field(default_factory=Frozen)
    rooms: Mapping[str, b.Room] = field(default_factory=Frozen)
    climate: Mapping[str, b.Climate] = field(default_factory=Frozen)
    crops: Mapping[str, g.Crop] = field(default_factory=Frozen)
    plan: Mapping[str, g.Plan] = field(default_factory=Frozen)
    vessels: Mapping[str, g.Vessel] = field(default_factory=Frozen)
    machines: Mapping[str, g.Machine] = field(default_factory=Frozen)
    loans: Mapping[str, f.Loan] = field(default_factory=Frozen)
    leases: Mapping[str, f.Lease] = field(default_factory=Frozen)
    shares: Mapping[str, f.Share] = field(default_factory=Frozen)
    grants: Mapping[str, f.Grant] = field(default_factory=Frozen)
    gates: Mapping[str, f.Gate] = field(default_factory=Frozen)
    moves: Mapping[str, f.Move] = field(default_factory=Frozen)
    seasons: Mapping[str, g.Season] = field(default_factory=Frozen)
    solar: Mapping[str, b.Solar] = field(default_factory=Frozen)
    bands: Mapping[str, b.Band] = field(default_factory=Frozen)
    capital: Mapping[str, r.CapitalRow] = field(default_factory=Frozen)
    substrate: Mapping[str, r.SubstrateRow] = field(default_factory=Frozen)
    labour: Mapping[str, r.LabourRow] = field(default_factory=Frozen)
    sales: Mapping[str, r.SalesRow] = field(default_factory=Frozen)
    overheads: Mapping[str, r.OverheadRow] = field(default_factory=Frozen)
    income: Mapping[str, r.IncomeRow] = field(default_factory=Frozen)
    folder: Path | None = None
    raw: Mapping[str, Any] = field(default_factory=dict, repr=False)
    origins: Origins = field(default_factory=Origins, repr=False)
    changes: Mapping[str, Any] = field(default_factory=Frozen, repr=False)
    notes: tuple[str, ...] = ()

    def vary(self, changes: Mapping[str, Any]) -> Case:
        """A copy with named changes, checked by the same limits.

        Parameters
        ----------
        changes : path -> value, for example {"sales.corner_shops.price_per_kg": 9.2};
            a plain number becomes the likely value; low and high stay, and are stretched to
            take it in where it lies outside them

        Raises
        ------
        CaseError listing every fault of the changes
        """
        plain = {str(p): self._in_range(str(p), _plain(value)) for p, value in changes.items()}
        varied = self._changed(plain, None)
        return replace(varied, changes=Frozen({**self.changes, **plain}))

    def _in_range(self, path: str, value: Any) -> Any:
        """A new likely value with the range that the input has, where it has one."""
        before = self._estimate(path)
        if before is None or not before.is_uncertain:
            return value
        if isinstance(value, bool) or not isinstance(value, int | float):
            return value
        origin = {k: v for k, v in before.model_dump().items() if k in ORIGIN_PARTS and v}
        low, high = min(before.low, value), max(before.high, value)
        return {"low": low, "likely": value, "high": high, **origin}

    def _estimate(self, path: str) -> Estimate | None:
        """The number with a range at a path of the case, or of what a build changes."""
        section, identity, name = split_path(path)
        if section == "builds" and name.startswith("with.") and identity in self.builds:
            changed = self.builds[identity].with_.get(name.removeprefix("with."))
            spec = {"unit": "", "ge": -math.inf, "le": math.inf}
            ranged = isinstance(changed, Mapping) and "likely" in changed
            return read_estimate(changed, spec) if ranged else None
        try:
            record, field_name = self.record(path)
        except NotFoundError:
            return None
        value = getattr(record, field_name)
        return value if isinstance(value, Estimate) else None

    def _changed(self, changes: Mapping[str, Any], build: str | None) -> Case:
        """A copy with changes, checked as every build will run it, or as one build will."""
        raw = copy.deepcopy(dict(self.raw))
        origins = self.origins.copy()
        faults = []
        for path, value in changes.items():
            origins.places[path] = ("the change", None)
            section, identity, _ = split_path(path)
            if section == "climate" and identity in self.climate:  # one filled in from defaults
                filled = {"source": self.climate[identity].source, "status": "guess"}
                raw.setdefault("climate", {}).setdefault(identity, filled)
            fault = put(raw, path, value, origins)
            faults += [fault] if fault else []
        varied = build_case(raw, origins, faults, build)
        return replace(varied, changes=self.changes, notes=self.notes)

    def for_build(self, name: str) -> Case:
        """The case as one build sees it: base, its named changes, and only its own records.

        Plans are those of its rooms, in the order of the rooms; crops those that its plans name
        (or its given output); outlets those of its crops.

        Raises
        ------
        NotFoundError when no build has that name
        """
        if name not in self.builds:
            raise NotFoundError(f"There is no build {name!r}; known are {listed(self.builds)}.")
        return _seen_by(self, name)

    def _view(self, name: str) -> Case:
        changed = self._changed(self.builds[name].with_, name) if self.builds[name].with_ else self
        kept = {
            section: {k: v for k, v in getattr(changed, section).items() if _applies(v, name)}
            for section in ROW_SECTIONS
            if section != "builds"
        }
        for section in ("plan", "climate"):
            mine = kept[section]
            kept[section] = {room: mine[room] for room in kept["rooms"] if room in mine}
        if changed.output is None:
            grown = {crop for plan in kept["plan"].values() for crop in plan.start_share_by_month}
        else:
            grown = {changed.output.crop}
        kept["crops"] = {k: v for k, v in kept["crops"].items() if k in grown}
        kept["sales"] = {k: v for k, v in kept["sales"].items() if v.crop in grown}
        return replace(changed, **{section: Frozen(rows) for section, rows in kept.items()})

    def record(self, path: str) -> tuple[Record, str]:
        """The record that holds a path, and the name of the field in it.

        Raises
        ------
        NotFoundError when the path leads nowhere
        """
        section, identity, name = split_path(path)
        holder = getattr(self, section, None) if section in RECORD_FIELDS else None
        if identity:
            holder = holder.get(identity) if isinstance(holder, Mapping) else None
        if isinstance(holder, Record) and name in type(holder).model_fields:
            return holder, name
        raise NotFoundError(f"The path {path!r} leads nowhere in this case.")

    def all_records(self) -> Iterator[tuple[str, str, Record]]:
        """Every record with its section and id ("" for single sections), in file order."""
        for section in RECORD_FIELDS:
            holder = getattr(self, section)
            if isinstance(holder, Record):
                yield section, "", holder
            elif isinstance(holder, Mapping):
                for identity, record in holder.items():
                    yield section, identity, record


@lru_cache(maxsize=64)
def _seen_by(case: Case, build: str) -> Case:
    """A build's view of a case, made once: a case never changes."""
    return case._view(build)


RECORD_FIELDS = tuple(f.name for f in fields(Case) if f.name in {"heading", *SINGLE, *ROW_SECTIONS})


def _plain(value: Any) -> Any:
    """A number of numpy as one of Python, so that it can be checked and written."""
    return value.item() if hasattr(value, "item") else value


def _applies(record: Record, build: str) -> bool:
    names = getattr(record, "build", "all").split()
    return "all" in names or build in names


def build_case(
    raw: dict[str, Any],
    origins: Origins,
    faults: list[Fault] | None = None,
    build: str | None = None,
) -> Case:
    """A case from raw values, checked as every build will run it, or as the one named will.

    Raises
    ------
    CaseError listing every fault, those given and those found here
    """
    found = list(faults or [])
    given, raw, kept = raw, with_defaults(raw, origins.folder), origins
    origins = replace(origins, absent=origins.absent | unstated_responses(raw))
    heading, more = validate(s.Heading, raw.get("heading", {}), "", origins)
    found += more
    parts: dict[str, Any] = {"heading": heading}
    for section, model in SINGLE.items():
        if section in raw:
            parts[section], more = validate(model, raw[section], section, origins)
            found += more
    for section, model in {**NAMED, **TABLES}.items():
        parts[section], more = _many(model, raw.get(section, {}), section, origins)
        found += more
    found += _needed(raw, origins)
    found += cross_check(parts, raw, origins, build)
    if found:
        raise CaseError(in_order(found))
    return Case(**parts, folder=kept.folder, raw=given, origins=kept)


def row_faults(raw: Mapping[str, Any], origins: Origins) -> list[Fault]:
    """The faults within the rows of the tables, for a case whose case.toml cannot be read."""
    tables = {name: raw[name] for name in TABLES if name in raw}
    return [f for n, rows in tables.items() for f in _many(TABLES[n], rows, n, origins)[1]]


def _many(
    model: type[Record], raw: Any, section: str, origins: Origins
) -> tuple[Frozen, list[Fault]]:
    if not isinstance(raw, Mapping):
        given, remedy = f"is {shown(raw)}", f"write sections such as [{section}.first_one]"
        fault = origins.at(section, given, "allowed are named sections", remedy)
        return Frozen(), [fault]
    records, faults = {}, []
    for identity, values in raw.items():
        record, more = validate(model, values, f"{section}.{identity}", origins)
        faults += more
        if record is not None:
            records[identity] = record
    return Frozen(records), faults


def _needed(raw: Mapping[str, Any], origins: Origins) -> list[Fault]:
    wanted = NEEDED if "output" in raw else (*NEEDED, *NEEDED_WITH_ROOMS)
    return [
        origins.at(name, "is missing", f"the section [{name}] must be given", "add it to case.toml")
        for name in wanted
        if name not in raw or raw[name] == {}
    ]


def in_order(faults: Iterable[Fault]) -> list[Fault]:
    """Faults by file and line, none twice."""
    unique = dict.fromkeys(faults)
    return sorted(unique, key=lambda fault: (fault.file, fault.line or 0))
