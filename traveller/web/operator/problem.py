"""Report a problem: a few words, and the batch is held at once."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from traveller.batches.actions.hold import report_problem
from traveller.journal.refusal import Refusal
from traveller.web.door import attempt
from traveller.web.operator.shop import at_work, batches_here, page, site_of
from traveller.web.operator.telling import just_told, stamp_here, told_url


@at_work
def problem(request: HttpRequest, code: str) -> HttpResponse:
    batch = get_object_or_404(batches_here(request), code=code)
    context: dict[str, Any] = {"batch": batch}
    if request.method != "POST":
        told = just_told(request)
        return page(request, "problem_told.html" if told else "problem.html", {**context, "confirmed": told})
    stamp = stamp_here(request)
    if isinstance(stamp, Refusal):
        return page(request, "problem.html", context, refusal=stamp)
    reason = request.POST.get("reason", "").strip()[:300]
    answer = attempt(report_problem, stamp=stamp, batch_id=batch.pk, site_id=site_of(request).pk, reason=reason)
    if isinstance(answer, Refusal):
        return page(request, "problem.html", context, refusal=answer)
    return redirect(told_url("here_problem", batch.code, told=str(answer.event.uid)))
