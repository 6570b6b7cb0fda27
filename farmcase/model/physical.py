"""The first stage: what happens in rooms and vessels, whatever it is worth.

Per build and month of production: units started, placed, lost and cleared, dry substrate whose
flush was picked, energy by carrier, end use and tariff band, water, peak power, and the tightest
limit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmcase.crop.cohort_kernel import LIMITS, MONTHS, Counts
from farmcase.crop.substrate import unit_dry_kg
from farmcase.energy.room_year import run_rooms
from farmcase.energy.tally_kernel import TALLY, Tally
from farmcase.errors import BalanceError
from farmcase.model.gather import BuildInputs
from farmcase.model.hours import told_to_rooms
from farmcase.model.rooms import LENGTHS, production_calendar, source_of_crops
from farmcase.model.shell import enclosed_rooms
from farmcase.model.site_energy import bought_kwh, energy_by_use, peak_kw, staggered_kw
from farmcase.model.utilities import Treated, machine_water_l, treat, vessel_water_l

Floats = NDArray[np.float64]
_MOST_HEAT_KWH, _MOST_WATER_KG, _MOST_CO2_KG = 1e-4, 1e-9, 1e-6  # a year and room


@dataclass(frozen=True)
class RoomYears:
    """What the enclosed rooms of a build did; G groups, R rooms in their order, C crops."""

    names: tuple[str, ...]
    kwh: Floats  # (G, R, uses, 24) see USES of energy/room_kernel
    by_month: Floats  # (G, R, TALLY, 24)
    crop_hours: Floats  # (G, R, C) hours of the settled year in which a crop stood in a room
    band_hours: Floats  # (G, R, C) of them within its band
    warnings: Floats  # (G, R, 3) hours over the 8 h and 15 min CO2 limits, with wet cold bridges
    residual: Floats  # (G, R, 3) kWh, kg of water, kg of CO2 over both years


@dataclass(frozen=True)
class Physical:
    """What one build does, by group of inputs G and month of production (24)."""

    started: Floats  # (G, C, 24) units
    placed: Floats  # (G, C, 24)
    lost: Floats  # (G, C, 24)
    cleared: Floats  # (G, C, 24)
    prepared: Floats  # (G, C, 24) units whose substrate is made here
    spawned: Floats  # (G, C, 24) units that get their spawn here
    dry_picked_kg: Floats  # (G, C, F, 24) by how full the flush was
    off_grade_kg: Floats  # (G, C, F, 24) of it, grown outside the band
    given_kg: Floats | None  # (G, C, 24) kilograms picked, where the case gives its output
    energy_kwh: Floats  # (G, carriers, end uses, 24) used, own solar included
    bought_kwh: Floats  # (G, carriers, tariff bands, 24)
    sent_kwh: Floats  # (G, 24) own solar that was not used here
    end_uses: tuple[str, ...]
    peak_kw: Floats  # (G, carriers) highest hour, with machines and vessels at full power
    staggered_kw: Floats  # (G, carriers) the same with machines and vessels one after the other
    water_l: Floats  # (G, 24)
    waste_water_l: Floats  # (G, 24)
    spent_kg: Floats  # (G, 24) substrate that leaves, lost units included
    room_weeks: Floats  # (24,)
    occupied: Floats  # (G, 3, 24) unit-days: spawn run, fruiting rooms, waiting for a place
    limit_days: Floats  # (G, limits) days of the settled year
    room_for: Floats  # (G,) units a year that places alone would take
    unit_residual: Floats  # (G,) units started less lost, cleared and standing
    rooms: RoomYears | None

    @property
    def groups(self) -> int:
        """Number of groups of inputs that were run."""
        return self.started.shape[0]


def run_physical(inputs: BuildInputs) -> Physical:
    """Run the rooms and vessels of one build for every group of its inputs.

    Raises
    ------
    BalanceError when units, heat, water or CO2 do not close
    """
    if inputs.case.output is not None:
        return _given(inputs)
    treated = treat(inputs)
    site, told, made = told_to_rooms(inputs)
    place, first = _different(
        [np.concatenate([_flat(p), _flat(s)]) for p, s in zip(told, made, strict=True)]
    )
    ran = run_rooms(site, [told[i] for i in first], [made[i] for i in first])
    _check(inputs, ran)
    counts = Counts(*(np.stack(each)[place] for each in zip(*(c for c, _ in ran), strict=True)))
    tally = Tally(*(np.stack(each)[place] for each in zip(*(t for _, t in ran), strict=True)))
    return _assemble(inputs, counts, tally, treated)


def _flat(numbers: tuple[Floats, ...]) -> Floats:
    return np.concatenate([np.ravel(part) for part in numbers])


def _different(rows: list[Floats]) -> tuple[NDArray[np.int64], list[int]]:
    """The place of each row among those that differ, and the first row of each of these."""
    known: dict[bytes, int] = {}
    first: list[int] = []
    place = np.zeros(len(rows), np.int64)
    for i, row in enumerate(rows):
        key = row.tobytes()
        if key not in known:
            known[key] = len(first)
            first.append(i)
        place[i] = known[key]
    return place, first


def _check(inputs: BuildInputs, ran: list[tuple[Counts, Tally]]) -> None:
    names = enclosed_rooms(inputs.case)
    for counts, tally in ran:
        started = counts.started.sum()
        left = started - counts.lost.sum() - counts.cleared.sum() - counts.standing.sum()
        if not abs(left) <= 1e-6 * (1 + started):
            raise BalanceError(
                f"{inputs.name}: units started are not all lost, cleared or still standing "
                f"(difference {abs(left):.3g} units)."
            )
        limits = np.array([_MOST_HEAT_KWH, _MOST_WATER_KG, _MOST_CO2_KG]) * 2
        for r, name in enumerate(names):
            for k, what in enumerate(("heat", "water", "CO2")):
                if not tally.residual[r, k] <= limits[k]:
                    raise BalanceError(
                        f"{inputs.name}, {inputs.case.rooms[name].label or name}: the balance of "
                        f"{what} does not close (by {tally.residual[r, k]:.3g})."
                    )


def _assemble(inputs: BuildInputs, counts: Counts, tally: Tally, treated: Treated) -> Physical:
    sources = source_of_crops(inputs)
    own = np.array([s == "own" for s in sources])[:, None]
    runs_spawn = np.array([s != "ready_to_fruit" for s in sources])[:, None]
    dry = unit_dry_kg(inputs.by_crop("unit_wet_kg"), inputs.by_crop("moisture_share"))
    prepared = counts.started * own
    carriers = list(inputs.records("carriers"))
    energy, end_uses = energy_by_use(inputs, tally, treated, prepared, carriers)
    enclosed = [r for r in inputs.texts("rooms", "kind") if r in ("fruiting", "spawn_run")]
    water, waste, spent = _water_and_spent(inputs, counts, tally, treated, prepared)
    left = counts.started.sum((1, 2)) - counts.lost.sum((1, 2)) - counts.cleared.sum((1, 2))
    return Physical(
        started=counts.started,
        placed=counts.placed,
        lost=counts.lost,
        cleared=counts.cleared,
        prepared=prepared,
        spawned=counts.started * runs_spawn,
        dry_picked_kg=counts.flushed * dry[:, :, None, None],
        off_grade_kg=counts.second * dry[:, :, None, None],
        given_kg=None,
        energy_kwh=energy,
        bought_kwh=bought_kwh(inputs, tally, energy, carriers),
        sent_kwh=tally.sent_kwh.sum(1),
        end_uses=end_uses,
        peak_kw=peak_kw(inputs, tally, carriers),
        staggered_kw=staggered_kw(inputs, tally, carriers),
        water_l=water,
        waste_water_l=waste,
        spent_kg=spent,
        room_weeks=len(enclosed) * LENGTHS[production_calendar(inputs)] / 7,
        occupied=counts.occupied,
        limit_days=counts.limit_days,
        room_for=counts.room_for[:, 0],
        unit_residual=left - counts.standing.sum(1),
        rooms=RoomYears(
            tuple(enclosed_rooms(inputs.case)),
            tally.kwh,
            tally.by_month,
            tally.crop_hours,
            tally.band_hours,
            tally.warnings,
            tally.residual,
        ),
    )


def _water_and_spent(
    inputs: BuildInputs, counts: Counts, tally: Tally, treated: Treated, prepared: Floats
) -> tuple[Floats, Floats, Floats]:
    """Water taken and water sent off [L], and substrate that leaves [kg], (G, 24) each."""
    used = machine_water_l(inputs) + vessel_water_l(inputs, treated, prepared)
    fog = tally.by_month[:, :, TALLY.index("humidifier_l")].sum(1)
    drained = tally.by_month[:, :, TALLY.index("drained_l")].sum(1)
    spent, waste = np.ones(1), np.ones(1)
    if inputs.case.leaving is not None:
        spent = inputs.value("leaving.spent_share")
        waste = inputs.value("leaving.waste_water_share")
    gone = counts.cleared * spent[:, None, None] + counts.lost
    leaving = (gone * inputs.by_crop("unit_wet_kg")[:, :, None]).sum(1)
    return fog + used, drained + used * waste[:, None], leaving


def _given(inputs: BuildInputs) -> Physical:
    """Output stated by the case, for a farm with its own records or a published budget."""
    given = inputs.case.output
    assert given is not None
    calendar = production_calendar(inputs)
    crops, carriers = list(inputs.records("crops")), list(inputs.records("carriers"))
    mine = np.array([name == given.crop for name in crops], float)[None, :, None]
    units = np.array(given.units_started_by_month)[calendar] * mine
    kilograms = np.array(given.picked_kg_by_month)[calendar] * mine
    energy = np.zeros((1, len(carriers), 1, MONTHS))
    if "electricity" in carriers:
        by_month = np.array(given.electricity_kwh_by_month)[calendar]
        energy[0, carriers.index("electricity"), 0] = by_month
    size = inputs.size
    flushes = max(len(crop.flush_shares) for crop in inputs.records("crops").values())
    return Physical(
        started=np.tile(units, (size, 1, 1)),
        placed=np.tile(units, (size, 1, 1)),
        lost=np.zeros((size, len(crops), MONTHS)),
        cleared=np.tile(units, (size, 1, 1)),
        prepared=np.zeros((size, len(crops), MONTHS)),
        spawned=np.zeros((size, len(crops), MONTHS)),
        dry_picked_kg=np.zeros((size, len(crops), flushes, MONTHS)),
        off_grade_kg=np.zeros((size, len(crops), flushes, MONTHS)),
        given_kg=np.tile(kilograms, (size, 1, 1)),
        energy_kwh=np.tile(energy, (size, 1, 1, 1)),
        bought_kwh=np.tile(energy, (size, 1, 1, 1)),
        sent_kwh=np.zeros((size, MONTHS)),
        end_uses=("other",),
        peak_kw=np.zeros((size, len(carriers))),
        staggered_kw=np.zeros((size, len(carriers))),
        water_l=np.tile(np.array(given.water_l_by_month)[calendar], (size, 1)),
        waste_water_l=np.zeros((size, MONTHS)),
        spent_kg=np.zeros((size, MONTHS)),
        room_weeks=np.zeros(MONTHS),
        occupied=np.zeros((size, 3, MONTHS)),
        limit_days=np.eye(len(LIMITS))[[0]].repeat(size, 0) * 365,
        room_for=np.tile(units.sum() / 2, size),
        unit_residual=np.zeros(size),
        rooms=None,
    )
