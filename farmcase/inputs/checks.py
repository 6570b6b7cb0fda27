"""What must hold between the records of a case: names that exist, builds that are whole.

Works on whatever could be read, so that all faults of a case are listed at once. A name counts as
known when it stands in the raw files, even if its own record has a fault of its own. Each build is
checked as it will be run: the base of the case with what is named under its `with`.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping
from typing import Any

from farmcase.errors import CaseError, Fault
from farmcase.inputs.box_checks import box_faults
from farmcase.inputs.crop_checks import crop_faults
from farmcase.inputs.estimate import shown
from farmcase.inputs.faults import Origins, did_you_mean, listed, validate
from farmcase.inputs.finance_checks import finance_faults
from farmcase.inputs.fit import fit_faults
from farmcase.inputs.reference import reference_table
from farmcase.inputs.room_checks import room_faults
from farmcase.inputs.schema import NAMED, SINGLE, TABLES, model_of, put, split_path, tidy
from farmcase.inputs.view import View

_WITH_BUILD = [name for name, m in {**NAMED, **TABLES}.items() if "build" in m.model_fields]


def cross_check(
    parts: Mapping[str, Any], raw: dict[str, Any], origins: Origins, build: str | None = None
) -> list[Fault]:
    """Every fault between records, for every build or for one.

    A fault that several builds share may stand there several times.
    """
    raw = tidy(raw)
    base = View("", raw, parts, origins)
    try:
        known = _known(base)
    except CaseError as error:
        return list(error.faults)
    faults = [*_names(base, known), *_build_words(base), *finance_faults(base)]
    for name in [build] if build else raw.get("builds", {}):
        view, wrong = _view_of(name, base)
        faults += wrong
        faults += [*_names(view, known), *_needs(view), *_plans(view), *_recipes(view)]
        faults += [*fit_faults(view), *room_faults(view), *box_faults(view), *crop_faults(view)]
        faults += finance_faults(view)
    return faults


def _known(view: View) -> dict[str, set[str]]:
    """What each field that names something may name."""
    raw, folder = view.raw, view.origins.folder
    species = reference_table("species", folder).values()
    known = {
        "containers.kind": set(reference_table("containers", folder)),
        "crops.species": {row.get("species") or "" for row in species},
        "capital.scope": set(reference_table("scope", folder)),
        "rooms.container": set(raw.get("containers", {})),
        "machines.room": set(raw.get("rooms", {})),
        "machines.carrier": set(raw.get("carriers", {})),
        "vessels.carrier": set(raw.get("carriers", {})),
        "labour.pay": {"own", *raw.get("pay", {})},
        "sales.crop": set(raw.get("crops", {})),
        "sales.season": set(raw.get("seasons", {})),
    }
    if view.is_whole("substrate"):
        known["crops.recipe"] = {str(r.get("recipe")) for r in raw["substrate"].values()}
    return known


def _names(view: View, known: Mapping[str, set[str]]) -> Iterable[Fault]:
    """Names in one record that must be ids of another section or of a reference table."""
    for where, names in known.items():
        section, field = where.split(".")
        if where in view.origins.absent:
            continue
        needed = model_of(section).model_fields[field].is_required()
        for identity, values in view.raw.get(section, {}).items():
            value = values.get(field)
            if isinstance(value, str) and value not in names and (value or needed):
                yield view.unknown(f"{section}.{identity}.{field}", value, names)
    crops = view.raw.get("crops", {})
    named = view.raw.get("output", {}).get("crop")
    if isinstance(named, str) and named not in crops:
        yield view.unknown("output.crop", named, crops)
    for room, plan in view.raw.get("plan", {}).items():
        shares = plan.get("start_share_by_month")
        for crop in shares if isinstance(shares, Mapping) else ():
            if crop not in crops:
                yield view.unknown(f"plan.{room}.start_share_by_month.{crop}", crop, crops)
    for build, values in view.raw.get("builds", {}).items():
        scope = values.get("scope")
        for item in scope if isinstance(scope, Mapping) else ():
            if item not in known["capital.scope"]:
                path = f"builds.{build}.scope.{item}"
                yield view.unknown(path, item, known["capital.scope"])


def _build_words(view: View) -> Iterable[Fault]:
    """The builds that each record says it belongs to."""
    builds = view.raw.get("builds", {})
    for section in _WITH_BUILD:
        for identity, values in view.raw.get(section, {}).items():
            words, path = values.get("build", "all"), f"{section}.{identity}.build"
            if not isinstance(words, str):
                continue
            if not words.split():
                allowed = f"known are all, {listed(builds)}"
                yield view.origins.at(path, "is empty", allowed, "write all, or name the builds")
            for name in words.split():
                if name != "all" and name not in builds:
                    allowed = f"known are all, {listed(builds)}"
                    advice = did_you_mean(name, {"all", *builds}, "builds")
                    yield view.origins.at(path, f"names the build {shown(name)}", allowed, advice)


def _needs(view: View) -> Iterable[Fault]:
    """What every build must have, and what its records lean on."""
    build, at = view.build, view.origins.at
    for table in ("capital", "labour"):
        if view.is_whole(table) and not view.mine(table):
            given, remedy = f"has no rows in {table}.csv", f"add rows with build = {build}"
            yield at(f"builds.{build}", given, "every build needs at least one", remedy)
    if "output" not in view.raw and not view.mine("rooms", kind="fruiting"):
        allowed, remedy = "every build needs at least one", "add one, or name the build there"
        yield at(f"builds.{build}", "has no fruiting room", allowed, remedy)
    grown = view.grown()
    sold = [row for row in view.mine("sales").values() if row.get("crop") in grown]
    if view.is_whole("sales") and grown and not sold:
        allowed = "every build needs an outlet for a crop it grows"
        remedy = f"add rows with build = {build}"
        yield at(f"builds.{build}", "sells nothing of what it grows", allowed, remedy)
    for section, field, other in _LEANS_ON:
        for identity, values in view.mine(section).items():
            name = values.get(field)
            if not isinstance(name, str) or name not in view.raw.get(other, {}):
                continue
            if name not in view.mine(other):
                given = f"is {shown(name)}, which the build {shown(build)} does not have"
                allowed, remedy = "both must belong to the same builds", "correct one of the two"
                yield at(f"{section}.{identity}.{field}", given, allowed, remedy)


_LEANS_ON = (
    ("rooms", "container", "containers"),
    ("machines", "room", "rooms"),
)


def _plans(view: View) -> Iterable[Fault]:
    rooms, plans = view.raw.get("rooms", {}), view.raw.get("plan", {})
    fruiting = [name for name, room in rooms.items() if room.get("kind") == "fruiting"]
    for room in plans:
        if room not in fruiting:
            given, allowed = "is for no fruiting room", f"fruiting rooms are {listed(fruiting)}"
            yield view.origins.at(f"plan.{room}", given, allowed, did_you_mean(room, fruiting))
    for room in fruiting:
        if room not in plans:
            allowed, remedy = "every fruiting room needs one", f"add a section [plan.{room}]"
            yield view.origins.at(f"rooms.{room}", "has no crop plan", allowed, remedy)
    for room, plan in view.records("plan").items():
        months = zip(*plan.start_share_by_month.values(), strict=True)
        most = max(sum(month) for month in months)
        if most > 1 + 1e-9:
            given, allowed = f"adds up to {most:g} in a month", "the crops share at most 1"
            path = f"plan.{room}.start_share_by_month"
            yield view.origins.at(path, given, allowed, "lower a share")


def _recipes(view: View) -> Iterable[Fault]:
    for identity, crop in view.records("crops").items():
        if crop.flushes_kept > len(crop.flush_shares):
            given, allowed = f"is {crop.flushes_kept}", f"{len(crop.flush_shares)} have a share"
            remedy = "keep no more flushes than flush_shares names"
            yield view.origins.at(f"crops.{identity}.flushes_kept", given, allowed, remedy)
    if not view.is_whole("substrate"):
        return
    known = {row.get("recipe") for row in view.raw["substrate"].values()}
    mine = {row.get("recipe") for row in view.mine("substrate").values()}
    for identity in view.grown():
        recipe = view.raw.get("crops", {}).get(identity, {}).get("recipe")
        if isinstance(recipe, str) and recipe in known and recipe not in mine:
            given = f"is {shown(recipe)}, of which {shown(view.build)} has no rows"
            allowed = "every crop a build grows needs rows in substrate.csv"
            remedy = "add the build to the rows"
            yield view.origins.at(f"crops.{identity}.recipe", given, allowed, remedy)
    if len(view.records("substrate")) == len(view.mine("substrate")):
        for name in sorted(str(recipe) for recipe in mine):
            yield from _recipe(view, name)


def _recipe(view: View, name: str) -> Iterable[Fault]:
    rows = {i: r for i, r in view.records("substrate").items() if r.recipe == name}
    sources = {row.substrate_source for row in rows.values()}
    if len(sources) > 1:
        given = f"differs within the recipe {shown(name)} ({listed(sources)})"
        path = f"substrate.{list(rows)[-1]}.substrate_source"
        yield view.origins.at(path, given, "one recipe has one source", "use a second recipe name")
    if sources == {"own"}:
        dry = {i: r for i, r in rows.items() if r.role in ("base", "supplement", "mineral")}
        total = sum(row.share.likely for row in dry.values())
        if abs(total - 1) > 0.005:
            given = f"and the other dry shares of {shown(name)} add up to {total:g}"
            allowed = "base, supplement and mineral together are 1"
            path = f"substrate.{next(iter(dry or rows))}.share"
            yield view.origins.at(path, given, allowed, "correct the shares")


def _view_of(build: str, base: View) -> tuple[View, list[Fault]]:
    """The case with the named changes of a build, and the faults of those changes."""
    changes = base.raw["builds"][build].get("with", {})
    origins, raw, parts = base.origins.copy(), dict(base.raw), dict(base.parts)
    faults: list[Fault] = []
    touched: dict[tuple[str, str], None] = {}
    for path, value in changes.items():
        origins.places[path] = base.origins.find(f"builds.{build}.with.{path}")
        section, identity, _ = split_path(path)
        if section in raw and (section, identity) not in touched:
            raw[section] = copy.copy(raw[section])
            if identity in raw[section]:
                raw[section][identity] = copy.copy(raw[section][identity])
        inner = section == "builds" and ".with." in path
        fault = put({} if inner else raw, path, value, origins)
        if fault:
            faults.append(fault)
        else:
            touched[section, identity] = None
    for section, identity in touched:
        prefix = ".".join(p for p in (section, identity) if p and p != "heading")
        values = raw[section][identity] if identity else raw[section]
        record, wrong = validate(model_of(section), values, prefix, origins)
        faults += wrong
        if section == "heading" or section in SINGLE:
            parts[section] = record
        else:
            kept = {k: v for k, v in parts[section].items() if k != identity}
            parts[section] = {**kept, identity: record} if record else kept
    return View(build, raw, parts, origins, frozenset(changes)), faults
