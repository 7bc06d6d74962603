"""The founder says where pieces went that a shop could not find, or that a correction left short."""

from __future__ import annotations

from typing import Literal

from traveller.batches.steps.answer import Answer
from traveller.batches.steps.closing import review
from traveller.batches.steps.fetch import lock_batches_of
from traveller.dispatches.queries import rests_by_place
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Balances, Place, post

KIND = "unexplained settled"
# lost: gone for good. found: they lie there after all. never_counted: used or sent on, and never counted when made.
_Finding = Literal["lost", "found", "never_counted"]


@action
def settle_unexplained(
    *, event_context: EventContext, lot_id: int, site_id: int, step: int, finding: _Finding, reason: str
) -> Answer:
    """All that stands unexplained of a lot at one place, but for what a consignment explains."""
    reported = {"lot": lot_id, "site": site_id, "step": step, "finding": finding, "reason": reason}
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    lot = Lot.objects.select_related("subject").get(pk=lot_id)
    lock_batches_of([lot_id])
    rest = Place(lot_id, site_id, Condition.UNEXPLAINED, step)
    balances = Balances([lot_id])
    quantity = balances.at(rest) - of_consignments(rest)
    if not quantity:
        raise Refused("nothing_unexplained", lot=lot.code)
    if (finding == "never_counted") != (quantity < 0):
        raise Refused("finding_does_not_fit", difference=quantity)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[lot.subject],
        reported=reported,
        site_id=site_id,
        quantity=quantity,
    )
    post(event, balances.transfer(rest, rest.become(_target(finding, step)), quantity))
    review([lot_id], event_context.at)
    return Answer(event)


def of_consignments(place: Place) -> int:
    """What of it stands there for counts on arrival: settled with their consignment, or nothing to be settled."""
    return rests_by_place(place.lot_id).get((place.lot_id, place.site_id, place.step), 0)


def _target(finding: _Finding, step: int) -> str:
    if finding == "lost":
        return Condition.SCRAP
    if finding == "never_counted":
        return Condition.MADE_FROM
    return Condition.IN_PROCESS if step else Condition.STOCK
