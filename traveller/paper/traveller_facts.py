"""All that a traveller says, frozen when it is printed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from traveller.paper.writing_box import WritingBox
from traveller.rules.codes import TravellerCode

__all__ = ["Traveller", "TravellerStep"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TravellerStep:
    """One row: what to do, within which limits, what to write down."""

    number: int
    site: str
    verb: str
    limits: tuple[str, ...] = ()
    show_first: str = ""  # what must be shown before going on; not empty: the step is a gate
    boxes: tuple[WritingBox, ...] = ()
    counts_pieces: bool = True  # False where material is prepared and no pieces exist yet
    caution: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Traveller:
    """All that one traveller says. Quantities in the part's unit; the address is HOST with its scheme."""

    code: TravellerCode
    public_address: str
    maker: str
    print_number: int
    product: str
    variant: str
    colour: str = ""
    swatch_hex: str = ""
    picture: bytes | None = None
    revision: str
    orders: tuple[str, ...]
    due: date | None
    destination: str
    start: int
    wanted: int
    unit: str = "pieces"
    shots: int | None = None
    tool: str = ""
    cavities_open: int | None = None
    cavities: int | None = None
    material: str = ""
    material_lot: str = ""
    material_owner: str = ""
    call_if_found: str
    steps: tuple[TravellerStep, ...]
    # In a word what stops the batch ("HELD: do not use"), and why, reason by reason.
    stopped_as: str = "HELD: do not use"
    holds: tuple[str, ...] = ()
    then: str = ""
