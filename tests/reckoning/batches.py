"""The table of batches: each place where pieces of one lie, since when, how many."""

from __future__ import annotations

import re
from collections.abc import Iterable

from tests.reckoning.claims import Book
from tests.reckoning.figures import Day, Expected, Words
from tests.reckoning.goods import LYING, Known
from tests.reckoning.page import Table
from tests.reckoning.rows import Place, Row
from tests.reckoning.visits import Usual, Visits

COLUMNS = ("Batch", "What", "Where it is", "Here for")


def compare(table: Table | None, known: Known, book: Book, batches: Iterable[Row]) -> None:
    """These batches and no others, a row for each place; one for a batch of which nothing lies anywhere."""
    rows: list[dict[str, Expected]] = []
    visits = Visits.of(known)
    for batch in batches:
        places = {place: n for place, n in known.rows.lying(*LYING).items() if place.lot == batch.lot_id}
        rows += [_lying(known, visits, batch, place, n) for place, n in places.items()] or [_idle(known, batch)]
    book.table(table, "batches", ["Batch"], rows)


def under_way(known: Known) -> list[Row]:
    """Of which something lies somewhere, or a step is still ahead."""
    lying = {place.lot for place in known.rows.lying(*LYING)}
    return [
        batch
        for batch in known.rows.batches.values()
        if batch.closed_at is None
        and (batch.lot_id in lying or any(step.state != "done" for step in known.rows.steps_of(batch.id)))
    ]


def _lying(known: Known, visits: Visits, batch: Row, place: Place, n: int) -> dict[str, Expected]:
    site = re.escape(known.rows.sites[place.site].name)
    held = r" Held" if place.lot in known.held else ""
    if place.condition == "on_the_road":
        where = Words(f"On the road from {site}")
    elif place.condition in ("in_process", "rework"):
        verb = re.escape(known.verb(place))
        where = Words(rf"{site} · (?:waits for )?(?P<step>\d+), {verb}(?:, under way)?", (("step", place.step),))
    else:
        words = (
            "done there, to be sent"
            if visits.at_work(place)
            else "packed"
            if place.condition == "packed"
            else "in stock"
        )
        where = Words(f"{site} · {words}")
    return {
        **_of(known, batch, late=place.condition == "on_the_road" or visits.at_work(place)),
        "Where it is": where,
        "Good": Words(rf"(?P<n>\S+){held}", (("n", n),)),
        "Here for": days(visits.worked(place.site, visits.here_since(place), known.now)),
        "Usually": _usual(visits.usual[place.site]) if visits.at_work(place) else None,
    }


def days(n: int) -> Words:
    return Words(r"(?P<n>\d+) working days?", (("n", n),)) if n else Words("under 1 working day")


def bound(usual: Usual) -> Words:
    """What a stay is held against."""
    agreed, over = ("agreed", usual.agreed), ("over", usual.over)
    if usual.median is None:
        return Words(r"(?P<agreed>\d+) working days? agreed", (agreed,))
    median = r"under 1 working day" if not usual.median else r"(?P<median>\d+) working days?"
    figures = (over,) if not usual.median else (over, ("median", usual.median))
    if usual.high is None:
        return Words(rf"usually {median} \((?P<over>\d+) visits measured\), (?P<agreed>\d+) agreed", (*figures, agreed))
    within = r"(?P<high>\d+)" if usual.high else "the same day"
    high = (("high", usual.high),) if usual.high else ()
    return Words(rf"usually {median}, 4 in 5 visits end within {within} \((?P<over>\d+) measured\)", (*figures, *high))


def _usual(usual: Usual) -> Words:
    """Measured where enough visits are over; else what was agreed, and said to be so."""
    if usual.median is not None:
        return days(usual.median)
    return Words(r"(?P<n>\d+) working days? agreed", (("n", usual.agreed),))


def _idle(known: Known, batch: Row) -> dict[str, Expected]:
    steps = known.rows.steps_of(batch.id)
    ahead = [step for step in steps if step.state != "done"]
    begun = batch.lot_id is not None or any(step.state != "waiting" for step in steps)
    where = Words(r"All used up|Closed: nothing of it is left")
    if batch.closed_at is None and ahead:
        site = re.escape(known.rows.sites[ahead[0].site_id].name)
        forms = {
            (False, False): rf"Not begun: starts at {site} with (?P<step>\d+), .*",
            (True, True): r"No pieces left; (?P<step>\d+), .*, is not reported done",
            (True, False): rf"{site} · (?:waits for )?(?P<step>\d+), .*",
        }
        where = Words(forms[begun, batch.lot_id is not None], (("step", ahead[0].number),))
    late = batch.closed_at is None and batch.lot_id is None
    return {**_of(known, batch, late=late), "Where it is": where, "Good": None, "Here for": None, "Usually": None}


def _of(known: Known, batch: Row, *, late: bool) -> dict[str, Expected]:
    """`late`: something is still to be done, so that a day that is past says something."""
    due: Expected = None
    if batch.due_on is not None:
        mark = "Late " if late and batch.due_on < known.today else ""
        due = Words(rf"{mark}(?P<day>.+)", (("day", Day(batch.due_on, known.today)),))
    return {
        "Batch": known.code(batch.code),
        "What": known.title(known.rows.parts[batch.part_id]),
        "Due": due,
    }
