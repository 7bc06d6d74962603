"""Figures as people write them, and whether one that is shown says what was reckoned."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

WORDS = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
NUMBER = r"(?:\d{1,3}(?:,\d{3})+(?!\d)|\d+)(?:\.\d+)?"
# Numbers as words are figures too where they count something; "one" alone is mostly a pronoun.
TOKEN = re.compile(rf"(?<![\w-]){NUMBER}|\b(?:{'|'.join(WORDS[2:])})\b", re.IGNORECASE)
CODE = re.compile(r"\b[0-9A-Z]{3}-[0-9A-Z]{3}-[0-9A-Z]\b")
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
# How much of the base unit one of it is: grams, milligrams, millimetres, millilitres, pieces.
BASES: dict[str, dict[str, Decimal]] = {
    "C62": {"": Decimal(1)},
    "GRM": {"kg": Decimal(1000), "g": Decimal(1), "t": Decimal(1_000_000)},
    "MGM": {"kg": Decimal(1_000_000), "g": Decimal(1000), "mg": Decimal(1)},
    "MMT": {"m": Decimal(1000), "cm": Decimal(10), "mm": Decimal(1), "km": Decimal(1_000_000)},
    "MLT": {"l": Decimal(1000), "L": Decimal(1000), "ml": Decimal(1), "mL": Decimal(1)},
}
LAPSES = {
    "minute": timedelta(minutes=1),
    "hour": timedelta(hours=1),
    "day": timedelta(days=1),
    "week": timedelta(days=7),
}


@dataclass(frozen=True)
class Amount:
    """So many base units of a part; pieces stand without a unit, all else with one."""

    quantity: int
    unit: str


@dataclass(frozen=True)
class Moment:
    at: datetime
    zone: ZoneInfo


@dataclass(frozen=True)
class Day:
    day: date
    today: date


@dataclass(frozen=True)
class Lapse:
    """A span of time, told in whole minutes, hours or days: so many of them have passed."""

    span: timedelta


@dataclass(frozen=True)
class Words:
    """Figures among words: the form with a named part for each of them."""

    form: str
    figures: tuple[tuple[str, int | str | Lapse | Day | Moment], ...] = ()


def filled(words: Words) -> str:
    """The form with its figures in place, to be a part of another."""
    form = words.form
    for name, value in words.figures:
        form = re.sub(rf"\(\?P<{name}>[^)]*\)", str(value), form)
    return form


class Free:
    """Not a figure of this reckoning, with the reason."""

    def __init__(self, why: str) -> None:
        self.why = why


Expected = int | str | Amount | Moment | Day | Lapse | Words | Free | None


def tokens(text: str) -> list[re.Match[str]]:
    """Every figure in a text; the characters of a code are none."""
    return list(TOKEN.finditer(CODE.sub(lambda found: "x" * len(found[0]), text)))


def number(text: str) -> Decimal | None:
    """A number in figures, thousands by comma, or as a word."""
    bare = text.strip()
    if bare.lower() in WORDS:
        return Decimal(WORDS.index(bare.lower()))
    if not re.fullmatch(r"-?(\d{1,3}(,\d{3})+|\d+)(\.\d+)?", bare):
        return None
    return Decimal(bare.replace(",", ""))


def amount(text: str, unit: str) -> Decimal | None:
    """In base units; None for a number without the unit that its part needs, or for no quantity at all."""
    found = re.fullmatch(rf"(-?{NUMBER})(?: ?([A-Za-z]+))?", text.strip())
    factor = BASES[unit].get(found[2] or "") if found else None
    value = number(found[1]) if found else None
    return value * factor if factor is not None and value is not None else None


def day_words(day: date, today: date | None) -> str:
    words = f"{DAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"
    return words if today is None or day.year == today.year else f"{words} {day.year}"


def says(shown: str, expected: Expected) -> bool:
    """Does the text tell this figure, neither more nor less?"""
    if expected is None:
        return shown in ("", "–")
    if isinstance(expected, int):
        return number(shown) == expected
    if isinstance(expected, str):
        return shown == expected
    if isinstance(expected, Amount):
        return amount(shown, expected.unit) == expected.quantity
    if isinstance(expected, Day):
        day = expected.day
        with_year = f"{day.day} {MONTHS[day.month - 1]} {day.year}"
        return shown in (day_words(day, expected.today), f"{DAYS[day.weekday()]} {with_year}", with_year)
    if isinstance(expected, Moment):
        local = expected.at.astimezone(expected.zone)
        words = day_words(local.date(), None)
        return shown in (f"{words}, {local:%H:%M}", f"{words} {local.year}, {local:%H:%M}")
    if isinstance(expected, Words):
        match = re.fullmatch(expected.form, shown)
        return match is not None and all(says(match[name], value) for name, value in expected.figures)
    if isinstance(expected, Lapse):
        found = re.fullmatch(rf"({NUMBER}) (minute|hour|day|week)s?", shown)
        value = number(found[1]) if found else None
        return found is not None and value == expected.span // LAPSES[found[2]]
    return True
