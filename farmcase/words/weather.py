"""What is said of the weather of a case."""

from __future__ import annotations


def weather_line(name: str, kind: str, mean: str, coldest: str, hottest: str) -> str:
    """Which file, of which kind, and how warm the year is."""
    return (
        f"Weather: {name} ({kind}), {mean} °C through the year, coldest month {coldest} °C, "
        f"hottest month {hottest} °C."
    )


def degree_days(days: str, base: str) -> str:
    """How much the place asks for heat."""
    return f"{days} kelvin-days below {base} °C."
