"""Counting at a step: how many are good, then, only if it does not come out even or the step asks, the rest."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from traveller.batches.actions.report import report
from traveller.batches.models import Count, Load, Step, StepState
from traveller.batches.proof.cap import cap_of
from traveller.batches.reads.waiting import Waiting, waiting_at
from traveller.batches.steps.short_of_plan import still_to_come
from traveller.batches.usable import usable
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.products.frozen import bill_at
from traveller.products.models import OperationKind
from traveller.rules.moments import on_clocks
from traveller.web.door import Asked, attempt, queued_of
from traveller.web.operator.alike import Alike, asked_of, count_alike, the_same
from traveller.web.operator.count_page import with_rows
from traveller.web.operator.counted import Typed, read_form
from traveller.web.operator.deeds import inside_words
from traveller.web.operator.is_all import MORE, is_that_all, more_will_come, said_all, unanswered_all
from traveller.web.operator.loads import load_by_uid
from traveller.web.operator.own_numbers import note_number
from traveller.web.operator.reporting import (
    already_recorded,
    ask,
    event_context_here,
    note_of,
    said_no,
    unanswered,
)
from traveller.web.operator.shop import at_work, page, site_of, step_here
from traveller.web.parts.figures import more_than_there
from traveller.web.words import say

SAME_COUNT = ("same_again", "same_bad_again", "same_shots_again")


@at_work
def count(request: HttpRequest, step_id: int) -> HttpResponse:
    step = step_here(request, step_id)
    again = (request.POST.get("again") or request.GET.get("again")) == "1"
    load = _load(request, step)
    if load is not None and load.step_id != step.pk:
        # It failed and was split off since the phone opened its page: its pieces have a batch of their own.
        step = step_here(request, load.step_id)
    waits = waiting_at(step)
    there = _there(step, load, waits, again)
    context = _context(request, step, load, there, again)
    if load is None and not again and there is not None:
        context |= {"inside": waits.inside, "inside_words": inside_words(waits)}
    if request.method != "POST":
        return _show(request, step, context, first=True)
    typed = read_form(request, step)
    context |= {"typed": typed, "missing": None if there is None else max(0, there - typed.good), "wrong": typed.wrong}
    return _take(request, step, typed, context)


def _take(request: HttpRequest, step: Step, typed: Typed, context: dict[str, Any]) -> HttpResponse:
    """What was typed becomes news, unless something of it is wrong or still to be asked."""
    before, first = already_recorded(request), request.POST.get("stage") == "good"
    if "good" in typed.wrong:
        return _show(request, step, context, first=first, status=422)
    if said_no(request):
        return _again(request, step, context)
    if (same := the_same(request, *SAME_COUNT)) is not None:
        return _again(request, step, context, same) if isinstance(same, Refusal) else same
    if first and not before and (between := _after_the_good(request, step, typed, context)):
        return between
    if typed.wrong:
        return _show(request, step, context, status=422)
    return _book(request, step, typed, context, before)


def _book(
    request: HttpRequest, step: Step, typed: Typed, context: dict[str, Any], before: Event | None
) -> HttpResponse:
    """All that could be read: recorded, once every question is answered."""
    if before is None and _is_nothing(request, typed):
        return _nothing(request, step, context)
    alike = None if before else count_alike(request, step, typed, context["load"], again=context["again"])
    asked = unanswered(request, [] if before else _questions(request, step, typed, context, alike))
    if asked:
        return asked_of(request, asked, context, alike)
    done = _done(request, step, typed, before)
    if done and before is None and (all_asked := is_that_all(step, good=typed.good, through=typed.total)):
        if unanswered_all(request, all_asked):
            return ask(request, all_asked, context, same=MORE)
        done = not more_will_come(request)
    return _tell(request, step, typed, context, done)


def _after_the_good(request: HttpRequest, step: Step, typed: Typed, context: dict[str, Any]) -> HttpResponse | None:
    """Only the good were typed: they may be surprising, or the rest is to be typed too."""
    there, again = context["there"], context["again"]
    more = _more_than_wait(typed.good, context)
    asked = unanswered(request, [*more, *_beyond_cap(context["cap"], typed.good)])
    if asked:
        return ask(request, asked, context)
    if queued_of(request) is None and _wants_rest(step, typed, there, again):
        return _show(request, step, context | {"wrong": {}})
    return None


def _is_nothing(request: HttpRequest, typed: Typed) -> bool:
    """No piece, no shot, no lot, no word: such a form says nothing that could stand in a record."""
    if typed.total or typed.shots or typed.used:
        return False
    return not (request.POST.get("done") == "yes" or note_of(request) or request.POST.get("own_number", "").strip())


def _nothing(request: HttpRequest, step: Step, context: dict[str, Any]) -> HttpResponse:
    """Asked about, and never recorded; from a phone's queue it comes back in words."""
    asked = Asked("nothing_counted", {})
    if queued_of(request):
        return _again(request, step, context, Refusal(asked.code))
    if unanswered(request, [asked]):
        return ask(request, asked, context)
    return redirect(f"{reverse('here_step', args=[step.pk])}?left=1")


def _again(request: HttpRequest, step: Step, context: dict[str, Any], refusal: Refusal | None = None) -> HttpResponse:
    """The page that the form was sent from, with what was typed."""
    return _show(request, step, context, first=request.POST.get("stage") == "good", refusal=refusal)


def _show(
    request: HttpRequest, step: Step, context: dict[str, Any], *, first: bool = False, **how: Any
) -> HttpResponse:
    """One document with every question; without its script the good come `first`, and the rest if it is asked for."""
    return page(request, "count.html", {**with_rows(request, step, context), "first": first}, **how)


def _tell(request: HttpRequest, step: Step, typed: Typed, context: dict[str, Any], done: bool) -> HttpResponse:
    load = context["load"]
    event_context = event_context_here(request)
    if isinstance(event_context, Refusal):
        return _again(request, step, context, event_context)
    answer = attempt(
        report,
        event_context=event_context,
        step_id=step.pk,
        good=typed.good,
        scrap=typed.scrap,
        rework=typed.rework,
        samples=typed.samples,
        again=context["again"],
        load=load.uid if load else None,
        shots=typed.shots,
        open_cavities=typed.open_cavities,
        used=typed.used,
        done=done,
        note=note_of(request),
        is_all=said_all(request),
    )
    if isinstance(answer, Refusal):
        return _again(request, step, context, answer)
    note_number(request, event_context, batch_id=step.batch_id)
    return redirect("here_told", answer.event.uid)


def _load(request: HttpRequest, step: Step) -> Load | None:
    """The load whose pieces are counted, of this batch or of one that was split off it."""
    return load_by_uid(request, step, request.POST.get("load") or request.GET.get("load") or "")


def _there(step: Step, load: Load | None, waits: Waiting, again: bool) -> int | None:
    """How many are expected; None where pieces are born, which knows no limit."""
    if load is not None and load.quantity:
        counted = sum(row.good + row.scrap + row.rework + row.samples for row in Count.objects.filter(load=load))
        return max(0, load.quantity - counted)
    if again:
        return waits.rework
    return None if step.operation.kind == OperationKind.MAKE else waits.here


def _context(request: HttpRequest, step: Step, load: Load | None, there: int | None, again: bool) -> dict[str, Any]:
    return {
        "step": step,
        "batch": step.batch,
        "load": load,
        "there": there,
        "again": again,
        # Said before typing, asked about when more is told; the news is taken all the same.
        "cap": None if again else cap_of(step, timezone.now()),
        "asks_shots": step.operation.cavities > 0 and step.operation.kind == OperationKind.MAKE and not again,
        "carried": [],
    }


def _wants_rest(step: Step, typed: Typed, there: int | None, again: bool) -> bool:
    """Only a balance that fails asks for more, or a step that counts shots, uses lots or makes pieces."""
    if there is None or typed.good < there:
        return True
    return not again and bool(bill_at(step.batch.routing_id, step.number))


def _questions(
    request: HttpRequest, step: Step, typed: Typed, context: dict[str, Any], alike: Alike | None
) -> list[Asked]:
    """Questions before news; each is answered by a plain yes of its own."""
    there, again = context["there"], context["again"]
    found = _beyond_cap(context["cap"], typed.total)
    if alike:
        found.append(alike.asked)
    if there is not None:
        found += _more_than_wait(typed.total, context)
    elif step.batch.start and step.good + typed.good > 3 * step.batch.start:
        found.append(Asked("far_more_than_planned", {"counted": step.good + typed.good, "planned": step.batch.start}))
    found += stopped_use(typed, on_clocks(timezone.now(), site_of(request).zone).date())
    if step.batch.closed_at is not None:
        found.append(Asked("batch_was_closed", {}))
    elif step.state == StepState.DONE and not again:
        found.append(Asked("step_was_done", {"step": step.number, "verb": step.operation.verb}))
    return found


def _more_than_wait(counted: int, context: dict[str, Any]) -> list[Asked]:
    """More than wait here? Those in a load may be among them, which is said."""
    there, inside = context["there"], context.get("inside", 0)
    if there is None or not inside or counted <= there:
        return [] if there is None else more_than_there(counted, there)
    return [Asked("more_than_wait", {"counted": counted, "there": there, "inside": inside})]


def _beyond_cap(cap: int | None, counted: int) -> list[Asked]:
    """More than may be made before the first piece is approved?"""
    return [] if cap is None or counted <= cap else [Asked("beyond_cap", {"counted": counted, "cap": cap})]


def stopped_use(typed: Typed, on: date) -> list[Asked]:
    """May a lot among those used not be used? It may have happened, but it is asked about."""
    stops = usable([use.lot_id for use in typed.used], "consume", on).values()
    first = next((stop for stop in stops if stop is not None), None)
    if first is None:
        return []
    if first.code == "held":
        return [Asked("held_lot_used", {})]
    return [Asked("stopped_lot_used", {"stop": say(first.code, first.figures)})]


def _done(request: HttpRequest, step: Step, typed: Typed, before: Event | None) -> bool:
    """Done by word, or by itself: nothing is left here and nothing more can come."""
    if before is not None:
        # Told again: what it meant then, though meanwhile the pieces are gone from here.
        return bool(before.data.get("told", {}).get("done"))
    if request.POST.get("done") == "yes":
        return True
    waits = waiting_at(step)
    through = typed.total - typed.rework
    if step.operation.kind == OperationKind.MAKE or not through or through != waits.lying + waits.rework:
        return False
    earlier = Step.objects.filter(batch=step.batch, number__lt=step.number).exclude(state=StepState.DONE)
    if still_to_come(step):
        return False
    return not earlier.exists() and not Load.objects.filter(step=step, ended_at=None, struck_by=None).exists()
