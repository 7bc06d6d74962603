"""Numbers as the reader writes them. Exact: digits are moved, never computed anew. Typed ones: rules/numbers.py."""

from __future__ import annotations

import re
from typing import cast

from django.utils import formats
from django.utils.translation import get_language_bidi

from traveller.rules.units import BaseUnit, show_quantity

__all__ = ["decimal_mark", "isolated", "local", "quantity_words", "with_units"]

_NUMBER = re.compile(r"[+-]?\d+(,\d{3})*(\.\d+)?")
# First strong isolate and its end: a code or a name in another script keeps its own direction in the sentence.
_FSI, _PDI, _LRI = "\u2068", "\u2069", "\u2066"
_FIGURE_AND_UNIT = re.compile(rf"{_FSI}?([+-]?\d[\d.,]*){_PDI}? {_FSI}([°A-Za-z%µ][\w%/²³ ]{{0,11}}){_PDI}")


def decimal_mark() -> str:
    """The mark before decimals in the language in force."""
    return str(formats.get_format("DECIMAL_SEPARATOR"))


def local(text: str) -> str:
    """A number written as the rules write it (1,250.5), as the reader writes it (1.250,5); other text as it is."""
    if not _NUMBER.fullmatch(text):
        return text
    whole, point, rest = text.partition(".")
    group = str(formats.get_format("THOUSAND_SEPARATOR"))
    return whole.replace(",", group) + (decimal_mark() + rest if point else "")


def quantity_words(quantity: int, unit: str) -> str:
    """A quantity in the unit people use, its number in the reader's way of writing: 1.250,5 kg; pieces bare."""
    number, space, word = show_quantity(quantity, cast(BaseUnit, unit)).partition(" ")
    return local(number) + space + word


def isolated(text: str) -> str:
    """The text with its own direction, where the sentence around it runs from right to left."""
    return f"{_FSI}{text}{_PDI}" if get_language_bidi() and text else text


def with_units(sentence: str) -> str:
    """A sentence whose isolated figures and units stand side by side: "4 h" is read leftwards as one thing, not two."""
    return _FIGURE_AND_UNIT.sub(rf"{_LRI}\1 \2{_PDI}", sentence) if get_language_bidi() else sentence
