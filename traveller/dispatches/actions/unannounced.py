"""Goods are here that nobody has told were sent, or that were sent to another site: counted, and booked when their
dispatch is known. Called inside an action that minds the batches too (batches.actions.receive)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from django.db.models import QuerySet

from traveller.dispatches.actions.receive import KIND, Received, book, booked, extras, here, scale_of, taken_from
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event, Parked
from traveller.journal.record import earlier, park, record, settle_parked
from traveller.journal.refusal import Refused
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Place

UNANNOUNCED = "arrived unannounced"
MISDIRECTED = "arrived_astray"
# Counted where it was sent to, though the sender says that it never left.
TAKEN_BACK = "came_all_the_same"
BOOKED = "booked"


def take_in_unannounced(
    *,
    event_context: EventContext,
    site_id: int,
    lot_id: int,
    quantity: int,
    method: str = "hand",
    sample: int = 0,
    how: Mapping[str, Any] | None = None,
    note: str = "",
    misdirected: bool = False,
    dispatch: str = "",
) -> tuple[Parked, list[Received]]:
    """Count what came; it is booked at once where its dispatch is known.

    `misdirected`: this is not where it was sent to. Then it lies on a shelf here, and stays parked as a matter for the
    founder until it leaves again. `dispatch`: the number of one that its sender has taken back, where the goods came
    all the same.
    """
    reported = {
        "lot": lot_id,
        "quantity": quantity,
        "method": method,
        "sample": sample,
        **extras(how=how, note=note, dispatch=dispatch),
    }
    if before := earlier(event_context, UNANNOUNCED, reported):
        return before.parked, []
    if quantity <= 0:
        raise Refused("not_a_quantity", found=quantity)
    lot = Lot.objects.select_related("subject").get(pk=lot_id)
    event = record(
        event_context=event_context,
        kind=UNANNOUNCED,
        subjects=[lot.subject],
        reported=reported,
        site_id=site_id,
        **extras(misdirected=misdirected),
    )
    told = {"lot": lot.code, "quantity": quantity, "unit": lot.part.unit, **extras(consignment=dispatch)}
    parked = park(event, MISDIRECTED if misdirected else TAKEN_BACK if dispatch else "dispatch_unknown", **told)
    # The sender's news may have come first, unknown to the phone that counted.
    return parked, meet(event_context, [parked])


def waiting_arrivals(lot_ids: Iterable[int]) -> list[Parked]:
    """Counts of these lots that wait for their dispatch to be told, in the order in which they were told."""
    wanted = set(lot_ids)
    rows = Parked.objects.filter(event__kind=UNANNOUNCED, settled_by=None).select_related("event").order_by("id")
    return [row for row in rows if row.event.data["told"]["lot"] in wanted and BOOKED not in row.figures]


def meet(event_context: EventContext, parked: Iterable[Parked]) -> list[Received]:
    """Book parked counts on the open lines that they belong to, each as of when the goods were counted.

    A count fills the lines of its lot in the order in which they were sent; what it has beyond them is booked on the
    last, as a surplus. What no count has reached stays on the road.
    """
    done: list[Received] = []
    for row in parked:
        lines = list(_open_lines(row.event))
        left = int(row.event.data["told"]["quantity"])
        mine: list[Received] = []
        for line in lines:
            part = left if line is lines[-1] else min(left, max(0, line.remaining))
            if part:
                mine.append(_book(event_context, line, row.event, part))
                left -= part
        if mine and row.reason == MISDIRECTED:
            row.figures = {**row.figures, BOOKED: True}
            row.save(update_fields=["figures"])
        elif mine:
            settle_parked(row, mine[-1].event)
        done += mine
    return done


def _open_lines(arrival: Event) -> QuerySet[ConsignmentLine]:
    """Lines of the lot that are on the road to where it was counted; of what went astray, to anywhere else."""
    rows = ConsignmentLine.objects.filter(lot=arrival.data["told"]["lot"], closed=False)
    there = {"consignment__destination": arrival.site_id}
    rows = rows.exclude(**there) if arrival.data.get("misdirected") else rows.filter(**there)
    return rows.select_related("consignment__subject", "lot__subject").order_by("id")


def _book(event_context: EventContext, line: ConsignmentLine, arrival: Event, quantity: int) -> Received:
    reported = arrival.data["told"]
    method, sample, misdirected = (
        str(reported["method"]),
        int(reported["sample"]),
        bool(arrival.data.get("misdirected")),
    )
    scale = scale_of(line, quantity, method, reported.get("how"))
    booking = booked(line, quantity, method, sample, scale, final=None, misdirected=misdirected)
    event = record(
        event_context=replace(event_context.derived(f"meets:{arrival.pk}:{line.pk}"), at=arrival.happened_at),
        kind=KIND,
        subjects=[line.consignment.subject, line.lot.subject],
        reported={},
        site_id=arrival.site_id,
        lot=line.lot.code,
        line=line.pk,
        counted_in=str(arrival.uid),
        quantity=quantity,
        booking=booking.as_data(),
        **extras(scale=scale),
    )
    line.seen = line.seen or line.consignment.shown
    place = _misdirected_at(line, arrival.site_id or 0) if misdirected else here(line)
    return book(event, line, booking, method, sample, place, scale)


def _misdirected_at(line: ConsignmentLine, site_id: int) -> Place:
    """On a shelf, with the steps behind it that it had when it was sent: what waited for a step, all before that."""
    done = line.from_step if taken_from(line) == Condition.STOCK else max(0, line.from_step - 1)
    return Place(line.lot_id, site_id, Condition.STOCK, done)


def leave_again(event: Event, lot_ids: Iterable[int]) -> None:
    """What had gone astray is on the road again: nobody needs to be told of it any more."""
    wanted = set(lot_ids)
    rows = Parked.objects.filter(reason=MISDIRECTED, settled_by=None, event__site=event.site_id).select_related("event")
    for row in rows:
        if row.event.data["told"]["lot"] in wanted and BOOKED in row.figures:
            settle_parked(row, event)
