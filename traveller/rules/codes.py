"""Is this our traveller? Short codes, their check character, and what a scanner may have done to them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, NewType

__all__ = [
    "ALPHABET",
    "CODE_LENGTH",
    "Damaged",
    "Scan",
    "TravellerCode",
    "from_number",
    "is_valid",
    "nearest",
    "read",
    "show_code",
]

TravellerCode = NewType("TravellerCode", str)
_Why = Literal["empty", "length", "character", "check"]

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
BODY_LENGTH = 6
CODE_LENGTH = BODY_LENGTH + 1
_NUMBERS = 32**BODY_LENGTH

_VALUE = {character: value for value, character in enumerate(ALPHABET)}
_LOOK_ALIKES = str.maketrans("OILU", "011V")
# Pairs that people and lenses confuse: half the price of another mistake when codes are proposed.
_CONFUSED = {
    frozenset(pair) for pair in ("8B", "5S", "2Z", "17", "6G", "0D", "0Q", "VW", "VY", "MN", "YZ", "AQ", "WZ", "38")
}
_FIELD_POLYNOMIAL = 0b100101  # x^5 + x^2 + 1, primitive over GF(2), so that its root makes all 31 weights
_OFFSET = 17  # keeps 0000000, which a stuck key makes, from being a valid code


def _times_root(value: int) -> int:
    """Multiply an element of GF(32) by the root of the field polynomial."""
    doubled = value << 1
    return doubled ^ _FIELD_POLYNOMIAL if doubled & 32 else doubled


def _weighted_sum(values: Iterable[int]) -> int:
    """Sum of value times root to the power of its place, by Horner's rule: all weights differ, none is 0."""
    total = 0
    for value in values:
        total = _times_root(total) ^ value
    return total


def _check_value(body: str) -> int:
    return _times_root(_weighted_sum(_VALUE[character] for character in body)) ^ _OFFSET


def from_number(n: int) -> TravellerCode:
    """The code of a number, 0 <= n < 2**30: six characters base 32, then the check character.

    Place i of the seven has the weight root**i in GF(32). The weights are distinct and not zero, so one
    wrong character changes the sum, and so does a swap of any two characters that differ.

    >>> from_number(42)
    '00001A1'
    """
    if not 0 <= n < _NUMBERS:
        raise ValueError(f"a code's number lies in 0..{_NUMBERS - 1}, not {n}")
    body = "".join(ALPHABET[n >> shift & 31] for shift in range(5 * (BODY_LENGTH - 1), -1, -5))
    return TravellerCode(body + ALPHABET[_check_value(body)])


def is_valid(text: str) -> bool:
    """Whether text is a code exactly as stored: seven capitals and digits with the right check."""
    if len(text) != CODE_LENGTH or any(character not in _VALUE for character in text):
        return False
    return _VALUE[text[-1]] == _check_value(text[:-1])


def show_code(code: str) -> str:
    """A code as printed large for people: 7K3-M9Q-4."""
    return f"{code[:3]}-{code[3:6]}-{code[6:]}"


@dataclass(frozen=True, slots=True)
class Scan:
    """A traveller's code, and the step when the QR of a single operation was read."""

    code: TravellerCode
    step: int | None


@dataclass(frozen=True, slots=True)
class Damaged:
    """What was read instead of a code: the forgiven text, why it is none, and the characters at fault."""

    text: str
    why: _Why
    characters: str = ""
    step: int | None = None


# A scanner set to one keyboard, a computer set to another: / comes out as some other mark (- on German,
# Spanish, Italian, Portuguese and Nordic keyboards, ; on Brazilian, é on Canadian French, . on Turkish).
# Whatever the mark, it stands on both sides of the t, which is enough to find the code behind it.
# (The last such t counts, so that a host of that form does no harm.)
_ADDRESS = re.compile(
    r"^.*([^0-9A-Za-z\s])t\1((?:(?!\1)[^?#])+)(?:\1([0-9]{1,5}))?\1*(?:[?#].*)?$", re.IGNORECASE | re.DOTALL
)
_SYMBOLOGY = re.compile(r"^[\]+*¨][A-Za-z][0-9]")  # ]C0, and what other keyboards make of the bracket
_SEPARATORS = frozenset("-_.·'*/\\:;,+ß‐‑‒–—−")
# A French keyboard has its digits on the shifted row and A/Q, Z/W, M elsewhere.
# (Its 4 and 6 are ' and -, which people type between characters: they alone are no evidence of it.)
_FRENCH_MARKS = frozenset('&é"(è_çà!')
_FRENCH = str.maketrans("&é\"'(-è_çàaqzwAQZW,?M!:)", "1234567890qawzQAWZmM:/.-")
_GERMAN = str.maketrans("yzYZ", "zyZY")


def read(text: str) -> Scan | Damaged:
    """The code in what a scanner or a person typed, forgiving all that does not weaken the check.

    Forgiven: case, hyphens, blanks, O I L U for 0 1 1 V, full-width characters, a trailing Enter, the
    symbology prefix of a Code 128, a whole address of any host with or without a step, and a keyboard
    layout that turned / : - (and with them Y/Z, or a French keyboard's digits) into something else.
    Letters are only exchanged when the text shows by its marks that the keyboard was another one.
    """
    cleaned = _without_invisible(unicodedata.normalize("NFKC", text[:500]))
    if not cleaned:
        return Damaged("", "empty")
    if _FRENCH_MARKS & set(cleaned) and not any("0" <= character <= "9" for character in cleaned):
        french = _read_one(cleaned.translate(_FRENCH))
        if isinstance(french, Scan):
            return french
    return _read_one(cleaned)


def _read_one(cleaned: str) -> Scan | Damaged:
    """Read as an address when it has the form of one, else as a bare code."""
    bare = _fold(_SYMBOLOGY.sub("", cleaned, count=1) if len(_fold(cleaned)) > CODE_LENGTH else cleaned)
    address = _ADDRESS.match(cleaned) if len(bare) > CODE_LENGTH else None
    if address is None:
        return _judge(bare, None)
    mark, body = address.group(1), address.group(2)
    step = int(address.group(3)) if address.group(3) else None
    found = _judge(_fold(body), step)
    swapped = _judge(_fold(body.translate(_GERMAN)), step)
    if mark != "-" or found == swapped or isinstance(swapped, Damaged):
        return found
    # Three Y or Z at certain places pass the check either way: then nobody can tell, so a person must.
    return Damaged(_fold(body), "check", step=step) if isinstance(found, Scan) else swapped


def _judge(folded: str, step: int | None) -> Scan | Damaged:
    strange = "".join(dict.fromkeys(character for character in folded if character not in _VALUE))
    if not folded:
        return Damaged(folded, "empty", step=step)
    if len(folded) != CODE_LENGTH:
        return Damaged(folded, "length", strange, step)
    if strange:
        return Damaged(folded, "character", strange, step)
    if not is_valid(folded):
        return Damaged(folded, "check", step=step)
    return Scan(TravellerCode(folded), step)


def _without_invisible(text: str) -> str:
    """Drop control and format characters (Enter, group separator, zero-width blanks), trim blanks."""
    return "".join(c for c in text if unicodedata.category(c) not in ("Cc", "Cf") or c in "\t ").strip()


def _fold(text: str) -> str:
    """Upper case, separators and blanks dropped, look-alikes made the characters that we print."""
    kept = "".join(c for c in text if c not in _SEPARATORS and not c.isspace())
    return kept.upper().translate(_LOOK_ALIKES)


_MOST_COST = 4  # two whole mistakes: beyond that, one code in a few thousand is close by chance


def nearest(damaged: str, known: Iterable[str], most: int = 5) -> list[TravellerCode]:
    """Known codes that the damaged text may have been, nearest first, at most two mistakes away.

    A mistake is a wrong, missing or extra character or a swap of neighbours; confusable pairs (8 and B,
    5 and S) count half.
    """
    wanted = _fold(_without_invisible(unicodedata.normalize("NFKC", damaged[:500])))
    if abs(len(wanted) - CODE_LENGTH) > _MOST_COST // 2:
        return []
    priced = ((_distance(wanted, code), code) for code in dict.fromkeys(known))
    near = sorted((cost, code) for cost, code in priced if cost <= _MOST_COST)
    return [TravellerCode(code) for _, code in near[:most]]


def _distance(left: str, right: str) -> int:
    """Optimal string alignment in half mistakes: substitution, insertion, deletion, neighbour swap."""
    before: list[int] = []
    last = [2 * column for column in range(len(right) + 1)]
    for row, a in enumerate(left, start=1):
        now = [2 * row]
        for column, b in enumerate(right, start=1):
            price = 0 if a == b else 1 if frozenset((a, b)) in _CONFUSED else 2
            cost = min(last[column - 1] + price, last[column] + 2, now[column - 1] + 2)
            if row > 1 and column > 1 and a != b and (a, b) == (right[column - 2], left[row - 2]):
                cost = min(cost, before[column - 2] + 2)
            now.append(cost)
        before, last = last, now
    return last[-1]
