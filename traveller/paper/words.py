"""How figures, days and moments are written on paper: thousands marks, the month as a word."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal

from traveller.rules.units import BASE_UNITS, BaseUnit, show_quantity, word_of

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
_COUNTED = ("pieces", "shots", "totes")
# Base units (UN/ECE Recommendation 20) as papers write them.
UNITS: Mapping[str, str] = {"C62": "pieces", "GRM": "g", "MGM": "mg", "MMT": "mm", "MLT": "ml"}
_BASES: Mapping[str, BaseUnit] = {word_of(base): base for base in BASE_UNITS if base != "C62"}


def figure(number: int | Decimal) -> str:
    """A number with thousands marks: 1,088 or 25.50."""
    return f"{number:,}"


def quantity_on_paper(number: int | Decimal, unit: str) -> str:
    """A number with its unit; one piece, two pieces; material in the unit people use: 25 kg, not 25,000 g."""
    if number == 1 and unit in _COUNTED:
        return f"1 {unit[:-1]}"
    if unit in _BASES and number == int(number):
        return show_quantity(int(number), _BASES[unit])
    return f"{figure(number)} {unit}".rstrip()


def day_on_paper(when: date) -> str:
    """A day that nobody can read the wrong way round: 17 November 2026."""
    return f"{when.day} {MONTHS[when.month - 1]} {when.year}"


def clock_on_paper(when: datetime) -> str:
    """A time of day in the zone that the datetime carries: 14:05."""
    return f"{when.hour:02d}:{when.minute:02d}"


def moment_on_paper(when: datetime) -> str:
    """Day and time in short, in the zone that the datetime carries: 17 Nov 2026, 14:05."""
    return f"{when.day} {MONTHS[when.month - 1][:3]} {when.year}, {clock_on_paper(when)}"


def listed(items: tuple[str, ...]) -> str:
    """Items with commas and a closing "and"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"
