"""What must hold of the temperatures and days by which a crop is followed."""

from __future__ import annotations

from collections.abc import Iterable

from farmcase.errors import Fault
from farmcase.inputs.estimate import shown
from farmcase.inputs.faults import listed
from farmcase.inputs.growing import RESPONSES, Crop
from farmcase.inputs.order import Order, apart, end_text, likely_below, order_faults
from farmcase.inputs.reference import reference_table
from farmcase.inputs.view import View

_GROWTH = (
    apart("growth_minimum_c", "growth_optimum_c"),
    apart("growth_optimum_c", "growth_maximum_c"),
    apart("growth_minimum_c", "growth_reference_c"),
    apart("growth_reference_c", "growth_maximum_c"),
)
_REST = (
    apart("fruit_stop_c", "fruit_reference_c"),
    Order("pin_low_c", "pin_high_c"),
    Order("fruit_low_c", "fruit_high_c"),
    Order("fruit_humidity_low_share", "fruit_humidity_high_share"),
    Order("cold_damage_c", "heat_damage_c", is_strict=True),
    likely_below("pin_days", "first_flush_days"),
)
_BETWEEN_FLUSHES = (likely_below("pin_days", "flush_interval_days"),)


def crop_faults(view: View) -> list[Fault]:
    """Every fault in what the crops do with temperature, air and time."""
    faults = list(_unstated(view))
    for identity, crop in view.records("crops").items():
        path = f"crops.{identity}"
        grows = list(order_faults(view, path, crop, _GROWTH))
        faults += grows or _middle(view, path, crop)
        faults += order_faults(view, path, crop, _REST)
        if crop.flushes_kept > 1:
            faults += order_faults(view, path, crop, _BETWEEN_FLUSHES)
    return faults


def _unstated(view: View) -> Iterable[Fault]:
    """Crops of a known species whose responses neither the table nor the case knows."""
    known = {row.get("species") for row in reference_table("species", view.origins.folder).values()}
    for identity, values in view.raw.get("crops", {}).items():
        missing = [name for name in RESPONSES if name not in values]
        species = values.get("species")
        if missing and isinstance(species, str) and species in known:
            given = f"is {shown(species)}, of which not all responses are known"
            allowed = f"still needed are {listed(missing)}"
            remedy = "give them in the crop or in reference/responses.csv"
            yield view.origins.at(f"crops.{identity}.species", given, allowed, remedy)


def _middle(view: View, path: str, crop: Crop) -> Iterable[Fault]:
    """Growth by cardinal temperatures holds with the optimum above the middle alone.

    Source: Rosso, Lobry and Flandrois 1993, J Theor Biol 162:447-463.
    """
    best = crop.growth_optimum_c
    middle = (crop.growth_minimum_c.high + crop.growth_maximum_c.high) / 2
    if best.low <= middle:
        given = f"is {end_text(best, 'low')}"
        remedy = "look up the three again"
        allowed = f"it must be above {middle:g}, the middle of growth_minimum_c and _maximum_c"
        yield view.origins.at(f"{path}.growth_optimum_c", given, allowed, remedy)
