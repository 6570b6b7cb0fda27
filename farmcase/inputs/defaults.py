"""What a case leaves out and a reference table knows: taken from there, with its range and source.

So it stands in the table of inputs like any other number, and a line in the case goes before it.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from farmcase.inputs.building import CLIMATE_KINDS
from farmcase.inputs.growing import RESPONSES, Crop
from farmcase.inputs.reference import reference_table

_FROM_PHYSICS = {
    "crops": ("spread_days", "pin_slowest_share"),
    "site": ("co2_outside_ppm", "ground_albedo"),
    "climate": ("fan_pressure_pa", "fan_efficiency_share"),
}
# Fields of a record and the row of the physics table that knows them.
_SOLAR = {"performance_share": "solar_performance_share"}
_LEAVING = {"spent_share": "spent_substrate_share"}
_VESSEL = {
    "hot_water": {"treat_to_c": "hot_water_bath_c", "hold_hours": "hot_water_bath_hours"},
    "steam": {"treat_to_c": "steam_c", "hold_hours": "steam_hours"},
    "sterilising": {"treat_to_c": "sterilising_c", "hold_hours": "sterilising_hours"},
    "cold_lime": {"treat_to_c": "water_supply_c", "hold_hours": "cold_lime_bath_hours"},
}
_BY_SHELL = {
    "leakage_changes_per_h": "leakage_{}_per_h",
    "bridging_w_per_m2_k": "bridging_{}_w_per_m2_k",
}
_NO_PLANT = {"source": "no plant: the room runs with its neighbours", "status": "guess"}


def with_defaults(raw: Mapping[str, Any], folder: Path | None) -> dict[str, Any]:
    """Raw inputs of a case with what it leaves out; what is given stays as it is."""
    filled = dict(raw)
    physics = reference_table("physics", folder)
    if isinstance(raw.get("site"), Mapping):
        known = {name: float(physics[name]["likely"]) for name in _FROM_PHYSICS["site"]}
        filled["site"] = _filled(raw["site"], known)
    if isinstance(raw.get("crops"), Mapping):
        responses = reference_table("responses", folder)
        filled["crops"] = {
            name: _crop(crop, responses, physics) if isinstance(crop, Mapping) else crop
            for name, crop in raw["crops"].items()
        }
    if isinstance(raw.get("leaving"), Mapping):
        filled["leaving"] = _filled(raw["leaving"], _named(physics, _LEAVING))
    if isinstance(raw.get("solar"), Mapping):
        known = _named(physics, _SOLAR)
        filled["solar"] = {
            name: _filled(panel, known) if isinstance(panel, Mapping) else panel
            for name, panel in raw["solar"].items()
        }
    if isinstance(raw.get("vessels"), Mapping):
        filled["vessels"] = {
            name: _vessel(vessel, physics, folder) if isinstance(vessel, Mapping) else vessel
            for name, vessel in raw["vessels"].items()
        }
    if isinstance(raw.get("rooms"), Mapping):
        filled["containers"] = _containers(raw, physics, folder)
        filled["climate"] = _climates(raw, physics, folder)
    return filled


def _filled(given: Mapping[str, Any], known: Mapping[str, Any]) -> dict[str, Any]:
    return {**given, **{name: value for name, value in known.items() if name not in given}}


def _pick(physics: Mapping[str, Mapping[str, str]], names: tuple[str, ...]) -> dict[str, Any]:
    return {name: _estimate(physics[name]) for name in names if name in physics}


def _named(physics: Mapping[str, Mapping[str, str]], rows: Mapping[str, str]) -> dict[str, Any]:
    return {name: _estimate(physics[row]) for name, row in rows.items() if row in physics}


def _estimate(row: Mapping[str, str]) -> dict[str, Any]:
    likely = float(row["likely"])
    value: dict[str, Any] = {
        "low": float(row["low"] or likely),
        "likely": likely,
        "high": float(row["high"] or likely),
    }
    return {**value, "source": row["source"], "status": row["status"]}


def _crop(
    crop: Mapping[str, Any],
    responses: Mapping[str, Mapping[str, str]],
    physics: Mapping[str, Mapping[str, str]],
) -> dict[str, Any]:
    """A crop with the responses of its species; those of its strain go before those of any."""
    mine = [row for row in responses.values() if row["species"] == crop.get("species")]
    known = _pick(physics, _FROM_PHYSICS["crops"])
    for strain in ("any", str(crop.get("strain", "any"))):
        for row in mine:
            if row["strain"] == strain and row["field"] in Crop.model_fields:
                known[row["field"]] = _estimate(row)
    return _filled(crop, known)


def _vessel(
    vessel: Mapping[str, Any], physics: Mapping[str, Mapping[str, str]], folder: Path | None
) -> dict[str, Any]:
    """A vessel with what its treatment asks for, and what its carrier leaves of the heat."""
    rows = {"start_c": "water_supply_c", **_VESSEL.get(str(vessel.get("treatment")), {})}
    known = _named(physics, rows) | _efficiency("efficiency_share", vessel.get("carrier"), folder)
    return _filled(vessel, known)


def _efficiency(name: str, carrier: Any, folder: Path | None) -> dict[str, Any]:
    """Share of a fuel's heat that an appliance gives on, where the table of carriers knows it."""
    row = reference_table("carriers", folder).get(carrier) if isinstance(carrier, str) else None
    if row is None:
        return {}
    value = {end: float(row[f"efficiency_{end}_share"]) for end in ("low", "likely", "high")}
    return {name: {**value, "source": row["note"], "status": row["efficiency_status"]}}


def unstated_responses(raw: Mapping[str, Any]) -> set[str]:
    """The paths of responses that neither the crops nor the table state: one sentence for all."""
    crops = raw.get("crops")
    return {
        f"crops.{identity}.{name}"
        for identity, crop in (crops.items() if isinstance(crops, Mapping) else ())
        if isinstance(crop, Mapping) and isinstance(crop.get("species"), str)
        for name in RESPONSES
        if name not in crop
    }


def _shell(raw: Mapping[str, Any], container: Any, folder: Path | None) -> str:
    """What a box is made of: plain steel or insulated."""
    boxes = raw.get("containers")
    known = boxes if isinstance(boxes, Mapping) else {}
    box = known.get(container) if isinstance(container, str) else None
    kind = box.get("kind") if isinstance(box, Mapping) else None
    row = reference_table("containers", folder).get(kind) if isinstance(kind, str) else None
    return row.get("shell") or "plain_steel" if row else "plain_steel"


def _containers(
    raw: Mapping[str, Any], physics: Mapping[str, Mapping[str, str]], folder: Path | None
) -> Any:
    boxes = raw.get("containers", {})
    if not isinstance(boxes, Mapping):
        return boxes
    filled = {}
    for name, box in boxes.items():
        aged = _shell(raw, name, folder) == "insulated" and isinstance(box, Mapping)
        known = _pick(physics, ("foam_ageing_scale",)) if aged else {}
        filled[name] = _filled(box, known) if aged else box
    return filled


def _climates(
    raw: Mapping[str, Any], physics: Mapping[str, Mapping[str, str]], folder: Path | None
) -> Any:
    given = raw.get("climate", {})
    if not isinstance(given, Mapping):
        return given
    filled = dict(given)
    for name, room in raw["rooms"].items():
        if not isinstance(room, Mapping) or not room.get("container"):
            continue
        if room.get("kind") not in CLIMATE_KINDS and isinstance(filled.get(name, {}), Mapping):
            filled[name] = {**_NO_PLANT, **filled.get(name, {})}
        if not isinstance(filled.get(name), Mapping):
            continue
        shell = _shell(raw, room["container"], folder)
        known = _pick(physics, _FROM_PHYSICS["climate"])
        for field, pattern in _BY_SHELL.items():
            if pattern.format(shell) in physics:
                known[field] = _estimate(physics[pattern.format(shell)])
        if filled[name].get("heating") == "heater":
            carrier = filled[name].get("heat_carrier")
            known |= _efficiency("heater_efficiency_share", carrier, folder)
        humidifier = f"humidifier_{filled[name].get('humidifier')}_kwh_per_l"
        if humidifier in physics:
            known["humidifier_kwh_per_l"] = _estimate(physics[humidifier])
        filled[name] = _filled(filled[name], known)
    return filled
