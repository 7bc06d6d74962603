"""Numbers as the reader writes them, and as the reader types them. Exact: digits are moved, never computed anew."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Literal

from django.utils import formats
from django.utils.translation import get_language_bidi

__all__ = ["decimal_mark", "isolated", "local", "read_typed", "with_units"]

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


def isolated(text: str) -> str:
    """The text with its own direction, where the sentence around it runs from right to left."""
    return f"{_FSI}{text}{_PDI}" if get_language_bidi() and text else text


def with_units(sentence: str) -> str:
    """A sentence whose isolated figures and units stand side by side: "4 h" is read leftwards as one thing, not two."""
    return _FIGURE_AND_UNIT.sub(rf"{_LRI}\1 \2{_PDI}", sentence) if get_language_bidi() else sentence


def read_typed(text: str, mark: str | None = None) -> Decimal | Literal["unclear"] | None:
    """A measured value as typed, with `mark` (the reader's own if not given) before its decimals.

    "12,7" and "12.7" can only be one thing. Where both marks stand, the last is the decimal one; a mark that stands
    twice parts groups. One mark with three figures behind it is the reader's decimal mark or else "unclear": 1,234
    may be a thousand or a little more than one, and a guess would be wrong by a factor of a thousand. None: no number.
    """
    own = mark or decimal_mark()
    packed = re.sub(r"[\s'’\u00a0\u202f]", "", text).replace("−", "-").translate(_DIGITS)
    found = re.fullmatch(r"([+-]?)(\d[\d.,]*|[.,]\d+)", packed, re.ASCII)
    if not found:
        return None
    sign, body = found.groups()
    marks = [char for char in body if char in ".,"]
    if not marks:
        return Decimal(sign + body)
    if len(marks) == 1:
        whole, rest = body.split(marks[0])
        if len(rest) == 3 and re.fullmatch(r"[1-9]\d{0,2}", whole) and marks[0] != own:
            return "unclear"
        return Decimal(f"{sign}{whole or '0'}.{rest or '0'}")
    return _grouped(sign, body, marks)


def _grouped(sign: str, body: str, marks: list[str]) -> Decimal | None:
    """Groups of three, and at most one decimal mark, which is another and comes last."""
    group = marks[0]
    decimal = marks[-1] if marks[-1] != group else ""
    if marks.count(group) != len(marks) - bool(decimal):
        return None
    whole, _, rest = body.partition(decimal) if decimal else (body, "", "")
    if not re.fullmatch(rf"\d{{1,3}}(?:{re.escape(group)}\d{{3}})+", whole):
        return None
    return Decimal(f"{sign}{whole.replace(group, '')}.{rest or '0'}")


# Arabic keyboards may type their own digits and marks.
_DIGITS = str.maketrans("٠١٢٣٤٥٦٧٨٩۰۱۲۳۴۵۶۷۸۹٫٬", "01234567890123456789.,")
