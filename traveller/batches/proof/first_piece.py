"""What is a step run with, and which decisions on its first piece stand? Asked only where a check wants one.

The founder's decision is on an operation of a part, so it is looked for among all its batches. What a batch's own
design is was frozen with its routing; an approval from elsewhere is held against the part's revision of today.

Approved is a set-up: design, mould, open cavities, material by part and revision, site, machines. The approval carries
over to later batches until one of them changes or it lapses. Lots of material reopen nothing: each is proved by what is
asked of lots.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal, InvalidOperation
from hashlib import sha256
from typing import Any

from django.db.models import Max, Q, QuerySet, Sum

from traveller.batches.history.built_on import still_standing
from traveller.batches.models import Batch, Count, FirstPiece, Load, Reading, Step, StepState
from traveller.journal.models import Event
from traveller.products.frozen import CheckPlan, bill_at, checks_of, operations_of
from traveller.products.models import Operation, OperationKind, Part
from traveller.rules.checks.base import ApprovalEvidence, MadeWith, elapsed
from traveller.rules.checks.kind import Terms

# Of an operation, what makes another thing of the piece; its yields, times and shares do not.
_DESIGN = ("verb", "kind", "work", "cavities", "instruction")


@dataclass(frozen=True, slots=True)
class Approvals:
    """What a check of a first piece has to know: see rules.checks.base.Evidence."""

    made_with: MadeWith
    decisions: tuple[ApprovalEvidence, ...] = ()
    made_since: int | None = None


NOT_ASKED = Approvals(MadeWith())


def asked_of(operation_id: int) -> list[CheckPlan]:
    """The checks of an operation that want a first piece approved."""
    return [plan for plan in checks_of(operation_id) if "decisions" in plan.kind.needs]


def made_with(step: Step, loads: Sequence[Load]) -> MadeWith:
    """Design, mould, cavities, material, place and machines that the step is run with now."""
    operations = operations_of(step.batch.routing_id)
    own = next(operation for operation in operations if operation.number == step.number)
    bill = [pk for number in (step.number, *_prepared_for(operations, own)) for pk, _ in _bill(step, number)]
    parts = {
        pk: (number, revision)
        for pk, number, revision in Part.objects.filter(pk__in=[step.batch.part_id, *bill]).values_list(
            "pk", "number", "revision"
        )
    }
    return MadeWith(
        design=f"{parts[step.batch.part_id][1]} {_digest(own)}",
        tool=own.tool,
        cavities=open_cavities(step),
        material=", ".join(sorted(f"{number} {revision}" for number, revision in map(parts.__getitem__, set(bill)))),
        place=step.site.code,
        machines=tuple(sorted({load.place for load in loads if load.place})),
    )


def open_cavities(step: Step) -> tuple[int, ...]:
    return tuple(range(1, (step.open_cavities or step.operation.cavities) + 1))


def _bill(step: Step, number: int) -> tuple[tuple[int, int], ...]:
    return bill_at(step.batch.routing_id, number)


def _prepared_for(operations: Sequence[Operation], own: Operation) -> list[int]:
    """Steps right before this one that only prepare its material."""
    found = []
    for operation in reversed([one for one in operations if one.number < own.number]):
        if operation.kind != OperationKind.PREPARE:
            break
        found.append(operation.number)
    return found


def _digest(own: Operation) -> str:
    """Short, since it is only compared: what the operation does, and what its other checks ask."""
    checks = sorted(
        (plan.key, plan.kind.name, plan.scope, sorted(plan.kind.dump(plan.params).items()))
        for plan in checks_of(own.pk)
        if "decisions" not in plan.kind.needs
    )
    said = json.dumps([[getattr(own, name) for name in _DESIGN], checks])
    return sha256(said.encode()).hexdigest()[:8]


def approvals(step: Step, loads: Sequence[Load], asked: Sequence[Terms]) -> Approvals:
    """The latest decision of the batch and the latest of its part's other batches, and what was made since."""
    now = made_with(step, loads)
    family = _family(step.batch)
    own = _latest(FirstPiece.objects.filter(step__batch__in=family, number=step.number))
    others = FirstPiece.objects.filter(part=step.batch.part_id, number=step.number).exclude(step__batch__in=family)
    if step.state == StepState.DONE and step.done_at:
        # What was refused after this step's end says nothing against its pieces.
        others = others.filter(Q(approved=True) | Q(decided_at__lte=step.done_at))
    other = _latest(others)
    found = [_evidence(row, step, asked, elsewhere=row is other) for row in (own, other) if row is not None]
    decisions = tuple(one if one.elsewhere else _of_this_design(one, now) for one in found)
    refused = max((row.event_id for row in (own, other) if row is not None and not row.approved), default=0)
    return Approvals(now, decisions, _made_since(step, now, decisions, refused))


def _latest(rows: QuerySet[FirstPiece]) -> FirstPiece | None:
    return rows.order_by("-decided_at", "-id").first()


def _family(batch: Batch) -> list[int]:
    """The batch and those it was split off."""
    found, at = [], batch
    while True:
        found.append(at.pk)
        if at.parent is None:
            return found
        at = at.parent


def _of_this_design(decision: ApprovalEvidence, now: MadeWith) -> ApprovalEvidence:
    return replace(decision, made_with=replace(decision.made_with, design=now.design))


def _evidence(row: FirstPiece, step: Step, asked: Sequence[Terms], *, elsewhere: bool) -> ApprovalEvidence:
    return ApprovalEvidence(
        decided_at=row.decided_at,
        approved=row.approved,
        made_with=from_data(row.made_with),
        last_run_at=_last_run(row, step, asked) if elsewhere else None,
        measured=_measured(row) if row.step_id != step.pk and any(one.every_cavity for one in asked) else (),
        elsewhere=elsewhere,
    )


def as_data(made: MadeWith) -> dict[str, Any]:
    """As JSON keeps it."""
    found: dict[str, Any] = json.loads(json.dumps(asdict(made)))
    return found


def from_data(data: Mapping[str, Any]) -> MadeWith:
    found: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in data.items()}
    return MadeWith(**found)


def _measured(row: FirstPiece) -> tuple[int, ...]:
    """Cavities from which a number had been read by the decision, whatever became of the batch since."""
    readings = Reading.objects.filter(step=row.step_id, cavity__isnull=False, taken_at__lte=row.decided_at)
    return tuple(
        sorted({cavity for cavity, value in readings.values_list("cavity", "value") if cavity and _is_number(value)})
    )


def _is_number(text: str) -> bool:
    try:
        return Decimal(text).is_finite()
    except InvalidOperation:
        return False


def _last_run(row: FirstPiece, step: Step, asked: Sequence[Terms]) -> datetime | None:
    """When it was last run since the decision, before this step; asked only where that may matter."""
    lapses = [one.lapse_days for one in asked if one.lapse_days is not None]
    if step.started_at is None or not lapses:
        return None
    if elapsed(row.decided_at, step.started_at) <= timedelta(days=min(lapses)):
        return None
    runs = Count.objects.filter(
        step__batch__part=row.part_id,
        step__number=row.number,
        event__corrects=None,
        event__happened_at__gte=row.decided_at,
        event__happened_at__lt=step.started_at,
    )
    last: datetime | None = runs.exclude(step=step).aggregate(last=Max("event__happened_at"))["last"]
    return last


def _made_since(step: Step, now: MadeWith, decisions: Sequence[ApprovalEvidence], refused: int) -> int | None:
    """Pieces made since the set-up last changed from an approved one, or since a first piece was refused.

    Without an approval all pieces wait for one, however often the mould was changed meanwhile.
    """
    rows = Count.objects.filter(Q(step=step, load=None) | Q(load__step=step), again=False)
    since, older = refused, 0
    approved = [one.made_with for one in decisions if one.approved]
    alike = (0, len(now.cavities))
    if any(one.cavities and one.cavities != now.cavities for one in approved):
        before = rows.filter(event__corrects=None).exclude(open_cavities__in=alike).aggregate(last=Max("event"))
        since = max(since, before["last"] or 0)
        older = _shot_before(step, since, len(now.cavities))
    known = {machine for one in approved for machine in one.machines}
    if not since and not older and known and (new := set(now.machines) - known):
        return _pieces(rows.filter(load__place__in=new))
    if not since and not older:
        return None
    return max(0, _pieces(rows.filter(event__gt=since, open_cavities__in=alike)) - older)


def _shot_before(step: Step, since: int, cavities: int) -> int:
    """Pieces that the next count tells although they were made with the cavities open before."""
    reported = still_standing(
        Event.objects.filter(kind="cavities changed", about__subject=step.batch.subject_id, pk__gt=since)
    )
    changes = reported.filter(data__step_id=step.pk)
    return sum(
        event.data["told"]["shots"] * event.data["before"] for event in changes if event.data["before"] != cavities
    )


def _pieces(rows: QuerySet[Count]) -> int:
    sums = rows.aggregate(*(Sum(name, default=0) for name in ("good", "scrap", "rework", "samples")))
    return sum(sums.values())
