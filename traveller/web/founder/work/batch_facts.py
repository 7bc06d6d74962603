"""What the batch page shows below its sentence: steps, checks, loads, readings, holds, family."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import Sum
from django.utils.translation import gettext as _

from traveller.batches.history.step_law import StepAccount
from traveller.batches.models import Attachment, Batch, Load, Reading, Step, Verdict
from traveller.batches.reads.papers import limit_texts
from traveller.ledger.models import Hold, Link, Lot
from traveller.products.frozen import CheckPlan, checks_of
from traveller.products.models import OperationKind
from traveller.web.founder.desk.listing import amount
from traveller.web.founder.work.dispositions import disposition_word
from traveller.web.picture_words import ribbon_words
from traveller.web.pictures.marks import MarkDrawn
from traveller.web.pictures.ribbon import End, Ribbon
from traveller.web.pictures.ribbon import RibbonStep as Flow
from traveller.web.templatetags.look import whole
from traveller.web.words import say

# Below this a percentage says less than the two counts (common practice, no source).
PERCENT_FROM = 20


@dataclass(frozen=True)
class StepLine:
    """One row of the table of steps."""

    account: StepAccount
    first_pass: str

    @property
    def counts(self) -> bool:
        return self.account.step.operation.kind != OperationKind.PREPARE


def step_lines(accounts: Sequence[StepAccount]) -> list[StepLine]:
    return [StepLine(row, first_pass_words(row)) for row in accounts]


def first_pass_words(row: StepAccount) -> str:
    """A percentage where there were enough pieces for one, else the counts."""
    share = row.first_pass
    if share is None:
        return "–"
    entered = row.counted - row.step.samples
    if entered < PERCENT_FROM:
        return _("%(good)s of %(entered)s") % {"good": whole(row.step.good), "entered": whole(entered)}
    return f"{float(share) * 100:.1f} %"


def ribbon_of(batch: Batch, accounts: Sequence[StepAccount], sentence: str) -> Ribbon | None:
    """The yield ribbon, or None before anything was counted."""
    flows = []
    for row in accounts:
        if row.step.operation.kind == OperationKind.PREPARE:
            continue
        ends: tuple[tuple[End, int], ...] = (
            ("rework", row.step.rework),
            ("here", max(0, row.here)),
            ("held", row.set_apart + row.decided),
            ("samples", row.step.samples),
            ("scrap", row.step.scrap),
            ("unexplained", row.unexplained),
        )
        flows.append(Flow(row.step.operation.verb, max(0, row.arrived), row.step.good, ends))
    if not any(flow.arrived for flow in flows):
        return None
    words = replace(ribbon_words(), rework=_("to rework"), here=_("still here"), held=_("set apart or decided"))
    return Ribbon(tuple(flows), sentence, words)


@dataclass(frozen=True)
class CheckLine:
    """One check of one step, with its limits, its verdict in figures, and what it blocks."""

    step: Step
    name: str
    limits: str
    kind: MarkDrawn
    outcome: str
    why: str
    blocks: str
    by_load: list[str]
    source: str
    # The step whose first piece the founder decides on, else 0.
    first_piece: int = 0


def check_lines(steps: Sequence[Step]) -> list[CheckLine]:
    """Every check of the batch; two queries (the routing's checks are read once per process)."""
    latest: dict[tuple[int, str], list[Verdict]] = defaultdict(list)
    for row in Verdict.objects.filter(step__in=steps, latest=True).select_related("load").order_by("load__number"):
        latest[row.step_id, row.check_key].append(row)
    return [
        _check(step, plan, latest.get((step.pk, plan.key), []))
        for step in steps
        for plan in checks_of(step.operation_id)
    ]


def _check(step: Step, plan: CheckPlan, rows: list[Verdict]) -> CheckLine:
    whole_step = next((row for row in rows if row.load_id is None), None)
    outcome, why = _("nothing recorded yet"), ""
    kind: MarkDrawn = "gate"
    if whole_step is not None:
        why = say(whole_step.code, whole_step.figures)
        outcome = {"passed": _("passed"), "failed": _("failed"), "missing": _("not shown yet")}[whole_step.outcome]
        kind = "free" if whole_step.outcome == "passed" else "held" if whole_step.outcome == "failed" else "doubt"
        if whole_step.conceded_event_id:
            outcome, kind = _("%(outcome)s, conceded") % {"outcome": outcome}, "free"
    return CheckLine(
        step=step,
        name=plan.key.replace("-", " "),
        limits=", ".join(limit_texts(plan)),
        kind=kind,
        outcome=outcome,
        why=why,
        blocks=blocks_words(plan.blocks),
        by_load=[say(row.code, row.figures) for row in rows if row.load_id is not None],
        source=plan.source,
        first_piece=step.pk if "decisions" in plan.kind.needs else 0,
    )


def blocks_words(blocks: str) -> str:
    """What may not happen before a check has passed."""
    return {
        "step": _("starting the next step"),
        "sending": _("sending on"),
        "consuming": _("use in another part"),
        "packing": _("packing"),
        "nothing": _("nothing: advice"),
    }.get(blocks, blocks)


def loads_of(batch: Batch) -> list[Load]:
    return list(
        Load.objects.filter(step__batch=batch)
        .select_related("step__operation", "struck_by")
        .annotate(good=Sum("counts__good"))
        .order_by("step__number", "number")
    )


def readings_of(batch: Batch) -> list[Reading]:
    rows = Reading.objects.filter(step__batch=batch).select_related("step__operation", "load", "event", "struck_by")
    return list(rows.order_by("step__number", "taken_at", "id")[:500])


@dataclass(frozen=True)
class Concession:
    """A check that counts as passed though it was not: who took that on, when, and why."""

    verdict: Verdict
    why: str

    @property
    def reason(self) -> str:
        event = self.verdict.conceded_event
        return str(event.data["told"].get("reason", "")) if event else ""


def concessions_of(batch: Batch) -> list[Concession]:
    rows = Verdict.objects.filter(step__batch=batch).exclude(conceded_event=None)
    rows = rows.select_related("step__operation", "load", "conceded_event").order_by("step__number", "id")
    return [Concession(row, say(row.code, row.figures)) for row in rows]


def files_of(batch: Batch) -> list[Attachment]:
    """What was sent to prove something; without its bytes."""
    rows = Attachment.objects.filter(step__batch=batch).select_related("step__operation", "load", "event", "struck_by")
    return list(rows.order_by("step__number", "id"))


@dataclass(frozen=True)
class HoldLine:
    """A hold with its sentence; `root` is where it is decided."""

    hold: Hold
    why: str

    @property
    def root(self) -> Hold:
        return self.hold.root or self.hold

    @property
    def decided(self) -> str:
        """How it was decided, in words."""
        return disposition_word(self.root.disposition or self.hold.disposition)


def hold_lines(lot: Lot | None) -> list[HoldLine]:
    """All holds that a lot ever had, open ones first."""
    if lot is None:
        return []
    rows = Hold.objects.filter(lot=lot).select_related("root__lot", "closed_event", "opened_event__site")
    found = [HoldLine(row, say(row.code, row.figures)) for row in rows.order_by("id")]
    return sorted(found, key=lambda line: line.hold.closed_at is not None)


@dataclass(frozen=True)
class KinLine:
    """A lot at the other end of a link, with the net quantity of the parent that went through it."""

    lot: Lot
    quantity: int
    unit: str
    inferred: bool
    apart: bool

    @property
    def amount(self) -> str:
        return amount(self.quantity, self.unit)


def kin(lot: Lot | None, *, down: bool) -> list[KinLine]:
    """What a lot was made of, or (down) what it went into; net of corrections."""
    if lot is None:
        return []
    rows: Any = Link.objects.filter(**{"parent" if down else "child": lot})
    rows = rows.select_related("parent__part", "child__part").defer("parent__part__picture", "child__part__picture")
    sums: dict[int, int] = defaultdict(int)
    guessed: dict[int, bool] = {}
    other: dict[int, Lot] = {}
    units: dict[int, str] = {}
    apart: dict[int, bool] = {}
    for row in rows.order_by("id"):
        there = row.child if down else row.parent
        other[there.pk], units[there.pk] = there, row.parent.part.unit
        sums[there.pk] += row.quantity
        apart[there.pk] = row.child.origin == "split" and row.child.part_id == row.parent.part_id
        guessed[there.pk] = guessed.get(there.pk, False) or row.inferred
    return [
        KinLine(other[pk], quantity, units[pk], guessed[pk], apart[pk])
        for pk, quantity in sums.items()
        if quantity or guessed[pk]
    ]
