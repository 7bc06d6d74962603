"""Figures as gloved hands type them: read kindly, refused in words, questioned before they become news."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import cast

from django.utils.translation import gettext as _

from traveller.rules.units import BaseUnit, UnitError, to_base
from traveller.web.door import Asked
from traveller.web.language.numbers import decimal_mark, read_typed

MOST = 10_000_000
# What people read off the scale or the roll; pieces are counted.
SHOP_UNITS = {"C62": "", "GRM": "kg", "MGM": "g", "MMT": "m", "MLT": "l"}


def read_count(text: str) -> int | str:
    """A whole number, zero or more; or the words that say what is wrong with it."""
    packed = re.sub(r"[\s'’]", "", text).replace("−", "-")
    if not packed:
        return _("Type a number; 0 if there are none.")
    if re.fullmatch(r"\d{1,3}([.,]\d{3})+", packed, re.ASCII):
        packed = packed.replace(",", "").replace(".", "")
    if re.fullmatch(r"-\d+([.,]\d+)*", packed):
        return _("“%(text)s” is below zero. Nobody counts fewer than none.") % {"text": text[:30]}
    if re.fullmatch(r"\d*[.,]\d+|\d+[.,]", packed):
        return _("“%(text)s” is not whole. Pieces are counted in whole numbers.") % {"text": text[:30]}
    if not re.fullmatch(r"\d+", packed, re.ASCII):
        return _("“%(text)s” is not a number. Use digits only.") % {"text": text[:30]}
    if len(packed) > 9 or int(packed) > MOST:
        return _("“%(text)s” is more than anybody can count here. Check the figure.") % {"text": text[:30]}
    return int(packed)


def read_quantity(text: str, unit: str) -> int | str:
    """A quantity in the part's base unit: pieces counted, material in the unit of the shop (kg) or the one typed."""
    if unit == "C62":
        return read_count(text)
    if not text.strip():
        return _("Type a number; 0 if there are none.")
    typed = re.fullmatch(r"\s*([^A-Za-z]+?)\s*([A-Za-z]*)\s*", text)
    number = read_typed(typed[1]) if typed else None
    if typed and number == "unclear":
        return two_ways(typed[1])
    if typed is None or not isinstance(number, Decimal):
        return _("“%(text)s” is not a number. Use digits only.") % {"text": text[:30]}
    if number < 0:
        return _("“%(text)s” is below zero. Nobody counts fewer than none.") % {"text": text[:30]}
    found = to_base(number, typed[2] or SHOP_UNITS[unit], cast(BaseUnit, unit))
    if isinstance(found, UnitError):
        return _("“%(text)s” cannot be read as a quantity in %(unit)s.") % {
            "text": text[:30],
            "unit": SHOP_UNITS[unit],
        }
    if found > MOST * 1000:
        return _("“%(text)s” is more than anybody can count here. Check the figure.") % {"text": text[:30]}
    return found


def read_measure(text: str, mark: str | None = None) -> str | None:
    """A measured value as a decimal with a point, exactly as typed otherwise; None when it is no number, or when it
    could be two (see `two_ways`). `mark` stands before decimals where it was typed."""
    value = read_typed(text, mark)
    return f"{value:f}" if isinstance(value, Decimal) else None


def two_ways(text: str, mark: str | None = None) -> str:
    """What to type instead of a figure such as 1,234, which may be a thousand or a little more than one; else empty."""
    if read_typed(text, mark) != "unclear":
        return ""
    digits = re.sub(r"[\s'’]", "", text)
    figures = {"text": text[:30], "few": re.sub(r"[.,]", mark or decimal_mark(), digits)}
    return _("“%(text)s” can mean two things. Type %(few)s or %(many)s.") % {
        **figures,
        "many": re.sub(r"[.,]", "", digits),
    }


def more_than_there(counted: int, there: int) -> list[Asked]:
    """ "1,400 of 1,132: really?" """
    return [Asked("more_than_there", {"counted": counted, "there": there})] if counted > there else []
