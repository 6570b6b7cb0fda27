"""What must hold between the records of a case: names that exist, racks that fit, builds that cost.

Works on whatever could be read, so that all faults of a case are listed at once. A name counts as
known when it stands in the raw files, even if its own record has a fault of its own.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping
from typing import Any

from babel import Locale, UnknownLocaleError
from babel.numbers import is_currency

from farmcase.errors import Fault
from farmcase.inputs.faults import Origins, did_you_mean, listed, validate
from farmcase.inputs.reference import container_kinds, scope_items, species_known
from farmcase.inputs.schema import model_of, put, split_path

FORMAT = 1
Parts = Mapping[str, Any]


def cross_check(parts: Parts, raw: dict[str, Any], origins: Origins) -> list[Fault]:
    """Every fault between records."""
    faults = [*_heading(parts, origins), *_names(parts, raw, origins)]
    faults += [*_build_words(parts, raw, origins), *_capital_of_builds(parts, raw, origins)]
    faults += [*_plans(parts, raw, origins), *_recipes(parts, raw, origins)]
    faults += _own_rules(parts, origins)
    return faults + _with_paths(raw, origins)


def _heading(parts: Parts, origins: Origins) -> Iterable[Fault]:
    heading = parts.get("heading")
    if heading is None:
        return
    if heading.format != FORMAT:
        yield origins.at(
            "format",
            f"is {heading.format}",
            f"this version reads format {FORMAT}",
            "use a newer farmcase for a newer format, or correct the number",
        )
    if not is_currency(heading.currency):
        yield origins.at(
            "currency",
            f"is {heading.currency!r}",
            "allowed is a three-letter ISO 4217 code",
            "write for example EUR, GBP or USD",
        )
    try:
        Locale.parse(heading.locale)
    except (UnknownLocaleError, ValueError):
        yield origins.at(
            "locale",
            f"is {heading.locale!r}",
            "allowed is a language and country",
            "write for example en_IE",
        )


def _names(parts: Parts, raw: Parts, origins: Origins) -> Iterable[Fault]:
    """Names in one record that must be ids of another section or of a reference table."""
    known = {
        "containers.kind": container_kinds(),
        "crops.species": species_known(),
        "rooms.container": {"", *raw.get("containers", {})},
        "machines.room": {"", *raw.get("rooms", {})},
        "machines.carrier": set(raw.get("carriers", {})),
        "vessels.carrier": set(raw.get("carriers", {})),
        "labour.pay": {"own", *raw.get("pay", {})},
        "sales.crop": set(raw.get("crops", {})),
        "sales.season": {"", *raw.get("seasons", {})},
        "capital.gate": {"", *raw.get("gates", {})},
        "capital.scope": {"", *scope_items()},
        "crops.recipe": {row.recipe for row in parts.get("substrate", {}).values()},
    }
    for where, names in known.items():
        section, field = where.split(".")
        if where == "crops.recipe" and _has_faulty_rows(parts, raw, "substrate"):
            continue
        for identity, record in parts.get(section, {}).items():
            value = getattr(record, field)
            if value not in names:
                yield origins.at(
                    f"{section}.{identity}.{field}",
                    f"is {value!r}",
                    f"known are {listed(n for n in names if n)}",
                    did_you_mean(value, (n for n in names if n)),
                )
    output = parts.get("output")
    if output and output.crop not in raw.get("crops", {}):
        given, allowed = f"is {output.crop!r}", f"known are {listed(raw.get('crops', {}))}"
        yield origins.at(
            "output.crop", given, allowed, did_you_mean(output.crop, raw.get("crops", {}))
        )


def _has_faulty_rows(parts: Parts, raw: Parts, section: str) -> bool:
    return len(parts.get(section, {})) < len(raw.get(section, {})) or not raw.get(section)


def _build_words(parts: Parts, raw: Parts, origins: Origins) -> Iterable[Fault]:
    builds = raw.get("builds", {})
    for section, records in parts.items():
        if not isinstance(records, Mapping) or section == "builds":
            continue
        for identity, record in records.items():
            for name in getattr(record, "build", "").split():
                if name != "all" and name not in builds:
                    yield origins.at(
                        f"{section}.{identity}.build",
                        f"names the build {name!r}",
                        f"known are all, {listed(builds)}",
                        did_you_mean(name, {"all", *builds}),
                    )
    for identity, build in parts.get("builds", {}).items():
        for item in build.scope:
            if item not in scope_items():
                yield origins.at(
                    f"builds.{identity}.scope.{item}",
                    "is not an item of the scope list",
                    "allowed are the ids of scope.csv",
                    did_you_mean(item, scope_items()),
                )


def _capital_of_builds(parts: Parts, raw: Parts, origins: Origins) -> Iterable[Fault]:
    if "capital" not in raw or _has_faulty_rows(parts, raw, "capital"):
        return
    rows = parts["capital"].values()
    for name in raw.get("builds", {}):
        if not any({"all", name} & set(row.build.split()) for row in rows):
            yield origins.at(
                f"builds.{name}",
                "has no rows in capital.csv",
                "every build needs at least one",
                f"add rows with build = {name}",
            )


def _plans(parts: Parts, raw: Parts, origins: Origins) -> Iterable[Fault]:
    for room, plan in parts.get("plan", {}).items():
        path = f"plan.{room}"
        if raw.get("rooms", {}).get(room, {}).get("kind") != "fruiting":
            rooms = [r for r, v in raw.get("rooms", {}).items() if v.get("kind") == "fruiting"]
            yield origins.at(
                path,
                "plans a room that is not a fruiting room",
                f"fruiting rooms are {listed(rooms)}",
                did_you_mean(room, rooms),
            )
        for crop in plan.start_share_by_month:
            if crop not in raw.get("crops", {}):
                yield origins.at(
                    f"{path}.start_share_by_month.{crop}",
                    "names an unknown crop",
                    f"known are {listed(raw.get('crops', {}))}",
                    did_you_mean(crop, raw.get("crops", {})),
                )
        totals = [sum(month) for month in zip(*plan.start_share_by_month.values(), strict=True)]
        if any(total > 1 + 1e-9 for total in totals):
            yield origins.at(
                f"{path}.start_share_by_month",
                f"adds up to {max(totals):g} in a month",
                "the crops of one room share at most 1",
                "lower a share",
            )
    for room, values in raw.get("rooms", {}).items():
        if values.get("kind") == "fruiting" and room not in raw.get("plan", {}):
            yield origins.at(
                f"rooms.{room}",
                "has no crop plan",
                "every fruiting room needs one",
                f"add a section [plan.{room}]",
            )


def _recipes(parts: Parts, raw: Parts, origins: Origins) -> Iterable[Fault]:
    if _has_faulty_rows(parts, raw, "substrate"):
        return
    recipes: dict[tuple[str, str], list[Any]] = {}
    for identity, row in parts["substrate"].items():
        recipes.setdefault((row.recipe, row.build), []).append((identity, row))
    for name in {row.recipe for row in parts["substrate"].values()}:
        rows = [(i, row) for i, row in parts["substrate"].items() if row.recipe == name]
        sources = {row.substrate_source for _, row in rows}
        if len(sources) > 1 and len({row.build for _, row in rows}) == 1:
            yield origins.at(
                f"substrate.{rows[-1][0]}.substrate_source",
                f"differs within the recipe {name!r} ({listed(sources)})",
                "one recipe has one source",
                "use a second recipe name",
            )
        if sources == {"own"}:
            dry = sum(
                row.share.likely for _, row in rows if row.role in ("base", "supplement", "mineral")
            )
            if abs(dry - 1) > 0.005 and len({row.build for _, row in rows}) == 1:
                yield origins.at(
                    f"substrate.{rows[0][0]}.share",
                    f"and the other dry shares of {name!r} add up to {dry:g}",
                    "dry shares of base, supplement and mineral add up to 1",
                    "correct the shares",
                )


def _own_rules(parts: Parts, origins: Origins) -> Iterable[Fault]:
    for identity, crop in parts.get("crops", {}).items():
        if crop.flushes_kept > len(crop.flush_shares):
            yield origins.at(
                f"crops.{identity}.flushes_kept",
                f"is {crop.flushes_kept}",
                f"flush_shares has {len(crop.flush_shares)} entries",
                "keep no more flushes than there are shares",
            )
    for identity, row in parts.get("capital", {}).items():
        if row.cost_currency and not is_currency(row.cost_currency):
            yield origins.at(
                f"capital.{identity}.cost_currency",
                f"is {row.cost_currency!r}",
                "allowed is a three-letter ISO 4217 code, or blank for the case's own currency",
                "correct it",
            )


def _with_paths(raw: Parts, origins: Origins) -> list[Fault]:
    """Each named change of a build, tried on the record it changes."""
    faults: list[Fault] = []
    for build, values in raw.get("builds", {}).items():
        changes = values.get("with", {}) if isinstance(values, Mapping) else {}
        for path, value in changes.items():
            place = origins.find(f"builds.{build}.with.{path}")
            faults += _try_change(raw, path, value, Origins({path.split(".")[0]: place}))
    return faults


def _try_change(raw: Parts, path: str, value: Any, origins: Origins) -> list[Fault]:
    section, identity, _ = split_path(path)
    trial = {**raw, section: copy.deepcopy(raw.get(section, {}))}
    fault = put(trial, path, value, origins)
    if fault:
        return [fault]
    prefix = ".".join(part for part in (section, identity) if part)
    before = raw[section][identity] if identity else raw[section]
    after = trial[section][identity] if identity else trial[section]
    already = validate(model_of(section), before, prefix, origins)[1]
    return [] if already else validate(model_of(section), after, prefix, origins)[1]
