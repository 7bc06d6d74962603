"""Report a problem: what it is with one tap, a photo if it helps, and the batch is held at once."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_POST

from sites.access import narrow
from traveller.batches.actions.attach import attach
from traveller.batches.actions.hold import report_problem
from traveller.batches.actions.take_back_problem import KIND, may_take_back, take_back_problem
from traveller.batches.files.stored import BYTES_MAX
from traveller.batches.models import Batch, Step, StepState
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.journal.unable import UNABLE
from traveller.web.door import attempt
from traveller.web.operator.reporting import event_context_here, just_reported, reported_url, tell_here
from traveller.web.operator.shop import actor_of, at_work, batches_here, page, site_of
from traveller.web.whole import whole
from traveller.web.words import say

# The words that stand in the record, and those on the plate: the maker reads one language, the shop its own.
_KINDS = (
    ("it looks wrong", _("It looks wrong"), "specks"),
    ("it does not fit or measure", _("It does not fit"), "fit"),
    ("wrong part or colour", _("Wrong part or colour"), "shade"),
    ("damaged", _("Damaged"), "crack"),
    ("machine or tool", _("Machine or tool"), "burr"),
    ("something else", _("Something else"), "other"),
)
# Why a photo may be missing beside a hold that stands.
PHOTO_REFUSED = frozenset(("file_empty", "file_too_large", "not_a_picture", *UNABLE, "no_step_here"))


@at_work
def problem(request: HttpRequest, code: str) -> HttpResponse:
    batch = get_object_or_404(batches_here(request), code=code)
    context: dict[str, Any] = {"batch": batch, "kinds": _KINDS}
    if request.method != "POST":
        reported = just_reported(request)
        if not reported:
            return page(request, "problem.html", context)
        lost = request.GET.get("photo", "")
        words = say(lost, {"megabytes_max": BYTES_MAX // 1024 // 1024}) if lost in PHOTO_REFUSED else ""
        return page(
            request, "problem_told.html", {**context, "confirmed": reported, "photo_lost": words, **_of(reported)}
        )
    event_context = event_context_here(request)
    if isinstance(event_context, Refusal):
        return page(request, "problem.html", context, refusal=event_context)
    answer = attempt(
        report_problem,
        event_context=event_context,
        batch_id=batch.pk,
        site_id=site_of(request).pk,
        reason=_reason(request),
    )
    if isinstance(answer, Refusal):
        return page(request, "problem.html", context, refusal=answer)
    lost = _keep_photo(request, event_context, batch)
    return redirect(
        reported_url("here_problem", batch.code, reported=str(answer.event.uid)) + (f"&photo={lost}" if lost else "")
    )


def _reason(request: HttpRequest) -> str:
    said = request.POST.get("what", "")
    words = request.POST.get("reason", "").strip()[:300]
    known = said if said in {kind for kind, _words, _drawing in _KINDS} else ""
    return ": ".join(text for text in (known, words) if text)


def _keep_photo(request: HttpRequest, event_context: EventContext, batch: Batch) -> str:
    """The photo beside the problem; why it was not taken, in a code. The hold stands whatever the photo is."""
    file = request.FILES.get("photo")
    if file is None:
        return ""
    if not file.size:
        return "file_empty"
    if file.size > BYTES_MAX:
        return "file_too_large"
    steps = list(Step.objects.filter(batch=batch, site=site_of(request)).order_by("number"))
    step = next((one for one in steps if one.state != StepState.DONE), steps[-1] if steps else None)
    if step is None:
        return "no_step_here"
    with whole(file) as content:
        answer = attempt(
            attach,
            event_context=event_context.derived("photo"),
            step_id=step.pk,
            content=content,
            name=file.name or "",
            kind="photo",
        )
    return answer.code if isinstance(answer, Refusal) else ""


def _of(uid: str) -> dict[str, Any]:
    """Whether what was just told is a problem that may be taken back, or one that was."""
    event = Event.objects.get(uid=uid)
    return {"taken_back": event.kind == KIND, "back_uid": uid if may_take_back(event, timezone.now()) else ""}


@require_POST
@at_work
def problem_back(request: HttpRequest, uid: UUID) -> HttpResponse:
    """It was no problem: within ten minutes, and while nobody has decided."""
    reported = narrow(Event.objects.all(), actor_of(request), "site")
    event = get_object_or_404(reported, uid=uid)
    batch = get_object_or_404(batches_here(request), subject__in=event.about.values("subject"))
    answer = tell_here(request, take_back_problem, event_id=event.pk)
    if isinstance(answer, Refusal):
        return page(request, "problem_told.html", {"batch": batch, "kinds": _KINDS}, refusal=answer)
    return redirect(reported_url("here_problem", batch.code, reported=str(answer.event.uid)))
