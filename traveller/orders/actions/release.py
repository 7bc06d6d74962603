"""The founder releases a plan: batches open, stock is reserved, needs are noted; frozen as it was shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from uuid import uuid5

from sites.models import Site, SiteKind
from traveller.batches.actions.open_batch import open_batch
from traveller.batches.models import Batch
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger.post import lock_lots
from traveller.orders import reserved
from traveller.orders.calendars import own_bench
from traveller.orders.models import BatchShare, Need, OrderLine, Release
from traveller.orders.plan import Plan, make_plan
from traveller.orders.planned import PlannedBatch
from traveller.products.models import Part

KIND = "released"


@action
def release(*, event_context: EventContext, line_ids: Sequence[int], plan_digest: str | None = None) -> Release:
    """Do what the plan says. With the digest of the plan that was shown, refused when it would differ now."""
    reported = {"lines": sorted(line_ids), "plan_digest": plan_digest}
    if before := earlier(event_context, KIND, reported):
        return before.release
    # One release at a time: two would both count on the same free stock.
    benches = list(Site.objects.select_for_update().filter(kind=SiteKind.OWN).order_by("pk"))
    bench = own_bench(benches)
    if bench is None:
        raise Refused("no_own_bench")
    reserved.write_down()
    lines = _lines(line_ids)
    plan = make_plan(line_ids, on=event_context.at.astimezone(bench.zone).date())
    if plan.problems:
        first = plan.problems[0]
        raise Refused(first.code, **first.figures)
    if plan_digest is not None and plan.digest != plan_digest:
        raise Refused("plan_changed")
    lock_lots(sorted({row.lot_id for row in plan.reservations}))
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[line.order.subject for line in lines.values()],
        reported=reported,
        digest=plan.digest,
        batches=[row.part for row in plan.batches],
        released={str(pk): line.quantity for pk, line in lines.items()},
    )
    _open_batches(event, plan, event_context)
    _share_under_way(plan)
    _reserve(event, plan)
    _note_needs(event, plan)
    for line in lines.values():
        line.released = line.quantity
        line.released_event = event
        line.save(update_fields=["released", "released_event"])
    return Release.objects.create(event=event, plan=plan.as_json())


def _lines(line_ids: Sequence[int]) -> dict[int, OrderLine]:
    """Every line asked for, locked; a closed order or a line released in full is said, not passed over."""
    rows = OrderLine.objects.select_for_update(of=("self",)).select_related("order__subject", "part")
    lines = {line.pk: line for line in rows.filter(pk__in=line_ids).order_by("pk")}
    for line_id in line_ids:
        line = lines.get(line_id)
        if line is None:
            raise Refused("no_such_line")
        if line.order.closed_at:
            raise Refused("order_closed", order=line.order.number)
        if line.released >= line.quantity:
            raise Refused("released_before", order=line.order.number, line=line.number)
    return lines


def _open_batches(event: Event, plan: Plan, event_context: EventContext) -> None:
    parts = Part.objects.defer("picture").in_bulk([row.part for row in plan.batches], field_name="number")
    sites: Mapping[str, int] = dict(Site.objects.values_list("code", "pk"))
    for row in plan.batches:
        batch = open_batch(
            event,
            parts[row.part],
            uid=uuid5(event_context.uid, row.part),
            wanted=row.wanted,
            start=row.start,
            destination_id=sites[row.destination],
            due_on=row.due_on,
        )
        _share(batch, row)


def _share(batch: Batch, row: PlannedBatch) -> None:
    BatchShare.objects.bulk_create(
        [BatchShare(batch=batch, line_id=share.line_id, quantity=share.quantity) for share in row.shares]
    )


def _share_under_way(plan: Plan) -> None:
    """What an open batch brings beyond its promises is promised now."""
    for row in plan.under_way:
        share, made = BatchShare.objects.get_or_create(
            batch_id=row.batch_id, line_id=row.line_id, defaults={"quantity": row.quantity}
        )
        if not made:
            share.quantity += row.quantity
            share.save(update_fields=["quantity"])


def _reserve(event: Event, plan: Plan) -> None:
    sites: Mapping[str, int] = dict(Site.objects.values_list("code", "pk"))
    for row in plan.reservations:
        reserved.reserve(event, line_id=row.line_id, lot_id=row.lot_id, site_id=sites[row.site], quantity=row.quantity)


def _note_needs(event: Event, plan: Plan) -> None:
    """Bought parts that are on order or still to be ordered: the next delivery is kept for these lines."""
    parts: Mapping[str, int] = dict(
        Part.objects.filter(number__in=[row.part for row in plan.shortages]).values_list("number", "pk")
    )
    for row in plan.shortages:
        for share in row.lines:
            need, made = Need.objects.get_or_create(
                line_id=share.line_id,
                part_id=parts[row.part],
                defaults={
                    "quantity": share.quantity,
                    "left": share.quantity,
                    "needed_on": row.needed_on,
                    "event": event,
                },
            )
            if not made:
                need.quantity += share.quantity
                need.left += share.quantity
                need.save(update_fields=["quantity", "left"])
