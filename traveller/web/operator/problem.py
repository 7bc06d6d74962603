"""Report a problem: a few words, and the batch is held at once."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from traveller.batches.actions.hold import report_problem
from traveller.journal.refusal import Refusal
from traveller.web.door import attempt, stamp_from
from traveller.web.operator.shop import actor_of, at_work, batches_here, page, site_of


@at_work
def problem(request: HttpRequest, code: str) -> HttpResponse:
    batch = get_object_or_404(batches_here(request), code=code)
    context = {"batch": batch, "values": request.POST}
    if request.method != "POST":
        return page(request, "problem.html", context)
    stamp = stamp_from(request, actor_of(request), site_of(request).zone)
    if isinstance(stamp, Refusal):
        return page(request, "problem.html", context, refusal=stamp)
    reason = request.POST.get("reason", "").strip()[:300]
    answer = attempt(report_problem, stamp=stamp, batch_id=batch.pk, site_id=site_of(request).pk, reason=reason)
    if isinstance(answer, Refusal):
        return page(request, "problem.html", context, refusal=answer)
    return page(request, "problem_told.html", {**context, "confirmed": str(answer.event.uid)})
