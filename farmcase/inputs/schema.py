"""Which sections and tables a case has, and how a dotted path finds its way into them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from farmcase.errors import Fault
from farmcase.inputs import building as b
from farmcase.inputs import finance as f
from farmcase.inputs import growing as g
from farmcase.inputs import rows as r
from farmcase.inputs import sections as s
from farmcase.inputs.estimate import ORIGIN_PARTS, Estimate, Record
from farmcase.inputs.faults import Origins, did_you_mean

# One section each: key in case.toml -> class
SINGLE: dict[str, type[Record]] = {
    "who": s.Who,
    "site": s.Site,
    "standing": s.Standing,
    "money": s.Money,
    "inflation": s.Inflation,
    "own_work": s.OwnWork,
    "water": s.Water,
    "starts": g.Starts,
    "store": s.Store,
    "learning": g.Learning,
    "output": g.GivenOutput,
    "leaving": b.Leaving,
    "vat": f.Vat,
    "tax": f.Tax,
}
# Sections of named records: [crops.grey_oyster] and so on
NAMED: dict[str, type[Record]] = {
    "builds": s.Build,
    "carriers": s.Carrier,
    "pay": s.Pay,
    "containers": b.Container,
    "rooms": b.Room,
    "climate": b.Climate,
    "crops": g.Crop,
    "plan": g.Plan,
    "vessels": g.Vessel,
    "machines": g.Machine,
    "loans": f.Loan,
    "leases": f.Lease,
    "shares": f.Share,
    "grants": f.Grant,
    "gates": f.Gate,
    "moves": f.Move,
    "seasons": g.Season,
    "solar": b.Solar,
    "bands": b.Band,
}
TABLES: dict[str, type[r.Row]] = {
    "capital": r.CapitalRow,
    "substrate": r.SubstrateRow,
    "labour": r.LabourRow,
    "sales": r.SalesRow,
    "overheads": r.OverheadRow,
    "income": r.IncomeRow,
}
OPTIONAL_TABLES = ("income",)
NEEDED = ("who", "money", "inflation", "own_work", "store", "builds", "crops")
NEEDED_WITH_ROOMS = (
    "site",
    "starts",
    "rooms",
    "climate",
    "plan",
    "learning",
    "carriers",
    "water",
    "leaving",
)
ROW_SECTIONS = (*NAMED, *TABLES)


def model_of(section: str) -> type[Record]:
    """The class of a section's records."""
    return s.Heading if section == "heading" else (SINGLE | NAMED | TABLES)[section]


def split_path(path: str) -> tuple[str, str, str]:
    """Section, id and field of a path; the id is "" for single sections and the heading."""
    parts = path.split(".")
    if len(parts) == 1:
        return "heading", "", parts[0]
    if parts[0] in ROW_SECTIONS:
        return parts[0], parts[1], ".".join(parts[2:])
    return parts[0], "", ".".join(parts[1:])


def flatten(changes: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    """Nested tables of changes as path -> value; what a field holds is a value, table or not."""
    flat: dict[str, Any] = {}
    for key, value in changes.items():
        path = f"{prefix}.{key}" if prefix else key
        if isinstance(value, Mapping) and not _is_field(path):
            flat.update(flatten(value, path))
        else:
            flat[path] = value
    return flat


def _is_field(path: str) -> bool:
    section, _, name = split_path(path)
    known = section == "heading" or section in {**SINGLE, **NAMED, **TABLES}
    return known and name in model_of(section).model_fields


def tidy(raw: Mapping[str, Any]) -> dict[str, Any]:
    """Raw inputs in the shape that checks between records count on: what is no section is empty.

    Whatever has another shape has a fault of its own already.
    """
    shaped = dict(raw)
    for section in {*SINGLE, *ROW_SECTIONS} & set(raw):
        values = raw[section] if isinstance(raw[section], Mapping) else {}
        if section in ROW_SECTIONS:
            values = {k: dict(v) if isinstance(v, Mapping) else {} for k, v in values.items()}
        shaped[section] = values
    for build in shaped.get("builds", {}).values():
        if not isinstance(build.get("with", {}), Mapping):
            build["with"] = {}
    return shaped


def put(raw: dict[str, Any], path: str, value: Any, origins: Origins) -> Fault | None:
    """Put one value into raw inputs, or say why its path leads nowhere."""
    section, identity, name = split_path(path)
    records = raw.get(section, {})
    if section == "builds" and name.startswith("with.") and identity in records:
        changed = records[identity].setdefault("with", {})
        changed[name[5:]] = _with_origin(value, changed.get(name[5:]))
        return None
    if section in ROW_SECTIONS and identity in records:
        known = [f"{section}.{identity}.{f}" for f in _fields(model_of(section))]
        holder = records[identity]
    elif section == "heading" or section in SINGLE:
        prefix = "" if section == "heading" else f"{section}."
        known = [f"{prefix}{f}" for f in _fields(model_of(section))]
        holder = raw.setdefault(section, {})
    else:
        known = [f"{section}.{i}.{name}" for i in records] or [*SINGLE, *ROW_SECTIONS]
        holder = {}
    if path not in known or (section in ROW_SECTIONS and identity not in records):
        nearest = did_you_mean(path, known, "paths")
        return origins.at(path, "leads nowhere", "a path of this case is needed", nearest)
    holder[name] = _with_origin(value, holder.get(name))
    return None


def _fields(model: type[Record]) -> list[str]:
    return [name for name, field in model.model_fields.items() if field.alias is None]


def _with_origin(value: Any, before: Any) -> Any:
    """A plain number with the source, status and date of the table that it replaces."""
    if not isinstance(before, Mapping) or isinstance(value, Mapping | Estimate):
        return value
    kept = {k: v for k, v in before.items() if k in ORIGIN_PARTS}
    return {**kept, "likely": value} if kept else value
