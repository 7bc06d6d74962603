"""Figures as gloved hands type them: read by the one reader of numbers, refused in words, asked about where they can
mean two things, with one button for each."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import cast

from django.http import HttpRequest
from django.utils.translation import gettext as _

from traveller.rules.numbers import (
    Meaning,
    Meanings,
    NotNumber,
    TwoWays,
    TypedAmount,
    TypedQuantity,
    read_amount,
    read_number,
    read_pieces,
    read_quantity,
)
from traveller.rules.units import BaseUnit, DecimalSign, convert
from traveller.web.door import Asked
from traveller.web.language.numbers import decimal_mark, local

MOST = 10_000_000
# What people read off the scale or the roll; pieces are counted.
SHOP_UNITS = {"C62": "", "GRM": "kg", "MGM": "g", "MMT": "m", "MLT": "l"}
# The name of the buttons that answer a figure of two meanings: "field=what it means".
MEANT = "meant"
MASS_MOST = 10**9


class TwoMeanings(str):
    """The words for a figure that can mean two things, with its meanings: (to be typed instead, on the button).

    A text, so that it stands wherever what is wrong with a field stands; `field` is the name in the form.
    """

    given: str
    meanings: tuple[tuple[str, str], ...]
    field: str

    def __new__(cls, given: str, meanings: tuple[tuple[str, str], ...]) -> TwoMeanings:
        words = super().__new__(cls, _("“%(text)s” can mean two things. Which is it?") % {"text": given.strip()[:30]})
        words.given, words.meanings, words.field = given, meanings, ""
        return words

    def __str__(self) -> str:
        # A form's list of errors makes texts of what it holds: the meanings must not get lost there.
        return self

    def within(self, text: str) -> TwoMeanings:
        """The same question about one of several figures that were typed into one field."""
        meanings = tuple((text.replace(self.given, f" {typed} ", 1).strip(), words) for typed, words in self.meanings)
        return TwoMeanings(text, meanings)


def own_mark(mark: str | None = None) -> DecimalSign:
    """The mark before decimals where it was typed (the form says it), else in the language in force."""
    return "," if (mark or decimal_mark()) == "," else "."


def asks_meaning(found: Meanings, mark: str | None = None) -> TwoMeanings:
    """The question about a figure; what a button types is read as one thing only."""
    point = own_mark(mark)
    return TwoMeanings(found.given, tuple(_meaning(one, point) for one in found.meanings))


def _meaning(one: Meaning, point: DecimalSign) -> tuple[str, str]:
    whole = one.number.to_integral_value()
    number = whole if one.number == whole else one.number.normalize()
    unit = f" {one.unit}" if one.unit else ""
    return f"{number:f}".replace(".", point) + unit, local(f"{number:,f}") + unit


def why_not(found: NotNumber, *, like: str = "") -> str:
    """What is wrong with a figure, in words; `like` is how such a one is typed."""
    figures = {"text": found.given.strip()[:30], "unit": found.unit, "base": found.wanted}
    if found.why == "not_whole" and found.wanted and found.wanted != "pcs":
        return _("“%(text)s” is not a whole number of %(base)s.") % figures
    words = _WRONG.get(found.why)
    return words() % figures if words else like or _("“%(text)s” is not a number. Use digits only.") % figures


_WRONG: Mapping[str, Callable[[], str]] = {
    "empty": lambda: _("Type a number; 0 if there are none."),
    "below_zero": lambda: _("“%(text)s” is below zero. Nobody counts fewer than none."),
    "not_whole": lambda: _("“%(text)s” is not whole. Pieces are counted in whole numbers."),
    "too_large": lambda: _("“%(text)s” is more than anybody can count here. Check the figure."),
    "too_little": lambda: _("“%(text)s” is less than 1 %(base)s. Use a smaller unit."),
    "two_signs": lambda: _("“%(text)s” has two signs. Type one in front, or none."),
    "sign_behind": lambda: _("“%(text)s” has its sign behind it. Type it in front, or none."),
    "odd_digits": lambda: _("“%(text)s” has a fraction or a raised figure in it. Type it like 0.5."),
    "exponent": lambda: _("“%(text)s” is a shortened number. Type all its figures."),
    "groups": lambda: _("“%(text)s” is not a number: its marks do not part groups of three figures."),
    "unfinished": lambda: _("“%(text)s” ends with a mark. Type what comes after it, or leave the mark off."),
    "unit": lambda: _("“%(unit)s” is not a unit that is known here. Use %(base)s."),
    "dimension": lambda: _("“%(unit)s” does not measure this part. Use %(base)s."),
}


def read_count(text: str) -> int | str:
    """A whole number, zero or more; or the words that say what is wrong with it."""
    found = read_pieces(text, own_mark())
    if isinstance(found, Meanings):
        return asks_meaning(found)
    if isinstance(found, NotNumber):
        return why_not(found)
    return found if found <= MOST else why_not(NotNumber("too_large", text))


def read_goods(text: str, unit: str) -> TypedQuantity | str:
    """A quantity in the part's base unit: pieces counted, material in the unit of the shop (kg) or the one typed."""
    if unit == "C62":
        counted = read_count(text)
        return counted if isinstance(counted, str) else TypedQuantity(counted)
    found = read_quantity(text, cast(BaseUnit, unit), SHOP_UNITS[unit], own_mark())
    if isinstance(found, Meanings):
        return asks_meaning(found)
    if isinstance(found, NotNumber):
        return why_not(found)
    return found if found.quantity <= MOST * 1000 else why_not(NotNumber("too_large", text))


def read_mass(text: str, unit: str) -> Fraction | str | None:
    """A weight in grams, in the unit chosen or the one typed after it; None for nothing, words for what is none."""
    if not text.strip():
        return None
    found = read_amount(text, unit, own_mark())
    if isinstance(found, Meanings):
        return asks_meaning(found)
    grams = convert(found.number, found.unit, "g") if isinstance(found, TypedAmount) else None
    if isinstance(grams, Fraction) and 0 <= grams <= MASS_MOST:
        return grams
    like = _("“%(text)s” is no weight that can be read. Type it like 12.4 and choose the unit.") % {"text": text[:30]}
    return why_not(found, like=like) if isinstance(found, NotNumber) else like


def read_measure(text: str, mark: str | None = None) -> Decimal | str:
    """A measured value, exact; or the words for what is wrong. `mark` stands before decimals where it was typed."""
    found = read_number(text, own_mark(mark))
    if isinstance(found, Decimal):
        return found
    if isinstance(found, TwoWays):
        return asks_meaning(Meanings(text, (Meaning(found.small, ""), Meaning(found.large, ""))), mark)
    return why_not(found, like=_("“%(text)s” is not a number. Type it like 12.7.") % {"text": text})


def parted(text: str) -> list[str]:
    """Figures in a row, one a tote: a blank, a plus or a semicolon parts them, a comma only with a blank behind it.

    "1,060" is one tote, and "400,400" is none that can be read: it may be two totes or one figure.
    """
    words = [word for word in re.split(r"[\s;+]+", text) if word]
    return [word[:-1] if word.endswith(",") else word for word in words]


def take_meanings(request: HttpRequest) -> None:
    """Put what a button said in the place of what was typed, before the page reads its form."""
    answers = request.POST.getlist(MEANT) if request.method == "POST" else []
    if not answers:
        return
    typed = request.POST.copy()
    for answer in answers:
        field, _equals, text = answer.partition("=")
        if field in typed:
            typed[field] = text
    del typed[MEANT]
    request.POST = typed  # type: ignore[assignment]


def named(wrong: Mapping[str, str]) -> dict[str, list[tuple[str, str]]]:
    """Each figure of two meanings gets its field's name for its buttons; all of them, for who is to be asked later."""
    found: dict[str, list[tuple[str, str]]] = {}
    for field, words in wrong.items():
        if isinstance(words, TwoMeanings):
            words.field = field
            found[field] = list(words.meanings)
    return found


def more_than_there(counted: int, there: int) -> list[Asked]:
    """ "1,400 of 1,132: really?" """
    return [Asked("more_than_there", {"counted": counted, "there": there})] if counted > there else []
