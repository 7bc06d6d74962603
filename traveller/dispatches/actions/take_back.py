"""Goods that were said to have left are here after all: taken back while nobody has counted them where they went.

Called inside an action that minds the batches too (batches.actions.take_back_dispatch).
"""

from __future__ import annotations

from collections.abc import Sequence

from traveller.dispatches.actions.receive import taken_from
from traveller.dispatches.actions.unannounced import MISDIRECTED
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event, Parked
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, Place, post

KIND = "dispatch taken back"
_OWED = (Condition.UNREPORTED, Condition.UNREPORTED_REWORK)


def take_back(*, event_context: EventContext, consignment_id: int, line_id: int | None = None) -> Event:
    """Put one line, or all that nobody has counted, back to where it was taken from; the sending stays in the journal.

    Refused once the receiver has counted it, or has worked on pieces of it. What was taken back before is no fault:
    the event that did it is returned.
    """
    reported = {"consignment": consignment_id, "line": line_id}
    if before := earlier(event_context, KIND, reported):
        return before
    consignment = Consignment.objects.select_related("subject", "sent_event", "destination").get(pk=consignment_id)
    rows = ConsignmentLine.objects.select_for_update(of=("self",)).filter(consignment=consignment)
    lines = list(rows.select_related("consignment__sent_event", "lot__subject", "taken_back_event").order_by("id"))
    wanted = [line for line in lines if line_id in (None, line.pk)]
    struck = [line.taken_back_event for line in wanted if line.taken_back_event is not None]
    if wanted and len(struck) == len(wanted):
        return struck[-1]
    taken = [line for line in wanted if is_uncounted(line)]
    balances = Balances([line.lot_id for line in taken])
    _refuse(consignment, wanted, taken, balances)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[consignment.subject, *[line.lot.subject for line in taken]],
        reported=reported,
        site_id=consignment.origin_id,
        corrects=consignment.sent_event,
        consignment=consignment.code,
        lines=[line.pk for line in taken],
    )
    _book(event, consignment, taken, balances)
    return event


def _book(event: Event, consignment: Consignment, taken: Sequence[ConsignmentLine], balances: Balances) -> None:
    moves = []
    for line in taken:
        shelf = Place(line.lot_id, consignment.origin_id, taken_from(line), line.from_step)
        moves += balances.transfer(shelf.become(Condition.ON_THE_ROAD, line.to_step), shelf, line.sent)
    post(event, moves)
    ConsignmentLine.objects.filter(pk__in=[line.pk for line in taken]).update(taken_back_event=event, closed=True)
    if not consignment.lines.filter(closed=False).exists():
        Consignment.objects.filter(pk=consignment.pk).update(received_at=event.happened_at)
    _astray_again(consignment, {line.lot_id for line in taken})


def is_uncounted(line: ConsignmentLine) -> bool:
    """All of it is still on the road."""
    return not (line.closed or line.received or line.misdirected)


def _refuse(
    consignment: Consignment, wanted: Sequence[ConsignmentLine], taken: Sequence[ConsignmentLine], balances: Balances
) -> None:
    """What was counted there did leave; work that was reported there before the count says so too."""
    if not taken:
        counted = sum(line.received + line.misdirected for line in wanted)
        raise Refused("counted_there", site=consignment.destination.name, counted=counted)
    for line in taken:
        owed = sum(
            balances.at(Place(line.lot_id, consignment.destination_id, condition, line.to_step)) for condition in _OWED
        )
        about = Event.objects.filter(pk__gt=consignment.sent_event_id, about__subject=line.lot.subject_id)
        worked = about.filter(kind="counted", site=consignment.destination_id, data__number=line.to_step)
        if owed < 0 and worked.exists():
            raise Refused("used_there", site=consignment.destination.name, used=-owed)


def _astray_again(consignment: Consignment, lot_ids: set[int]) -> None:
    """What had come here by mistake did not leave again."""
    rows = Parked.objects.filter(reason=MISDIRECTED, settled_by=consignment.sent_event).select_related("event")
    for row in rows:
        if row.event.data["told"]["lot"] in lot_ids:
            row.settled_by = None
            row.save(update_fields=["settled_by"])
