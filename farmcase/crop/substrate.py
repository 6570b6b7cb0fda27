"""Recipes: what a unit takes of each ingredient, by mass; moisture and C to N from masses."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
DRY_ROLES = ("base", "supplement", "mineral")


def unit_dry_kg(unit_wet_kg: ArrayLike, moisture_share: ArrayLike) -> Floats:
    """Dry substrate in a unit [kg] from its wet mass [kg] and moisture (wet basis)."""
    return np.asarray(unit_wet_kg, float) * (1 - np.asarray(moisture_share, float))


def bought_per_unit(
    roles: list[str], share: Floats, moisture_share: Floats, wet_kg: Floats, dry_kg: Floats
) -> Floats:
    """What one unit takes of each ingredient, as bought: kilograms, or pieces.

    Parameters
    ----------
    roles : one of base, supplement, mineral, spawn, wrapping, block for each ingredient
    share : (..., ingredients); of the dry mass for base, supplement and mineral, of the wet mass
        for spawn, pieces per unit for wrapping and block
    moisture_share : (..., ingredients); moisture of the ingredient as bought, wet basis
    wet_kg, dry_kg : (..., 1); mass of the unit

    Returns
    -------
    (..., ingredients) kilograms as bought, or pieces
    """
    is_dry = np.array([role in DRY_ROLES for role in roles])
    is_spawn = np.array([role == "spawn" for role in roles])
    dry_based = share * dry_kg / (1 - moisture_share)
    return np.where(is_dry, dry_based, np.where(is_spawn, share * wet_kg, share))


def carbon_to_nitrogen(dry_kg: ArrayLike, carbon: ArrayLike, nitrogen: ArrayLike) -> float:
    """C to N of a mix, by mass of each (ratios are never averaged); NaN without nitrogen.

    Parameters
    ----------
    dry_kg : dry mass of each ingredient [kg]
    carbon, nitrogen : shares of dry mass
    """
    mass = np.asarray(dry_kg, float)
    total = float((mass * np.asarray(nitrogen, float)).sum())
    return float((mass * np.asarray(carbon, float)).sum()) / total if total > 0 else float("nan")


def water_to_add_l(dry_kg: ArrayLike, moisture_share: ArrayLike, target_share: float) -> float:
    """Water [L] that brings ingredients as bought to the target moisture (wet basis).

    Negative when the mix is already wetter than the target.
    """
    dry = np.asarray(dry_kg, float)
    moisture = np.asarray(moisture_share, float)
    held = float((dry * moisture / (1 - moisture)).sum())
    return float(dry.sum()) * target_share / (1 - target_share) - held
