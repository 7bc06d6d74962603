"""How an order's pieces stand, in sentences: shipped, missing, not made yet; and what keeps them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import partial

from tests.reckoning.claims import Book, Rule
from tests.reckoning.figures import Expected
from tests.reckoning.goods import Known
from tests.reckoning.outlook import Lookout
from tests.reckoning.page import Page
from tests.reckoning.rows import Row


def owed(known: Known, order: Row) -> list[Row]:
    """Lines of which something is to follow, due first."""
    lines = [line for line in known.rows.lines.values() if line.order_id == order.id]
    return sorted(
        (line for line in lines if line.quantity > known.shipped(line)), key=lambda line: (line.due_on, line.number)
    )


def rules(known: Known, lines: Iterable[Row]) -> Iterable[Rule]:
    """A sentence for each of these lines."""
    for line in lines:
        part = known.title(known.rows.parts[line.part_id])
        form = rf"{re.escape(part)}: (?P<what>[^;]+?)(?:; (?P<cause>.+))?\."
        yield Rule(form, partial(_line, known, line))


def _line(known: Known, line: Row, shown: Mapping[str, str]) -> Mapping[str, Expected]:
    seen = Lookout.at(known).of[line.id]
    shipped = known.shipped(line)
    words = [f"{shipped:,} of {line.quantity:,} shipped"] if shipped else []
    return {"what": ", ".join([*words, seen.words()]), "cause": _cause(known, line, shown.get("cause", ""))}


def _cause(known: Known, line: Row, shown: str) -> Expected:
    """Missing components come first, then what is held; of what is behind, the figures of the one that is named."""
    lookout = Lookout.at(known)
    if not lookout.of[line.id].pieces["unborn"]:
        return None
    lacking = {part: short[line.id] for part, short in lookout.short.items() if line.id in short}
    lacking.pop(line.part_id, None)
    if lacking:
        part = max(lacking, key=lambda one: lacking[one])
        return f"{lacking[part]:,} {known.title(known.rows.parts[part])} are missing"
    shares = {share.batch_id for share in known.rows.shares.values() if share.line_id == line.id}
    mine = [
        batch
        for batch in known.rows.batches.values()
        if batch.part_id != line.part_id and {batch.id, known.root(batch.id)} & shares
    ]
    held = [words for batch in mine for words in _held(known, batch)]
    if held:
        return shown if shown in held else held[0]
    behind = [words for batch in mine for words in _behind(known, batch)]
    return shown if shown in behind else behind[0] if behind else None


def _held(known: Known, batch: Row) -> Iterable[str]:
    if batch.lot_id in known.held:
        lies = {place: n for place, n in known.rows.balance.items() if place.lot == batch.lot_id and n > 0}
        there = {p: n for p, n in lies.items() if p.condition in ("in_process", "rework", "stock", "on_the_road")}
        if there:
            most = max(there, key=lambda place: there[place])
            title = known.title(known.rows.parts[batch.part_id])
            yield f"{there[most]:,} {title} are held at {known.rows.sites[most.site].name}"


def _behind(known: Known, batch: Row) -> Iterable[str]:
    """The first step of a batch that is not reported done: begun, waited for, or not begun."""
    step = next((one for one in known.rows.steps_of(batch.id) if one.state != "done"), None)
    if step is None or batch.closed_at is not None:
        return
    title, site = known.title(known.rows.parts[batch.part_id]), known.rows.sites[step.site_id].name
    what = f"step {step.number}, {known.rows.operations[step.operation_id].verb},"
    waiting = sum(
        n
        for place, n in known.rows.lying("in_process", "rework", "stock", "on_the_road").items()
        if (place.lot, place.step) == (batch.lot_id, step.number)
    )
    if step.state == "running":
        yield f"{title}: {what} is under way at {site}"
    elif waiting:
        yield f"{waiting:,} {title} wait for {what} at {site}"
    else:
        yield f"{title}: {what} at {site} is not begun"


def missing_tags(page: Page, known: Known, book: Book, order: Row | None = None) -> None:
    """Of each made part so many, for which order; and the batches that bring less than they were released for."""
    lookout = Lookout.at(known)
    expected: list[dict[str, Expected]] = []
    for part, short in lookout.short.items():
        by_order: dict[str, int] = {}
        for line, n in short.items():
            number = known.rows.orders[known.rows.lines[line].order_id].number
            if order is None or number == order.number:
                by_order[number] = by_order.get(number, 0) + n
        if by_order:
            fell = lookout.fell_short(part)[:3]
            each = ", ".join(f"{n:,} for order {number}" for number, n in by_order.items())
            expected.append(
                {
                    "n": sum(by_order.values()),
                    "part": known.title(known.rows.parts[part]),
                    "order": next(iter(by_order)) if len(by_order) == 1 else None,
                    "each": each if len(by_order) > 1 else None,
                    "fell": "".join(
                        f" Batch {code} yields {brings:,} of the {promised:,} it was released for."
                        for code, brings, promised in fell
                    )
                    or None,
                }
            )
    form = r"(?P<n>\S+) (?P<part>[^:]+?)(?: for order (?P<order>[^.,]+)|: (?P<each>[^.]+))\.(?P<fell> Batch .+)?"
    book.tags(page.tags, "Missing", form, expected)
