"""A tote is here whose lot nobody can tell: taken in, held, and matched later by the founder.

Called inside an action that minds the batches too (batches.actions.unknown).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import uuid5

from traveller.dispatches.actions.receive import extras
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event, Parked, Subject
from traveller.journal.record import earlier, park, record, settle_parked
from traveller.journal.refusal import Refused, refuse_without
from traveller.journal.subjects import register
from traveller.ledger import holds, lots
from traveller.ledger.models import Condition, Hold, Lot
from traveller.ledger.post import Balances, Place, post
from traveller.products.models import Part

UNKNOWN = "arrived unknown"
MATCHED = "unknown matched"
# The lot's origin, and the code of its hold.
PROVISIONAL = "provisional"
CODE = "lot_unknown"


@dataclass(frozen=True, slots=True)
class Match:
    """What a tote turned out to be. `lot_id`: a lot that was known; else it is a lot of its own."""

    event: Event
    parked: Parked
    lot_id: int | None = None
    repeated: bool = False


def take_in_unknown(
    *,
    event_context: EventContext,
    site_id: int,
    words: str,
    quantity: int,
    part_id: int | None = None,
    method: str = "hand",
    sample: int = 0,
    how: Mapping[str, Any] | None = None,
    note: str = "",
) -> Parked:
    """`words`: what stands on it, or what it looks like. Where its part is known, it makes a provisional lot, held."""
    reported = {
        "words": words,
        "quantity": quantity,
        "part": part_id,
        "method": method,
        "sample": sample,
        **extras(how=how, note=note),
    }
    if before := earlier(event_context, UNKNOWN, reported):
        return before.parked
    if quantity <= 0:
        raise Refused("not_a_quantity", found=quantity)
    if part_id is None and not words.strip():
        raise Refused("say_what_it_is")
    part = Part.objects.defer("picture").get(pk=part_id) if part_id is not None else None
    subject = register(uuid5(event_context.uid, PROVISIONAL), "lot") if part else None
    event = record(
        event_context=event_context,
        kind=UNKNOWN,
        subjects=[subject] if subject else [],
        reported=reported,
        site_id=site_id,
        **extras(lot=subject.code if subject else ""),
    )
    figures: dict[str, int | str] = {"quantity": quantity, "words": words}
    if part and subject:
        _make_provisional(event, part, subject, site_id, quantity, words)
        figures |= {"lot": subject.code or "", "part": part.title, "unit": part.unit}
    return park(event, CODE, **figures)


def _make_provisional(event: Event, part: Part, subject: Subject, site_id: int, quantity: int, words: str) -> None:
    lot = lots.create(event, part, origin=PROVISIONAL, subject=subject)
    shelf = Place(lot.pk, site_id, Condition.STOCK)
    post(event, Balances([lot.pk]).transfer(shelf.become(Condition.UNEXPLAINED), shelf, quantity))
    holds.open_hold(
        event,
        lot,
        cause=f"unknown:{event.pk}",
        code=CODE,
        figures={"quantity": quantity, "words": words, "unit": part.unit},
    )


def match(
    *, event_context: EventContext, parked_id: int, lot_id: int | None = None, part_id: int | None = None, reason: str
) -> Match:
    """The founder says what it is: `lot_id`, a lot that was known, or a lot of its own, of `part_id` if that differs.

    A lot that was known takes its place: whoever calls counts that lot in, as of when the tote was counted.
    """
    reported = {"parked": parked_id, "lot": lot_id, "part": part_id, "reason": reason}
    before = earlier(event_context, MATCHED, reported)
    parked = Parked.objects.select_for_update(of=("self",)).select_related("event").get(pk=parked_id)
    if before:
        return Match(before, parked, lot_id, repeated=True)
    _refuse(parked, reason)
    provisional = Lot.objects.filter(born_event=parked.event).select_related("subject", "part").first()
    known = Lot.objects.select_related("subject").get(pk=lot_id) if lot_id is not None else None
    if known and known == provisional:
        raise Refused("unknown_lot")
    about = [lot for lot in (provisional, known) if lot]
    site_id, quantity = parked.event.site_id or 0, int(parked.event.data["told"]["quantity"])
    hold = Hold.objects.filter(opened_event=parked.event, root=None, closed_at=None).first()
    event = record(
        event_context=event_context,
        kind=MATCHED,
        subjects=[lot.subject for lot in about],
        reported=reported,
        site_id=site_id,
        lots=[lot.code for lot in about],
        hold=hold.pk if hold else None,
    )
    if known:
        if provisional:
            _give_way(event, provisional, site_id, quantity)
    else:
        _stand_alone(event, provisional, part_id, site_id, quantity, event_context)
    if hold:
        holds.close_hold(event, hold, disposition="matched" if known else "release", reason=reason)
    settle_parked(parked, event)
    return Match(event, parked, lot_id)


def _refuse(parked: Parked, reason: str) -> None:
    refuse_without(reason)
    if parked.settled_by_id or parked.reason != CODE:
        raise Refused("matched_before")


def _give_way(event: Event, provisional: Lot, site_id: int, quantity: int) -> None:
    """All of the provisional lot is still there: it never was a lot of its own."""
    shelf = Place(provisional.pk, site_id, Condition.STOCK)
    balances = Balances([provisional.pk])
    if balances.at(shelf) != quantity:
        there, unit = balances.at(shelf), provisional.part.unit
        raise Refused("used_meanwhile", lot=provisional.code, there=there, quantity=quantity, unit=unit)
    post(event, balances.transfer(shelf, shelf.become(Condition.UNEXPLAINED), quantity))


def _stand_alone(
    event: Event, provisional: Lot | None, part_id: int | None, site_id: int, quantity: int, event_context: EventContext
) -> None:
    """It came from somewhere outside this record: a lot of its own, as if it had been bought."""
    if provisional and part_id in (None, provisional.part_id):
        place = Place(provisional.pk, site_id, Condition.UNEXPLAINED)
        balances = Balances([provisional.pk])
        post(event, balances.transfer(place.become(Condition.BOUGHT_FROM), place, quantity))
        return
    if part_id is None:
        raise Refused("part_needed")
    if provisional:
        _give_way(event, provisional, site_id, quantity)
    lot = lots.create(
        event, Part.objects.defer("picture").get(pk=part_id), origin="found", uid=uuid5(event_context.uid, "lot")
    )
    shelf = Place(lot.pk, site_id, Condition.STOCK)
    post(event, Balances([lot.pk]).transfer(shelf.become(Condition.BOUGHT_FROM), shelf, quantity))
