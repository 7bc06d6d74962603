"""Numbers in the cells of a channel, with decimal point or comma, with or without a unit behind."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

import numpy as np

from traveller.rules.logs.found import Floats, Unit

__all__ = [
    "HIGHEST_C",
    "LOWEST_C",
    "ZERO_C_K",
    "decimal_sign_of",
    "is_number",
    "read_values",
    "to_celsius",
    "unit_in",
    "unit_of_cells",
]

# A broken thermocouple writes 9999, -9999 or the like; no oven, press or dryer is this cold or hot.
LOWEST_C, HIGHEST_C = -100.0, 1400.0
# 0 degrees C in kelvin.
ZERO_C_K: Final = 273.15

_DEGREES = r"(?:°|º|˚|\ufffd|Â°|\b(?:deg(?:rees?)?)\b\.?)?"
_CELSIUS = re.compile(rf"(?:{_DEGREES}\s*(?<![A-Za-z])C(?![A-Za-z0-9])|celsius|centigrade|℃)", re.IGNORECASE)
_FAHRENHEIT = re.compile(rf"(?:{_DEGREES}\s*(?<![A-Za-z])F(?![A-Za-z0-9])|degF|fahrenheit|℉)", re.IGNORECASE)
_DEG_C = re.compile(r"degC", re.IGNORECASE)
# A K alone may be the type of a thermocouple ("TC type K"): kelvin is a word, a sign of degrees, or stands as units do.
_KELVIN = re.compile(
    r"\bkelvin\b|(?:°|º|˚|\bdeg\.?)\s*K(?![A-Za-z0-9])|[(\[]\s*K\s*[)\]]|\b(?:T|temp\w*)\s*[/_ .,-]\s*K\s*$|^\s*K\s*$",
    re.IGNORECASE,
)
_IN_KELVIN = re.compile(r"\s*[+-]?\d+(?:[.,]\d*)?\s*K\s*")
_NUMBER = re.compile(r"\s*[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?\s*(?:\S{0,3}\s*[CFKcfk])?\s*")
_SUFFIX = re.compile(r"[ \t\u00a0]*(?:°|º|\ufffd|deg)?[ \t]*[CFK][ \t]*$", re.MULTILINE | re.IGNORECASE)


_COMMA, _POINT = re.compile(r"\d,\d"), re.compile(r"\d\.\d")


def is_number(cell: str) -> bool:
    """A number, perhaps with degrees behind it."""
    return bool(_NUMBER.fullmatch(cell))


def unit_in(words: str) -> Unit | None:
    """The unit that a header or a cell names; None where it names none, or both."""
    celsius = bool(_CELSIUS.search(words) or _DEG_C.search(words))
    fahrenheit = bool(_FAHRENHEIT.search(words))
    if celsius and fahrenheit:
        return None
    if celsius or fahrenheit:
        return "C" if celsius else "F"
    return "K" if _KELVIN.search(words) else None


def unit_of_cells(cells: Sequence[str]) -> Unit | None:
    """The unit behind the numbers of a few cells, where they name one."""
    if cells and all(_IN_KELVIN.fullmatch(cell) for cell in cells):
        return "K"
    return unit_in(" ".join(cells))


def decimal_sign_of(cells: Sequence[str]) -> str:
    """What stands between the digits of most numbers: one odd cell (n.a., 9999.9) among many decides nothing."""
    joined = "\n".join(cells)
    if "," not in joined or "." not in joined:
        return "," if "," in joined else "."
    return "," if len(_COMMA.findall(joined)) > len(_POINT.findall(joined)) else "."


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
    if unit == "K":
        # 433.15 - 273.15 is 159.99999999999997: no logger shows a millionth of a degree.
        return np.round(values - ZERO_C_K, 6)
    return values if unit == "C" else (values - 32.0) * 5.0 / 9.0
