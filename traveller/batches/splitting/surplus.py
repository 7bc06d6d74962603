"""More came than was ordered: all of it is taken in, and what is over the tolerance is held until it is decided."""

from __future__ import annotations

from sites.models import Lane
from traveller.batches.models import Batch
from traveller.batches.splitting.divide import divide
from traveller.batches.steps.fetch import batch_locked, lot_of
from traveller.dispatches.actions.receive import Received
from traveller.dispatches.models import ConsignmentLine, SentFor
from traveller.journal.event_context import EventContext
from traveller.journal.record import record
from traveller.ledger import holds
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances

KIND = "over tolerance"
_PPM = 1_000_000
_BEYOND = 1_000_000


def hold_surplus(event_context: EventContext, received: Received) -> Batch | None:
    """Split off and hold what an arrival has over the tolerance of its lane; None where there is no such.

    Ordered is what the batch was started for; the tolerance is a share of that, rounded down to whole pieces.
    """
    line, place = received.line, received.place
    if received.repeated or received.arrived <= 0 or place is None or place.site_id != line.consignment.destination_id:
        return None
    most = _most(line)
    batch = Batch.objects.filter(lot=line.lot_id).first()
    if most is None or batch is None:
        return None
    # What came before and was too many then has been held then.
    over = min(received.arrived, _delivered(line) - most)
    # Work told before the arrival may have used some of it up.
    surplus = min(over, Balances([line.lot_id]).at(place))
    if surplus <= 0:
        return None
    batch = batch_locked(batch.pk)
    waits_for = place.step if place.condition != Condition.STOCK else _BEYOND
    event = record(
        event_context=event_context.derived(f"over:{received.event.pk}"),
        kind=KIND,
        subjects=[line.consignment.subject, batch.subject],
        reported={},
        site_id=place.site_id,
        line=line.pk,
        surplus=surplus,
        most=most,
        first_step=waits_for,
    )
    child = divide(event, batch, place, surplus, first_step=waits_for)
    figures = {"surplus": surplus, "ordered": batch.start, "most": most}
    holds.open_hold(event, lot_of(child, event), cause=f"over:{event.pk}", code="over_tolerance", figures=figures)
    return child


def _most(line: ConsignmentLine) -> int | None:
    """The most pieces of its batch that this way may bring; None where nobody has set a tolerance."""
    if line.consignment.purpose == SentFor.RETURN:
        return None
    ends = {"origin": line.consignment.origin_id, "destination": line.consignment.destination_id}
    over_ppm = Lane.objects.filter(**ends).values_list("over_ppm", flat=True).first()
    ordered = Batch.objects.filter(lot=line.lot_id).values_list("start", flat=True).first()
    return None if over_ppm is None or ordered is None else ordered * (_PPM + over_ppm) // _PPM


def _delivered(line: ConsignmentLine) -> int:
    """All of the lot that has come this far by now, from wherever it was sent."""
    rows = ConsignmentLine.objects.filter(
        lot=line.lot_id, to_step=line.to_step, consignment__destination=line.consignment.destination_id
    ).exclude(consignment__purpose=SentFor.RETURN)
    return sum(rows.values_list("received", flat=True))
