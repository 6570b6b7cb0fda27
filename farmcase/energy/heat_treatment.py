"""Heat treatment of substrate: heat of a batch, fuel, hours, and batches a week.

Arrays are (G, V): groups of inputs, and vessels as the last axis; anything that broadcasts to it
will do. Nothing is rounded to whole batches, so that kilograms change smoothly with every input.

Heat of a batch is what warms dry substrate, its water, the bath and the condensate from the
temperature they come in with to that of treatment, what goes off as steam, and what the hot vessel
loses. A cold lime bath takes none: `heated` is 0 for it. (Making the lime takes about 270 kJ per
kg of dry substrate, but elsewhere: Grimm, Sonntag and Rahmann, abstract.)
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from farmcase.moist_air import WATER_KJ_PER_KG_K

Floats = NDArray[np.float64]

_KJ_PER_KWH = 3600.0
# One litre of water between 10 and 80 °C is taken as one kilogram.
# Enthalpy of saturated steam over water at 0 °C, and its rise with temperature: fitted to IAPWS
# (CoolProp 8.0.0), within 0.1 % from 60 to 125 °C.
_STEAM_AT_100_C_KJ_PER_KG = 2675.6
_STEAM_KJ_PER_KG_K = 1.62
_COLD = "cold_lime"


class Load(NamedTuple):
    """What goes into a vessel, and how hot it must get; (G, V) each unless said.

    Attributes
    ----------
    dry_kg : dry substrate in a batch
    substrate_water_kg : water in the substrate as it goes in
    dry_kj_per_kg_k : specific heat of dry substrate
    bath_l : water in the vessel besides, kept and new
    kept_water_share, kept_water_c : share of the bath kept from the last batch, and how warm it is
    steam_l : water that goes off as steam
    condensate_l : steam that condenses and drains away instead of going back to the boiler
    start_c, treat_to_c : temperature of what is put in, and of treatment
    heated : 1 where the vessel is heated, 0 for cold lime; see `heated_vessels`
    """

    dry_kg: Floats
    substrate_water_kg: Floats
    dry_kj_per_kg_k: Floats
    bath_l: Floats
    kept_water_share: Floats
    kept_water_c: Floats
    steam_l: Floats
    condensate_l: Floats
    start_c: Floats
    treat_to_c: Floats
    heated: Floats


class Vessels(NamedTuple):
    """How a batch is run; (G, V) each unless said.

    Attributes
    ----------
    rated_kw : what burner or element draws at full power
    efficiency_share : share of that which gets into the vessel
    loss_kw : what the vessel loses while it is at the temperature of treatment
    fill_h, hold_h, empty_h : hours to fill, to hold, and to empty, drain and clean
    hours_available_per_week : hours a week in which the vessel can be run
    most_batches_per_week : batches a week that hands and plan allow at most
    """

    rated_kw: Floats
    efficiency_share: Floats
    loss_kw: Floats
    fill_h: Floats
    hold_h: Floats
    empty_h: Floats
    hours_available_per_week: Floats
    most_batches_per_week: Floats


class Batch(NamedTuple):
    """One batch of each vessel and what it can do in a week, (G, V) each."""

    heat_kwh: Floats
    fuel_kwh: Floats
    water_l: Floats
    heat_up_hours: Floats
    hours: Floats
    batches_per_week: Floats


def heated_vessels(treatments: Sequence[str]) -> Floats:
    """1 for each vessel whose treatment needs heat, 0 for cold lime, (V,)."""
    return np.array([treatment != _COLD for treatment in treatments], float)


def warming_heat_kwh(load: Load) -> Floats:
    """Heat to bring a batch to the temperature of treatment, vessel losses left out [kWh].

    Sensible heat from `start_c`, of the kept water from `kept_water_c`; water that goes off as
    steam takes the enthalpy of saturated steam at `treat_to_c`. Kept water hotter than that
    helps to warm the rest; the whole is never below nil.
    """
    rise_k = load.treat_to_c - load.start_c
    new_l = load.bath_l * (1 - load.kept_water_share) + load.condensate_l
    substrate = load.dry_kg * load.dry_kj_per_kg_k + load.substrate_water_kg * WATER_KJ_PER_KG_K
    kept_l = load.bath_l * load.kept_water_share
    kept = kept_l * WATER_KJ_PER_KG_K * (load.treat_to_c - load.kept_water_c)
    warmed = (substrate + new_l * WATER_KJ_PER_KG_K) * rise_k + kept
    gone = load.steam_l * steam_kj_per_kg(load.start_c, load.treat_to_c)
    return load.heated * np.maximum(warmed + gone, 0.0) / _KJ_PER_KWH


def steam_kj_per_kg(start_c: Floats, steam_c: Floats) -> Floats:
    """Heat that makes steam of a temperature (60 to 125 °C) out of water of another [kJ/kg]."""
    steam = _STEAM_AT_100_C_KJ_PER_KG + _STEAM_KJ_PER_KG_K * (steam_c - 100.0)
    return steam - WATER_KJ_PER_KG_K * start_c


def batch_fuel_kwh(heat_kwh: Floats, efficiency_share: Floats) -> Floats:
    """Energy of the carrier that a heat takes [kWh]; a share of 0 gives infinity, nil for no heat.

    Everything that does not get into the vessel counts as lost to the efficiency.
    """
    return _over(heat_kwh, efficiency_share)


def heat_up_hours(
    warming_kwh: Floats, rated_kw: Floats, efficiency_share: Floats, loss_kw: Floats | float = 0.0
) -> Floats:
    """Hours until a batch is hot, at full power [h]; infinite where the power does not suffice.

    The loss grows with the warming from nil to `loss_kw`, so that with the power P into the
    vessel, the heat W and the loss L, dh/dt = P - L h / W; h is W after (W / L) ln(P / (P - L)).

    Parameters
    ----------
    warming_kwh : `warming_heat_kwh` of the batch
    rated_kw : what burner or element draws
    efficiency_share : share of it that gets into the vessel
    loss_kw : loss at the temperature of treatment
    """
    into_kw = np.asarray(rated_kw * efficiency_share, float)
    lost = _over(np.asarray(loss_kw, float), into_kw)
    enough = (lost > 0) & (lost < 1)
    share = np.where(enough, lost, 0.5)
    longer = np.where(enough, -np.log1p(-share) / share, np.where(lost < 1, 1.0, np.inf))
    hours = _over(warming_kwh, into_kw)
    return np.where(hours > 0, hours * longer, 0.0)


def batch_hours(fill_h: Floats, heat_up_h: Floats, hold_h: Floats, empty_h: Floats) -> Floats:
    """Hours that a batch keeps its vessel [h]."""
    return fill_h + heat_up_h + hold_h + empty_h


def batches_per_week(
    hours: Floats, hours_available_per_week: Floats, most_batches_per_week: Floats
) -> Floats:
    """Batches a week that a vessel can do: what the hours allow, at most what the plan allows.

    Parts of a batch count, as over many weeks they do.
    """
    return np.minimum(_over(hours_available_per_week, hours), most_batches_per_week)


def units_per_week(batches: Floats, units_per_batch: Floats) -> Floats:
    """Units that all vessels together can treat in a week, (G,)."""
    return (batches * units_per_batch).sum(-1)


def new_water_l(load: Load) -> Floats:
    """Water that must be filled in for a batch: what is not kept, drains or goes off [L]."""
    return load.bath_l * (1 - load.kept_water_share) + load.steam_l + load.condensate_l


def follow_batch(load: Load, vessels: Vessels) -> Batch:
    """One batch of every vessel from filling to emptying, and how many fit into a week.

    Heating up is done at full power; while holding, the loss is made up for. A vessel whose power
    does not suffice for that never gets hot: its batch takes for ever, and it does none in a week.
    """
    warming = warming_heat_kwh(load)
    loss_kw = vessels.loss_kw * load.heated
    heating = heat_up_hours(warming, vessels.rated_kw, vessels.efficiency_share, loss_kw)
    gets_hot = np.isfinite(heating)
    up = vessels.rated_kw * vessels.efficiency_share * np.where(gets_hot, heating, 0.0)
    heat = np.where(gets_hot, up, warming) + loss_kw * vessels.hold_h
    hours = batch_hours(vessels.fill_h, heating, vessels.hold_h, vessels.empty_h)
    return Batch(
        heat_kwh=heat,
        fuel_kwh=batch_fuel_kwh(heat, vessels.efficiency_share),
        water_l=new_water_l(load) * np.ones(heat.shape),
        heat_up_hours=heating,
        hours=hours,
        batches_per_week=batches_per_week(
            hours, vessels.hours_available_per_week, vessels.most_batches_per_week
        ),
    )


def _over(amount: Floats, by: Floats) -> Floats:
    """A quotient that is nil where there is nothing to share, infinite where nothing shares it."""
    amount, by = np.broadcast_arrays(np.asarray(amount, float), np.asarray(by, float))
    found = np.where(amount > 0, np.inf, 0.0)
    np.divide(amount, by, out=found, where=by > 0)
    return found
