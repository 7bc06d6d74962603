"""Counting at a step: how many are good, then, only if it does not come out even or the step asks, the rest."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from traveller.batches.actions.report import report
from traveller.batches.consume import Used
from traveller.batches.models import Count, Load, Step, StepState
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Link, Lot
from traveller.products.frozen import bill_at
from traveller.products.models import OperationKind, Part
from traveller.rules.codes import Damaged, read, show
from traveller.web.door import Asked, attempt, stamp_from
from traveller.web.operator.figures import more_than_there, read_count
from traveller.web.operator.shop import actor_of, at_work, page, site_of, step_here
from traveller.web.operator.step import waiting_at
from traveller.web.words import say

REASON = "scrap:"
LOT = "lot:"
ALIKE_WITHIN = timedelta(hours=2)


@dataclass
class Typed:
    """What the form holds, read; `wrong` are sentences by field."""

    good: int = 0
    scrap: dict[str, int] = field(default_factory=dict)
    rework: int = 0
    samples: int = 0
    shots: int = 0
    open_cavities: int | None = None
    used: list[Used] = field(default_factory=list)
    wrong: dict[str, str] = field(default_factory=dict)

    @property
    def total(self) -> int:
        return self.good + sum(self.scrap.values()) + self.rework + self.samples


@at_work
def count(request: HttpRequest, step_id: int) -> HttpResponse:
    step = step_here(request, step_id)
    again = (request.POST.get("again") or request.GET.get("again")) == "1"
    load = _load(request, step)
    there = _there(step, load, again)
    context = _context(step, load, there, again)
    if request.method != "POST":
        return page(request, "count_good.html", context)
    typed = _read(request, step)
    context["values"] = request.POST
    context["typed"] = typed
    context["missing"] = None if there is None else there - typed.good
    if "good" in typed.wrong:
        return page(request, "count_good.html", {**context, "wrong": typed.wrong}, status=422)
    if request.POST.get("stage") == "good" and _wants_rest(step, typed, there):
        return page(request, "count_rest.html", context)
    if typed.wrong:
        return page(request, "count_rest.html", {**context, "wrong": typed.wrong}, status=422)
    asked = _question(request, step, typed, there)
    if asked and request.POST.get("sure") != "yes":
        template = "count_good.html" if request.POST.get("stage") == "good" else "count_rest.html"
        return page(request, template, {**context, "question": say(asked.code, asked.figures)})
    return _tell(request, step, typed, context, load, there, again)


def _tell(
    request: HttpRequest,
    step: Step,
    typed: Typed,
    context: dict[str, Any],
    load: Load | None,
    there: int | None,
    again: bool,
) -> HttpResponse:
    template = "count_good.html" if request.POST.get("stage") == "good" else "count_rest.html"
    stamp = stamp_from(request, actor_of(request), site_of(request).zone)
    if isinstance(stamp, Refusal):
        return page(request, template, context, refusal=stamp)
    answer = attempt(
        report,
        stamp=stamp,
        step_id=step.pk,
        good=typed.good,
        scrap=typed.scrap,
        rework=typed.rework,
        samples=typed.samples,
        again=again,
        load=load.uid if load else None,
        shots=typed.shots,
        open_cavities=typed.open_cavities,
        used=typed.used,
        done=_all_done(request, step, typed, there, again, load),
        note=request.POST.get("note", "")[:300],
    )
    if isinstance(answer, Refusal):
        return page(request, template, context, refusal=answer)
    return redirect("here_told", answer.event.uid)


def _load(request: HttpRequest, step: Step) -> Load | None:
    uid = request.POST.get("load") or request.GET.get("load")
    return get_object_or_404(Load, uid=uid, step=step) if uid else None


def _there(step: Step, load: Load | None, again: bool) -> int | None:
    """How many are expected; None where pieces are born, which knows no limit."""
    if load is not None and load.quantity:
        counted = sum(row.good + row.scrap + row.rework + row.samples for row in Count.objects.filter(load=load))
        return max(0, load.quantity - counted)
    here, rework = waiting_at(step)
    if again:
        return rework
    return None if step.operation.kind == OperationKind.MAKE else here


def _context(step: Step, load: Load | None, there: int | None, again: bool) -> dict[str, Any]:
    return {
        "step": step,
        "batch": step.batch,
        "load": load,
        "there": there,
        "again": again,
        "reasons": step.operation.scrap_reasons or [_("other")],
        "asks_shots": step.operation.cavities > 0 and step.operation.kind == OperationKind.MAKE and not again,
        "cavities": range(1, step.operation.cavities + 1),
        "components": [] if again else _components(step),
        "values": {},
        "was_done": step.state == StepState.DONE,
    }


def _components(step: Step) -> list[dict[str, Any]]:
    """What the bill uses here, with the lot scanned last time offered again."""
    bill = bill_at(step.batch.routing_id, step.batch.part_id, step.number)
    parts = Part.objects.in_bulk([component for component, _per in bill])
    last = {
        link.parent.part_id: link.parent.code
        for link in Link.objects.filter(child=step.batch.lot_id, inferred=False, quantity__gt=0)
        .select_related("parent")
        .order_by("id")
    }
    return [
        {"part": parts[pk], "field": f"{LOT}{pk}", "last": show(last[pk]) if pk in last else ""} for pk, _per in bill
    ]


def _wants_rest(step: Step, typed: Typed, there: int | None) -> bool:
    """Only a balance that fails asks for more, or a step that counts shots, uses lots or makes pieces."""
    makes = there is None
    return makes or typed.good < (there or 0) or bool(bill_at(step.batch.routing_id, step.batch.part_id, step.number))


def _read(request: HttpRequest, step: Step) -> Typed:
    typed = Typed()
    numbers: dict[str, int] = {}
    for name, text in request.POST.items():
        if name in ("good", "rework", "samples", "shots", "open_cavities") or name.startswith(REASON):
            if not str(text).strip() and name != "good":
                continue
            found = read_count(str(text))
            if isinstance(found, str):
                typed.wrong[name] = found
            else:
                numbers[name] = found
    typed.good = numbers.get("good", 0)
    typed.rework, typed.samples, typed.shots = (numbers.get(n, 0) for n in ("rework", "samples", "shots"))
    typed.scrap = {n.removeprefix(REASON): v for n, v in numbers.items() if n.startswith(REASON) and v}
    cavities = numbers.get("open_cavities")
    if cavities is not None and cavities > step.operation.cavities:
        typed.wrong["open_cavities"] = _("The mould has %(n)d cavities.") % {"n": step.operation.cavities}
    typed.open_cavities = cavities
    for name, text in request.POST.items():
        if name.startswith(LOT) and str(text).strip():
            lot = _lot(str(text), int(name.removeprefix(LOT)))
            if isinstance(lot, str):
                typed.wrong[name] = lot
            else:
                typed.used.append(Used(lot.pk))
    return typed


def _lot(text: str, part_id: int) -> Lot | str:
    """A lot by its code or by the number its maker gave it; in words why not."""
    scan = read(text)
    rows = Lot.objects.select_related("part")
    lot = None if isinstance(scan, Damaged) else rows.filter(code=scan.code).first()
    if lot is None:
        named = list(rows.filter(outside_number__iexact=text.strip(), part_id=part_id)[:2])
        lot = named[0] if len(named) == 1 else None
    if lot is None:
        return _("No lot has this code. Scan the label again, or leave it empty: then the lots here are recorded.")
    if lot.part_id != part_id:
        return _("This is %(part)s. Scan a lot of the right part.") % {"part": lot.part.title}
    return lot


def _question(request: HttpRequest, step: Step, typed: Typed, there: int | None) -> Asked | None:
    """Questions before news; a plain yes lets it through."""
    if typed.total == 0 and typed.shots == 0:
        return Asked("nothing_counted", {})
    if there is not None:
        more = more_than_there(typed.total, there)
        if more:
            return more
    elif step.batch.start and step.good + typed.good > 3 * step.batch.start:
        return Asked("far_more_than_planned", {"counted": step.good + typed.good, "planned": step.batch.start})
    if any(use_held(typed)):
        return Asked("held_lot_used", {})
    since = timezone.now() - ALIKE_WITHIN
    alike = (
        Count.objects.filter(step=step, good=typed.good, good__gt=0, event__recorded_at__gte=since)
        .select_related("event")
        .last()
    )
    if alike and str(alike.event.uid) != request.POST.get("news_id"):
        at = timezone.localtime(alike.event.happened_at, site_of(request).zone)
        return Asked("same_again", {"good": typed.good, "at": f"{at:%H:%M}", "person": alike.event.person})
    if step.state == StepState.DONE:
        return Asked("step_was_done", {"step": step.number, "verb": step.operation.verb})
    return None


def use_held(typed: Typed) -> list[int]:
    """Lots among those used that are held: it may have happened, but it is asked about."""
    ids = [use.lot_id for use in typed.used]
    return list(Lot.objects.filter(pk__in=ids, holds__closed_at=None, holds__isnull=False).values_list("pk", flat=True))


def _all_done(
    request: HttpRequest, step: Step, typed: Typed, there: int | None, again: bool, load: Load | None
) -> bool:
    """Done by word, or by itself: nothing is left here and nothing more can come."""
    if request.POST.get("done") == "yes":
        return True
    if there is None or again or load is not None or typed.total != there:
        return False
    earlier = Step.objects.filter(batch=step.batch, number__lt=step.number).exclude(state=StepState.DONE)
    return not earlier.exists() and not Load.objects.filter(step=step, ended_at=None, struck_by=None).exists()
