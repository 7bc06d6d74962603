"""A wrong figure put right by whoever told it: the first stays in the record, crossed out."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from sites.access import narrow
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.models import Count
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.web.operator.counted import REASON, read_form, reasons_of
from traveller.web.operator.reporting import tell_here
from traveller.web.operator.shop import actor_of, at_work, page, step_here


@at_work
def correct(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Say what a count should have been, with the reason."""
    event = get_object_or_404(narrow(Event.objects.filter(kind="counted"), actor_of(request), "site"), uid=uid)
    rows = list(Count.objects.filter(event=event))
    if not rows:
        raise Http404
    step = step_here(request, rows[0].step_id)
    stood: dict[str, int] = {"good": rows[0].good, "rework": rows[0].rework, "samples": rows[0].samples}
    stood |= {f"{REASON}{reason}": pieces for reason, pieces in rows[0].by_reason.items()}
    names = ["good", *[f"{REASON}{reason}" for reason in reasons_of(step)], "rework"]
    typed = read_form(request, step) if request.method == "POST" else None
    wrong = typed.wrong if typed else {}

    def field(place: int, name: str) -> dict[str, Any]:
        value = request.POST.get(name, stood.get(name, 0) or "")
        words = name.removeprefix(REASON) if name.startswith(REASON) else ""
        return {"name": name, "id": f"id_c{place}", "words": words, "value": value, "error": wrong.get(name, "")}

    context: dict[str, Any] = {
        "step": step,
        "batch": step.batch,
        "event": event,
        "rows": [field(place, name) for place, name in enumerate(names)],
        "wrong": wrong,
    }
    if typed is None:
        return page(request, "correct.html", context)
    if wrong:
        return page(request, "correct.html", context, status=422)
    answer = tell_here(
        request,
        correct_count,
        event_id=event.pk,
        reason=request.POST.get("reason", "").strip()[:200],
        good=typed.good,
        scrap=typed.scrap,
        rework=typed.rework,
        samples=stood["samples"],
    )
    if isinstance(answer, Refusal):
        return page(request, "correct.html", context, refusal=answer)
    return redirect("here_told", answer.event.uid)
