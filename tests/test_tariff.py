"""Time bands and the bill: hand counts, dates of summer time, and one band as no bands."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from farmcase.energy.bill import emissions_kg, energy_cost, solar_value
from farmcase.energy.tariff import Band, band_index, clock_of_year
from farmcase.errors import NotFoundError

MONTH_DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]


def hour_of(month: int, day: int, hour: int) -> int:
    """Place of an hour of standard time in a year of 365 days."""
    return (sum(MONTH_DAYS[: month - 1]) + day - 1) * 24 + hour


# The clock.


@pytest.mark.parametrize("zone", ["Africa/Nairobi", "Asia/Kolkata", "UTC"])
def test_without_summer_time_the_clock_is_standard_time(zone: str) -> None:
    """Also where it is half an hour off: hours begin on the hour of the place."""
    clock = clock_of_year(zone, 2027)
    assert_array_equal(clock.hour, np.arange(8760) % 24)
    assert_array_equal(np.bincount(clock.month)[1:], np.array(MONTH_DAYS) * 24)
    # 1 January 2027 is a Friday (calendar).
    assert_array_equal(clock.weekday, (4 + np.arange(8760) // 24) % 7)


@pytest.mark.parametrize("zone", ["Europe/Dublin", "Europe/London", "Atlantic/Azores"])
def test_summer_time_of_the_european_union(zone: str) -> None:
    """Directive 2000/84/EC, articles 2 and 3: last Sundays of March and October, 01:00 UTC
    (memory).

    In 2027 those are 28 March and 31 October (calendar). In Ireland the law calls the summer's
    time the standard; the year is in the winter's all the same.
    """
    behind = 1 if zone == "Atlantic/Azores" else 0  # hours of standard time behind UTC
    clock = clock_of_year(zone, 2027)
    begins, ends = hour_of(3, 28, 1 - behind), hour_of(10, 31, 1 - behind)
    ahead = (clock.hour - np.arange(8760)) % 24
    summer = (np.arange(8760) >= begins) & (np.arange(8760) < ends)
    assert_array_equal(ahead, summer.astype(int))
    assert clock.month[hour_of(4, 30, 23)] == 5 and clock.weekday[hour_of(6, 6, 23)] == 0


@pytest.mark.parametrize("zone", ["Australia/Sydney", "Australia/Adelaide"])
def test_summer_time_of_the_south(zone: str) -> None:
    """New South Wales and South Australia: first Sundays of April and October (common practice).

    In 2026 those are 5 April and 4 October; clocks change at 02:00 standard time.
    """
    clock = clock_of_year(zone, 2026)
    hours = np.arange(8760)
    summer = (hours < hour_of(4, 5, 2)) | (hours >= hour_of(10, 4, 2))
    assert_array_equal((clock.hour - hours) % 24, summer.astype(int))
    last = clock.hour[-1], clock.weekday[-1], clock.month[-1]
    # 1 January 2027, 00:00 by the clock, a Friday.
    assert last == (0, 4, 1)


def test_summer_time_of_half_an_hour() -> None:
    """Lord Howe Island is 30 minutes ahead in summer: hours keep the hour in which they begin."""
    clock = clock_of_year("Australia/Lord_Howe", 2026)
    assert_array_equal(clock.hour, np.arange(8760) % 24)


def test_a_leap_year_has_no_29_february() -> None:
    """1 March 2028 is a Wednesday (calendar), one place after 28 February."""
    clock = clock_of_year("Africa/Nairobi", 2028)
    assert clock.hour.size == 8760
    assert clock.weekday[hour_of(2, 28, 12)] == dt.date(2028, 2, 28).weekday()
    assert clock.weekday[hour_of(3, 1, 0)] == 2 and clock.month[hour_of(3, 1, 0)] == 3


@pytest.mark.parametrize("name", ["Europe/Nowhere", "Europe", "../etc", ""])
def test_an_unknown_time_zone_is_said(name: str) -> None:
    """One sentence with what was given and how to write it."""
    with pytest.raises(NotFoundError, match=r"There is no time zone .*'Europe/Dublin'"):
        clock_of_year(name, 2027)


# Bands.


@pytest.mark.parametrize(
    ("band", "hours"),
    [
        # 2027 has 261 weekdays and 104 days of weekends (calendar).
        ((23, 7, "weekdays", ()), 261 * 8),
        ((0, 24, "weekend", ()), 104 * 24),
        ((0, 0, "weekend", ()), 104 * 24),
        ((17, 19, "all", (11, 12, 1, 2)), (30 + 31 + 31 + 28) * 2),
        ((7, 23, "all", ()), 365 * 16),
        ((22, 6, "all", (7,)), 31 * 8),
    ],
)
def test_hours_of_a_band_by_hand(band: Band, hours: int) -> None:
    """Counted from the calendar."""
    index = band_index(clock_of_year("Africa/Nairobi", 2027), [band])
    assert (index == 1).sum() == hours
    assert (index == 0).sum() == 8760 - hours


def test_the_first_band_that_fits_wins() -> None:
    """A peak within the day is the peak's if it stands first, else the day's."""
    clock = clock_of_year("Europe/Dublin", 2027)
    peak: Band = (17, 19, "weekdays", ())
    day: Band = (8, 23, "all", ())
    counts = np.bincount(band_index(clock, [peak, day]), minlength=3)
    assert counts.tolist() == [365 * 9, 261 * 2, 365 * 15 - 261 * 2]
    assert (band_index(clock, [day, peak]) == 2).sum() == 0


def test_bands_go_by_the_clock() -> None:
    """A night band to 7 ends at 6 in standard time while the clock is ahead."""
    index = band_index(clock_of_year("Europe/Dublin", 2027), [(23, 7, "all", ())])
    winter, summer = hour_of(1, 15, 0), hour_of(7, 15, 0)
    assert index[winter : winter + 24].tolist() == [1] * 7 + [0] * 16 + [1]
    assert index[summer : summer + 24].tolist() == [1] * 6 + [0] * 16 + [1] * 2


def test_every_hour_is_in_one_band() -> None:
    """Hours in the bands and outside them make the year."""
    clock = clock_of_year("Europe/Dublin", 2027)
    index = band_index(clock, [(23, 7, "all", ()), (17, 19, "weekdays", (1, 12))])
    assert index.shape == (8760,) and set(index.tolist()) == {0, 1, 2}
    weekdays = sum(dt.date(2027, m, d).weekday() < 5 for m in (1, 12) for d in range(1, 32))
    assert (index == 2).sum() == 2 * weekdays and (index == 1).sum() == 8 * 365


# The bill.


def test_a_bill_by_hand() -> None:
    """Two carriers, day and night, two months; the second month is not connected."""
    energy = np.array([[[[100.0, 0], [50, 0]], [[30, 10], [0, 0]]]])
    price = np.array([[[0.30, 0.15], [0.08, 0.0]]])
    standing, capacity = np.array([[12.0, 5.0]]), np.array([[2.0, 0.0]])
    peak, connected = np.array([[9.0, 24.0]]), np.array([[1.0, 0], [1, 1]])
    cost = energy_cost(energy, price, standing, capacity, peak, connected)
    first = 100 * 0.30 + 50 * 0.15 + 12 + 2 * 9 + 30 * 0.08 + 5
    assert_allclose(cost, [[first, 10 * 0.08 + 5]], rtol=1e-12)


def test_one_band_is_no_bands_and_one_price_makes_bands_not_matter() -> None:
    """To the last bit with one band; within rounding where all bands cost the same."""
    random = np.random.default_rng(7)
    energy, price = random.random((3, 2, 4, 12)), random.random((3, 2))
    rest = (random.random((3, 2)), random.random((3, 2)), random.random((3, 2)), np.ones((2, 12)))
    plain = energy_cost(energy.sum(2), price, *rest)
    assert_array_equal(energy_cost(energy.sum(2)[:, :, None], price[:, :, None], *rest), plain)
    assert_allclose(
        energy_cost(energy, np.repeat(price[:, :, None], 4, 2), *rest), plain, rtol=1e-12
    )


def test_solar_sent_out_brings_its_price() -> None:
    """Kilowatt-hours by month times the price of each scenario."""
    sent = np.array([[0.0, 3, 2, 0]])
    worth = solar_value(sent, np.array([0.1, 0.2]))
    assert_allclose(worth, [[0, 0.3, 0.2, 0], [0, 0.6, 0.4, 0]])


def test_emissions_by_hand() -> None:
    """Kilowatt-hours times factor, carriers added, bands not mattering."""
    energy, factor = np.array([[[100.0, 20], [10, 0]]]), np.array([[0.3, 0.2]])
    assert_allclose(emissions_kg(energy, factor), [[32, 6]])
    halves = np.stack([energy / 4, energy * 3 / 4], axis=2)
    assert_allclose(emissions_kg(halves, factor), [[32, 6]])
