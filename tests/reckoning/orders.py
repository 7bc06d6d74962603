"""Orders: the list, and each order's own page."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from tests.reckoning import batches, standing, stays
from tests.reckoning.claims import Book, Rule, as_of
from tests.reckoning.figures import Day, Expected, Free, Moment, Words
from tests.reckoning.goods import Known
from tests.reckoning.outlook import Lookout
from tests.reckoning.page import Page
from tests.reckoning.rows import Row

KEYS = ["Order", "What"]


def lines_of(known: Known, order: int) -> list[Row]:
    return sorted((line for line in known.rows.lines.values() if line.order_id == order), key=lambda line: line.number)


def due(known: Known, order: int) -> Row | None:
    """The first line that is not wholly shipped."""
    owed = [line for line in lines_of(known, order) if line.quantity > known.shipped(line)]
    return min(owed, key=lambda line: (line.due_on, line.number), default=None)


def opened(known: Known) -> list[Row]:
    """Open orders, the one due first at the head."""

    def by_day(order: Row) -> tuple[str, str]:
        first = due(known, order.id)
        return (first.due_on.isoformat() if first else "9999", order.number)

    return sorted((order for order in known.rows.orders.values() if order.closed_at is None), key=by_day)


def late(known: Known) -> list[Row]:
    return [one for one in opened(known) if (first := due(known, one.id)) and first.due_on < known.today]


def line_row(known: Known, line: Row) -> dict[str, Expected]:
    order = known.rows.orders[line.order_id]
    packed, shipped, ready = known.packed(line), known.shipped(line), known.released(line)
    to_follow = max(0, line.quantity - shipped)
    past = line.due_on < known.today and to_follow > 0
    seen = Lookout.at(known).of.get(line.id)
    state = "shipped in full" if not to_follow else seen.words() if seen else f"closed, {to_follow:,} not shipped"
    return {
        "Order": order.number,
        "Customer": order.customer,
        "What": known.title(known.rows.parts[line.part_id]),
        "Wanted": line.quantity,
        "Released": ready,
        "Packed": packed,
        "Shipped": shipped,
        "To follow": to_follow,
        "Expected": seen.expected if seen else Free("of a closed order"),
        "Due": Words(rf"{'Late ' if past else ''}(?P<day>.+)", (("day", Day(line.due_on, known.today)),)),
        "State": state + (", late" if past and seen else ""),
    }


def compare_list(page: Page, known: Known, book: Book) -> None:
    found = opened(known)
    behind = late(known)
    which = ", ".join(order.number for order in behind[:5])
    form = (
        r"(?P<n>\S+) orders? (?:is|are) open; (?:none is late|(?P<late>[^;]+?) (?:is|are) late)"
        r"(?:; pieces are missing for (?P<lacking>[^;]+))?\."
    )

    def claims(_shown: Mapping[str, str]) -> Mapping[str, Expected]:
        return {"n": len(found), "late": which or None, "lacking": _lacking(known) or None}

    book.sentences(page, "orders", [as_of(known), Rule(form, claims)])
    waiting = [line for order in found for line in lines_of(known, order.id) if not_released(known, line)]
    expected = [{"n": len(waiting)}] if waiting else []
    book.tags(page.tags, "Not released", r"(?P<n>\S+) lines? waits? to be planned and released\.", expected)
    rows = [line_row(known, line) for order in found for line in lines_of(known, order.id)]
    book.table(page.table("Order", "Wanted"), "order lines", KEYS, rows)


def _lacking(known: Known) -> str:
    """Orders that pieces of any part are missing for, as parts are looked at: users first, lines due first."""
    short = Lookout.at(known).short
    lines = [known.rows.lines[line] for part in short for line in short[part]]
    return ", ".join(list(dict.fromkeys(known.rows.orders[line.order_id].number for line in lines))[:5])


def not_released(known: Known, line: Row) -> int:
    return max(0, int(line.quantity) - max(known.released(line), known.packed(line)))


def compare_order(page: Page, known: Known, book: Book, order: Row) -> None:
    lines = lines_of(known, order.id)
    book.sentences(page, "order", [as_of(known), *_headline(known, order), *_facts(known, order)])
    waiting = [
        {"n": line.quantity, "part": known.title(known.rows.parts[line.part_id]), "released": known.released(line)}
        for line in lines
        if not_released(known, line)
    ]
    book.tags(page.tags, "Not released", r"(?P<n>\S+) (?P<part>.+?): (?P<released>\S+) released so far\.", waiting)
    book.table(page.table("Order", "Wanted"), "order lines", KEYS, [line_row(known, line) for line in lines])
    standing.missing_tags(page, known, book, order)
    ids = {line.id for line in lines}
    mine = batches_of(known, order)
    batches.compare(page.table(*batches.COLUMNS), known, book, mine)
    stays.compare(page.table(*stays.COLUMNS), known, book, mine)
    cartons = [one for one in known.rows.cartons.values() if one.line_id in ids and one.opened_event_id is None]
    book.table(page.table("Carton", "Pieces"), "cartons", ["Carton"], [_carton(known, one) for one in cartons])


def batches_of(known: Known, order: Row) -> list[Row]:
    """Those with a share for one of its lines, and what was split off them."""
    ids = {line.id for line in lines_of(known, order.id)}
    own = {share.batch_id for share in known.rows.shares.values() if share.line_id in ids}
    return [batch for batch in known.rows.batches.values() if known.root(batch.id) in own or batch.id in own]


def _carton(known: Known, carton: Row) -> dict[str, Expected]:
    shipment = known.rows.shipments.get(carton.shipment_id) if carton.shipment_id else None
    return {
        "Carton": known.code(carton.code),
        "What": known.title(known.rows.parts[known.rows.lines[carton.line_id].part_id]),
        "Pieces": carton.quantity,
        "Packed": Words(rf"(?P<when>.+?, \d+:\d+), {carton.packer}", (("when", Moment(carton.packed_at, known.zone)),)),
        "Shipped": Moment(shipment.shipped_at, known.zone) if shipment else "not yet",
    }


def _facts(known: Known, order: Row) -> Iterable[Rule]:
    """The address is the customer's own words; the day is read beside its column."""
    address = " ".join(order.ship_to.split())
    placed = order.placed_on
    yield Rule(r"(?P<placed>\w{3} \d+ \w{3} \d{4})", lambda _shown: {"placed": Day(placed, known.today)})
    yield Rule(rf"(?P<address>{re.escape(address)})", lambda _shown: {"address": Free("an address")})


def what(known: Known, order: Row) -> str:
    """What of it is still owed, else all: the first two lines."""
    owed = [line for line in lines_of(known, order.id) if line.quantity > known.shipped(line)]
    lines = owed or lines_of(known, order.id)
    words = [f"{line.quantity:,} {known.title(known.rows.parts[line.part_id])}" for line in lines[:2]]
    more = len(lines) - 2
    return " and ".join([*words, *([f"{more} more line{'s' if more > 1 else ''}"] if more > 0 else [])])


def _headline(known: Known, order: Row) -> Iterable[Rule]:
    """When it is due, and how the pieces of each line stand."""
    first = due(known, order.id)
    day: Expected = Day(first.due_on, known.today) if first else None
    number = re.escape(order.number)
    past = first is not None and first.due_on < known.today
    is_due = r"is late \(due (?P<day>.+)\)" if past else r"is due (?P<day>.+)"
    yield Rule(rf"Order (?P<order>{number}) {is_due}\.", lambda _shown: {"order": order.number, "day": day})
    shipped: dict[str, Expected] = {"order": order.number, "what": what(known, order)}
    yield Rule(rf"Order (?P<order>{number}): (?P<what>.+), shipped in full\.", lambda _shown: shipped)
    yield from standing.rules(known, standing.owed(known, order))
