"""Has it been proved? Judges a step from its evidence, records what changed, and holds what failed.

A failed gate holds at once; one whose evidence is missing holds when the step is said to be done, and lets go
by itself when the evidence arrives. A load that failed is split off, so that the rest of the lot stays free.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Sum

from traveller.batches import evidence
from traveller.batches.divide import divide
from traveller.batches.fetch import lot_of
from traveller.batches.flows import landing
from traveller.batches.models import Count, Load, Reading, Step, StepState, Verdict
from traveller.journal.models import Event
from traveller.journal.record import record
from traveller.journal.stamp import Stamp
from traveller.ledger import holds
from traveller.ledger.models import Account, Condition, Hold
from traveller.ledger.post import Place
from traveller.products.frozen import CheckPlan, checks_of
from traveller.products.models import OperationKind
from traveller.rules.checks.base import Judged
from traveller.rules.checks.base import Verdict as Ruling

_LYING = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK, Condition.PACKED, Condition.ON_THE_ROAD)


@dataclass
class Judging:
    """Judges the steps that one telling touched; each change of verdict is an event of its own."""

    stamp: Stamp
    events: list[Event] = field(default_factory=list)

    def step(self, step: Step) -> None:
        """Judge until nothing fails that could still be split off."""
        while True:
            rulings = self._rulings(step)
            event = self._record(step, rulings)
            if event is None or not self._act(event, step, rulings):
                return

    def _rulings(self, step: Step) -> list[tuple[CheckPlan, Judged]]:
        plans = checks_of(step.operation_id)
        if not plans:
            return []
        known = evidence.of_step(step, _here(step))
        return [(plan, plan.kind.judge(plan.params, known, plan.scope)) for plan in plans]

    def _record(self, step: Step, rulings: list[tuple[CheckPlan, Judged]]) -> Event | None:
        """One event with every verdict that changed; None when all stand as before."""
        if not rulings:
            return None
        latest = {(row.check_key, row.load_id): row for row in Verdict.objects.filter(step=step, latest=True)}
        loads = {load.number: load.pk for load in Load.objects.filter(step=step, struck_by=None)}
        changed: list[tuple[str, int | None, Ruling]] = []
        for plan, judged in rulings:
            by_key: dict[int | None, Ruling] = {None: judged.step}
            by_key.update(
                {loads[number]: ruling for number, ruling in judged.by_load.items() if number in loads}
            )
            changed += [
                (plan.key, load_id, ruling)
                for load_id, ruling in by_key.items()
                if _differs(latest.get((plan.key, load_id)), ruling)
            ]
        if not changed and not _must_hold(step, rulings):
            return None
        event = record(
            stamp=self.stamp.derived(f"judged:{len(self.events)}"),
            kind="judged",
            subjects=[step.batch.subject],
            told={},
            site_id=step.site_id,
            step=step.number,
            verdicts=[
                {
                    "check": key,
                    "load": load_id,
                    "outcome": r.outcome,
                    "code": r.code,
                    "figures": _plain(r.figures),
                }
                for key, load_id, r in changed
            ],
        )
        self.events.append(event)
        for key, load_id, ruling in changed:
            before = latest.get((key, load_id))
            if before:
                Verdict.objects.filter(pk=before.pk).update(latest=False)
            Verdict.objects.create(
                step=step,
                check_key=key,
                load_id=load_id,
                event=event,
                outcome=ruling.outcome,
                code=ruling.code,
                figures=_plain(ruling.figures),
            )
        return event

    def _act(self, event: Event, step: Step, rulings: list[tuple[CheckPlan, Judged]]) -> bool:
        """Hold and let go. True when a load was split off and the step must be judged again."""
        for plan, judged in rulings:
            if not plan.is_gate:
                continue
            for number, ruling in judged.by_load.items():
                if ruling.outcome == "failed" and self._isolate(event, step, number):
                    return True
            self._hold_or_release(event, step, plan, judged.step)
        return False

    def _hold_or_release(self, event: Event, step: Step, plan: CheckPlan, ruling: Ruling) -> None:
        cause = cause_of(step, plan.key)
        done = step.state == StepState.DONE
        if ruling.outcome == "failed" or (ruling.outcome == "missing" and done):
            conceded = Verdict.objects.filter(
                step=step, check_key=plan.key, load=None, latest=True, conceded_event__isnull=False
            )
            if not conceded.exists():
                figures = {**_plain(ruling.figures), "step": step.number, "verb": step.operation.verb}
                holds.open_hold(
                    event, lot_of(step.batch, event), cause=cause, code=ruling.code, figures=figures
                )
        elif ruling.outcome == "passed" and step.batch.lot_id:
            for hold in Hold.objects.filter(lot_id=step.batch.lot_id, cause=cause, root=None, closed_at=None):
                holds.close_hold(event, hold, disposition="evidence", reason="")

    def _isolate(self, event: Event, step: Step, number: int) -> bool:
        """Split a failed load off its lot; False when the load is all there is, or its pieces are not to be found."""
        load = Load.objects.get(step=step, number=number)
        lot = step.batch.lot
        if lot is None or step.operation.kind == OperationKind.PREPARE:
            return False
        counted = Count.objects.filter(load=load).aggregate(good=Sum("good"))["good"]
        place = (
            Place(lot.pk, step.site_id, Condition.IN_PROCESS, step.number)
            if counted is None
            else landing(step, lot.pk)
        )
        pieces = load.quantity if counted is None else counted
        there = {row.pk: row for row in Account.objects.filter(lot=lot, condition__in=_LYING, balance__gt=0)}
        lying = sum(row.balance for row in there.values())
        found = sum(
            row.balance
            for row in there.values()
            if (row.site_id, row.condition, row.step) == (place.site_id, place.condition, place.step)
        )
        if not 0 < pieces <= found or pieces >= lying:
            return False
        child = divide(event, step.batch, place, pieces, first_step=step.number)
        own = Step.objects.select_related("batch__part", "batch__lot", "batch__subject", "operation").get(
            batch=child, number=step.number
        )
        if counted is not None:
            Step.objects.filter(pk=own.pk).update(state=StepState.DONE, done_at=event.happened_at)
            own.refresh_from_db(fields=["state", "done_at"])
        Verdict.objects.filter(step=step, load=load).update(latest=False)
        Reading.objects.filter(load=load).update(step=own)
        Load.objects.filter(pk=load.pk).update(step=own)
        self.step(own)
        return True


def _must_hold(step: Step, rulings: list[tuple[CheckPlan, Judged]]) -> bool:
    """Nothing new in the evidence, but the step was now said to be done without it."""
    if step.state != StepState.DONE:
        return False
    missing = [
        cause_of(step, p.key) for p, judged in rulings if p.is_gate and judged.step.outcome == "missing"
    ]
    if not missing or step.batch.lot_id is None:
        return bool(missing)
    held = Hold.objects.filter(lot_id=step.batch.lot_id, cause__in=missing, closed_at=None)
    return held.count() < len(missing)


def cause_of(step: Step, key: str) -> str:
    """What a hold opened by a check is named after."""
    return f"check:{step.number}:{key}"


def _here(step: Step) -> int:
    if not step.batch.lot_id:
        return 0
    here = Account.objects.filter(
        lot_id=step.batch.lot_id, site_id=step.site_id, condition=Condition.IN_PROCESS, step=step.number
    ).first()
    return here.balance if here else 0


def _differs(row: Verdict | None, ruling: Ruling) -> bool:
    if row is None:
        return True
    return (row.outcome, row.code, row.figures) != (ruling.outcome, ruling.code, _plain(ruling.figures))


def _plain(figures: Mapping[str, Any]) -> dict[str, Any]:
    return dict(figures)
