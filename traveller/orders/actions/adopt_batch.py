"""A batch that was under way before this record began: taken over where its pieces lie now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any
from uuid import UUID, uuid5

from sites.models import Site, SiteKind
from traveller.batches.actions.open_batch import open_batch
from traveller.batches.models import Batch, Step, StepState, Verdict
from traveller.batches.steps.fetch import lot_of
from traveller.batches.steps.flows import landing
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger.models import Condition
from traveller.ledger.post import Move, post
from traveller.orders.models import BatchShare, OrderLine
from traveller.products.frozen import checks_of
from traveller.products.models import Operation, Part, Routing
from traveller.products.queries import present_bill

KIND = "adopted"
# The verdict's code: nobody recorded it here, and the founder took the batch over as it stood.
CONCEDED = "before_this_record"
_NAMES = UUID("b6a7e0b4-0a1d-4f0e-8f2e-0f6c0c8f6d53")


def adopted_uid(reference: str) -> UUID:
    """One adoption per reference, whoever imports it and however often."""
    return uuid5(_NAMES, reference)


@action
def adopt_batch(
    *,
    event_context: EventContext,
    reference: str,
    part_id: int,
    good: Mapping[int, int],
    line_id: int | None = None,
    wanted: int | None = None,
    destination_id: int | None = None,
    due_on: date | None = None,
) -> Batch:
    """`good`: step number -> pieces that have been through that step and no further; they lie where its good
    pieces go. Steps up to the first of these are done; their checks count as conceded, visibly so. `wanted`
    is by default what the yields of the steps ahead leave of them.
    """
    event_context = replace(event_context, uid=adopted_uid(reference))
    reported = {
        "reference": reference,
        "part": part_id,
        "good": {str(number): pieces for number, pieces in sorted(good.items())},
        "line": line_id,
        "wanted": wanted,
        "destination": destination_id,
        "due_on": due_on,
    }
    if before := earlier(event_context, KIND, reported):
        return Batch.objects.get(released_event=before, parent=None)
    if not good or any(pieces < 0 for pieces in good.values()) or not sum(good.values()):
        raise Refused("not_a_quantity", found=sum(good.values()))
    part = Part.objects.defer("picture").get(pk=part_id)
    line = _line(line_id, part)
    routing = Routing.objects.filter(part=part).order_by("-revision").first()
    operations = list(routing.operations.order_by("number")) if routing else []
    still_good = wanted if wanted is not None else sum(_ahead(operations, at, n) for at, n in good.items())
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[line.order.subject] if line else [],
        reported=reported,
        number=part.number,
        # What follows for steps, checks and the line, so that it can be told again.
        states=_states(operations, min(good), max(good)),
        conceded=_checks_through(operations, min(good)),
        promised=_promised(line, still_good),
    )
    batch = open_batch(
        event,
        part,
        uid=uuid5(event_context.uid, "batch"),
        wanted=still_good,
        start=sum(good.values()),
        destination_id=destination_id or _usual_destination(part, operations),
        due_on=due_on or (line.due_on if line else None),
    )
    _lay_down(event, batch, good, reference)
    _mark_done(event, batch)
    if line:
        _promise(event, batch, line)
    return batch


def _line(line_id: int | None, part: Part) -> OrderLine | None:
    if line_id is None:
        return None
    line = OrderLine.objects.select_for_update(of=("self",)).select_related("order__subject").get(pk=line_id)
    if line.part_id != part.pk:
        raise Refused("line_of_another_part", order=line.order.number, line=line.number)
    return line


def _ahead(operations: list[Operation], done: int, pieces: int) -> int:
    """Good pieces to be expected of so many that have been through step `done`."""
    for operation in operations:
        if operation.number > done:
            pieces = max(0, pieces * operation.yield_ppm // 1_000_000 - operation.taken)
    return pieces


def _usual_destination(part: Part, operations: list[Operation]) -> int:
    """Where the part is consumed; a product goes to the own bench, else it stays where its last step is done."""
    for used in present_bill().filter(component=part).exclude(step=0).order_by("id"):
        operation = Operation.objects.filter(routing=used.routing_id, number=used.step).first()
        if operation:
            return operation.site_id
    bench = Site.objects.filter(kind=SiteKind.OWN).order_by("pk").first()
    if bench:
        return bench.pk
    if operations:
        return operations[-1].site_id
    raise Refused("no_routing", part=part.number)


def _lay_down(event: Event, batch: Batch, good: Mapping[int, int], reference: str) -> None:
    """The lot is born with its pieces where they lie; who made them was before this record."""
    steps = {
        step.number: step for step in Step.objects.filter(batch=batch).select_related("batch", "operation", "site")
    }
    lot = lot_of(batch, event)
    lot.outside_number = reference
    lot.save(update_fields=["outside_number"])
    moves: list[Move] = []
    for number, pieces in sorted(good.items()):
        if number not in steps:
            raise Refused("no_such_step", step=number)
        place = landing(steps[number], lot.pk)
        if pieces:
            moves.append(Move(place.become(Condition.MADE_FROM, number), place, pieces))
    post(event, moves)


def _states(operations: list[Operation], first: int, last: int) -> dict[str, str]:
    """Steps that all pieces are through are done; those between are begun."""
    return {
        str(operation.number): StepState.DONE.value if operation.number <= first else StepState.RUNNING.value
        for operation in operations
        if operation.number <= last
    }


def _checks_through(operations: list[Operation], last: int) -> list[list[Any]]:
    """Step and key of each check up to a step."""
    return [[one.number, plan.key] for one in operations if one.number <= last for plan in checks_of(one.pk)]


def _mark_done(event: Event, batch: Batch) -> None:
    """Times and counts of what was before are not invented: only the states are set."""
    steps = {step.number: step for step in Step.objects.filter(batch=batch)}
    for number, state in event.data["states"].items():
        Step.objects.filter(pk=steps[int(number)].pk).update(state=state)
    Verdict.objects.bulk_create(
        [
            Verdict(
                step=steps[number],
                check_key=key,
                event=event,
                outcome="missing",
                code=CONCEDED,
                conceded_event=event,
            )
            for number, key in event.data["conceded"]
        ]
    )


def _promised(line: OrderLine | None, wanted: int) -> int:
    return min(wanted, max(0, line.quantity - line.released)) if line else 0


def _promise(event: Event, batch: Batch, line: OrderLine) -> None:
    """What the batch will bring needs no release any more."""
    promised = event.data["promised"]
    if not promised:
        return
    BatchShare.objects.create(batch=batch, line=line, quantity=promised)
    line.released += promised
    line.released_event = event
    line.save(update_fields=["released", "released_event"])
