"""Lots that were sent apart have come in one tote: counted together, taken in as a mixed lot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from traveller.batches.splitting.mixing import check, first_step, mix
from traveller.batches.steps.closing import review
from traveller.batches.steps.fetch import lock_batches_of
from traveller.dispatches.actions.receive import Received, extras, take_in
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger.models import Lot
from traveller.ledger.post import Balances, Place

KIND = "mixed"


@action
def receive_mixed(
    *,
    event_context: EventContext,
    line_ids: Sequence[int],
    quantity: int,
    method: str = "hand",
    sample: int = 0,
    seen: bool = False,
    how: Mapping[str, Any] | None = None,
    note: str = "",
) -> Event:
    """One count for several lines. Each line gets its share of it, in the ratio in which they were sent; what of that
    lies here then is mixed. Work told before the arrival may have used some of it up."""
    wanted = sorted(set(line_ids))
    reported = {
        "lines": wanted,
        "quantity": quantity,
        "method": method,
        "sample": sample,
        "seen": seen,
        **extras(how=how, note=note),
    }
    if before := earlier(event_context, KIND, reported):
        return before
    rows = ConsignmentLine.objects.filter(pk__in=wanted).select_related("lot__part", "consignment")
    lines = list(rows.order_by("id"))
    if quantity <= 0:
        raise Refused("not_a_quantity", found=quantity)
    if len({(line.to_step, line.consignment.destination_id) for line in lines}) > 1:
        raise Refused("mix_other_step")
    lots = {line.lot_id: line.lot for line in lines}
    parents = list(lots.values())
    lock_batches_of(list(lots))
    batches = check(parents)
    for line in lines:
        if line.closed:
            raise Refused("already_received", consignment=line.consignment.code, received=line.received)
    counted = {"method": method, "sample": sample, "seen": seen, "how": _of_scale(how)}
    arrived = [
        take_in(event_context=event_context.derived(f"line:{line.pk}"), line_id=line.pk, quantity=share, **counted)  # type: ignore[arg-type]
        for line, share in zip(lines, in_ratio(quantity, [max(0, line.remaining) for line in lines]), strict=True)
    ]
    taken = _still_here(arrived, list(lots))
    event = _record(event_context, reported, lines, parents, taken)
    if len(taken) > 1:
        mix(event, [lot for lot in parents if any(place.lot_id == lot.pk for place in taken)], batches, taken)
    review(lots, event_context.at)
    return event


def _of_scale(how: Mapping[str, Any] | None) -> dict[str, Any]:
    """What each line keeps of how all were weighed together."""
    return {"scale": how["scale"]} if how and "scale" in how else {}


def _record(
    event_context: EventContext,
    reported: dict[str, object],
    lines: list[ConsignmentLine],
    parents: list[Lot],
    taken: dict[Place, int],
) -> Event:
    place = next(iter(taken), None)
    return record(
        event_context=event_context,
        kind=KIND,
        subjects=[lot.subject_id for lot in parents] + [lines[0].consignment.subject_id],
        reported=reported,
        site_id=lines[0].consignment.destination_id,
        first_step=first_step(place) if place and len(taken) > 1 else 0,
        taken={str(place.lot_id): quantity for place, quantity in taken.items()},
    )


def _still_here(arrived: Sequence[Received], lot_ids: Sequence[int]) -> dict[Place, int]:
    balances = Balances(lot_ids)
    came: dict[Place, int] = {}
    for one in arrived:
        if one.place is not None:
            came[one.place] = came.get(one.place, 0) + one.arrived
    here = {place: min(quantity, balances.at(place)) for place, quantity in came.items()}
    return {place: quantity for place, quantity in here.items() if quantity > 0}


def in_ratio(quantity: int, ratio: Sequence[int]) -> list[int]:
    """Whole parts of a quantity in the given ratio, together exactly the quantity; the largest remainders get more."""
    whole = sum(ratio)
    if not whole:
        return [quantity, *[0] * (len(ratio) - 1)]
    parts = [quantity * part // whole for part in ratio]
    by_remainder = sorted(range(len(ratio)), key=lambda n: (-(quantity * ratio[n] % whole), n))
    for n in by_remainder[: quantity - sum(parts)]:
        parts[n] += 1
    return parts
