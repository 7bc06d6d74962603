"""What number was typed? One reader for every door: a number, a number that can mean two things, or why it is none.

Nothing is guessed that would be wrong by a factor of a thousand: a single point or comma with three figures behind it
("2,500 kg") parts thousands for one reader and decimals for another. The caller asks, with one answer per meaning.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final, Literal, cast

from traveller.rules.units import BaseUnit, DecimalSign, UnitError, convert, word_of

__all__ = [
    "Meaning",
    "Meanings",
    "NotNumber",
    "TwoWays",
    "TypedAmount",
    "TypedQuantity",
    "read_amount",
    "read_number",
    "read_pieces",
    "read_quantity",
]

WhyNot = Literal[
    "empty", "number", "two_signs", "sign_behind", "odd_digits", "exponent", "groups", "unfinished",
    "below_zero", "not_whole", "too_little", "too_large", "unit", "dimension",
]  # fmt: skip
_LONGEST: Final = 60
_MOST: Final = Decimal(10) ** 15

# What can only part groups, and what can only stand before decimals, whoever types it (U+066C and U+066B of Unicode).
_GROUP, _POINT = "'", "|"
_ALWAYS = str.maketrans({"’": _GROUP, "٬": _GROUP, "٫": _POINT, **dict.fromkeys("‐‑‒–—−", "-")})
_TYPED = re.compile(r"(?P<number>[^A-Za-zµμ\"]*)(?P<unit>[A-Za-zµμ\"][A-Za-zµμ\". ]*)?", re.DOTALL)
# An ounce of fluid differs by 4 % on the two sides of the Atlantic, so that its name alone is no unit.
_BARE: Final = {"GRM": ("kg", "g"), "MGM": ("g", "mg"), "MMT": ("m", "mm"), "MLT": ("l", "ml")}
_FLUID: Final = ("US fl oz", "imp fl oz")
_FLUID_WORDS = frozenset(("fl oz", "floz", "fluid ounce", "fluid ounces"))


@dataclass(frozen=True, slots=True)
class NotNumber:
    """Why it cannot be taken: a code, what was typed, and the units of the question."""

    why: WhyNot
    given: str
    unit: str = ""
    wanted: str = ""


@dataclass(frozen=True, slots=True)
class TwoWays:
    """One mark with three figures behind it: the number if the mark stands before decimals, and if it parts groups."""

    given: str
    small: Decimal
    large: Decimal
    mark: DecimalSign


@dataclass(frozen=True, slots=True)
class Meaning:
    """One of the things that a text can mean."""

    number: Decimal
    unit: str


@dataclass(frozen=True, slots=True)
class Meanings:
    """A text that can mean two things: to be asked about, with one answer for each."""

    given: str
    meanings: tuple[Meaning, ...]


@dataclass(frozen=True, slots=True)
class TypedAmount:
    """A number with the unit that it was typed in, or the field's own."""

    number: Decimal
    unit: str


@dataclass(frozen=True, slots=True)
class TypedQuantity:
    """Whole base units; `kept` is the figure with its unit as it was typed, where converting it has rounded."""

    quantity: int
    kept: str = ""


def read_number(text: str, mark: DecimalSign | None = None) -> Decimal | TwoWays | NotNumber:
    """A number as people type it, exact; `mark` is the one that its reader puts before decimals, None if unknown.

    Digits of any script; blanks, apostrophes, points or commas between groups of three; one decimal mark. A leading
    zero is never a group of thousands.

    >>> read_number("0,125", "."), read_number("12,345.6"), read_number("1.234,5")
    (Decimal('0.125'), Decimal('12345.6'), Decimal('1234.5'))
    >>> read_number("2,500", ".").small, read_number("2,500", ",")
    (Decimal('2.500'), Decimal('2.500'))
    >>> read_number("+-5").why, read_number("½").why, read_number("2,500.").why
    ('two_signs', 'odd_digits', 'unfinished')
    """
    packed = _packed(text)
    if isinstance(packed, NotNumber):
        return packed
    sign, body = packed
    if not re.fullmatch(r"[0-9.,'|]+", body, re.ASCII) or not re.search("[0-9]", body):
        exponent = re.fullmatch(r"[0-9.,]+[eE][+-]?[0-9]+", body, re.ASCII)
        return NotNumber("exponent" if exponent else "number", text)
    if not body[-1].isdigit():
        return NotNumber("unfinished", text)
    found = _marked(body, mark)
    if found is None:
        return NotNumber("groups", text)
    if isinstance(found, str):
        return Decimal(sign + found)
    small, large, own = found
    return TwoWays(text, Decimal(sign + small), Decimal(sign + large), own)


def _packed(text: str) -> tuple[str, str] | NotNumber:
    """The sign, and the digits as ASCII with their marks; or why there is no number."""
    if not text.strip():
        return NotNumber("empty", text)
    if len(text) > _LONGEST:
        return NotNumber("number", text)
    if any(unicodedata.category(char) in ("No", "Nl") for char in text):
        return NotNumber("odd_digits", text)
    plain = "".join(char for char in text if unicodedata.category(char) != "Cf")
    plain = unicodedata.normalize("NFKC", plain.translate(_ALWAYS)).translate(_ALWAYS).strip()
    plain = "".join(str(unicodedata.decimal(char, char)) for char in plain)
    plain = re.sub(r"\s+", _GROUP, re.sub(r"([+-])\s+", r"\1", plain))
    before, body, behind = re.fullmatch(r"([+-]*)(.*?)([+-]*)", plain, re.DOTALL).groups()  # type: ignore[union-attr]
    if len(before) + len(behind) > 1 and body:
        return NotNumber("two_signs", text)
    return NotNumber("sign_behind", text) if behind and body else (before, body)


def _marked(body: str, mark: DecimalSign | None) -> str | tuple[str, str, DecimalSign] | None:
    """The digits with a point before decimals; both ways to read them; or None where groups are not of three."""
    marks = [char for char in body if not char.isdigit()]
    if not marks:
        return body
    if len(marks) == 1 and marks[0] in ".,":
        return _one_mark(body, marks[0], mark)
    last = marks[-1]
    decimal = last != _GROUP and marks.count(last) == 1
    whole, rest = body.rsplit(last, 1) if decimal else (body, "")
    digits = _ungrouped(whole, set(marks[:-1] if decimal else marks))
    if digits is None or not decimal:
        return digits
    return f"{digits}.{rest}"


def _one_mark(body: str, found: str, mark: DecimalSign | None) -> str | tuple[str, str, DecimalSign]:
    whole, rest = body.split(found)
    if len(rest) != 3 or not re.fullmatch("[1-9][0-9]{0,2}", whole) or found == mark:
        return f"{whole or '0'}.{rest}"
    return f"{whole}.{rest}", whole + rest, "." if found == "." else ","


def _ungrouped(whole: str, groups: set[str]) -> str | None:
    """The digits without their groups' mark; None where it is not one mark that parts groups of three."""
    if not groups:
        return whole or "0"
    group = groups.pop()
    grouped = rf"[1-9][0-9]{{0,2}}(?:{re.escape(group)}[0-9]{{3}})+"
    return None if groups or group == _POINT or not re.fullmatch(grouped, whole) else whole.replace(group, "")


def read_pieces(text: str, mark: DecimalSign | None = None) -> int | Meanings | NotNumber:
    """A count: a whole number, zero or more. Only "2.000" can mean two counts; "1.500" can only be fifteen hundred.

    >>> read_pieces("1,132", "."), read_pieces("1.500", "."), read_pieces("12.5").why
    (1132, 1500, 'not_whole')
    >>> [int(one.number) for one in read_pieces("2.000", ".").meanings]
    [2, 2000]
    """
    found = read_number(text)
    return _whole(_as_whole(found, mark) if isinstance(found, TwoWays) else found, text)


def _as_whole(ways: TwoWays, mark: DecimalSign | None) -> Decimal | Meanings:
    """Of two ways the one that is whole; both where both are, and the mark is none of the reader's group marks."""
    if mark in (None, ways.mark) and ways.small == ways.small.to_integral_value():
        return Meanings(ways.given, (Meaning(ways.small, ""), Meaning(ways.large, "")))
    return ways.large


def _whole(found: Decimal | Meanings | NotNumber, text: str) -> int | Meanings | NotNumber:
    if not isinstance(found, Decimal):
        return found
    if found < 0:
        return NotNumber("below_zero", text)
    if found != found.to_integral_value():
        return NotNumber("not_whole", text)
    return NotNumber("too_large", text) if found > _MOST else int(found)


def read_amount(text: str, unit: str, mark: DecimalSign | None = None) -> TypedAmount | Meanings | NotNumber:
    """A number with the unit typed behind it, else in `unit` (a word of UNIT_WORDS); not yet held against anything.

    >>> read_amount("0,125 kg", "g"), read_amount("12.4", "g")
    (TypedAmount(number=Decimal('0.125'), unit='kg'), TypedAmount(number=Decimal('12.4'), unit='g'))
    """
    found = _parted(text)
    if found is None:
        return read_number(text, mark) if not text.strip() else NotNumber("number", text)  # type: ignore[return-value]
    digits, word = found[0], found[1] or unit
    number = read_number(digits, mark)
    fluid = _FLUID if word.casefold() in _FLUID_WORDS else (word,)
    if isinstance(number, NotNumber):
        return NotNumber(number.why, text)
    if isinstance(number, Decimal) and len(fluid) == 1:
        return TypedAmount(number, word)
    numbers = (number,) if isinstance(number, Decimal) else (number.small, number.large)
    return Meanings(text, tuple(Meaning(one, own) for one in numbers for own in fluid))


def _parted(text: str) -> tuple[str, str] | None:
    """The number and the word behind it; None where there is no number before the word."""
    found = _TYPED.fullmatch(text.strip())
    if found is None or not found["number"].strip():
        return None
    return found["number"], " ".join((found["unit"] or "").replace(".", " ").split())


def read_quantity(
    text: str, base: BaseUnit, unit: str = "", mark: DecimalSign | None = None
) -> TypedQuantity | Meanings | NotNumber:
    """A quantity of a part in whole base units, zero or more, typed in any unit of its kind (else in `unit`).

    Material without a unit, where the field has none either, may be so many kilograms or grams: it is asked about.
    Converted once, exactly, and rounded to the base unit where the unit typed is larger than it; then the figure is
    kept as it was typed. In the base unit itself only whole numbers count, so that "1,060 g" is not asked about.

    >>> read_quantity("55 lb", "GRM")
    TypedQuantity(quantity=24948, kept='55 lb')
    >>> read_quantity("0,125 kg", "GRM"), read_quantity("1,060 g", "GRM", mark=".")
    (TypedQuantity(quantity=125, kept=''), TypedQuantity(quantity=1060, kept=''))
    >>> [one.number for one in read_quantity("2,500 kg", "GRM", mark=".").meanings]
    [Decimal('2.500'), Decimal('2500')]
    >>> [one.unit for one in read_quantity("25", "GRM").meanings]
    ['kg', 'g']
    """
    found = _parted(text)
    if found is not None and not (found[1] or unit) and base != "C62":
        return _of_either_unit(text, base, mark)
    word = (found[1] if found else "") or unit or word_of(base)
    size = _size(_FLUID[0] if word.casefold() in _FLUID_WORDS else word, base)
    if found is not None and size == 1:
        whole = read_pieces(found[0], mark) if base == "C62" else _of_the_unit(found[0], word, mark)
        read: TypedQuantity | Meanings | NotNumber = TypedQuantity(whole) if isinstance(whole, int) else whole
    else:
        read = _in_unit(text, word, size, base, mark)
    return NotNumber(read.why, text, word, word_of(base)) if isinstance(read, NotNumber) else read


def _in_unit(
    text: str, word: str, size: Fraction | NotNumber, base: BaseUnit, mark: DecimalSign | None
) -> TypedQuantity | Meanings | NotNumber:
    """So many of a unit of the same kind; a fault of the figure goes before one of its unit."""
    read = read_amount(text, word, mark)
    if isinstance(read, NotNumber) or isinstance(size, NotNumber):
        return read if isinstance(read, NotNumber) else cast(NotNumber, size)
    return read if isinstance(read, Meanings) else _converted(text, read, base)


def _of_either_unit(text: str, base: BaseUnit, mark: DecimalSign | None) -> TypedQuantity | Meanings | NotNumber:
    """So many of the larger or of the smaller unit: none of either is none."""
    number = read_number(text, mark)
    if isinstance(number, NotNumber):
        return NotNumber(number.why, text, "", word_of(base))
    numbers = (number.small, number.large) if isinstance(number, TwoWays) else (number,)
    if min(numbers) < 0:
        return NotNumber("below_zero", text, "", word_of(base))
    if not any(numbers):
        return TypedQuantity(0)
    return Meanings(text, tuple(Meaning(one, word) for one in numbers for word in _BARE[base]))


def _of_the_unit(digits: str, word: str, mark: DecimalSign | None) -> int | Meanings | NotNumber:
    """So many of the base unit itself, which has no parts: the reader's own group mark parts thousands."""
    found = read_number(digits, mark)
    if isinstance(found, TwoWays):
        if mark is None:
            return Meanings(digits, (Meaning(found.small, word), Meaning(found.large, word)))
        found = found.large
    return _whole(found, digits)


def _size(word: str, base: BaseUnit) -> Fraction | NotNumber:
    """How many base units one of `word` is."""
    own = convert(1, word, base)
    if isinstance(own, UnitError):
        return NotNumber("unit" if own.why == "unit" else "dimension", "", word, word_of(base))
    return own


def _converted(text: str, typed: TypedAmount, base: BaseUnit) -> TypedQuantity | NotNumber:
    wrong = {"given": text, "unit": typed.unit, "wanted": word_of(base)}
    if typed.number < 0:
        return NotNumber("below_zero", **wrong)
    size = _size(typed.unit, base)
    if isinstance(size, NotNumber):
        return NotNumber(size.why, **wrong)
    exact = Fraction(typed.number) * size
    if exact > Fraction(_MOST):
        return NotNumber("too_large", **wrong)
    if exact.denominator != 1 and size < 1:
        return NotNumber("not_whole", **wrong)
    rounded = int((exact + Fraction(1, 2)) // 1)
    if exact and not rounded:
        return NotNumber("too_little", **wrong)
    # Ten inches are 254 mm sharp: a unit that is no whole number of base units is kept all the same.
    converted = exact.denominator != 1 or size.denominator != 1
    return TypedQuantity(rounded, f"{typed.number:f} {typed.unit}" if converted else "")
