"""Loads: in with a number of pieces, out when the time is reached."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from traveller.batches.actions.loads import end_load, start_load
from traveller.batches.models import Load, Step
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account, Condition
from traveller.products.models import OperationKind
from traveller.web.door import attempt, read_time, stamp_from
from traveller.web.operator.figures import more_than_there, read_count
from traveller.web.operator.measure import Wanted, read_answers, wanted_readings
from traveller.web.operator.shop import actor_of, at_work, load_here, page, site_of, step_here
from traveller.web.operator.step import load_seconds
from traveller.web.words import say


@at_work
def load_in(request: HttpRequest, step_id: int) -> HttpResponse:
    step = step_here(request, step_id)
    free = _not_loaded(step)
    pieces = step.operation.kind != OperationKind.PREPARE
    proposed = min(free, step.operation.load_size or free) if pieces and free else step.operation.load_size
    context: dict[str, Any] = {
        "step": step,
        "batch": step.batch,
        "free": free,
        "pieces": pieces,
        "proposed": proposed or "",
        "values": request.POST,
    }
    if request.method != "POST":
        return page(request, "load_in.html", context)
    quantity = read_count(request.POST.get("quantity", "")) if pieces else 0
    if isinstance(quantity, str):
        return page(request, "load_in.html", {**context, "wrong": quantity}, status=422)
    asked = more_than_there(quantity, free) if step.operation.kind == OperationKind.WORK else None
    if asked and request.POST.get("sure") != "yes":
        return page(request, "load_in.html", {**context, "question": say(asked.code, asked.figures)})
    stamp = stamp_from(request, actor_of(request), site_of(request).zone)
    if isinstance(stamp, Refusal):
        return page(request, "load_in.html", context, refusal=stamp)
    place = request.POST.get("place", "").strip()[:60]
    answer = attempt(start_load, stamp=stamp, step_id=step.pk, quantity=quantity, place=place)
    if isinstance(answer, Refusal):
        return page(request, "load_in.html", context, refusal=answer)
    return redirect("here_step", step.pk)


def _not_loaded(step: Step) -> int:
    """Pieces here that are in no open load."""
    if step.batch.lot_id is None:
        return 0
    here = Account.objects.filter(
        lot=step.batch.lot_id, site=step.site_id, condition=Condition.IN_PROCESS, step=step.number
    ).first()
    loaded = sum(
        load.quantity - sum(c.good + c.scrap + c.rework + c.samples for c in load.counts.all())
        for load in Load.objects.filter(step=step, struck_by=None).prefetch_related("counts")
    )
    return max(0, (here.balance if here else 0) - loaded)


@at_work
def load_out(request: HttpRequest, load_id: int) -> HttpResponse:
    """Out now, or earlier with the reason why it is told late; then the count of what came out."""
    load = load_here(request, load_id)
    step = load.step
    wanted = [item for item in wanted_readings(step) if item.question.each == "load"]
    context: dict[str, Any] = {
        "step": step,
        "batch": step.batch,
        "load": load,
        "load_seconds": load_seconds(step),
        "wanted": wanted,
        "values": request.POST,
    }
    if request.method != "POST":
        return page(request, "load_out.html", context)
    answers, wrong = read_answers(request, wanted, load)
    zone = site_of(request).zone
    started = request.POST.get("started_at", "").strip()
    started_at = read_time(started, zone) if started else None
    reason = request.POST.get("late_reason", "").strip()[:200]
    if (started or request.POST.get("at", "").strip()) and not reason:
        wrong["late_reason"] = say("late_reason_needed")
    if started and started_at is None:
        wrong["started_at"] = say("time_unreadable", {"found": started})
    if wrong:
        return page(request, "load_out.html", {**context, "wrong": wrong}, status=422)
    stamp = stamp_from(request, actor_of(request), zone)
    if isinstance(stamp, Refusal):
        return page(request, "load_out.html", context, refusal=stamp)
    answer = attempt(
        end_load, stamp=stamp, load_id=load.pk, started_at=started_at, late_reason=reason, readings=answers
    )
    if isinstance(answer, Refusal):
        return page(request, "load_out.html", context, refusal=answer)
    return _after(load, step, wanted)


def _after(load: Load, step: Step, wanted: list[Wanted]) -> HttpResponse:
    """Pieces that came out are counted next; a load without pieces leads back to the step."""
    now = Load.objects.select_related("step").get(pk=load.pk)
    if step.operation.kind == OperationKind.PREPARE or not load.quantity:
        return redirect("here_step", now.step_id)
    return redirect(f"{reverse('here_count', args=[now.step_id])}?load={load.uid}")
