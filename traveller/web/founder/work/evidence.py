"""A file that proves something: shown, read out, judged, and given back as it was sent."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from traveller.batches.actions.attach import understand
from traveller.batches.files.decoded import log_of
from traveller.batches.models import Attachment, AttachmentKind, Verdict
from traveller.journal.refusal import Refusal
from traveller.rules.logs import Log
from traveller.web.door import attempt, read_time
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, show
from traveller.web.founder.desk.listing import answer_again, back_to
from traveller.web.log_picture import log_shown, words_without
from traveller.web.log_words import Seen, answer_in, seen
from traveller.web.pictures.log_chart import log_chart
from traveller.web.pictures.marks import MarkDrawn
from traveller.web.shown_file import also_sent, as_original, as_picture, pages_in, reading_in
from traveller.web.words import say


def attachment_or_404(attachment_id: int) -> Attachment:
    rows = Attachment.objects.select_related(
        "file", "load", "event__site", "struck_by", "step__operation", "step__site", "step__batch__part"
    )
    found = rows.defer("file__content", "step__batch__part__picture").filter(pk=attachment_id).first()
    if found is None:
        raise Http404
    return found


@require_http_methods(["GET", "HEAD", "POST"])
@founder_page
def evidence(request: HttpRequest, desk: Desk, attachment_id: int) -> HttpResponse:
    """What it is, what it was sent for, and for a log: picture, table, what was understood, the verdicts.

    What the reader of a log cannot know is asked here too, and answered by a tap.
    """
    found = attachment_or_404(attachment_id)
    context = _context(found, desk)
    if request.method == "POST":
        return _answered(request, desk, found, context)
    return show(request, desk, "work/evidence.html", context)


def _answered(request: HttpRequest, desk: Desk, found: Attachment, context: dict[str, Any]) -> HttpResponse:
    log: Seen = context.get("log", Seen(""))
    if not log.question:
        # Sent twice, or answered by the shop meanwhile: the page says how it is read now.
        return back_to("evidence", found.pk)
    typed = request.POST.get("start", "").strip()
    answers = answer_in(request.POST, log, found.step.site.zone)
    if not answers:
        reported = read_time(typed, found.step.site.zone) if typed else None
        wrong = (
            say(reported.code, reported.figures) if isinstance(reported, Refusal) else _("Choose one of the answers.")
        )
        kept = {"news_id": request.POST.get("news_id", ""), "bound": True, "typed": typed, "refusal": wrong}
        return show(request, desk, "work/evidence.html", {**context, **kept}, status=422)
    event_context = event_context_of(request, desk)
    answer = event_context if isinstance(event_context, Refusal) else attempt(
        understand, event_context=event_context, attachment_id=found.pk, answers=answers
    )  # fmt: skip
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "work/evidence.html", context, answer)
    return back_to("evidence", found.pk, reported=answer.event.uid)


def _context(found: Attachment, desk: Desk) -> dict[str, Any]:
    context: dict[str, Any] = {
        "section": "home",
        "title": found.name,
        "sentence": _sentence(found),
        "proof": found,
        "batch": found.step.batch,
        **reading_in(found, desk.now),
        **pages_in(found),
        **also_sent(found, Attachment.objects.filter(file=found.file_id)),
    }
    if found.is_log:
        context |= _log_context(found, desk)
    return context


def _log_context(found: Attachment, desk: Desk) -> dict[str, Any]:
    zone, load, log = found.step.site.zone, found.load, log_of(found)
    words = seen(
        log,
        zone,
        started_at=load.started_at if load else None,
        ended_at=load.ended_at if load else None,
        now=desk.now,
    )
    context: dict[str, Any] = {"log": words, "answers": found.answers, "zone": zone.key}
    if isinstance(log, Log):
        picture = log_shown(found, log, zone)
        context |= {
            "chart": log_chart(picture.chart, 1120, "logw"),
            "chart_narrow": log_chart(picture.chart, 340, "logn"),
            "rows": picture.rows,
            "models": picture.models,
            "limits": picture.limits,
            "verdicts": [
                (row.check_key.replace("-", " "), _mark(row), _outcome(row), words_without(row, picture.model_notes))
                for row in picture.verdicts
            ],
        }
    return context


def _mark(row: Verdict) -> MarkDrawn:
    if row.conceded_event_id:
        return "free"
    return "free" if row.outcome == "passed" else "held" if row.outcome == "failed" else "doubt"


def _outcome(row: Verdict) -> str:
    word = {"passed": _("passed"), "failed": _("failed"), "missing": _("not shown yet")}[row.outcome]
    return _("%(outcome)s, conceded") % {"outcome": word} if row.conceded_event_id else word


def _sentence(found: Attachment) -> str:
    figures = {
        "what": str(AttachmentKind(found.kind).label).capitalize(),
        "step": found.step.number,
        "verb": found.step.operation.verb,
        "part": found.step.batch.part.title,
    }
    if found.load:
        return _("%(what)s of load %(load)s, step %(step)s, %(verb)s: %(part)s.") % {
            **figures,
            "load": found.load.number,
        }
    return _("%(what)s of step %(step)s, %(verb)s: %(part)s.") % figures


@require_safe
@founder_page
def original(request: HttpRequest, desk: Desk, attachment_id: int) -> HttpResponse:
    """The file as it was sent, to be saved."""
    return as_original(attachment_or_404(attachment_id))


@require_safe
@founder_page
def picture(request: HttpRequest, desk: Desk, attachment_id: int) -> HttpResponse:
    """The photo drawn anew, without what the phone wrote into it; of a PDF certificate a page."""
    return as_picture(request, attachment_or_404(attachment_id))
