"""The first stage: what happens in rooms and vessels, whatever it is worth.

Per build and month of production: units started, placed, lost and cleared, dry substrate whose
flush was picked, energy by carrier and end use, water, peak power, and the tightest limit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmcase.crop.cohorts import LIMITS, MONTHS, Cohorts, step_cohorts
from farmcase.crop.substrate import unit_dry_kg
from farmcase.errors import BalanceError
from farmcase.model.gather import BuildInputs
from farmcase.model.rooms import LENGTHS, cohort_inputs, production_calendar, source_of_crops
from farmcase.model.utilities import energy_by_use, peak_kw, water_l

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Physical:
    """What one build does, by group of inputs G and month of production (24)."""

    started: Floats  # (G, C, 24) units
    placed: Floats  # (G, C, 24)
    lost: Floats  # (G, C, 24)
    cleared: Floats  # (G, C, 24)
    prepared: Floats  # (G, C, 24) units whose substrate is made here
    spawned: Floats  # (G, C, 24) units that get their spawn here
    dry_picked_kg: Floats  # (G, C, F, 24)
    given_kg: Floats | None  # (G, C, 24) kilograms picked, where the case gives its output
    energy_kwh: Floats  # (G, carriers, end uses, 24)
    end_uses: tuple[str, ...]
    peak_kw: Floats  # (G, carriers)
    water_l: Floats  # (G, 24)
    room_weeks: Floats  # (24,)
    limit_days: Floats  # (G, limits) days of the settled year
    room_for: Floats  # (G,) units a year that places alone would take
    unit_residual: Floats  # (G,) units started less lost less cleared, once all is cleared

    @property
    def groups(self) -> int:
        """Number of groups of inputs that were run."""
        return self.started.shape[0]


def run_physical(inputs: BuildInputs) -> Physical:
    """Run the rooms and vessels of one build for every group of its inputs.

    Raises
    ------
    BalanceError when units started are not all lost or cleared in the end
    """
    if inputs.case.output is not None:
        return _given(inputs)
    first = int(inputs.calendar[inputs.start])
    cohorts = step_cohorts(cohort_inputs(inputs), first)
    residual = (cohorts.started - cohorts.lost - cohorts.cleared).sum((1, 2))
    if (np.abs(residual) > 1e-6 * (1 + cohorts.started.sum((1, 2)))).any():
        raise BalanceError(
            f"{inputs.name}: units started are not all lost or cleared "
            f"(difference {np.abs(residual).max():.3g} units)."
        )
    return _assemble(inputs, cohorts, residual)


def _assemble(inputs: BuildInputs, cohorts: Cohorts, residual: Floats) -> Physical:
    sources = source_of_crops(inputs)
    own = np.array([s == "own" for s in sources])[:, None]
    runs_spawn = np.array([s != "ready_to_fruit" for s in sources])[:, None]
    two_years = [a[..., :MONTHS] for a in cohorts[:5]]
    started, placed, lost, cleared, flushed = two_years
    dry = unit_dry_kg(inputs.by_crop("unit_wet_kg"), inputs.by_crop("moisture_share"))
    prepared = started * own
    energy, end_uses = energy_by_use(inputs, prepared)
    rooms = [r for r in inputs.texts("rooms", "kind") if r in ("fruiting", "spawn_run")]
    days = LENGTHS[production_calendar(inputs)]
    return Physical(
        started=started,
        placed=placed,
        lost=lost,
        cleared=cleared,
        prepared=prepared,
        spawned=started * runs_spawn,
        dry_picked_kg=flushed * dry[:, :, None, None],
        given_kg=None,
        energy_kwh=energy,
        end_uses=end_uses,
        peak_kw=peak_kw(inputs),
        water_l=water_l(inputs, prepared),
        room_weeks=len(rooms) * days / 7,
        limit_days=cohorts.limit_days,
        room_for=cohorts.room_for,
        unit_residual=residual,
    )


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
        given_kg=np.tile(kilograms, (size, 1, 1)),
        energy_kwh=np.tile(energy, (size, 1, 1, 1)),
        end_uses=("other",),
        peak_kw=np.zeros((size, len(carriers))),
        water_l=np.tile(np.array(given.water_l_by_month)[calendar], (size, 1)),
        room_weeks=np.zeros(MONTHS),
        limit_days=np.eye(len(LIMITS))[[0]].repeat(size, 0) * 365,
        room_for=np.tile(units.sum() / 2, size),
        unit_residual=np.zeros(size),
    )
