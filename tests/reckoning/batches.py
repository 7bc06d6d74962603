"""The table of batches: each place where pieces of one lie, since when, how many."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime

from tests.reckoning.claims import Book
from tests.reckoning.figures import Day, Expected, Lapse, Words
from tests.reckoning.goods import LYING, Known
from tests.reckoning.page import Table
from tests.reckoning.rows import Place, Row

COLUMNS = ("Batch", "What", "Where it is", "Here for")


def compare(table: Table | None, known: Known, book: Book, batches: Iterable[Row]) -> None:
    """These batches and no others, a row for each place; one for a batch of which nothing lies anywhere."""
    rows: list[dict[str, Expected]] = []
    for batch in batches:
        places = {place: n for place, n in known.rows.lying(*LYING).items() if place.lot == batch.lot_id}
        rows += [_lying(known, batch, place, n) for place, n in places.items()] or [_idle(known, batch)]
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


def _lying(known: Known, batch: Row, place: Place, n: int) -> dict[str, Expected]:
    site = known.rows.sites[place.site].name
    working = place.condition in ("in_process", "rework")
    held = r" Held" if place.lot in known.held else ""
    if place.condition == "on_the_road":
        where = Words(f"On the road from {re.escape(site)}")
    elif working:
        where = Words(rf"{re.escape(site)} · (?:waits for )?(?P<step>\d+), .*", (("step", place.step),))
    else:
        where = Words(rf"{re.escape(site)} · \D*")
    usual = known.rows.sites[place.site].turnaround_days
    return {
        **_of(known, batch),
        "Where it is": where,
        "Good": Words(rf"(?P<n>\S+){held}", (("n", n),)),
        "Here for": Lapse(known.now - since(known, place)),
        "Usually": Words(r"(?P<n>\d+) working days?", (("n", usual),)) if working else None,
    }


def _idle(known: Known, batch: Row) -> dict[str, Expected]:
    ahead = [step for step in known.rows.steps_of(batch.id) if step.state != "done"]
    where = Words(r"(?:All used up|Closed: nothing of it is left)")
    if batch.closed_at is None and ahead:
        site = re.escape(known.rows.sites[ahead[0].site_id].name)
        where = Words(rf"{site} · waits for (?P<step>\d+), .*", (("step", ahead[0].number),))
    return {**_of(known, batch), "Where it is": where, "Good": None, "Here for": None, "Usually": None}


def _of(known: Known, batch: Row) -> dict[str, Expected]:
    due: Expected = None
    if batch.due_on is not None:
        late = "Late " if batch.due_on < known.today else ""
        due = Words(rf"{late}(?P<day>.+)", (("day", Day(batch.due_on, known.today)),))
    return {
        "Batch": known.code(batch.code),
        "What": known.title(known.rows.parts[batch.part_id]),
        "Due": due,
    }


def since(known: Known, place: Place) -> datetime:
    """When pieces came there that have not all gone since."""
    sum_, began = 0, known.now
    for move in known.rows.moves[place]:
        if sum_ <= 0 < sum_ + move.quantity:
            began = move.happened_at
        sum_ += move.quantity
    return began
