"""One cell to one value. Each parser takes the raw cell and the file's decimal mark; a bad cell raises BadCell,
which the sheet reader turns into a Problem with its place."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from zoneinfo import available_timezones

from traveller.exchange.workbook.numbers import BadCell, plain_number, to_decimal
from traveller.exchange.workbook.problems import offer
from traveller.exchange.workbook.raw import DecimalMark, Raw, Unusable
from traveller.rules.units import UNIT_WORDS

Parser = Callable[[Raw, DecimalMark], object]


@dataclass(frozen=True, slots=True)
class Reads:
    """A parser that can also say what it takes: `takes` in words, `words` where only these are allowed."""

    parse: Parser
    takes: str
    words: tuple[str, ...] = ()

    def __call__(self, cell: Raw, mark: DecimalMark) -> object:
        """What the cell says. Raises BadCell."""
        return self.parse(cell, mark)


UNITS_KEPT = ("piece", "g", "mg", "mm", "ml")
USUAL_UNITS = (*UNITS_KEPT, "kg", "t", "lb", "oz", "cm", "m", "in", "ft", "yd", "l")

_TEXT_MAX = 2_000
_MANGLED = re.compile(r"\d(?:[.,]\d+)?E\+\d+")
_CODE = re.compile(r"[^\W_](?:[\w.\-/+#]*[\w.\-/+#])?")
# What makes a spreadsheet run a cell of a text file, or look at what comes behind: the four signs and their wide
# forms, whatever blanks stand before them; a tab or a line's end at the very start. And the apostrophe that guards.
_RUN = re.compile(r"[\s\ufeff\u200b]*[=+\-@\uff1d\uff0b\uff0d\uff20]|[\t\r\n\v\f']")


def needs_guard(text: str) -> bool:
    """Would a spreadsheet that opens a text file run this cell? Then it is written with an apostrophe before it."""
    return _RUN.match(text) is not None


def is_guarded(text: str) -> bool:
    """Does it begin with the apostrophe that keeps a cell from being run?"""
    return text.startswith("'") and needs_guard(text[1:])


def to_text(cell: Raw, mark: DecimalMark = None) -> str:
    """The cell as tidy text: no edge blanks, no control characters, composed letters."""
    if isinstance(cell, Unusable):
        raise BadCell(cell.wrong, cell.right)
    if isinstance(cell, dt.datetime | dt.date | dt.time | dt.timedelta):
        raise BadCell("the spreadsheet made a date of it", "format the cell as text and type it again")
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, int | float):
        return plain_number(cell)
    text = cell or ""
    text = text[1:] if is_guarded(text) else text
    text = unicodedata.normalize("NFC", text).replace("\r\n", "\n").replace("\r", "\n")
    text = text.replace("\u00a0", " ").replace("\u202f", " ").replace("\ufeff", "").replace("\u200b", "")
    lines = [line.strip() for line in text.strip().split("\n")]
    text = "\n".join(lines).replace("\t", " ")
    if any(unicodedata.category(ch) == "Cc" and ch != "\n" for ch in text):
        raise BadCell("holds a character that cannot be printed", "type the text again")
    if len(text) > _TEXT_MAX:
        raise BadCell(f"is {len(text):,} characters long", f"at most {_TEXT_MAX:,}")
    return text


def read_line(at_most: int = 200) -> Reads:
    """Text on one line."""

    def parse(cell: Raw, mark: DecimalMark) -> str:
        text = " ".join(to_text(cell).split())
        if len(text) > at_most:
            raise BadCell(f"is {len(text):,} characters long", f"at most {at_most:,}")
        return text

    return Reads(parse, f"text on one line, at most {at_most:,} characters")


def read_lines(at_most: int = 1_000) -> Reads:
    """Text that may run over several lines (an address, an instruction)."""

    def parse(cell: Raw, mark: DecimalMark) -> str:
        text = to_text(cell)
        if len(text) > at_most:
            raise BadCell(f"is {len(text):,} characters long", f"at most {at_most:,}")
        return text

    return Reads(parse, f"text of one or more lines, at most {at_most:,} characters")


def read_code(at_most: int = 40) -> Reads:
    """A short name that other rows point at: letters, digits and . - / + # _ without blanks."""

    def parse(cell: Raw, mark: DecimalMark) -> str:
        text = to_text(cell)
        if _MANGLED.fullmatch(text):
            raise BadCell("the spreadsheet shortened a long number", "format the cell as text and type it again")
        if len(text) > at_most:
            raise BadCell(f"is {len(text):,} characters long", f"at most {at_most}")
        if not _CODE.fullmatch(text):
            raise BadCell("is not a short code", "use letters, digits and . - / + # without blanks")
        return text

    return Reads(parse, f"letters, digits and . - / + # _ without blanks, at most {at_most}")


def slug(at_most: int) -> Reads:
    """A short name of plain letters, digits, - and _ only, because it also stands in addresses."""

    def parse(cell: Raw, mark: DecimalMark) -> str:
        text = to_text(cell)
        if not re.fullmatch(r"[A-Za-z0-9_-]+", text):
            raise BadCell("is not a short code", "use letters a-z, digits, - and _ without blanks")
        if len(text) > at_most:
            raise BadCell(f"is {len(text):,} characters long", f"at most {at_most}")
        return text

    return Reads(parse, f"letters a-z, digits, - and _ without blanks, at most {at_most}")


def read_lot(cell: Raw, mark: DecimalMark) -> str:
    """A lot number: the supplier's own, so blanks inside are allowed."""
    text = " ".join(to_text(cell).split())
    if _MANGLED.fullmatch(text):
        raise BadCell("the spreadsheet shortened a long number", "format the cell as text and type it again")
    if len(text) > 60:
        raise BadCell(f"is {len(text):,} characters long", "at most 60")
    return text


def choice(*valid: str, also: dict[str, str] | None = None) -> Reads:
    """One word of a list, in any case, with - or a blank for _."""
    known = {word.casefold(): word for word in valid}
    known |= also or {}

    def parse(cell: Raw, mark: DecimalMark) -> str:
        text = to_text(cell)
        folded = text.casefold()
        found = known.get(folded) or known.get(re.sub(r"[\s\-]+", "_", folded))
        if found is None:
            raise BadCell("is not a word this column knows", offer(text, valid, "use one of: " + ", ".join(valid)))
        return found

    return Reads(parse, "one of the allowed words", tuple(valid))


def unit(*valid: str) -> Reads:
    """A unit of measure; its other spellings ("pcs", "kilograms") become the usual one."""
    usual = {UNIT_WORDS[word]: word for word in valid or USUAL_UNITS}
    return choice(*usual.values(), also={word: usual[meant] for word, meant in UNIT_WORDS.items() if meant in usual})


def read_whole(least: int = 0, most: int = 999_999_999, counted: str = "") -> Reads:
    """A whole number between two limits."""

    def parse(cell: Raw, mark: DecimalMark) -> int:
        number = to_decimal(cell, mark)
        if number != number.to_integral_value():
            raise BadCell("is not a whole number", f"write a whole number{counted}")
        if not least <= number <= most:
            raise BadCell("is out of range", f"write a number from {least:,} to {most:,}")
        return int(number)

    return Reads(parse, f"a whole number from {least:,} to {most:,}")


def _limits_shown(least: Decimal | None, most: Decimal | None, above: Decimal | None) -> str:
    """What a number may be, in words."""
    limits = [f"more than {above}"] if above is not None else []
    limits += [f"{least} or more"] if least is not None else []
    limits += [f"{most} or less"] if most is not None else []
    return "a number" + (", " + " and ".join(limits) if limits else "")


def read_decimal(least: Decimal | None = None, most: Decimal | None = None, *, above: Decimal | None = None) -> Reads:
    """A number with at most nine decimals between two limits."""

    def parse(cell: Raw, mark: DecimalMark) -> Decimal:
        number = to_decimal(cell, mark)
        if least is not None and number < least:
            raise BadCell("is too small", f"write at least {least}")
        if above is not None and number <= above:
            raise BadCell("is too small", f"write more than {above}")
        if most is not None and number > most:
            raise BadCell("is too large", f"write at most {most}")
        return number

    return Reads(parse, _limits_shown(least, most, above))


def yes_no(cell: Raw, mark: DecimalMark) -> bool:
    """Yes or no, as people tick it."""
    word = to_text(cell).casefold()
    if word in {"yes", "y", "true", "1", "x", "✓"}:
        return True
    if word in {"no", "n", "false", "0", "-"}:
        return False
    raise BadCell("is neither yes nor no", "write yes or no")


def zone(cell: Raw, mark: DecimalMark) -> str:
    """A time zone by its name in the public time zone database."""
    text = to_text(cell)
    names = available_timezones()
    if text in names:
        return text
    spaced = {name.casefold(): name for name in names}.get(text.casefold().replace(" ", "_"))
    if spaced:
        return spaced
    by_city = [name for name in names if name.rsplit("/", 1)[-1].casefold() == text.casefold().replace(" ", "_")]
    raise BadCell(
        "is not a time zone name",
        f"did you mean {sorted(by_city)[0]}?" if by_city else offer(text, names, "write for example America/New_York"),
    )


def matching(pattern: str, wrong: str, right: str, fold: Callable[[str], str] = str) -> Reads:
    """Text of a fixed form, such as a colour or a country code."""
    compiled = re.compile(pattern)

    def parse(cell: Raw, mark: DecimalMark) -> str:
        text = fold(to_text(cell))
        if not compiled.fullmatch(text):
            raise BadCell(wrong, right)
        return text

    return Reads(parse, right.removeprefix("write "))


def read_words(cell: Raw, mark: DecimalMark) -> tuple[str, ...]:
    """A list in one cell, separated by semicolons or upright bars."""
    parts = (" ".join(part.split()) for part in re.split(r"[;|\n]", to_text(cell)))
    return tuple(dict.fromkeys(part for part in parts if part))


def dump_words(value: Iterable[str]) -> str:
    """A list as it is written into one cell."""
    return " | ".join(value)
