"""Starting values of a row, by the name of what is done: filled in where a cell is left empty, each with its source.

They are no processing instruction. Figures differ from source to source; the data sheet of the resin, the ink or the
compound goes before them, and whatever is typed into the row does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from traveller.rules.checks.base import LimitWord
from traveller.rules.checks.fields import Field, OneOf

__all__ = ["BAKES", "DRYINGS", "RECIPE_WORDS", "SURFACES", "Recipe", "filled_in", "recipe_field", "recipe_words"]


@dataclass(frozen=True)
class Recipe:
    """What empty cells stand for, and who says so."""

    cells: Mapping[str, str]
    source: str


_RESINS = "plasticranger.com, processing and drying temperatures; the range is 3 °C to either side: common practice"
_INK = "Siebdruck-Partner, Richtwerte für Topfzeit (glass screen ink)"
_PRACTICE = "common practice, no source"


def _dried(hours: str, from_c: int, to_c: int) -> Recipe:
    return Recipe({"least": hours, "unit": "h", "temperature": f"{from_c}-{to_c} C"}, _RESINS)


DRYINGS: Final[Mapping[str, Recipe]] = {
    "ABS": _dried("4", 85, 91),
    "acrylic": _dried("1.5", 79, 85),
    "PA6": _dried("4", 79, 85),
    "PA66": _dried("4", 79, 85),
    "PC": _dried("3.5", 118, 124),
    "PET bottle": _dried("5", 168, 174),
    "PBT": _dried("2.5", 124, 130),
    "SAN": _dried("3", 79, 85),
}
BAKES: Final[Mapping[str, Recipe]] = {
    "two-component ink on glass": Recipe(
        {"least": "30", "unit": "min", "temperature": "140 C", "where": "surface"}, _INK
    ),
    "two-component ink on plastic": Recipe(
        {"least": "30", "unit": "min", "temperature": "60-80 C", "where": "air"}, _PRACTICE
    ),
    # With fresh air: what silicone gives off while it is post-cured must not gather in the oven.
    "silicone post-cure": Recipe({"least": "4", "unit": "h", "temperature": "195-210 C", "where": "air"}, _PRACTICE),
}
SURFACES: Final[Mapping[str, Recipe]] = {
    "surface before two-component ink": Recipe(
        {"name": "surface tension", "least": "42", "unit": "mN/m"},
        "Marabu, data sheet of an ink for polyolefins (2010): 42 to 48 mN/m; treat what is below 38",
    ),
    "hardener for 100 g of ink colour": Recipe(
        {"name": "hardener for 100 g of ink", "least": "12", "most": "13", "unit": "g"},
        "Marabu, data sheet of an ink for polyolefins (2010): 8 : 1; half a gram to either side: common practice",
    ),
    "hardener for 100 g of ink varnish": Recipe(
        {"name": "hardener for 100 g of ink", "least": "19.5", "most": "20.5", "unit": "g"},
        "Marabu, data sheet of an ink for polyolefins (2010): 5 : 1; half a gram to either side: common practice",
    ),
}

RECIPE_WORDS: Mapping[str, str] = {"limit.recipe": "starting values of {recipe} ({recipe_source})"}


def recipe_field(recipes: Mapping[str, Recipe]) -> Field:
    """The column that names one of them."""
    meaning = "Starting values for cells that are left empty, by what is done; the material's data sheet goes first."
    return Field("recipe", OneOf(words=tuple(recipes)), meaning)


def filled_in(recipes: Mapping[str, Recipe], raw: Mapping[str, str]) -> Mapping[str, str]:
    """The row with the starting values of its recipe where cells are empty."""
    named = " ".join((raw.get("recipe") or "").split()).casefold()
    found = next((recipe for name, recipe in recipes.items() if name.casefold() == named), None)
    if found is None:
        return raw
    typed = {column: cell for column, cell in raw.items() if (cell or "").strip()}
    return {**raw, **found.cells, **typed}


def recipe_words(recipes: Mapping[str, Recipe], name: str) -> list[LimitWord]:
    """Which starting values a row is built on, and whose they are."""
    return [("limit.recipe", {"recipe": name, "recipe_source": recipes[name].source})] if name else []
