"""Numbers in the cells of a channel, with decimal point or comma, with or without a unit behind."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from traveller.rules.logs.found import Floats, Unit

__all__ = ["HIGHEST_C", "LOWEST_C", "decimal_sign_of", "is_number", "read_values", "to_celsius", "unit_in"]

# A broken thermocouple writes 9999, -9999 or the like; no oven, press or dryer is this cold or hot.
LOWEST_C, HIGHEST_C = -100.0, 1400.0

_DEGREES = r"(?:°|º|˚|\ufffd|Â°|\b(?:deg(?:rees?)?)\b\.?)?"
_CELSIUS = re.compile(rf"(?:{_DEGREES}\s*(?<![A-Za-z])C(?![A-Za-z0-9])|celsius|centigrade|℃)", re.IGNORECASE)
_FAHRENHEIT = re.compile(rf"(?:{_DEGREES}\s*(?<![A-Za-z])F(?![A-Za-z0-9])|degF|fahrenheit|℉)", re.IGNORECASE)
_DEG_C = re.compile(r"degC", re.IGNORECASE)
_NUMBER = re.compile(r"\s*[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?\s*(?:\S{0,3}\s*[CFcf])?\s*")
_SUFFIX = re.compile(r"[ \t\u00a0]*(?:°|º|\ufffd|deg)?[ \t]*[CF][ \t]*$", re.MULTILINE | re.IGNORECASE)


def is_number(cell: str) -> bool:
    """A number, perhaps with degrees behind it."""
    return bool(_NUMBER.fullmatch(cell))


def unit_in(words: str) -> Unit | None:
    """The unit that a header or a cell names; None where it names none, or both."""
    celsius = bool(_CELSIUS.search(words) or _DEG_C.search(words))
    fahrenheit = bool(_FAHRENHEIT.search(words))
    if celsius == fahrenheit:
        return None
    return "C" if celsius else "F"


def decimal_sign_of(cells: Sequence[str]) -> str:
    """Comma where any number has one and none a point; else the point."""
    joined = "\n".join(cells)
    return "," if "," in joined and "." not in joined else "."


def read_values(cells: Sequence[str], sign: str) -> Floats:
    """The numbers; what is no number is not a number."""
    joined = "\n".join(cells)
    if sign == ",":
        joined = joined.replace(",", ".")
    try:
        if "_" not in joined:
            bare = joined.split("\n") if sign == "," else cells
            return np.fromiter(map(float, bare), np.float64, len(cells))
    except ValueError:
        pass
    bare = _SUFFIX.sub("", joined).split("\n")
    if len(bare) != len(cells):
        bare = [_SUFFIX.sub("", cell.replace("\n", " ")) for cell in cells]
    return np.array([_number(cell) for cell in bare], np.float64)


def _number(cell: str) -> float:
    try:
        return float("nan") if "_" in cell else float(cell)
    except ValueError:
        return float("nan")


def to_celsius(values: Floats, unit: Unit) -> Floats:
    """Degrees C; a limit in Fahrenheit goes the same way, so that equal stays equal."""
    return values if unit == "C" else (values - 32.0) * 5.0 / 9.0
