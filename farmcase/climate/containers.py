"""What a room holds: floor, volume and places from the sizes of its box, lining and racks."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class RoomSize:
    """A room's inner sizes after lining, and what fits in it.

    `places` is the number of units that stand on its racks; a cold store's are crates.
    """

    length_m: float
    width_m: float
    height_m: float
    places: int

    @property
    def floor_area_m2(self) -> float:
        """Inner floor area."""
        return self.length_m * self.width_m

    @property
    def volume_m3(self) -> float:
        """Inner gross volume."""
        return self.floor_area_m2 * self.height_m


def inner_sizes(
    container_m: tuple[float, float, float],
    length_share: float,
    lining_m: float,
    floor_lining_m: float | None = None,
) -> tuple[float, float, float]:
    """Length, width and height of a room that is a share of a container's length.

    Parameters
    ----------
    container_m : internal length, width and height of the box [m]
    length_share : share of the length that the room takes, 0 to 1
    lining_m : thickness of the lining on each wall and the ceiling [m]
    floor_lining_m : of the floor [m]; that of the walls when left out
    """
    length, width, height = container_m
    floor_m = lining_m if floor_lining_m is None else floor_lining_m
    thick = 2 * lining_m
    return length * length_share - thick, width - thick, height - lining_m - floor_m


def rack_places(
    length_m: float,
    rack_rows: int,
    rack_levels: int,
    rack_depth_m: float,
    end_clearance_m: float,
    place_width_m: float,
    place_depth_m: float,
) -> int:
    """Places on the racks of a room: whole units only, along, deep and up.

    Returns 0 where there are no racks.
    """
    if not (rack_rows and rack_levels and place_width_m > 0 and place_depth_m > 0):
        return 0
    along = math.floor((length_m - end_clearance_m) / place_width_m + 1e-9)
    deep = math.floor(rack_depth_m / place_depth_m + 1e-9)
    return max(0, along) * deep * rack_rows * rack_levels


def fill_share(
    units: float, unit_wet_kg: float, bulk_density_kg_per_m3: float, volume_m3: float
) -> float:
    """Share of a room's volume taken by substrate; above one sixth a room is hard to air."""
    return units * unit_wet_kg / bulk_density_kg_per_m3 / volume_m3
