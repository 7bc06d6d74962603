"""Has it been proved? Judges a step from its evidence, records what changed, and holds what failed.

A failed gate holds at once, until the founder decides; one whose evidence is missing holds when the step is said
to be done, and lets go by itself when the evidence arrives. A load that failed is split off, so that the rest of
the lot stays free. The event says all that follows from it, so that `verify` need not judge again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Q

from traveller.batches.models import Step, StepState, Verdict
from traveller.batches.proof import evidence
from traveller.batches.splitting.part_load import LYING, Parting, part, parting
from traveller.batches.steps.answer import judged_name
from traveller.batches.steps.fetch import lot_of
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import record
from traveller.journal.rows import Rows, insert, run_sql, update
from traveller.ledger import holds
from traveller.ledger.models import Account, Hold
from traveller.products.frozen import CheckPlan, checks_of, operations_of
from traveller.rules.checks.base import CheckVerdict as Ruling
from traveller.rules.checks.base import Judged
from traveller.rules.checks.kind import STEP_BEFORE

Rulings = Sequence[tuple[CheckPlan, Judged]]
_Key = tuple[str, int | None]

_VERDICT = Rows(Verdict, "v")
_LATEST = f"SELECT {_VERDICT.columns} FROM batches_verdict v WHERE v.latest AND v.step_id = %s"
_LOAD_KEYS = "SELECT number, id FROM batches_load WHERE step_id = %s AND struck_by_id IS NULL"
_HOLD = Rows(Hold, "h")
_OWN_HOLDS = (
    f"SELECT {_HOLD.columns} FROM ledger_hold h "
    "WHERE h.closed_at IS NULL AND h.lot_id = %s AND h.root_id IS NULL ORDER BY h.id"
)


@dataclass(frozen=True)
class _Found:
    """One judgement of a step: rulings by check and load, what stood before, and what follows."""

    rulings: Rulings
    latest: Mapping[_Key, Verdict]
    by_key: Mapping[_Key, Ruling]

    @property
    def changed(self) -> list[tuple[_Key, Ruling]]:
        return [(key, ruling) for key, ruling in self.by_key.items() if not self.stands(key)]

    def stands(self, key: _Key) -> bool:
        """The verdict is the one that was recorded last."""
        row, ruling = self.latest.get(key), self.by_key[key]
        if row is None:
            return False
        return (row.outcome, row.code, row.figures) == (ruling.outcome, ruling.code, dict(ruling.figures))

    def conceded(self, key: _Key) -> bool:
        row = self.latest.get(key)
        return row is not None and row.conceded_event_id is not None and self.stands(key)


@dataclass
class Judging:
    """Judges the steps that one telling touched; what changes is an event of its own."""

    event_context: EventContext
    events: list[Event] = field(default_factory=list)

    def step(self, step: Step) -> None:
        """Judge until nothing fails that could still be split off."""
        while self._once(step):
            pass

    def and_after(self, step: Step, elsewhere: Iterable[Step] = ()) -> None:
        """The step, those after it that hang on when this one ended (they may have been told before), and those
        `elsewhere` that the same news says something of."""
        self.step(step)
        for one in (*self._hanging_on(step), *elsewhere):
            self.step(one)

    def _hanging_on(self, step: Step) -> Iterable[Step]:
        later = [o for o in operations_of(step.batch.routing_id) if o.number > step.number]
        hanging = [o.number for o in later[:1] if STEP_BEFORE in _hangs_on(checks_of(o.pk))]
        hanging += [o.number for o in later if step.number in _hangs_on(checks_of(o.pk))]
        if not hanging:
            return ()
        family = Q(batch=step.batch_id) | Q(batch__parent=step.batch_id)
        after = Step.objects.filter(family, number__in=hanging).exclude(state=StepState.WAITING).order_by("pk")
        return after.select_related("batch__part", "batch__lot", "batch__subject", "operation")

    def _once(self, step: Step) -> bool:
        """True when a load was split off and the step must be judged again."""
        plans = checks_of(step.operation_id)
        if not plans:
            return False
        found = _judge(step, plans)
        away = _to_part(step, found)
        opens, closes = ([], _own_holds(step, away[0])) if away else _hold_changes(step, found)
        if not (found.changed or away or opens or closes):
            return False
        event = self._record(step, found, away[1] if away else None, opens, closes)
        for hold in closes:
            holds.close_hold(event, hold, disposition="parted" if away else "evidence", reason="")
        for plan, ruling in opens:
            figures = {**ruling.figures, "step": step.number, "verb": step.operation.verb}
            lot = lot_of(step.batch, event)
            holds.open_hold(event, lot, cause=cause_of(step, plan.key), code=ruling.code, figures=figures)
        if away:
            self.step(part(event, step, away[1]))
        return away is not None

    def _record(
        self,
        step: Step,
        found: _Found,
        away: Parting | None,
        opens: Sequence[tuple[CheckPlan, Ruling]],
        closes: Sequence[Hold],
    ) -> Event:
        """One event with every verdict that changed and every hold that it opens or closes."""
        changed = found.changed
        event = record(
            event_context=self.event_context.derived(judged_name(len(self.events))),
            kind="judged",
            subjects=[step.batch.subject_id],
            reported={},
            site_id=step.site_id,
            step=step.number,
            step_id=step.pk,
            verdicts=[_as_data(key, ruling) for key, ruling in changed],
            opens=[{"cause": cause_of(step, plan.key), "code": ruling.code} for plan, ruling in opens],
            closes=[hold.pk for hold in closes],
            parted={"load": away.load.pk, "pieces": away.pieces, "counted": away.counted} if away else None,
        )
        self.events.append(event)
        for key, ruling in changed:
            before = found.latest.get(key)
            if before:
                before.latest = False
                update(before, "latest")
            insert(
                Verdict(
                    step=step,
                    check_key=key[0],
                    load_id=key[1],
                    event=event,
                    outcome=ruling.outcome,
                    code=ruling.code,
                    figures=dict(ruling.figures),
                )
            )
        return event


def _judge(step: Step, plans: Sequence[CheckPlan]) -> _Found:
    ends = _hangs_on(plans)
    known = evidence.of_step(
        step,
        hangs_on_before=STEP_BEFORE in ends,
        hangs_on=ends - {STEP_BEFORE},
        asks_materials=any("materials" in plan.kind.needs for plan in plans),
        asks_cores=any("core" in plan.kind.needs for plan in plans),
        first_pieces=[plan.terms for plan in plans if "decisions" in plan.kind.needs],
    )
    rulings = [(plan, plan.kind.judge(plan.params, known, plan.scope)) for plan in plans]
    loads = dict(run_sql(_LOAD_KEYS, [step.pk])) if any(judged.by_load for _, judged in rulings) else {}
    by_key: dict[_Key, Ruling] = {}
    for plan, judged in rulings:
        by_key[plan.key, None] = judged.step
        by_key.update({(plan.key, loads[n]): r for n, r in judged.by_load.items() if n in loads})
    latest = _VERDICT.of(run_sql(_LATEST, [step.pk]))
    return _Found(rulings, {(row.check_key, row.load_id): row for row in latest}, by_key)


def _to_part(step: Step, found: _Found) -> tuple[CheckPlan, Parting] | None:
    """The first load that failed a gate, was not conceded and can be split off."""
    for plan, judged in found.rulings:
        for number, ruling in judged.by_load.items() if plan.is_gate else ():
            if ruling.outcome != "failed":
                continue
            away = parting(step, number)
            if away and not found.conceded((plan.key, away.load.pk)):
                return plan, away
    return None


def _hold_changes(step: Step, found: _Found) -> tuple[list[tuple[CheckPlan, Ruling]], list[Hold]]:
    """Gates that must hold the lot from now on, and holds whose evidence has arrived."""
    opens: list[tuple[CheckPlan, Ruling]] = []
    closes: list[Hold] = []
    for plan, judged in found.rulings:
        if not plan.is_gate:
            continue
        if judged.step.outcome == "passed":
            closes += [hold for hold in _own_holds(step, plan) if not _failed_since(step, plan, hold)]
        # What is asked of the database comes last: at most counts of a step nothing weighs yet.
        elif _must_hold(step, plan, judged, found):
            standing = _own_holds(step, plan)
            grew = judged.step.outcome == "failed" and all(_waited(hold, plan) for hold in standing)
            if (grew or not standing) and not _scrapped(step, plan):
                # One that only waited for its evidence ends as the evidence says otherwise: its words are of the past.
                closes += standing
                opens.append((plan, judged.step))
    return opens, closes


def _must_hold(step: Step, plan: CheckPlan, judged: Judged, found: _Found) -> bool:
    """Failed, or missing at the end, and not conceded; a load that failed since a concession holds anew."""

    def weighs(ruling: Ruling) -> bool:
        return ruling.outcome == "failed" or (ruling.outcome == "missing" and step.state == StepState.DONE)

    if not weighs(judged.step):
        return False
    own = [key for key in found.by_key if key[0] == plan.key and weighs(found.by_key[key])]
    return not all(found.conceded(key) for key in own)


def _own_holds(step: Step, plan: CheckPlan) -> list[Hold]:
    """Open holds of this check on the step's lot; those that were inherited are another lot's matter."""
    if step.batch.lot_id is None:
        return []
    cause = cause_of(step, plan.key)
    return [hold for hold in _HOLD.of(run_sql(_OWN_HOLDS, [step.batch.lot_id])) if hold.cause == cause]


def _waited(hold: Hold, plan: CheckPlan) -> bool:
    """It was opened because evidence was missing, not because a figure was outside its limits."""
    opened = Verdict.objects.filter(event=hold.opened_event_id, check_key=plan.key, load=None)
    return opened.filter(outcome="missing").exists()


def _scrapped(step: Step, plan: CheckPlan) -> bool:
    """The lot was scrapped or regraded for this, and nothing of it has come since: there is nothing left to hold."""
    lot_id = step.batch.lot_id
    if lot_id is None:
        return False
    own = Hold.objects.filter(lot_id=lot_id, cause=cause_of(step, plan.key), root=None)
    before = own.filter(disposition__in=("scrap", "regrade"))
    if not before.exists():
        return False
    return not Account.objects.filter(lot_id=lot_id, condition__in=LYING, balance__gt=0).exists()


def _failed_since(step: Step, plan: CheckPlan, hold: Hold) -> bool:
    """Figures once outside their limits are the founder's to decide, whatever was told afterwards."""
    rows = Verdict.objects.filter(step=step, check_key=plan.key, load=None, outcome="failed")
    return rows.filter(event__gte=hold.opened_event_id).exists()


def cause_of(step: Step, key: str) -> str:
    """What a hold opened by a check is named after."""
    return f"check:{step.number}:{key}"


def _hangs_on(plans: Sequence[CheckPlan]) -> frozenset[int]:
    """Steps whose ends some check is judged by; STEP_BEFORE is the one right before."""
    return frozenset().union(*(plan.terms.ends for plan in plans))


def _as_data(key: _Key, ruling: Ruling) -> dict[str, Any]:
    return {
        "check": key[0],
        "load": key[1],
        "outcome": ruling.outcome,
        "code": ruling.code,
        "figures": dict(ruling.figures),
    }
