"""Cohorts: nothing is lost on the way, days by hand, limits one by one, and no staircase.

At constant conditions all days are known: a rig with one room as warm as the air outside, and a
crop that neither breathes nor is harmed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from room_rig import (
    BARE_OF_PLANT,
    HOUR_OF_YEAR,
    INERT,
    Floats,
    Rig,
    a_crop,
    a_plan,
    a_room,
    a_scenario,
    a_site,
    farm_rig,
    mild_year,
    outcome,
    outside_air,
    still_rig,
)

import farmcase as fc
from farmcase.crop import start_kernel as starts
from farmcase.crop.cohort_kernel import DAYS, FARM, LIMITS, Counts, Plan
from farmcase.energy.room_year import Run, advance, new_run
from farmcase.energy.tally_kernel import FRUITING, SPAWN_RUN
from farmcase.inputs.case import Case

ALL = np.arange(12)


def own_spawn_rig(
    crop: dict[str, float] | None = None,
    places: float = 1e6,
    cleaning_days: float = 2.0,
    closed_months: Sequence[int] = (),
    usable_share: Floats | float = 1.0,
    **farm: float,
) -> Rig:
    """Spawn run and fruiting at 21 °C for ever: the core is at 24 °C, where the days hold."""
    rooms = [a_room(**BARE_OF_PLANT, loss_w_per_k=1e6)] * 2
    site = a_site(outside_air(21.0), [FRUITING, SPAWN_RUN], 1, closed_months=closed_months)
    is_open = np.ones(12)
    is_open[list(closed_months)] = 0.0
    plan = a_plan(
        1, [a_crop(**(INERT | (crop or {})))], places, cleaning_days,
        usable_share=usable_share, open_share=is_open, **farm,
    )  # fmt: skip
    return Rig(site, plan, a_scenario(rooms))


def month_days(rig: Rig) -> Floats:
    """Days of the 24 months."""
    return np.diff(rig.site.month_start_h) / 24


def left_over(counts: Counts) -> float:
    """Units started that are neither lost nor cleared nor standing."""
    ended = counts.lost.sum() + counts.cleared.sum() + counts.standing.sum()
    return float(counts.started.sum() - ended)


def single(rig: Rig) -> Run:
    """A run with one cohort, started on the first day."""
    run = new_run(*rig)
    advance(rig.site, run, 0, 1)
    run.plan.farm[FARM.index("wanted_per_day")] = 0.0
    advance(rig.site, run, 1, DAYS)
    return run


# Little's law.


@pytest.mark.parametrize("per_day", [0.3, 2.0, 9.0])
def test_littles_law_in_the_fruiting_room(per_day: float) -> None:
    """Units that stand are units a day times the days of a stay (Little 1961).

    A stay is flushes at 10, 12 and 12 days, 1 to clear, half of the 4 over which units differ.
    Units are counted each morning just after some came in, half a day early on average.
    """
    rig = still_rig(13.0, wanted_per_day=per_day)
    counts, _ = outcome(rig)
    stay_days = 10 + 12 + 12 + 1 + 4 / 2
    standing = counts.occupied[1] / month_days(rig)
    assert_allclose(standing[12:], per_day * (stay_days + 0.5), rtol=1e-9)


def test_littles_law_in_the_spawn_run() -> None:
    """16 days on the clock, and half a day until the morning on which a unit is moved.

    What fails in the spawn run (5 %) is found when it is moved, so that all units stand there.
    """
    rig = own_spawn_rig(wanted_per_day=2.0)
    counts, _ = outcome(rig)
    assert_allclose((counts.occupied[0] / month_days(rig))[2:], 2.0 * 16.5, rtol=1e-9)
    fruiting = (counts.occupied[1] / month_days(rig))[12:]
    assert_allclose(fruiting, 0.95 * 2.0 * (10 + 12 + 12 + 1 + 2 + 0.5), rtol=1e-9)


def test_littles_law_when_it_is_cool() -> None:
    """At 8 °C pace and pinning are half (3 to 13 °C; 4 K below 10 °C): the stay is twice as long.

    But for clearing and the spread, which are the grower's days.
    """
    rig = still_rig(8.0, wanted_per_day=1.0)
    counts, _ = outcome(rig)
    standing = counts.occupied[1] / month_days(rig)
    assert_allclose(standing[12:], 2 * 34 + 1 + 2 + 0.5, rtol=1e-9)


# Every unit ends.


@pytest.mark.parametrize("outside_mean_c", [-2.0, 10.0, 24.0])
@pytest.mark.parametrize("places", [30.0, 144.0, 1e6])
def test_every_unit_of_a_rig_is_harvested_lost_or_standing(
    outside_mean_c: float, places: float
) -> None:
    """Free-running rooms in the cold, the mild and the hot, with and without room for all."""
    counts, _ = outcome(farm_rig(1, outside_air(mild_year(outside_mean_c)), places=places))
    assert counts.started.sum() > 10
    assert abs(left_over(counts)) < 1e-9 * counts.started.sum()
    assert (counts.placed.sum() <= counts.started.sum()).all()
    for part in counts:
        assert (part >= 0).all()


def test_every_unit_of_the_small_case_ends(small_case: Case) -> None:
    """Both builds; the package says the same of itself."""
    result = fc.evaluate(small_case)
    for build in small_case.builds:
        physical = result[build].physical
        gone = physical.lost.sum() + physical.cleared.sum()
        assert 0 < physical.started.sum() - gone < physical.started.sum()
        assert_allclose(physical.unit_residual, 0.0, atol=1e-9 * physical.started.sum())


# Places.


def places_taken(run: Run, now_h: float) -> float:
    """Units standing in the one fruiting room, and places being cleaned after others."""
    crops = range(run.plan.crops.shape[0])
    standing = [
        starts.standing_units(run.plan, run.started, run.placed, 0, c, now_h) for c in crops
    ]
    return sum(taken for _, _, taken in standing)


@pytest.mark.parametrize("empty", [0.0, 0.5])
def test_places_are_never_exceeded(empty: float) -> None:
    """After each morning no more is taken, cleaning included, than there are places to use.

    When fewer may be used than before (a month with empty days), nothing comes in until enough
    has left: then what is taken does not grow.
    """
    usable = np.where(ALL % 6 == 3, 1.0 - empty, 1.0)
    rig = own_spawn_rig(places=40.0, wanted_per_day=4.0, usable_share=usable)
    run, before = new_run(*rig), 0.0
    fullest = 0.0
    for day in range(400):
        advance(rig.site, run, day, day + 1)
        taken = places_taken(run, day * 24.0)
        most = 40.0 * usable[rig.site.calendar[day]]
        assert taken <= max(most, before) * (1 + 1e-9)
        before, fullest = taken, max(fullest, taken / most if taken <= most else 0.0)
    assert fullest > 0.999


def test_full_places_are_used_to_the_last() -> None:
    """At constant conditions starts settle at what places take: places over days of a stay.

    39 days with two of cleaning, and half a day until the morning on which a place is filled; of
    the starts 5 % fail. Units that ran through overnight are not in the way of new ones.
    """
    rig = own_spawn_rig(places=40.0, wanted_per_day=4.0)
    counts, _ = outcome(rig)
    per_day = counts.started.sum(0) / month_days(rig)
    assert_allclose(per_day[12:], 40.0 / (39.5 * 0.95), rtol=1e-6)
    assert counts.room_for[0] == pytest.approx(365 * per_day[-1], rel=1e-6)
    assert counts.occupied[2].sum() == 0


def test_spawn_run_places_are_never_exceeded() -> None:
    """Counted each morning after the new ones were put there."""
    rig = own_spawn_rig(spawn_places=30.0, wanted_per_day=4.0)
    run = new_run(*rig)
    for day in range(200):
        advance(rig.site, run, day, day + 1)
        assert run.state.units[1].sum() <= 30.0 * (1 + 1e-9)


def test_closed_months_take_no_starts_and_no_units() -> None:
    """August and January closed: nothing is started or moved in, what stands there is cleared."""
    rig = own_spawn_rig(closed_months=[7, 0], wanted_per_day=2.0)
    counts, tally = outcome(rig)
    shut = np.isin(np.arange(24) % 12, [7, 0])
    assert (counts.started[:, shut] == 0).all()
    assert (counts.placed[:, shut] == 0).all()
    assert (counts.started[:, ~shut] > 0).all()
    assert abs(left_over(counts)) < 1e-9
    assert tally.kwh.sum() == 0


def test_empty_days_cost_their_share_of_the_starts() -> None:
    """Half of the places for a whole year take half of the units."""
    full, half = (
        outcome(own_spawn_rig(places=40.0, wanted_per_day=4.0, usable_share=share))[0]
        for share in (1.0, 0.5)
    )
    assert_allclose(half.started[:, 12:], 0.5 * full.started[:, 12:], rtol=1e-6)


def test_crops_that_share_a_room_share_its_places_by_plan() -> None:
    """One quarter to three quarters, quick and slow, own spawn run and bought in: none starves.

    Started as planned at every pace of the room; what is placed follows within 1 %.
    """
    quick = a_crop(**(INERT | {"spawn_run_days": 0.0, "loss_share": 0.0, "flushes_kept": 1.0}))
    slow = a_crop(**(INERT | {"spawn_run_days": 30.0, "loss_share": 0.0}))
    shares = np.broadcast_to(np.array([0.25, 0.75])[None, :, None], (1, 2, 12))
    base = own_spawn_rig()
    plan = a_plan(1, [quick, slow], 40.0, start_share=shares, wanted_per_day=9.0)
    counts, _ = outcome(base._replace(plan=plan))
    started = counts.started[:, 12:]
    assert_allclose(started[1] / started[0], 3.0, rtol=1e-9)
    placed = counts.placed[:, 12:].sum(1)
    assert placed[1] / placed[0] == pytest.approx(3.0, rel=0.01)


# Limits, each the tightest in turn: starts a day by hand, and the name on every settled day.

HELD_BY: dict[str, tuple[dict[str, Any], float]] = {
    "wanted": ({"wanted_per_day": 2.0}, 2.0),
    "vessel": ({"vessel_per_day": 1.5}, 1.5),
    "hours": ({"hours_per_day": 0.12, "hours_per_unit": 0.1}, 1.2),
    # 5 kg held 2 days at 2.6 kg a unit
    "cold_store": ({"store_kg": 5.0, "days_held": 2.0}, 5.0 / 2 / 2.6),
    "demand": ({"demand_kg_per_day": 3.0}, 3.0 / 2.6),
    "fruiting_places": ({"places": 40.0}, 40.0 / (39.5 * 0.95)),
}


@pytest.mark.parametrize("limit", sorted(HELD_BY))
def test_the_tightest_limit_is_named(limit: str) -> None:
    """Each alone, from four units a day that are wanted."""
    changed, per_day = HELD_BY[limit]
    told: dict[str, Any] = {"wanted_per_day": 4.0} | changed
    rig = own_spawn_rig(**told)
    counts, _ = outcome(rig)
    assert counts.limit_days[LIMITS.index(limit)] == 365
    assert counts.limit_days.sum() == 365
    assert_allclose(counts.started.sum(0)[12:] / month_days(rig)[12:], per_day, rtol=1e-6)


def test_spawn_run_places_are_named() -> None:
    """30 places for 16.5 days: 1.82 a day; new ones come before the old are moved, so 30 / 17.5.

    That order costs a day of each stay, which the rate shows (1.71), with a ripple of 1 %.
    """
    rig = own_spawn_rig(spawn_places=30.0, wanted_per_day=4.0)
    counts, _ = outcome(rig)
    assert counts.limit_days[LIMITS.index("spawn_run_places")] == 365
    per_day = counts.started.sum(0)[12:] / month_days(rig)[12:]
    assert per_day.mean() == pytest.approx(30 / 17.5, rel=2e-3)
    assert_allclose(per_day, 30 / 17.5, rtol=0.01)


def test_a_slack_limit_changes_nothing() -> None:
    """Twice what is wanted of everything else is no limit."""
    rest = {"vessel_per_day": 4.0, "hours_per_day": 0.4, "spawn_places": 70.0, "places": 160.0}
    told: dict[str, Any] = rest | {"store_kg": 21.0, "demand_kg_per_day": 11.0}
    free, bound = (outcome(own_spawn_rig(wanted_per_day=2.0, **more))[0] for more in ({}, told))
    assert_allclose(bound.started, free.started, rtol=1e-12)


# Days of flushes by hand.


@pytest.mark.parametrize(("spread_days", "second_month"), [(4.0, 0.5), (8.0, 0.75), (0.0, 0.0)])
def test_a_flush_is_picked_on_its_days(spread_days: float, second_month: float) -> None:
    """First flush from day 29 to 29 + spread, January has 31; the next follow after 12 days."""
    rig = still_rig(
        13.0, {"first_flush_days": 29.0, "spread_days": spread_days}, wanted_per_day=10.0
    )
    run = single(rig)
    flushed = run.counts.flushed[0]
    assert_allclose(flushed.sum(1), 10.0, rtol=1e-9)
    assert_allclose(flushed[0, :2], [10 * (1 - second_month), 10 * second_month], atol=1e-9)
    # the third begins on day 53 and clearing a day later; January and February have 59 days
    assert run.placed.cleared_h[0, 0, 0] == pytest.approx(24 * (29 + 12 + 12 + 1), abs=1e-6)
    assert_allclose(run.counts.cleared[0, :3].sum(), 10.0, rtol=1e-9)
    late = max(0.0, min(1.0, (54 + spread_days - 59) / spread_days)) if spread_days else 0.0
    assert run.counts.cleared[0, 2] == pytest.approx(10 * late, abs=1e-9)


@pytest.mark.parametrize("pace_scale", [0.8, 1.0, 1.25])
def test_days_hold_at_the_reference_and_follow_the_pace_of_a_room(pace_scale: float) -> None:
    """10, 12 and 12 days divided by the pace, 1 to clear."""
    run = single(still_rig(13.0, wanted_per_day=10.0, pace_scale=pace_scale))
    assert run.placed.cleared_h[0, 0, 0] == pytest.approx(24 * (34 / pace_scale + 1), abs=1e-6)


def test_cool_air_takes_longer_and_gives_less() -> None:
    """At 8 °C: half the pace, half of the pins (10 - 4 K), three quarters of the growth (10 - 8 K).

    A quarter of what is picked is grown outside the band.
    """
    run = single(still_rig(8.0, wanted_per_day=10.0))
    assert run.placed.cleared_h[0, 0, 0] == pytest.approx(24 * (2 * 34 + 1), abs=1e-6)
    assert_allclose(run.counts.flushed[0].sum(1), 10 * 0.5 * 0.75, rtol=1e-9)
    assert_allclose(run.counts.second[0].sum(1), 10 * 0.5 * 0.75 * 0.25, rtol=1e-9)


def test_heat_beyond_the_limit_kills_by_the_day() -> None:
    """37 °C, 2 K over: 10 % a day of those that live; nothing of them is picked (too hot to pin).

    Pins come at a quarter of the pace at worst (4 days become 16), so that a unit stays
    3 x 16 + 6 + 8 + 8 = 70 days, and one day to clear: what lives then is exp(-0.1 x 70).
    """
    hot = {"damage_share_per_day": 0.05}
    run = single(still_rig(37.0, hot, wanted_per_day=10.0))
    assert run.placed.cleared_h[0, 0, 0] == pytest.approx(24 * 71, abs=1e-6)
    assert run.counts.flushed.sum() == 0
    assert run.counts.cleared.sum() == pytest.approx(10 * np.exp(-7.0), rel=1e-6)
    assert run.counts.lost.sum() == pytest.approx(10 * (1 - np.exp(-7.0)), rel=1e-6)


# Kilograms follow the weather.


def picked_kg(counts: Counts, plan: Plan) -> Floats:
    """Planned kilograms by month, by how full each flush was."""
    return (counts.flushed * plan.flush_kg[:, :, None]).sum((0, 1))


def weather_kg(outside_c: Floats, **room: Any) -> Floats:
    """Kilograms by month, from January, of the farm rig in a weather."""
    rig = farm_rig(4, outside_air(outside_c), first_month=0, places=1e6, **room)
    return picked_kg(outcome(rig)[0], rig.plan)


def test_a_heat_wave_costs_kilograms() -> None:
    """Two weeks of July 12 K hotter: less is picked then, and no more in the year."""
    usual = mild_year(6.0)
    wave = usual + 12.0 * ((HOUR_OF_YEAR >= 190 * 24) & (HOUR_OF_YEAR < 204 * 24))
    without, with_wave = weather_kg(usual), weather_kg(wave)
    lost = without - with_wave
    assert lost[18] + lost[19] > 0.2 * (without[18] + without[19])  # July and August, second year
    assert with_wave[12:].sum() < 0.97 * without[12:].sum()


def test_frost_stops_the_picking() -> None:
    """At -5 °C outside an unheated room gives nothing; a heated one does."""
    frost = np.full(8760, -5.0)
    assert weather_kg(frost)[3:].sum() < 0.6 * weather_kg(frost, heating=1.0)[3:].sum()
    rig = still_rig(-5.0, {"damage_share_per_day": 0.05})
    counts, _ = outcome(rig)
    assert counts.flushed.sum() == 0


def test_winter_slows_a_free_running_room() -> None:
    """The coldest months give less than those in which the room is in its band, and waste none.

    With heating the same winter gives more.
    """
    free, heated = weather_kg(mild_year(9.0)), weather_kg(mild_year(9.0), heating=1.0)
    winter, autumn = free[[12, 13, 14]].mean(), free[[20, 21, 22]].mean()
    assert winter < 0.7 * autumn
    assert heated[[12, 13, 14]].mean() > 1.2 * winter


def test_stale_air_costs_kilograms() -> None:
    """A fan that cannot hold the level: less is picked."""
    assert weather_kg(mild_year(), fresh_air_most_m3_per_h=60.0)[12:].sum() < (
        0.99 * weather_kg(mild_year())[12:].sum()
    )


# No staircase.

SCALES = 1.0 + np.arange(-10, 11) / 100


def scaled_pace(rig: Rig, scale: float) -> Rig:
    """All rooms of a rig quicker or slower."""
    return rig._replace(plan=rig.plan._replace(pace_scale=rig.plan.pace_scale * scale))


MOVED: dict[str, Callable[[dict[str, Any], float], Rig]] = {
    "insulation": lambda told, x: farm_rig(1, loss_w_per_k=33.0 * x, **told),
    "pace": lambda told, x: scaled_pace(farm_rig(1, **told), x),
    "loss_share": lambda told, x: farm_rig(1, crop={"loss_share": 0.05 * x}, **told),
    "spawn_run_days": lambda told, x: farm_rig(1, crop={"spawn_run_days": 16.0 * x}, **told),
    "flush_interval_days": lambda told, x: farm_rig(
        1, crop={"flush_interval_days": 12.0 * x}, **told
    ),
}
# Where places are the limit the grower's own starts answer too, a week's pace late.
SETTINGS: dict[str, dict[str, Any]] = {
    "free_running": {"places": 144.0},
    "heated": {"places": 144.0, "heating": 1.0},
    "room_to_spare": {"places": 1e6},
}


@pytest.mark.parametrize("setting", sorted(SETTINGS))
@pytest.mark.parametrize("what", sorted(MOVED))
def test_kilograms_change_smoothly(what: str, setting: str) -> None:
    """From 10 % less to 10 % more in steps of 1 %: no batch may fall in or out of the year.

    Were batches whole, one more or less would be a step of 1/52 (weekly) or 1/365 (daily) of the
    year, and a jump shows in full as a second difference: a quarter of a daily batch is the most.
    Where starts pass from one limit to another the slope itself changes, but month by month, not
    in the whole year at once: a third of the steepest first difference is allowed for that.
    """
    settled = np.array(
        [
            picked_kg(outcome(rig)[0], rig.plan)[12:].sum()
            for rig in (MOVED[what](SETTINGS[setting], float(x)) for x in SCALES)
        ]
    )
    first, second = np.abs(np.diff(settled)), np.abs(np.diff(settled, 2))
    day = settled.mean() / 365
    assert second.max() < max(day / 4, first.max() / 3), (second.max() / day, first.max() / day)
    assert first.max() < 4 * day  # 1 % of 365 days, were all of it to follow


def test_hot_rooms_with_full_places_do_not_hunt() -> None:
    """A room that stands still in summer and fills again: starts must not swing about.

    A start acts a spawn run later. Looking only at what waits, 1 % of pace moved the year by 1.2 %
    and back; what is on its way must count. A day's batch is 0.27 % of the year.
    """
    hot = outside_air(mild_year(16.0))
    base = farm_rig(1, hot, places=144.0)
    settled = []
    for x in SCALES:
        rig = scaled_pace(base, float(x))
        settled.append(picked_kg(outcome(rig)[0], rig.plan)[12:].sum())
    share = np.array(settled) / settled[10]
    assert np.abs(np.diff(share)).max() < 2 / 365
    assert np.abs(np.diff(share, 2)).max() < 1.5 / 365


def test_rounding_does_not_grow() -> None:
    """1e-12 on the pace of a room leaves kilograms the same, and kilowatt-hours to 1e-5.

    Not closer: a cohort's harvest comes to the cold store in one hour, and that may be the next.
    """
    one = farm_rig(4, cool_kw=2.0, heating=2.0)
    (counts, tally), (other, taken) = outcome(one), outcome(scaled_pace(one, 1 + 1e-12))
    assert_allclose(other.flushed.sum(), counts.flushed.sum(), rtol=1e-9)
    assert_allclose(taken.kwh.sum((0, 2)), tally.kwh.sum((0, 2)), rtol=1e-5)
