"""What proves it: a logger's file, a photo or a certificate, sent from the phone and kept whatever it says."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from sites.access import narrow
from traveller.batches.actions.attach import attach, understand
from traveller.batches.files.decoded import USABLE, log_of
from traveller.batches.files.stored import BYTES_MAX
from traveller.batches.models import Attachment, Load, Step, Verdict
from traveller.batches.models.attachment import LOG_KINDS
from traveller.journal.refusal import Refusal
from traveller.products.frozen import checks_of
from traveller.rules.logs import Log
from traveller.web.door import attempt, read_time
from traveller.web.log_picture import log_shown
from traveller.web.log_words import Seen, seen
from traveller.web.operator.reporting import event_context_here, reported_url, tell_here
from traveller.web.operator.shop import actor_of, at_work, page, site_of, step_here
from traveller.web.pictures.log_chart import log_chart
from traveller.web.shown_file import also_sent, as_picture, pages_in, reading_in
from traveller.web.whole import whole
from traveller.web.words import say

MARKS = {"passed": "free", "failed": "held", "missing": "two"}


def asks_log(row: Step) -> bool:
    """Some check of this step is judged by a temperature log."""
    plans = checks_of(row.operation_id)
    return any("log" in plan.kind.needs for plan in plans)


def asks_core(row: Step) -> bool:
    """Some check of this step may need to know how hot it was inside a part."""
    return any("core" in plan.kind.needs for plan in checks_of(row.operation_id))


def without_log(row: Step) -> Load | None:
    """The first load that is out and has no log yet, of its own or of the whole step."""
    usable = Attachment.objects.filter(USABLE, step=row, kind="log", struck_by=None)
    sent = set(usable.values_list("load", flat=True))
    out = Load.objects.filter(step=row, struck_by=None).exclude(ended_at=None).order_by("number")
    return None if None in sent else next((load for load in out if load.pk not in sent), None)


def proofs_of(row: Step) -> list[Attachment]:
    """What was sent for a step and still stands."""
    rows = Attachment.objects.filter(step=row, struck_by=None).select_related("load", "event", "reading")
    return list(rows.defer("reading__content").order_by("id"))


@at_work
def send_proof(request: HttpRequest, step_id: int) -> HttpResponse:
    """Choose a file; what came of it is said on a page of its own."""
    step = step_here(request, step_id)
    loads = list(Load.objects.filter(step=step, struck_by=None).order_by("number"))
    asked = request.POST if request.method == "POST" else request.GET
    logs = asks_log(step)
    context: dict[str, Any] = {
        "step": step,
        "batch": step.batch,
        "loads": loads,
        "load": next((one for one in loads if str(one.uid) == asked.get("load")), None),
        "kind": asked.get("kind") or ("log" if logs else "photo"),
        "kinds": _kinds(logs=logs, cores=bool(loads) and asks_core(step)),
    }
    if request.method != "POST":
        return page(request, "proof.html", context)
    answer = _attached(request, step, str(context["kind"]))
    if isinstance(answer, Refusal):
        return page(request, "proof.html", context, refusal=answer)
    return redirect(reported_url("here_proof_seen", answer.pk, reported=str(answer.event.uid)))


def _kinds(*, logs: bool, cores: bool) -> list[tuple[str, str]]:
    ways = [("log", _("Temperature log"))] if logs else []
    ways += [("core", _("Log from inside a part"))] if cores else []
    return [*ways, ("photo", _("Photo")), ("certificate", _("Certificate"))]


def _attached(request: HttpRequest, step: Step, kind: str) -> Attachment | Refusal:
    """The file as it came, to the bytes; one that is too large is not even read."""
    event_context = event_context_here(request)
    if isinstance(event_context, Refusal):
        return event_context
    file = request.FILES.get("file")
    if file is None or not file.size:
        return Refusal("file_empty")
    if file.size > BYTES_MAX:
        return Refusal("file_too_large", {"megabytes_max": BYTES_MAX // 1024 // 1024})
    reported = request.POST.get("load", "")
    load = next((one for one in Load.objects.filter(step=step, struck_by=None) if str(one.uid) == reported), None)
    with whole(file) as content:
        answer = attempt(
            attach,
            event_context=event_context,
            step_id=step.pk,
            content=content,
            name=file.name or "",
            kind=kind,
            load=load.uid if load else None,
            # A logger at this site shows this site's time, unless its file says otherwise.
            answers={"zone": site_of(request).zone.key} if kind in LOG_KINDS else {},
        )
    if isinstance(answer, Refusal):
        return answer
    return Attachment.objects.select_related("event").get(event=answer.event)


def proof_here(request: HttpRequest, attachment_id: int) -> Attachment:
    """A file that this site sent; one of another site does not exist here."""
    rows = Attachment.objects.select_related(
        "file", "load", "event", "step__operation", "step__site", "step__batch__part", "step__batch__lot"
    ).defer("file__content", "step__batch__part__picture")
    return get_object_or_404(narrow(rows, actor_of(request), "step__site"), pk=attachment_id)


@at_work
def proof_seen(request: HttpRequest, attachment_id: int) -> HttpResponse:
    """What the reader understood, and the one thing that it cannot know; a tap answers."""
    found = proof_here(request, attachment_id)
    context = _seen_context(request, found)
    if request.method != "POST":
        return page(request, "proof_seen.html", context)
    answers = _answer(request, context["log"])
    if not answers:
        typed = read_time(request.POST.get("start", "").strip(), site_of(request).zone)
        wrong = {"start": say(typed.code, typed.figures)} if isinstance(typed, Refusal) else {}
        return page(request, "proof_seen.html", {**context, "wrong": wrong}, status=422)
    answer = tell_here(request, understand, attachment_id=found.pk, answers=answers)
    if isinstance(answer, Refusal):
        return page(request, "proof_seen.html", context, refusal=answer)
    return redirect(reported_url("here_proof_seen", found.pk, reported=str(answer.event.uid)))


def _seen_context(request: HttpRequest, found: Attachment) -> dict[str, Any]:
    load, zone = found.load, site_of(request).zone
    log, chart = None, ""
    if found.is_log:
        read = log_of(found)
        if isinstance(read, Log):
            # Our own drawing, its words escaped; the verdict stands below it in full.
            chart = SafeString(log_chart(replace(log_shown(found, read, zone).chart, verdict=""), 340))
        log = seen(
            read,
            zone,
            started_at=load.started_at if load else None,
            ended_at=load.ended_at if load else None,
            now=timezone.now(),
        )
    others = narrow(Attachment.objects.filter(file=found.file_id), actor_of(request), "step__site")
    rows = Verdict.objects.filter(step=found.step_id, load=found.load_id, latest=True)
    return {
        "step": found.step,
        "batch": found.step.batch,
        "proof": found,
        "load": load,
        "log": log,
        "chart": chart,
        **reading_in(found, timezone.now()),
        **pages_in(found),
        "verdicts": [(MARKS[row.outcome], say(row.code, row.figures)) for row in _of_logs(found.step, rows)],
        **also_sent(found, others),
    }


def _of_logs(step: Step, rows: Any) -> list[Verdict]:
    """Verdicts of the checks that look at logs."""
    keys = {plan.key for plan in checks_of(step.operation_id) if "log" in plan.kind.needs}
    return [row for row in rows.order_by("id") if row.check_key in keys]


def _answer(request: HttpRequest, log: Seen | None) -> dict[str, str]:
    """What was tapped, if it was among the choices; or the start of the log as it was typed, in site time."""
    if log is None:
        return {}
    for choice in log.choices:
        if request.POST.get(choice.field) == choice.value:
            return {choice.field: choice.value}
    if not log.asks_time:
        return {}
    start = read_time(request.POST.get("start", "").strip(), site_of(request).zone)
    return {} if isinstance(start, Refusal) else {"start": start.isoformat()}


@require_safe
@at_work
def proof_picture(request: HttpRequest, attachment_id: int) -> HttpResponse:
    """The photo drawn anew, without what the phone wrote into it; of a PDF certificate a page."""
    return as_picture(request, proof_here(request, attachment_id))
