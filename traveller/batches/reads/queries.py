"""Reads that pages need. Each costs a constant number of queries, however many batches there are."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Q, QuerySet

from sites.models import Site
from traveller.batches.models import Batch, Step, StepState
from traveller.batches.reads.todo import held_among, steps_of, turns_at
from traveller.journal.models import Event
from traveller.ledger.models import OWED, Account, Condition, Hold
from traveller.products.models import Operation

LYING = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK, Condition.ON_THE_ROAD, Condition.PACKED)


@dataclass(frozen=True, slots=True)
class Lie:
    """So many good pieces of a batch at one place: a line of "where everything is"."""

    site_id: int
    site: str
    condition: str
    step: int
    verb: str
    quantity: int
    since: datetime | None


@dataclass(slots=True)
class Whereabouts:
    """One batch: where its pieces lie, what of it is held, and what comes then."""

    batch: Batch
    lies: list[Lie] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)
    unreported: int = 0
    unexplained: int = 0
    scrap: int = 0

    @property
    def good(self) -> int:
        return sum(lie.quantity for lie in self.lies)

    @property
    def current(self) -> Step | None:
        """The step that is under way, or the first that waits."""
        for state in (StepState.RUNNING, StepState.WAITING):
            for step in self.steps:
                if step.state == state:
                    return step
        return None


def open_batches() -> QuerySet[Batch]:
    return Batch.objects.filter(closed_at=None).select_related("part", "destination", "lot", "parent").order_by("id")


def whereabouts(batches: Iterable[Batch]) -> list[Whereabouts]:
    """For each batch, in order; five queries for any number of them.

    Hundreds of batches share a handful of operations and sites: those are read once, not joined to every row.
    """
    found = {batch.pk: Whereabouts(batch) for batch in batches}
    by_lot = {row.batch.lot_id: row for row in found.values() if row.batch.lot_id}
    steps = list(Step.objects.filter(batch__in=found).order_by("batch", "number"))
    operations = Operation.objects.in_bulk({step.operation_id for step in steps})
    sites = Site.objects.in_bulk()
    for step in steps:
        step.operation, step.site = operations[step.operation_id], sites[step.site_id]
        found[step.batch_id].steps.append(step)
    verbs = {(row.batch.pk, step.number): step.operation.verb for row in found.values() for step in row.steps}
    accounts = Account.objects.filter(lot__in=by_lot).exclude(balance=0).order_by("site__name", "step")
    for lot_id, site_id, condition, number, balance, since in accounts.values_list(
        "lot_id", "site_id", "condition", "step", "balance", "since"
    ):
        row = by_lot[lot_id]
        if condition in LYING:
            verb = verbs.get((row.batch.pk, number), "")
            row.lies.append(Lie(site_id, sites[site_id].name, condition, number, verb, balance, since))
        elif condition in OWED:
            row.unreported += balance
        elif condition == Condition.UNEXPLAINED:
            row.unexplained += balance
        elif condition == Condition.SCRAP:
            row.scrap += balance
    for hold in Hold.objects.filter(lot__in=by_lot, closed_at=None).select_related("root__lot").order_by("id"):
        by_lot[hold.lot_id].holds.append(hold)
    return list(found.values())


def history(subject_ids: Sequence[int], limit: int = 500) -> list[Event]:
    """Everything told about a thing, latest first."""
    events = Event.objects.filter(about__subject__in=subject_ids).select_related("site", "corrects")
    return list(events.order_by("-happened_at", "-id").distinct()[:limit])


@dataclass(frozen=True, slots=True)
class Task:
    """Something a site can do now: a step of a batch, with how many wait for it."""

    batch: Batch
    step: Step
    here: int
    rework: int
    held: bool
    since: datetime | None = None


def tasks_at(site_id: int, *, on: date | None = None, first: int = 0, most: int | None = None) -> list[Task]:
    """Steps at this site that are under way, have pieces before them, or may begin; the most urgent first."""
    turns = turns_at(site_id, on)[first : None if most is None else first + most]
    steps = steps_of(turns)
    held = held_among([step.batch.lot_id for step in steps.values() if step.batch.lot_id])
    return [
        Task(step.batch, step, turn.here, turn.rework, step.batch.lot_id in held, turn.since)
        for turn in turns
        if (step := steps.get(turn.step_id))
    ]


def find_batch(code: str) -> Batch | None:
    return (
        Batch.objects.filter(code=code)
        .select_related("part", "lot", "subject", "destination", "routing", "parent")
        .first()
    )


def lots_waiting_to_be_sent(site_id: int) -> list[Account]:
    """What lies on this site's shelf with its steps here done and somewhere else to go."""
    return list(
        Account.objects.filter(site_id=site_id, condition=Condition.STOCK, balance__gt=0)
        .filter(Q(step__gt=0) | ~Q(lot__batch__destination_id=site_id))
        .filter(lot__batch__isnull=False)
        .select_related("lot__part", "lot__batch__destination")
        .defer("lot__part__picture")
        .order_by("lot_id", "step")
    )
