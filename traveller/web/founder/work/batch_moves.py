"""What the founder does with a batch's pieces where they lie: split, join, move a rest, take back scrap."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from traveller.batches.actions.found_good import found_good
from traveller.batches.actions.move_rest import move_rest
from traveller.batches.actions.recombine import recombine
from traveller.batches.actions.reroute import reroute
from traveller.batches.actions.split import split
from traveller.batches.models import Batch, Step
from traveller.batches.reads.queries import whereabouts
from traveller.batches.steps.answer import Answer
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to
from traveller.web.founder.desk.listing import answer_again, back_to
from traveller.web.founder.work.batches import batch_or_404, context_of
from traveller.web.founder.work.move_forms import MOVES, choices_of, place_in

_Told = dict[str, Any]


def _split(batch: Batch, reported: _Told, event_context: EventContext) -> Answer | Refusal:
    place = place_in(reported["place"], batch.lot_id or 0)
    figures = {"batch_id": batch.pk, "place": place, "quantity": reported["quantity"], "reason": reported["reason"]}
    return attempt(split, event_context=event_context, **figures)


def _join(batch: Batch, reported: _Told, event_context: EventContext) -> Answer | Refusal:
    lot, _, where = reported["other"].partition(":")
    place = place_in(where, int(lot))
    return attempt(
        recombine,
        event_context=event_context,
        lot_ids=[batch.lot_id or 0, place.lot_id],
        site_id=place.site_id,
        condition=place.condition,
        step=place.step,
        reason=reported["reason"],
    )


def _rest(batch: Batch, reported: _Told, event_context: EventContext) -> Answer | Refusal:
    kind, _, pk = reported["target"].partition(":")
    place = place_in(reported["place"], batch.lot_id or 0)
    return attempt(
        move_rest,
        event_context=event_context,
        batch_id=batch.pk,
        place=place,
        reason=reported["reason"],
        **{f"to_{kind}": int(pk)},
    )


def _found(batch: Batch, reported: _Told, event_context: EventContext) -> Answer | Refusal:
    step = Step.objects.get(pk=int(reported["step"]))
    return attempt(
        found_good,
        event_context=event_context,
        step_id=step.pk,
        quantity=reported["quantity"],
        reason=reported["reason"],
    )


def _reroute(batch: Batch, reported: _Told, event_context: EventContext) -> Answer | Refusal:
    step, site = int(reported["open_step"]), int(reported["site"])
    return attempt(reroute, event_context=event_context, step_id=step, site_id=site, reason=reported["reason"])


_DEEDS: dict[str, Callable[[Batch, _Told, EventContext], Answer | Refusal]] = {
    "split": _split,
    "join": _join,
    "rest": _rest,
    "found": _found,
    "reroute": _reroute,
}


@founder_page
@require_POST
def move(request: HttpRequest, desk: Desk, code: str, what: str) -> HttpResponse:
    """One of the forms of the batch page; it leads to the batch that the pieces are in now."""
    if what not in MOVES:
        raise Http404
    batch = batch_or_404(code)
    form = MOVES[what](choices_of(whereabouts([batch])[0]), request.POST, prefix=what, unit=batch.part.unit)
    context = {"here": link_to("batch", batch.code)}
    if not form.is_valid():
        return answer_again(request, desk, "work/batch.html", {**context_of(batch, desk, move_form=form), **context})
    event_context = event_context_of(request, desk)
    answer = (
        event_context if isinstance(event_context, Refusal) else _DEEDS[what](batch, form.cleaned_data, event_context)
    )
    if isinstance(answer, Refusal):
        return answer_again(
            request, desk, "work/batch.html", {**context_of(batch, desk, move_form=form), **context}, answer
        )
    there = answer.children[0] if answer.children else batch
    return back_to("batch", there.code, reported=answer.event.uid)
