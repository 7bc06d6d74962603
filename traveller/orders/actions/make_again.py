"""What is missing of a part is made: a batch of its own, for the order lines that lack it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import uuid5

from django.db.models import F

from sites.models import Site, SiteKind
from traveller.batches.actions.open_batch import open_batch
from traveller.batches.models import Batch
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.orders.calendars import Calendars, own_bench
from traveller.orders.dates import earliest
from traveller.orders.models import BatchShare
from traveller.orders.network import yield_step
from traveller.orders.short import Short, look_out
from traveller.products.models import Operation, Part, Routing
from traveller.rules.workdays import NeverOpen
from traveller.rules.yields import start_quantity

KIND = "made again"


@action
def make_again(*, event_context: EventContext, part_id: int, missing: int) -> Batch:
    """Started for what is missing through the yields of the part's present routing.

    `missing`: what the page showed; refused when it is another figure by now. Due when the pieces were, or on the
    first day that can be met. Its material is not reserved: what lies at the shops is used, and the list of what is
    short says the rest.
    """
    reported = {"part": part_id, "missing": missing}
    if before := earlier(event_context, KIND, reported):
        return Batch.objects.get(released_event=before, parent=None)
    # As a release: two at once would both make what is missing.
    benches = list(Site.objects.select_for_update().filter(kind=SiteKind.OWN).order_by("pk"))
    bench = own_bench(benches)
    if bench is None:
        raise Refused("no_own_bench")
    on = event_context.at.astimezone(bench.zone).date()
    part = Part.objects.defer("picture").get(pk=part_id)
    short = next((row for row in look_out(on).short if row.part.pk == part_id), None)
    if short is None:
        raise Refused("nothing_missing", part=part.title)
    if short.missing != missing:
        raise Refused("missing_changed", part=part.title, shown=missing, missing=short.missing)
    subjects = Batch.objects.filter(pk__in=[row.batch_id for row in short.batches]).values_list("subject_id", flat=True)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[*subjects, *dict.fromkeys(line.order.subject_id for line, _quantity in short.lines)],
        reported=reported,
        wanted=short.missing,
        shares={str(line.pk): quantity for line, quantity in short.lines},
    )
    planned = plan_again(short, bench.pk, on)
    batch = open_batch(
        event,
        part,
        uid=uuid5(event_context.uid, "batch"),
        wanted=short.missing,
        start=planned.start,
        destination_id=planned.destination_id,
        due_on=planned.due_on,
    )
    _promise(batch, short)
    return batch


@dataclass(frozen=True, slots=True)
class Again:
    """What a batch for a shortage would be: pieces to start, where they are wanted, and when they can be there."""

    start: int
    destination_id: int
    due_on: date


def plan_again(short: Short, bench_id: int, on: date) -> Again:
    """As the batch that fell short was meant; for what no batch was opened for, at the own bench. Raises Refused."""
    routing = Routing.objects.filter(part=short.part).order_by("-revision").first()
    operations: Sequence[Operation] = (
        list(routing.operations.select_related("site").order_by("number")) if routing else []
    )
    if not operations:
        raise Refused("no_routing", part=short.part.number)
    first = Batch.objects.filter(pk__in=[row.batch_id for row in short.batches]).order_by("due_on", "pk").first()
    destination_id = first.destination_id if first else bench_id
    wanted_on = first.due_on if first and first.due_on else min(line.due_on for line, _quantity in short.lines)
    try:
        can_be = earliest(operations, destination_id, Calendars(), on=on)
    except NeverOpen:
        raise Refused("never_open") from None
    start = start_quantity(short.missing, [yield_step(operation) for operation in operations])
    return Again(start, destination_id, max(wanted_on, can_be))


def _promise(batch: Batch, short: Short) -> None:
    """The batches that fell short keep what they bring; what they owed is promised of the new one."""
    for row in short.batches:
        for line_id, quantity in row.unmet:
            BatchShare.objects.filter(batch=row.batch_id, line=line_id).update(quantity=F("quantity") - quantity)
        BatchShare.objects.filter(batch=row.batch_id, quantity=0).delete()
    BatchShare.objects.bulk_create(
        [BatchShare(batch=batch, line=line, quantity=quantity) for line, quantity in short.lines]
    )
