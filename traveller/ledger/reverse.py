"""Taking an event's postings back, one for one: for news that did not occur."""

from __future__ import annotations

from collections import defaultdict

from traveller.journal.models import Event
from traveller.ledger.models import Link, Posting
from traveller.ledger.post import Balances, Move, Place


def moves_back(wrong: Event, balances: Balances) -> list[Move]:
    """Moves that leave every balance as if the event had posted nothing; noted in `balances`."""
    gives: dict[int, list[list[Place | int]]] = defaultdict(list)
    takes: dict[int, list[list[Place | int]]] = defaultdict(list)
    for row in Posting.objects.filter(event=wrong).select_related("account").order_by("id"):
        at = row.account
        place = Place(at.lot_id, at.site_id, at.condition, at.step)
        (gives if row.quantity > 0 else takes)[at.lot_id].append([place, abs(row.quantity)])
    moves: list[Move] = []
    for lot_id in sorted(gives):
        moves += _paired(gives[lot_id], takes[lot_id])
    balances.note(moves)
    return moves


def _paired(gives: list[list[Place | int]], takes: list[list[Place | int]]) -> list[Move]:
    """Per lot both sides sum to the same, as every event's postings do."""
    moves = []
    for source, quantity in gives:
        assert isinstance(source, Place) and isinstance(quantity, int)
        for take in takes:
            target, room = take
            assert isinstance(target, Place) and isinstance(room, int)
            part = min(quantity, room)
            if part:
                moves.append(Move(source, target, part))
                quantity -= part
                take[1] = room - part
    return moves


def unlink(event: Event, wrong: Event) -> list[int]:
    """Strike what an event said went into what; returns the lots that it was said to have gone into.

    The striking rows are told, never inferred: `ledger.genealogy` leaves out what was inferred by struck news.
    """
    rows = list(Link.objects.filter(event=wrong).order_by("id"))
    Link.objects.bulk_create(
        [
            Link(event=event, parent_id=row.parent_id, child_id=row.child_id, quantity=-row.quantity)
            for row in rows
            if row.quantity
        ]
    )
    return sorted({row.child_id for row in rows})


def touched(wrong: Event) -> list[int]:
    """The lots that an event posted on."""
    rows = Posting.objects.filter(event=wrong).order_by().values_list("account__lot", flat=True)
    return sorted(set(rows))
