"""Loads: in with a number of pieces, out when the time is reached."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from sites.access import narrow
from traveller.batches.actions.loads import end_load, start_load
from traveller.batches.models import Load, Step
from traveller.batches.steps.answer import Answer
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account, Condition
from traveller.products.models import OperationKind
from traveller.rules.checks.base import elapsed
from traveller.web.door import Asked, attempt, read_time
from traveller.web.operator.alike import asked_of, load_alike, the_same
from traveller.web.operator.deeds import load_seconds, out_url
from traveller.web.operator.measure import outside_asked, outside_limits, read_answers, shown_fields
from traveller.web.operator.proof import asks_log
from traveller.web.operator.reporting import (
    already_recorded,
    ask,
    event_context_here,
    late_reason,
    note_of,
    reported_url,
    said_no,
    tell_here,
    unanswered,
)
from traveller.web.operator.shop import actor_of, at_work, load_here, page, site_of, step_here
from traveller.web.operator.wanted import reported_already, still_asked, wanted_readings
from traveller.web.parts.figures import more_than_there, read_count
from traveller.web.templatetags.shop import clock_words
from traveller.web.words import say


@at_work
def load_in(request: HttpRequest, step_id: int) -> HttpResponse:
    step = step_here(request, step_id)
    free = not_loaded(step)
    pieces = step.operation.kind != OperationKind.PREPARE
    room = step.operation.load_size
    context: dict[str, Any] = {
        "step": step,
        "batch": step.batch,
        "free": free,
        "pieces": pieces,
        "proposed": (min(free, room) if free and room else free or room) if pieces else None,
        "places": _places(step),
    }
    if request.method != "POST" or said_no(request):
        return page(request, "load_in.html", context)
    if (same := the_same(request, "same_load")) is not None:
        return page(request, "load_in.html", context, refusal=same) if isinstance(same, Refusal) else same
    quantity = read_count(request.POST.get("quantity", "")) if pieces else 0
    if isinstance(quantity, str):
        return page(request, "load_in.html", {**context, "wrong": {"quantity": quantity}}, status=422)
    place = request.POST.get("place", "").strip()[:60]
    if asking := _asks(request, step, context, quantity, place):
        return asking
    answer = tell_here(request, start_load, step_id=step.pk, quantity=quantity, place=place, note=note_of(request))
    if isinstance(answer, Refusal):
        return page(request, "load_in.html", context, refusal=answer)
    return redirect(reported_url("here_step", step.pk, reported=str(answer.event.uid)))


def _asks(request: HttpRequest, step: Step, context: dict[str, Any], quantity: int, place: str) -> HttpResponse | None:
    """The page of the first question about this load that nobody has answered."""
    if already_recorded(request):
        return None
    alike = load_alike(request, step, quantity, place)
    odd = _odd_load(step, quantity, context["free"], context["pieces"])
    asked = unanswered(request, [alike.asked, *odd] if alike else odd)
    return asked_of(request, asked, context, alike) if asked else None


def _odd_load(step: Step, quantity: int, free: int, pieces: bool) -> list[Asked]:
    room = step.operation.load_size
    questions = more_than_there(quantity, free) if step.operation.kind == OperationKind.WORK else []
    if pieces and quantity == 0:
        questions.append(Asked("empty_load", {}))
    if room and quantity > room:
        questions.append(Asked("more_than_fits", {"counted": quantity, "room": room}))
    return questions


def not_loaded(step: Step) -> int:
    """Pieces here that are in no load yet."""
    if step.batch.lot_id is None:
        return 0
    here = Account.objects.filter(
        lot=step.batch.lot_id, site=step.site_id, condition=Condition.IN_PROCESS, step=step.number
    ).first()
    loaded = sum(
        max(0, load.quantity - sum(c.good + c.scrap + c.rework + c.samples for c in load.counts.all()))
        for load in Load.objects.filter(step=step, struck_by=None).prefetch_related("counts")
    )
    return max(0, (here.balance if here else 0) - loaded)


def _places(step: Step) -> list[str]:
    """Where loads of this operation went lately, offered for one tap."""
    rows = Load.objects.filter(step__operation=step.operation_id).exclude(place="").order_by("-id")
    return list(dict.fromkeys(rows.values_list("place", flat=True)[:30]))[:4]


@at_work
def load_out(request: HttpRequest, load_id: int) -> HttpResponse:
    """The address of a load's way out before it had its step's; phones and papers may still know it."""
    load = load_here(request, load_id)
    if request.method == "POST":
        return _out(request, load.step, load)
    return redirect(out_url(load))


@at_work
def out(request: HttpRequest, step_id: int) -> HttpResponse:
    """The way out of a load, `?load=` its id; a page for no load in particular is kept on phones for those to come."""
    step = step_here(request, step_id)
    uid = request.POST.get("load") or request.GET.get("load") or ""
    load = load_by_uid(request, step, uid)
    if request.method == "POST" and load is None:
        return page(request, "load_out.html", _out_context(request, step, None), refusal=Refusal("unknown_load"))
    return _out(request, load.step if load else step, load)


def load_by_uid(request: HttpRequest, step: Step, uid: str) -> Load | None:
    """A load of this step, of this batch or of one that was split off it since the phone opened its page."""
    if not uid:
        return None
    rows = Load.objects.select_related("step__batch__part", "step__operation", "step__site")
    rows = narrow(rows.defer("step__batch__part__picture"), actor_of(request), "step__site")
    return next((load for load in rows.filter(step__number=step.number) if str(load.uid) == uid), None)


def _out_context(request: HttpRequest, step: Step, load: Load | None) -> dict[str, Any]:
    wanted = [item for item in wanted_readings(step) if item.per_load]
    others = Load.objects.filter(step=step, ended_at=None, struck_by=None).order_by("number") if load is None else []
    return {
        "step": step,
        "batch": step.batch,
        "load": load,
        "others": [(one, out_url(one)) for one in others],
        "load_seconds": load_seconds(step),
        "fields": shown_fields(request, wanted, reported=reported_already(step, load) if load else None),
        **outside_asked(),
        "asks_log": asks_log(step),
    }


def _out(request: HttpRequest, step: Step, load: Load | None) -> HttpResponse:
    """Out now, or earlier with the reason why it is told late; then what is to be measured of it, then its count."""
    context = _out_context(request, step, load)
    if load is None or request.method != "POST" or said_no(request):
        return page(request, "load_out.html", context)
    wanted = [item for item in wanted_readings(step) if item.per_load]
    answers, wrong = read_answers(request, wanted, load)
    started_at = _started(request, wrong)
    if wrong:
        context["fields"] = shown_fields(request, wanted, wrong)
        return page(request, "load_out.html", {**context, "wrong": wrong}, status=422)
    event_context = event_context_here(request)
    if isinstance(event_context, Refusal):
        return page(request, "load_out.html", context, refusal=event_context)
    questions = outside_limits(wanted, answers) + _odd_times(
        step, load, started_at or load.started_at, event_context.at
    )
    if already_recorded(request):
        questions = []
    asked = unanswered(request, questions)
    if asked:
        return ask(request, asked, context)
    late = late_reason(request) if started_at or request.POST.get("at") else ""
    answer = attempt(
        end_load,
        event_context=event_context,
        load_id=load.pk,
        started_at=started_at,
        late_reason=late,
        readings=answers,
    )
    if isinstance(answer, Refusal):
        return page(request, "load_out.html", context, refusal=answer)
    return _after(load, step, answer)


def _started(request: HttpRequest, wrong: dict[str, str]) -> datetime | None:
    """When it really went in, where that was told too late as well."""
    typed = request.POST.get("started_at", "").strip()
    if not typed:
        return None
    found = read_time(typed, site_of(request).zone)
    if isinstance(found, Refusal):
        wrong["started_at"] = say(found.code, found.figures)
    if not late_reason(request):
        wrong["late_reason"] = say("late_reason_needed")
    return None if isinstance(found, Refusal) else found


def _odd_times(step: Step, load: Load, started_at: datetime, ended_at: datetime) -> list[Asked]:
    """Out before it went in, before its time, or a second time: asked before it becomes news."""
    lasted = int(elapsed(started_at, ended_at).total_seconds())
    needed = load_seconds(step)
    if load.ended_at is not None:
        return [Asked("load_was_out", {"load": load.number})]
    if lasted < 0:
        return [Asked("out_before_in", {"load": load.number})]
    if lasted < needed:
        return [
            Asked("out_too_early", {"lasted": clock_words(lasted), "needed": clock_words(needed), "load": load.number})
        ]
    return []


def _after(load: Load, step: Step, answer: Answer) -> HttpResponse:
    """A load that failed is told of first; else its pieces are counted, or there is nothing to count."""
    if answer.children or answer.holds:
        return redirect("here_told", answer.event.uid)
    now = Load.objects.get(pk=load.pk)
    reported = str(answer.event.uid)
    if still_asked(step, now):
        return redirect(f"{reverse('here_measure', args=[now.step_id])}?load={load.uid}&told={reported}")
    if step.operation.kind == OperationKind.PREPARE or not load.quantity or now.counts.exists():
        return redirect(reported_url("here_step", now.step_id, reported=reported))
    return redirect(f"{reverse('here_count', args=[now.step_id])}?load={load.uid}&told={reported}")
