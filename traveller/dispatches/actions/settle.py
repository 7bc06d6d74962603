"""Where did the rest of a consignment go? Called inside an action (batches.actions.settle_difference)."""

from __future__ import annotations

from typing import Literal

from traveller.dispatches.actions.receive import Received, taken_from
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, Place, post

KIND = "difference settled"
# lost: gone on the way. at_sender: they never left (or, of a surplus, they did come off the sender's shelf).
# never_counted: pieces that nobody had counted when they were made.
Finding = Literal["lost", "at_sender", "never_counted"]


def settle(*, event_context: EventContext, line_id: int, finding: Finding, reason: str) -> Received:
    """Post the signed rest of a closed line, in pieces, to where the finding says that it is; a reason is needed.

    Refused where nothing is left to settle, or where the sign of the rest speaks against the finding.
    """
    reported = {"line": line_id, "finding": finding, "reason": reason}
    before = earlier(event_context, KIND, reported)
    line = (
        ConsignmentLine.objects.select_for_update(of=("self",))
        .select_related("consignment__subject", "lot__subject")
        .get(pk=line_id)
    )
    if before:
        return Received(before, line, repeated=True)
    refuse_without(reason)
    if not line.difference or line.settled_event_id:
        raise Refused("nothing_to_settle", consignment=line.consignment.code)
    if (finding == "lost") != (line.difference > 0) and finding != "at_sender":
        raise Refused("finding_does_not_fit", difference=line.difference)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[line.consignment.subject, line.lot.subject],
        reported=reported,
        site_id=line.consignment.origin_id,
        line=line.pk,
        difference=line.difference,
    )
    rest = Place(line.lot_id, line.consignment.origin_id, Condition.UNEXPLAINED, line.to_step)
    target = {
        "lost": rest.become(Condition.SCRAP),
        "at_sender": rest.become(taken_from(line), line.from_step),
        "never_counted": rest.become(Condition.MADE_FROM, line.from_step),
    }[finding]
    balances = Balances([line.lot_id])
    post(event, balances.transfer(rest, target, line.difference))
    line.settled_event = event
    line.save(update_fields=["settled_event"])
    return Received(event, line)
