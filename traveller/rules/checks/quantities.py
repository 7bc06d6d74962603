"""Which units measure one thing? A quantity is declared by the field that takes it; what turns into what is known here.

Units of parts (pieces, mass, length, volume) stand in `rules.units`: they are what stock is counted in. A check may
be read in units that no part is counted in, so these belong to the check's field.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from typing import Literal

__all__ = ["LENGTH", "MEASURED_UNIT_MOST", "TIME", "Quantity", "know", "measured_alike", "quantity_of"]

# What a reading keeps of its unit.
MEASURED_UNIT_MOST = 12


@dataclass(frozen=True)
class Quantity:
    """One thing that is measured: each unit's size in the first one, exact; other ways to write a unit.

    `systems` says which units belong to one system only, `others` the unit of the other system with the decimals that
    it is shown with beside those of the figure given.
    """

    name: str
    units: Mapping[str, Fraction]
    spellings: Mapping[str, str] = field(default_factory=dict)
    systems: Mapping[str, Literal["metric", "inch_pound"]] = field(default_factory=dict)
    others: Mapping[str, tuple[str, int]] = field(default_factory=dict)

    def unit(self, word: str) -> str | None:
        """The usual form of a unit, written in any case, with or without point, blank or hyphen; None: not one."""
        return self.bare_units.get(_bare(word))

    @property
    def bare_units(self) -> Mapping[str, str]:
        """The usual form of each unit by what is left of it without case, blanks and points."""
        usual = {_bare(unit): unit for unit in self.units}
        return {**usual, **{_bare(spelling): unit for spelling, unit in self.spellings.items()}}


def _bare(word: str) -> str:
    return "".join(ch for ch in word.casefold() if ch not in " .·⋅-*")


TIME = Quantity("time", {"s": Fraction(1), "min": Fraction(60), "h": Fraction(3600)})
# The inch is 25.4 mm exactly (NIST SP 811, appendix B; 16 CFR 500.19).
LENGTH = Quantity("length", {"mm": Fraction(1), "in": Fraction(254, 10)})

# By the bare form of a unit: the quantity and its size. Filled by `know` from the fields of all kinds.
_KNOWN: dict[str, tuple[Quantity, Fraction]] = {}


def know(quantity: Quantity) -> None:
    """Take a quantity's units in; ValueError where one of them measures another thing already."""
    for bare, unit in quantity.bare_units.items():
        before = _KNOWN.setdefault(bare, (quantity, quantity.units[unit]))
        if before[0] != quantity:
            raise ValueError(f"{unit} measures {before[0].name} and {quantity.name}")


def quantity_of(word: str) -> Quantity | None:
    """What a unit measures; None for one that no field declares."""
    found = _KNOWN.get(_bare(word))
    return found[0] if found else None


@lru_cache(maxsize=512)
def measured_alike(one: str, other: str) -> Fraction | None:
    """How many of `other` one of `one` is, where a field declares that both measure the same; else None."""
    a, b = _KNOWN.get(_bare(one)), _KNOWN.get(_bare(other))
    if a is None or b is None or a[0] != b[0]:
        return None
    return a[1] / b[1]
