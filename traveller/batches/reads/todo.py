"""What a site can do now, the most urgent first: light rows, so that only what a page shows is read in full."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from django.db.models import Exists, F, OuterRef

from traveller.batches.models import Step, StepState
from traveller.ledger.models import Condition, Hold
from traveller.products.models import OperationKind

_WAITING = (Condition.IN_PROCESS, Condition.REWORK)
_NEVER = date.max
_LAST = datetime.max.replace(tzinfo=UTC)


@dataclass(slots=True)
class Turn:
    """A step that may be worked at: how many wait for it since when, and when its batch is due."""

    step_id: int
    batch_id: int
    number: int
    due_on: date | None
    here: int = 0
    rework: int = 0
    since: datetime | None = None

    def urgency(self, on: date | None) -> tuple[bool, date, datetime, int, int]:
        """Overdue first, then by the day it is due; what nobody has promised by how long it lies here."""
        late = on is not None and self.due_on is not None and self.due_on < on
        return not late, self.due_on or _NEVER, self.since or _LAST, self.batch_id, self.number


def turns_at(site_id: int, on: date | None = None) -> list[Turn]:
    """Steps of open batches with pieces before them, those under way, and those that may begin; three queries."""
    own = Step.objects.filter(site_id=site_id, batch__closed_at=None)
    keys = ("pk", "batch_id", "number", "batch__due_on")
    found: dict[int, Turn] = {}
    lying = own.filter(
        batch__lot__accounts__site_id=site_id,
        batch__lot__accounts__condition__in=_WAITING,
        batch__lot__accounts__balance__gt=0,
        batch__lot__accounts__step=F("number"),
    )
    account = "batch__lot__accounts__"
    for *key, condition, balance, since in lying.values_list(
        *keys, f"{account}condition", f"{account}balance", f"{account}since"
    ):
        turn = found.setdefault(key[0], Turn(*key))
        if condition == Condition.REWORK:
            turn.rework = balance
        else:
            turn.here = balance
        turn.since = min(turn.since or _LAST, since or _LAST)
    for *key, since in own.filter(state=StepState.RUNNING).values_list(*keys, "started_at"):
        turn = found.setdefault(key[0], Turn(*key))
        turn.since = turn.since or since
    earlier = Step.objects.filter(batch=OuterRef("batch"), number__lt=OuterRef("number")).exclude(state=StepState.DONE)
    begins = own.filter(state=StepState.WAITING).exclude(operation__kind=OperationKind.WORK).filter(~Exists(earlier))
    for *key, since in begins.values_list(*keys, "batch__released_at"):
        turn = found.setdefault(key[0], Turn(*key))
        turn.since = turn.since or since
    return sorted(found.values(), key=lambda turn: turn.urgency(on))


def steps_of(turns: Sequence[Turn]) -> dict[int, Step]:
    """The steps of these turns in full, by id, without the bytes of their pictures."""
    rows = Step.objects.filter(pk__in=[turn.step_id for turn in turns])
    return {
        step.pk: step
        for step in rows.select_related("batch__part", "batch__lot", "operation").defer("batch__part__picture")
    }


def held_among(lot_ids: Sequence[int]) -> set[int]:
    """Which of these lots are held."""
    return set(Hold.objects.filter(lot__in=lot_ids, closed_at=None).values_list("lot_id", flat=True))
