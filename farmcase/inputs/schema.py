"""Which sections and tables a case has, and how a dotted path finds its way into them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from farmcase.errors import Fault
from farmcase.inputs import growing as g
from farmcase.inputs import rows as r
from farmcase.inputs import sections as s
from farmcase.inputs.estimate import Estimate, Record
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
}
# Sections of named records: [crops.grey_oyster] and so on
NAMED: dict[str, type[Record]] = {
    "builds": s.Build,
    "carriers": s.Carrier,
    "pay": s.Pay,
    "containers": g.Container,
    "rooms": g.Room,
    "crops": g.Crop,
    "plan": g.Plan,
    "vessels": g.Vessel,
    "machines": g.Machine,
    "loans": s.Loan,
    "grants": s.Grant,
    "gates": s.Gate,
    "seasons": g.Season,
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
NEEDED_WITH_ROOMS = ("site", "starts", "rooms", "plan", "learning", "carriers", "water")
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
    """Nested tables of changes as path -> value; a table of low, likely, high is a value."""
    flat: dict[str, Any] = {}
    for key, value in changes.items():
        path = f"{prefix}.{key}" if prefix else key
        if isinstance(value, Mapping) and "likely" not in value:
            flat.update(flatten(value, path))
        else:
            flat[path] = value
    return flat


def put(raw: dict[str, Any], path: str, value: Any, origins: Origins) -> Fault | None:
    """Put one value into raw inputs, or say why its path leads nowhere."""
    section, identity, name = split_path(path)
    if section == "builds" and name.startswith("with."):
        raw["builds"].setdefault(identity, {}).setdefault("with", {})[name[5:]] = value
        return None
    known: list[str] = []
    holder: Any
    if section in ROW_SECTIONS and identity in raw.get(section, {}):
        model = (NAMED | TABLES)[section]
        holder = raw[section][identity]
        known = [f"{section}.{identity}.{f}" for f in model.model_fields]
    elif (section == "heading" or section in SINGLE) and isinstance(raw.get(section, {}), dict):
        model = s.Heading if section == "heading" else SINGLE[section]
        holder = raw.setdefault(section, {})
        prefix = "" if section == "heading" else f"{section}."
        known = [f"{prefix}{f}" for f in model.model_fields]
    else:
        near = [f"{section}.{i}.{name}" for i in raw.get(section, {})] or list(ROW_SECTIONS)
        return origins.at(
            path, "leads nowhere", "allowed are paths of this case", did_you_mean(path, near)
        )
    if path not in known:
        return origins.at(
            path, "leads nowhere", "allowed are paths of this case", did_you_mean(path, known)
        )
    origin = holder.get(name)
    if isinstance(origin, Mapping) and not isinstance(value, Mapping | Estimate):
        kept = {k: v for k, v in origin.items() if k in ("source", "status", "date")}
        value = {**kept, "likely": value} if kept else value
    holder[name] = value
    return None
