"""Charts and tables of the rooms: what they claim is counted again from the hours."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import farmcase as fc
from farmcase.errors import NotFoundError
from farmcase.inputs.case import Case
from farmcase.inputs.reference import reference_table
from farmcase.model.build_outcome import BuildOutcome
from farmcase.model.outcome import Outcome
from farmcase.model.room_inputs import weather_of
from farmcase.model.shell import enclosed_rooms
from farmcase.moist_air import humidity_ratio_at
from farmcase.output import charts, room_tables
from farmcase.output.cautions import caution_places
from farmcase.output.energy_charts import apart, picked_by_month, uses_by_month
from farmcase.output.hour_map import band_shares, cells_of
from farmcase.output.psychrometric_chart import hour_counts
from farmcase.output.room_bands import (
    Steps,
    humidity_steps,
    main_crops,
    months_of,
    settled_hours,
    temperature_steps,
)
from farmcase.output.room_risks import risk_places, risk_table
from farmcase.output.tables import Table
from farmcase.words import rooms as say
from farmcase.words.numbers import NONE, month_of_year, percent, plain

ROOM, BUILD, LOCALE = "fruiting_left", "self_build", "en_IE"
PUBLISHED = Path(__file__).resolve().parent / "published"
LENGTHS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
MONTHS = [month_of_year(f"2027-{m + 1:02d}", LOCALE) for m in range(12)]
# Plain steps from the hand: one edge below the band, one above.
BY_HAND = Steps(np.tile([10.0, 20.0], (12, 1)), 1, ("a", "b", "c"), ("", "", ""), (1,), ("x",) * 12)


@pytest.fixture(scope="module")
def heated(small_case: Case) -> Outcome:
    """The small case, whose long fruiting room has a heater."""
    return fc.evaluate(small_case)


@pytest.fixture(scope="module")
def free(small_case: Case) -> Outcome:
    """The same with that room running free."""
    return fc.evaluate(small_case.vary({f"climate.{ROOM}.heating": "none"}))


def last_year(build: BuildOutcome, room: str) -> pd.DataFrame:
    """The settled year of a room as the model gives it."""
    return build.rooms[room].iloc[8760:]


def cell(table: Table, row: str, column: str) -> str:
    """One cell by its headings."""
    found = [line for line in table.rows if line[0] == row]
    assert len(found) == 1, row
    return found[0][list(table.header).index(column)]


# The hours in order, and their steps.


@pytest.mark.parametrize("month", [4, 7, 12, 13])
def test_a_settled_year_is_put_in_calendar_order(small_case: Case, month: int) -> None:
    """From the first hour of January to the last of December, whenever the starts begin."""
    path = f"builds.{BUILD}.production_start_month"
    build = fc.evaluate(small_case.vary({path: month}))[BUILD]
    table = settled_hours(build, ROOM)
    when = pd.DatetimeIndex(table.index)
    day = np.repeat(np.arange(365), 24)
    starts = np.cumsum([0, *LENGTHS])
    expected = np.searchsorted(starts, day, side="right")
    assert list(when.month) == list(expected)
    assert list(when.day) == list(day - starts[expected - 1] + 1)
    assert list(when.hour) == list(range(24)) * 365
    assert set(table.index) == set(last_year(build, ROOM).index)
    assert list(months_of(table)) == list(expected - 1)


def test_values_on_an_edge_count_to_the_band() -> None:
    """Both ends of a band belong to it, whatever their last bits."""
    values = np.array([9.9, 10.0, 10 - 1e-12, 15.0, 20.0, 20 + 1e-12, 20.1])
    assert list(BY_HAND.of(values, np.zeros(7, np.int64))) == [0, 1, 1, 1, 1, 1, 2]


def test_steps_of_warmth_are_the_limits_of_the_crop(free: Outcome) -> None:
    """Stop, thirds of the band, and the temperature at which heat has halved the kilograms."""
    crop = free.case.crops["grey_oyster"]
    low, high = crop.fruit_low_c.likely, crop.fruit_high_c.likely
    steps = temperature_steps(free[BUILD], ROOM)
    assert set(main_crops(free[BUILD], ROOM)) == {"grey_oyster"}
    third = (high - low) / 3
    half = high + crop.fruit_hot_k.likely / 2
    expected = [crop.fruit_stop_c.likely, low, low + third, high - third, high, half]
    assert steps.edges == pytest.approx(np.tile(expected, (12, 1)))
    assert len(steps.names) == len(steps.shades) == 7
    assert steps.names[1] == "4 to 10\u00a0°C: cooler than the band"


def test_a_month_without_starts_keeps_the_crop_before_it(small_case: Case) -> None:
    """The crop of which most is started; January may look back to December."""
    shares = {"grey_oyster": [0, 0, 0.4, 1, 0, 0, 0, 0, 0, 0, 0.2, 0]}
    shares["shiitake"] = [0, 0, 0.6, 0, 0, 0.1, 0, 0, 0, 0, 0.1, 0]
    case = small_case.vary({f"plan.{ROOM}.start_share_by_month": shares})
    found = main_crops(fc.evaluate(case)[BUILD], ROOM)
    expected = ["grey_oyster"] * 2 + ["shiitake"] + ["grey_oyster"] * 2 + ["shiitake"] * 5
    assert found == expected + ["grey_oyster"] * 2


def shade_lightness(colour: str) -> float:
    """Relative luminance of a colour (WCAG 2.1, from sRGB by IEC 61966-2-1)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("make", [temperature_steps, humidity_steps])
@pytest.mark.parametrize("room", [ROOM, "spawn_room", "cold_room"])
def test_colours_of_a_map_can_be_read_in_grey(free: Outcome, make: Any, room: str) -> None:
    """From step to step they get darker, or lighter, all the way."""
    light = [shade_lightness(c) for c in make(free[BUILD], room).shades]
    ratios = [(a + 0.05) / (b + 0.05) for a, b in pairwise(light)]
    assert all(r > 1.2 for r in ratios) or all(r < 1 / 1.2 for r in ratios)


# The maps.


def test_map_title_counts_hours_outside_the_band(free: Outcome) -> None:
    """Too cold and too warm, counted from the hours; with what is within, all of them."""
    crop = free.case.crops["grey_oyster"]
    air = last_year(free[BUILD], ROOM)["air_temp_c"]
    cold = float((air < crop.fruit_low_c.likely).mean())
    warm = float((air > crop.fruit_high_c.likely).mean())
    assert cold > 0.1  # or the title would not speak of it
    title = charts.title_of(charts.hour_map(free, BUILD, ROOM))
    said = f"in {percent(cold, LOCALE)} of the hours and too warm in {percent(warm, LOCALE)}"
    assert title.endswith(f"is too cold for {crop.label} {said}")
    table, steps = settled_hours(free[BUILD], ROOM), temperature_steps(free[BUILD], ROOM)
    shares = band_shares(table, steps, table["air_temp_c"].to_numpy())
    assert shares == pytest.approx((cold, 1 - cold - warm, warm))


def test_map_agrees_with_the_hours_of_the_model(free: Outcome) -> None:
    """Where it is damp enough, the hours within the band are those that the room year counts."""
    years, table = free[BUILD].physical.rooms, settled_hours(free[BUILD], ROOM)
    assert years is not None
    crop = free.case.crops["grey_oyster"]
    assert table["relative_humidity_share"].min() > crop.fruit_humidity_low_share.likely
    steps = temperature_steps(free[BUILD], ROOM)
    inside = band_shares(table, steps, table["air_temp_c"].to_numpy())[1]
    r = years.names.index(ROOM)
    assert inside * 8760 == pytest.approx(years.band_hours[0, r, 0])


def test_a_room_that_is_warm_enough_says_so(heated: Outcome) -> None:
    """No talk of nought percent."""
    title = charts.title_of(charts.hour_map(heated, "bought_unit", "fruiting_right"))
    label = heated.case.crops["shiitake"].label
    assert title.endswith(f"is as warm as {label} wants it in 100 % of the hours")


def test_humidity_title_counts_dry_and_damp_hours(small_case: Case) -> None:
    """With a humidifier set too low, by the ends of the band."""
    case = small_case.vary({f"climate.{ROOM}.humidify_to_share": 0.8})
    outcome = fc.evaluate(case)
    crop = case.crops["grey_oyster"]
    humid = last_year(outcome[BUILD], ROOM)["relative_humidity_share"]
    dry = percent(float((humid < crop.fruit_humidity_low_share.likely).mean()), LOCALE)
    damp = percent(float((humid > crop.fruit_humidity_high_share.likely).mean()), LOCALE)
    title = charts.title_of(charts.humidity_map(outcome, BUILD, ROOM))
    assert dry != "0 %"
    assert title.endswith(f"in {dry} of the hours and damper than its band in {damp}")


def test_a_room_without_crop_is_told_by_its_middle_hours(free: Outcome) -> None:
    """Nine tenths of the hours lie between the two numbers of the title."""
    title = charts.title_of(charts.hour_map(free, BUILD, "spawn_room"))
    low, high = (float(n) for n in re.findall(r"[\d.]+(?=\D)", title)[:2])
    air = last_year(free[BUILD], "spawn_room")["air_temp_c"]
    assert float(air.between(low - 0.05, high + 0.05).mean()) == pytest.approx(0.9, abs=0.02) or (
        float(air.between(low - 0.05, high + 0.05).mean()) > 0.9
    )
    assert float((air < low - 0.05).mean()) <= 0.05 and float((air > high + 0.05).mean()) <= 0.05


def test_a_room_that_is_not_there_is_named(free: Outcome) -> None:
    """One sentence with the rooms there are."""
    with pytest.raises(NotFoundError, match="no hours of a room 'attic'; it has spawn_room"):
        charts.hour_map(free, BUILD, "attic")


def painted(frame: pd.DataFrame) -> np.ndarray:
    """What is seen at the middle of each hour when rectangles are drawn in their order."""
    seen = np.full((365, 24), -1)
    days, hours = np.arange(365) + 0.5, np.arange(24) + 0.5
    for row in frame.to_dict("records"):
        across = (days > row["day"]) & (days < row["day_end"])
        up = (hours > row["hour"]) & (hours < row["hour_end"])
        seen[np.ix_(across, up)] = row["step"]
    return seen


@pytest.mark.parametrize("swing", ["days", "hours"])
def test_rectangles_show_every_hour(swing: str) -> None:
    """By hand: waves of some days, or of each day, drawn as runs, look as the hours are."""
    hour = np.arange(8760)
    period = 24 * 9.3 if swing == "days" else 24
    values = 15 + 8 * np.sin(2 * np.pi * hour / period) + 3 * np.cos(hour / 700)
    months = np.repeat(np.arange(12), LENGTHS * 24)
    days, hours, frame = cells_of(values, months, BY_HAND)
    assert (days, hours) == (1, 1)
    expected = (values >= 10).astype(int) + (values > 20)
    assert (painted(frame) == expected.reshape(365, 24)).all()


def test_rectangles_of_a_restless_year_are_means() -> None:
    """Noise of every hour is drawn in cells of several, few enough, each of their mean."""
    values = np.random.default_rng(3).normal(15, 8, 8760)
    months = np.repeat(np.arange(12), LENGTHS * 24)
    days, hours, frame = cells_of(values, months, BY_HAND)
    assert days > 1 and len(frame) <= 1500
    seen, year = painted(frame), values.reshape(365, 24)
    for day in range(0, 365, days):
        for hour in range(0, 24, hours):
            mean = year[day : day + days, hour : hour + hours].mean()
            cells = set(seen[day : day + days, hour : hour + hours].ravel())
            assert cells == {int(mean >= 10) + int(mean > 20)}


def test_drawn_map_is_that_of_the_hours(free: Outcome) -> None:
    """The room's own year, with the crop's steps; the words of the steps are those drawn."""
    table, steps = settled_hours(free[BUILD], ROOM), temperature_steps(free[BUILD], ROOM)
    values = table["air_temp_c"].to_numpy()
    days, hours, frame = cells_of(values, months_of(table), steps)
    if (days, hours) == (1, 1):
        expected = np.searchsorted(steps.edges[0], values, side="left").reshape(365, 24)
        assert (painted(frame) == expected).mean() > 0.999  # but for values on an edge
    chart = charts.hour_map(free, BUILD, ROOM).to_dict()
    rows = next(rows for rows in chart["datasets"].values() if "step" in rows[0])
    assert len(rows) == len(frame)
    assert {row["step"] for row in rows} <= set(steps.names)


def test_a_band_that_changes_is_told(small_case: Case) -> None:
    """Two crops by season: months and bands in the caption, a rule where the band changes."""
    shares = {"grey_oyster": [1.0] * 5 + [0.0] * 3 + [1.0] * 4}
    shares["shiitake"] = [0.0] * 5 + [1.0] * 3 + [0.0] * 4
    case = small_case.vary({f"plan.{ROOM}.start_share_by_month": shares})
    chart = charts.hour_map(fc.evaluate(case), BUILD, ROOM).to_dict()
    note = " ".join(np.atleast_1d(chart["title"]["subtitle"]))
    assert f"10 to 21\u00a0°C ({MONTHS[0]} to {MONTHS[4]} and {MONTHS[8]} to {MONTHS[11]})" in note
    assert f"11 to 26\u00a0°C ({MONTHS[5]} to {MONTHS[7]})" in note
    ruled = next(r for r in chart["datasets"].values() if set(r[0]) == {"day"})
    assert [row["day"] for row in ruled] == [151, 243]  # 1 June and 1 September


# Temperature and humidity together.


def test_right_hours_are_counted_again(free: Outcome) -> None:
    """Both crops stand there all year, so their hours can be counted from the table."""
    table, years = last_year(free[BUILD], ROOM), free[BUILD].physical.rooms
    assert years is not None
    r = years.names.index(ROOM)
    assert (years.crop_hours[0, r] == 8760).all() and (table["units_standing"] > 0).all()
    title = charts.title_of(charts.psychrometric_chart(free, BUILD, ROOM))
    for crop in free.case.crops.values():
        fits = table["air_temp_c"].between(crop.fruit_low_c.likely, crop.fruit_high_c.likely)
        fits &= table["relative_humidity_share"] >= crop.fruit_humidity_low_share.likely
        assert f"{crop.label} in {percent(float(fits.mean()), LOCALE)}" in title


def test_every_hour_is_in_one_step(free: Outcome) -> None:
    """Counts add up to the year, and each is that of the hours between its ends."""
    table = last_year(free[BUILD], ROOM)
    counts = hour_counts(table)
    assert counts["hours"].sum() == len(table)
    for row in counts.sample(12, random_state=1).to_dict("records"):
        inside = (table["air_temp_c"] >= row["temp"]) & (table["air_temp_c"] < row["temp_end"])
        damp = table["relative_humidity_share"]  # the humidifier holds it at an edge
        inside &= damp >= row["damp"] - 1e-9
        if row["damp_end"] < 0.99:  # the last step holds saturated air too
            inside &= damp < row["damp_end"] - 1e-9
        assert row["hours"] == inside.sum()


def test_no_hour_is_drawn_above_saturation(free: Outcome) -> None:
    """Pieces end at the curve of 100 %, at the pressure of the weather."""
    chart = charts.psychrometric_chart(free, BUILD, ROOM).to_dict()
    pieces = next(r for r in chart["datasets"].values() if "ratio_end" in r[0])
    pressure = weather_of(free.case).pressure_pa.mean()
    for row in pieces:
        full = 1000 * float(humidity_ratio_at(row["temp"], 1.0, pressure))
        assert 0 < row["ratio"] < row["ratio_end"] <= full * (1 + 1e-5)


def test_outlines_are_the_bands(free: Outcome) -> None:
    """Closed, from the lowest to the highest temperature, from the least humidity to saturation."""
    chart = charts.psychrometric_chart(free, BUILD, ROOM).to_dict()
    lines = [r for r in chart["datasets"].values() if "order" in r[0]]
    pressure = weather_of(free.case).pressure_pa.mean()
    assert len(lines) == 2
    for rows, crop in zip(lines, free.case.crops.values(), strict=True):
        low, high = crop.fruit_low_c.likely, crop.fruit_high_c.likely
        damp = crop.fruit_humidity_low_share.likely
        assert (rows[0]["temp"], rows[0]["ratio"]) == (rows[-1]["temp"], rows[-1]["ratio"])
        assert {min(r["temp"] for r in rows), max(r["temp"] for r in rows)} == {low, high}
        for temp, share in ((low, damp), (high, damp), (low, 1.0), (high, 1.0)):
            corner = 1000 * float(humidity_ratio_at(temp, share, pressure))
            assert any(
                r["temp"] == temp and r["ratio"] == pytest.approx(corner, rel=1e-5) for r in rows
            )


def test_air_of_a_room_without_crop_is_told(free: Outcome) -> None:
    """Temperatures and humidities that nine of ten hours lie between."""
    table = last_year(free[BUILD], "cold_room")
    ends = np.percentile(table["air_temp_c"], [5, 95])
    title = charts.title_of(charts.psychrometric_chart(free, BUILD, "cold_room"))
    said = f"between {plain(ends[0], LOCALE, 1)} and {plain(ends[1], LOCALE, 1)}\u00a0°C"
    assert said in title and "% humidity" in title


# Energy and kilograms by month.


def test_end_uses_are_all_the_energy(heated: Outcome) -> None:
    """Month by month the uses add up to what the months of the outcome say."""
    for build in heated.values():
        table, start = uses_by_month(build), build.inputs.start
        year = build.monthly.iloc[start + 12 : start + 24]
        by_month = {
            int(d[5:]) - 1: kwh for d, kwh in zip(year["date"], year["energy_kwh"], strict=True)
        }
        assert len(by_month) == 12
        for month, kwh in by_month.items():
            assert float(table.loc[month].to_numpy().sum()) == pytest.approx(kwh)


def test_end_use_title_names_the_largest(heated: Outcome) -> None:
    """Largest use and its share, from the energy of the whole year."""
    title = charts.title_of(charts.end_use_chart(heated))
    for build in heated.values():
        energy = build.physical.energy_kwh[0, :, :, 12:].sum((0, 2))
        sums: dict[str, float] = {}
        for use, kwh in zip(build.physical.end_uses, energy, strict=True):
            label = say.END_USES.get(use, say.OTHER_USES)
            sums[label] = sums.get(label, 0.0) + float(kwh)
        largest = max(sums, key=lambda use: sums[use])
        share = percent(sums[largest] / sum(sums.values()), LOCALE)
        assert largest.lower() in title.lower() and f"{share} ({build.label})" in title


def test_one_build_alone_can_be_drawn(heated: Outcome) -> None:
    """Only its panel and its finding."""
    title = charts.title_of(charts.end_use_chart(heated, "bought_unit"))
    labels = [build.label for build in heated.values()]
    assert labels[1] in title and labels[0] not in title


def settled_kilograms(build: BuildOutcome) -> dict[str, float]:
    """Kilograms by calendar month, from the table of months."""
    start = build.inputs.start
    year = build.monthly.iloc[start + 12 : start + 24]
    names = [month_of_year(date, LOCALE) for date in year["date"]]
    return dict(zip(names, year["picked_kg"].to_numpy(float), strict=True))


def test_season_title_names_least_and_most(free: Outcome) -> None:
    """The poorest month against the best, of every build."""
    title = charts.title_of(charts.season_chart(free))
    for build in free.values():
        picked = settled_kilograms(build)
        low, high = min(picked, key=picked.__getitem__), max(picked, key=picked.__getitem__)
        less = percent(1 - picked[low] / picked[high], LOCALE)
        assert f"{build.label} picks {less} less in {low} than in {high}" in title
        assert picked_by_month(build) == pytest.approx([picked[m] for m in MONTHS])


def test_heated_title_names_what_the_cold_costs(free: Outcome, heated: Outcome) -> None:
    """Kilograms of the year and of the month that loses most; energy in the caption."""
    cold, warm = settled_kilograms(free[BUILD]), settled_kilograms(heated[BUILD])
    gap = {month: warm[month] - cold[month] for month in MONTHS}
    worst = max(gap, key=gap.__getitem__)
    chart = charts.heated_chart(free[BUILD], heated[BUILD], "with the heater", "without")
    title = charts.title_of(chart)
    assert f"picks {plain(sum(gap.values()), LOCALE)} kg a year less without" in title
    ends = f"({plain(cold[worst], LOCALE)} against {plain(warm[worst], LOCALE)} kg)"
    assert f"{worst} loses most {ends}" in title
    kwh = [o[BUILD].physical.energy_kwh[..., 12:].sum() for o in (heated, free)]
    note = " ".join(np.atleast_1d(chart.to_dict()["title"]["subtitle"]))
    assert f"for {plain(kwh[0] - kwh[1], LOCALE)} kWh a year more" in note
    turned = charts.title_of(charts.heated_chart(heated[BUILD], free[BUILD], "without"))
    assert turned.endswith("picks as much in the year as planned as without, or more")


def test_names_at_the_ends_of_lines_stand_apart() -> None:
    """By hand: far ones stay, near ones share their middle, equal ones keep their order."""
    assert apart([10.0, 50.0], 5.0) == [10.0, 50.0]
    assert apart([50.0, 49.0], 5.0) == pytest.approx([52.0, 47.0])
    assert apart([3.0, 3.0, 3.0], 2.0) == pytest.approx([1.0, 3.0, 5.0])
    assert apart([0.0, 1.0, 30.0], 4.0) == pytest.approx([-1.5, 2.5, 30.0])


# The tables.


def test_air_table_is_counted_from_the_hours(free: Outcome) -> None:
    """Means of months, people's limits, wet steel, energy and water, room by room."""
    table = room_tables.air_table(free, "bought_unit")
    build = free["bought_unit"]
    physics = reference_table("physics", free.case.folder)
    assert list(table.header[1:]) == [free.case.rooms[n].label for n in build.rooms]
    for name in build.rooms:
        hours, label = last_year(build, name), free.case.rooms[name].label
        months = hours.groupby(pd.DatetimeIndex(hours.index).month).mean()
        air = months["air_temp_c"]
        coldest = np.flatnonzero(air.to_numpy() < air.min() + 1e-6)  # a set point holds several
        cold = [f"{plain(air.min(), LOCALE, 1)} °C ({MONTHS[int(m)]})" for m in coldest]
        assert cell(table, say.COLDEST, label) in cold
        assert cell(table, say.DAMPEST, label).startswith(
            percent(months["relative_humidity_share"].max(), LOCALE)
        )
        for minutes, row in ((False, "co2_limit_8_h_ppm"), (True, "co2_limit_15_min_ppm")):
            limit = float(physics[row]["likely"])
            over = int((hours["co2_ppm"] > limit).sum())
            heading = say.co2_hours(minutes, plain(limit, LOCALE))
            assert cell(table, heading, label) == plain(over, LOCALE)
        assert cell(table, say.WET, label) == plain(hours["wet_bridge"].sum(), LOCALE)
        used = hours[[c for c in hours if str(c).endswith("_electric_kwh")]].sum().sum()
        used += hours["heating_input_kwh"].sum()
        assert cell(table, say.ALL_ENERGY, label) == plain(used, LOCALE)
        fog = plain(hours["humidifier_kg"].sum(), LOCALE)
        assert cell(table, say.HUMIDIFIED, label) == fog


def test_species_outside_their_band_are_named(free: Outcome) -> None:
    """Each crop with its share, in the room's column and in a row of its own."""
    hours, label = last_year(free[BUILD], ROOM), free.case.rooms[ROOM].label
    shown = cell(room_tables.air_table(free, BUILD), say.WITHIN, label)
    rows = {row[1]: row for row in room_tables.crop_table(free, BUILD).rows}
    for crop in free.case.crops.values():
        cold = hours["air_temp_c"] < crop.fruit_low_c.likely
        warm = hours["air_temp_c"] > crop.fruit_high_c.likely
        dry = hours["relative_humidity_share"] < crop.fruit_humidity_low_share.likely
        within = percent(float((~cold & ~warm & ~dry).mean()), LOCALE)
        assert f"{crop.label} {within}" in shown
        told = [percent(float(each.mean()), LOCALE) for each in (cold, warm, dry)]
        assert list(rows[crop.label][3:8]) == ["8,760", within, *told]


def test_a_crop_that_comes_and_goes_is_not_told_hour_by_hour(small_case: Case) -> None:
    """Its hours within the band stand, the reasons do not."""
    shares = {"grey_oyster": [0.7] * 12, "shiitake": [0.0] * 5 + [0.3] + [0.0] * 6}
    case = small_case.vary({f"plan.{ROOM}.start_share_by_month": shares})
    rows = {row[1]: row for row in room_tables.crop_table(fc.evaluate(case), BUILD).rows}
    rare = rows[case.crops["shiitake"].label]
    assert list(rare[5:8]) == [NONE] * 3 and rare[4].endswith("%")
    assert NONE not in rows[case.crops["grey_oyster"].label]


def test_walls_add_up_to_their_loss(heated: Outcome) -> None:
    """Areas times layers and allowance; faces to other rooms name them; the standard's gap."""
    table = room_tables.wall_table(heated, "bought_unit")
    case = heated["bought_unit"].inputs.case
    for name in enclosed_rooms(case):
        label, loss = case.rooms[name].label, 0.0
        bridging = case.climate[name].bridging_w_per_m2_k
        for row in table.rows[:6]:
            text = row[list(table.header).index(label)]
            if " · " in text:
                area, layers = text.split(",")[0].split(" · ")
                loss += float(area) * (float(layers) + bridging.likely)
        assert float(cell(table, say.LOSS, label)) == pytest.approx(loss, abs=1.0, rel=0.02)
        shown = cell(table, say.BRIDGING, label)
        assert shown.startswith(plain(bridging.likely, LOCALE, 2))
        assert plain(bridging.high, LOCALE, 2) in shown
    long_room, dark = case.rooms[ROOM].label, case.rooms["spawn_room"].label
    assert cell(table, "Front", long_room) == f"beside {dark}"
    assert "does not cover insulation bridged by metal" in table.caption


def test_wall_of_known_layers_has_its_u_value(heated: Outcome) -> None:
    """The roof of the dark room, worked out by hand from the tables of shells and materials."""
    case, folder = heated.case, heated.case.folder
    materials = reference_table("materials", folder)
    physics = reference_table("physics", folder)
    room, box = case.rooms["spawn_room"], case.containers["box_main"]
    shell = reference_table("containers", folder)[box.kind]["shell"]
    layers = [
        (float(row["thickness_m"]), row["material"])
        for row in reference_table("shells", folder).values()
        if row["shell"] == shell and row["face"] == "roof"
    ]
    layers += [(room.insulation_m, room.insulation), (room.inner_face_m, room.inner_face)]
    resistance = sum(t / float(materials[m]["conductivity_w_per_m_k"]) for t, m in layers)
    resistance += float(physics["rsi_up"]["likely"]) + float(physics["rse"]["likely"])
    shown = cell(room_tables.wall_table(heated, BUILD), "Roof", room.label)
    assert shown.endswith(f" · {plain(1 / resistance, LOCALE, 2)}")


def numbers(table: Table, row: str) -> list[float]:
    """A row of numbers; a dash is nil."""
    found = next(line for line in table.rows if line[0] == row)
    return [0.0 if c == NONE else float(c.replace(",", "")) for c in found[1:]]


def test_energy_used_is_bought_or_from_own_panels(heated: Outcome) -> None:
    """Uses add up; bands and own solar add up to the same; panels give or send out."""
    for name in heated:
        table = room_tables.energy_table(heated, name)
        used = np.array(numbers(table, say.USED))
        rows = [row[0] for row in table.rows]
        uses = [numbers(table, row) for row in rows[: rows.index(say.USED)]]
        assert np.sum(uses, axis=0) == pytest.approx(used, abs=len(uses))
        bands = [say.PLAIN_PRICE, *(b.label for b in heated.case.bands.values())]
        bought = np.sum([numbers(table, say.bought_in(band)) for band in bands], axis=0)
        has_panels = bool(heated[name].inputs.case.solar)
        own = np.array(numbers(table, say.OWN_USED)) if has_panels else np.zeros_like(used)
        assert bought + own == pytest.approx(used, abs=2)
        if has_panels:
            sent = sum(numbers(table, say.OWN_SENT))
            assert sent == pytest.approx(heated[name].physical.sent_kwh[0, 12:].sum(), abs=0.5)
        else:
            assert say.OWN_SENT not in rows


def test_water_adds_up(heated: Outcome) -> None:
    """Fog is that of the hours; fog and the rest are all that is taken."""
    table = room_tables.leaving_table(heated)
    fog, rest, taken, drained, waste, spent, _ = (numbers(table, row[0]) for row in table.rows)
    assert np.add(fog, rest) == pytest.approx(taken, abs=0.1)
    for i, build in enumerate(heated.values()):
        hours = [last_year(build, room) for room in build.rooms]
        assert fog[i] == pytest.approx(sum(h["humidifier_kg"].sum() for h in hours) / 1e3, abs=0.06)
        dripped = sum((h["coil_kg"] + h["condensed_kg"]).sum() for h in hours) / 1e3
        assert drained[i] == pytest.approx(dripped, abs=0.06)
        assert drained[i] <= waste[i] + 0.1 and spent[i] > 0


def test_closure_is_told_by_what_it_lies_below(heated: Outcome) -> None:
    """Never less than the residual; by hand for some."""
    table = room_tables.closure_table(heated)
    for i, build in enumerate(heated.values()):
        years = build.physical.rooms
        assert years is not None
        for k, row in enumerate(table.rows):
            bound = float(row[1 + i].split()[1])
            assert years.residual[0, :, k].max() < bound <= 1e-4
    assert room_tables.closes_within(0.0, "kWh", LOCALE) == "below 0.000000001 kWh"
    assert room_tables.closes_within(2e-7, "kg", LOCALE) == "below 0.000001 kg"
    assert room_tables.closes_within(4e-7, "kg", LOCALE) == "below 0.00001 kg"
    assert room_tables.closes_within(np.nan, "kg", LOCALE) == NONE


# Cautions.


def test_cautions_stand_where_the_risk_is(heated: Outcome) -> None:
    """Rooms, plant and vessels of the small case, each at its place; gas heater included."""
    case, places = heated.case, risk_places(heated, "bought_unit")
    labels = {name: room.label for name, room in case.rooms.items()}
    assert places["water"] == [labels["fruiting_left"], labels["fruiting_right"]]
    assert places["burner"] == [labels["fruiting_left"], case.vessels["kettle"].label]
    assert places["heat"] == [case.vessels["kettle"].label]
    assert places["cooling"] == [labels["cold_room"], labels["fruiting_right"]]
    over = int((last_year(heated["bought_unit"], "spawn_room")["co2_ppm"] > 5000).sum())
    assert places["co2"] == [
        f"{labels['spawn_room']} ({plain(over, LOCALE)} h a year above 5,000 ppm)"
    ]
    assert "pressure" not in places and "lime" not in places
    assert labels["fruiting_right"] not in risk_places(heated, BUILD)["water"]


@pytest.mark.parametrize(
    ("changes", "gone", "come"),
    [
        ({f"climate.{ROOM}.heating": "none"}, (), ()),
        ({f"climate.{ROOM}.humidifier": "steam"}, ("water",), ()),
        ({f"climate.{ROOM}.humidifier": "none"}, ("water",), ()),
        ({"climate.cold_room.cooling": "none"}, ("cooling",), ()),
        ({"vessels.kettle.treatment": "steam"}, (), ("heat", "pressure")),
        ({"vessels.kettle.treatment": "sterilising"}, (), ("heat", "pressure")),
        ({"vessels.kettle.treatment": "cold_lime"}, ("heat",), ("lime",)),
        ({"vessels.kettle.carrier": "electricity", f"climate.{ROOM}.heating": "none"},
         ("burner",), ()),
    ],
)  # fmt: skip
def test_cautions_follow_the_plant(
    small_case: Case, changes: dict[str, Any], gone: tuple[str, ...], come: tuple[str, ...]
) -> None:
    """What is not there is not warned of; what is put in is."""
    case = small_case.vary(changes)
    places = set(risk_places(fc.evaluate(case), BUILD))
    assert not places & set(gone)
    assert set(come) <= places
    assert places <= caution_places(case) | {"cooling"}


def test_risk_table_has_every_caution_of_its_places(heated: Outcome) -> None:
    """All of a place when it is named, none of others; all that apply when none is."""
    rows = reference_table("cautions", heated.case.folder).values()
    table = risk_table(heated, BUILD, "water")
    assert [row[1] for row in table.rows] == [r["text"] for r in rows if r["place"] == "water"]
    places = set(risk_places(heated, BUILD))
    assert places <= {row["place"] for row in rows}
    everything = {row[1] for row in risk_table(heated, BUILD).rows}
    assert everything == {row["text"] for row in rows if row["place"] in places}
    assert risk_table(heated, BUILD, "lime").rows == []


# What holds for every chart.


def all_charts(free: Outcome, heated: Outcome) -> Iterator[tuple[str, Any]]:
    """Each kind of chart, rooms with and without crop."""
    for room in (ROOM, "spawn_room", "cold_room"):
        yield f"warmth of {room}", charts.hour_map(free, BUILD, room)
        yield f"humidity of {room}", charts.humidity_map(free, BUILD, room)
        yield f"air of {room}", charts.psychrometric_chart(free, BUILD, room)
    yield "end uses", charts.end_use_chart(heated)
    yield "seasons", charts.season_chart(free)
    yield "heated", charts.heated_chart(free[BUILD], heated[BUILD])


def test_pictures_are_small_named_and_the_same_twice(free: Outcome, heated: Outcome) -> None:
    """Axes with units, no more than 150 kB, the same bytes when made again."""
    again = dict(all_charts(free, heated))
    for name, chart in all_charts(free, heated):
        picture = charts.shown(chart)
        assert len(picture.svg.encode()) < 150_000, name
        assert picture.svg == charts.shown(again[name]).svg, name
        titled = re.findall(r"[XY]-axis(?: titled '([^']*)')? for a linear scale", picture.svg)
        assert titled, name
        for title in titled:
            assert re.fullmatch(r"[A-Z][^,(]*\([^()]+\)", title), (name, title)


def test_chart_data_have_at_most_six_digits(free: Outcome, heated: Outcome) -> None:
    """So that no picture hangs on the last bits of a sum."""
    for name, chart in all_charts(free, heated):
        for rows in chart.to_dict()["datasets"].values():
            for value in (v for row in rows for v in row.values() if isinstance(v, float)):
                assert value == pytest.approx(float(f"{value:.6g}"), rel=1e-12), name


def test_a_farm_with_its_own_records_has_no_rooms_to_show() -> None:
    """Tables of a build without modelled rooms say nothing rather than fail."""
    outcome = fc.evaluate(fc.open_case(PUBLISHED / "oyster_house"))
    name = next(iter(outcome))
    for table in (room_tables.air_table(outcome, name), room_tables.crop_table(outcome, name)):
        assert table.rows == []
    assert all(cell == NONE for row in room_tables.closure_table(outcome).rows for cell in row[1:])
    assert charts.title_of(charts.season_chart(outcome))
