"""The stays of an order's batches: from when until when so many pieces were at a site, and what was scrapped there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from tests.reckoning.claims import Book
from tests.reckoning.figures import Expected, Moment, Words, filled
from tests.reckoning.goods import Known
from tests.reckoning.page import Table
from tests.reckoning.rows import Row

COLUMNS = ("What", "Site", "From", "Until", "Good", "Told")
# On their way nobody has them: what is on the road lies at no site.
THERE = ("in_process", "rework", "stock", "packed")


@dataclass
class Stay:
    """Pieces of one lot at one site, from the first that came to the last that went."""

    began: datetime
    ended: datetime | None = None
    # What was there at the end: all that was sent on at once, none where it was used up.
    good: int = 0
    # So many turned up where all had left: neither made there nor counted in.
    found: int = 0


def compare(table: Table | None, known: Known, book: Book, batches: Sequence[Row]) -> None:
    """Every stay of every batch; of parts that were sent ahead each on its own."""
    rows: list[dict[str, Expected]] = []
    for batch in batches:
        for site, some in _stays(known, batch.lot_id).items():
            scrap = _scrap(known, batch.lot_id, site)
            for number, stay in enumerate(some):
                # What was scrapped at a site is told once.
                rows.append(_row(known, batch, site, stay, scrap if number == 0 else 0))
    book.table(table, "stays", ["Site", "From"], rows)


def _row(known: Known, batch: Row, site: int, stay: Stay, scrap: int) -> dict[str, Expected]:
    part = known.title(known.rows.parts[batch.part_id])
    zone = known.zone
    return {
        "What": Words(r"(?P<n>\S+) found there", (("n", stay.found),))
        if stay.found
        else Words(rf"{part} (?P<n>\S+)", (("n", _first(known, batch.lot_id)),)),
        "Site": known.rows.sites[site].name,
        "From": Moment(stay.began, zone),
        "Until": Moment(stay.ended, zone) if stay.ended else "still there",
        "Good": stay.good,
        "Told": _told(known, batch.lot_id, scrap),
    }


def _told(known: Known, lot: int | None, scrap: int) -> Words:
    """What was scrapped there, and why pieces are held."""
    form = r"scrap (?P<n>\S+?)" if scrap else ""
    figures: tuple[tuple[str, int], ...] = (("n", scrap),) if scrap else ()
    holds = [one for one in known.rows.holds.values() if one.lot_id == lot and not one.closed_at and not one.root_id]
    if not holds:
        return Words(form, figures)
    why = known.why_held(holds[0])
    # At the site where they lay when it began: the rest of the batch may lie elsewhere.
    return Words(rf"{form}(?:(?:, )?held: {filled(why)})?", figures)


def _stays(known: Known, lot: int | None) -> dict[int, list[Stay]]:
    found: dict[int, list[Stay]] = {}
    there: dict[int, int] = {}
    by_event: dict[tuple[datetime, int], list[Row]] = {}
    for place, moves in known.rows.moves.items():
        if place.lot == lot and place.condition in (*THERE, "on_the_road"):
            for move in moves:
                by_event.setdefault((move.happened_at, move.event_id), []).append(move)
    for (at, _event), moves in sorted(by_event.items()):
        for site in {move.site_id for move in moves}:
            before = there.get(site, 0)
            here = sum(m.quantity for m in moves if m.site_id == site and m.condition in THERE)
            sent = sum(m.quantity for m in moves if m.site_id == site and m.condition == "on_the_road")
            there[site] = before + here
            if not here:
                continue
            if before <= 0 < there[site]:
                again = site in found and not any(m.condition == "on_the_road" for m in moves)
                found.setdefault(site, []).append(Stay(at, found=here if again else 0))
            stay = found[site][-1]
            stay.good = there[site] if sent <= 0 else before
            stay.ended = at if there[site] <= 0 else None
    return found


def _scrap(known: Known, lot: int | None, site: int) -> int:
    there = [place for place in known.rows.balance if (place.lot, place.site) == (lot, site)]
    return sum(known.rows.balance[place] for place in there if place.condition == "scrap")


def _first(known: Known, lot: int | None) -> int:
    """So many pieces were there when the first of it were counted."""
    moves = [move for place, some in known.rows.moves.items() if place.lot == lot for move in some]
    if not moves:
        return 0
    first = min(move.event_id for move in moves)
    return sum(move.quantity for move in moves if move.event_id == first and move.condition in THERE)
