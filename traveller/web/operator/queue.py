"""`POST /here/queue`: what a phone told while it had no signal, up to fifty forms at a time.

Each entry is told by the page it was meant for, in the order in which it was tapped; one that is refused never stops
the rest, and one that could not be told just now is overtaken by none. What comes back for each:

- `stored`: it is in the journal and booked. The same entry sent again is answered the same and changes nothing.
- `parked`: it is in the journal, but conflicts with other news or waits for it; the founder decides, or its cause.
- `refused`: it is not taken, and says why in words. The phone keeps it and shows a way out.
- `later`: the database is away, busy or full, for this entry or one before it. The phone sends it again. Where nothing
  at all could be asked of the database, the whole is answered with 503 (see `outage.py`), which means the same.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from typing import Any

from django.core.exceptions import RequestDataTooBig, SuspiciousOperation, TooManyFilesSent
from django.core.files.uploadedfile import UploadedFile
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.http.multipartparser import MultiPartParserError
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from sites.actor import Actor
from sites.models import Site
from sites.people import spelt
from traveller.batches.actions.keep_for_review import SentFile, keep_for_review
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.journal.unable import UNABLE, code_of
from traveller.rules.moments import EARLIEST
from traveller.web import outage
from traveller.web.door import Queued, attempt
from traveller.web.operator.envelope import ENVELOPE_BYTES_MAX, Entry, Envelope, Garbage, read_envelope
from traveller.web.operator.pace import PACE
from traveller.web.operator.reporting import SURE
from traveller.web.parts import inside
from traveller.web.parts.resubmitting import WAITS, cause_missing, is_reported, subject_of, tell_waiting, why_for_review
from traveller.web.who import shop_here, who_of
from traveller.web.words import say

_FILES_MAX = 10
RETRY_SECONDS = 5
# Not booked because of what is recorded already: both versions are shown to the founder.
CLASHES = frozenset(("already_received", "dispatch_taken_back", "counted_there", "form_came_back", "fault"))
CLASHES |= {"same_taken_back"}
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class _Answer:
    id: str
    state: str
    code: str = ""
    words: str = ""
    href: str = ""


# No token: a form of another site's page can send neither this content type nor this header without asking this
# server first, which never allows it, and the cookie of the pass is not sent along from there (SameSite=Lax).
@csrf_exempt
@require_POST
def queue(request: HttpRequest) -> HttpResponse:
    who = who_of(request)
    if who.shop is None or who.site is None or not shop_here(who, "operator", "packer"):
        return JsonResponse({"error": "pass_needed"}, status=401)
    try:
        envelope, files = _read(request)
    except Garbage as wrong:
        return JsonResponse({"error": "unreadable", "words": str(wrong)}, status=400)
    if envelope.site != who.site.pk:
        return JsonResponse({"error": "other_site"}, status=409)
    # Never nothing: an empty envelope, sent without end, is a flood too.
    wait = PACE.wait_seconds(str(who.shop.pass_id or f"site {who.site.pk}"), len(envelope.entries) or 1)
    if wait:
        return JsonResponse({"error": "too_many"}, status=429, headers={"Retry-After": str(wait)})
    now = timezone.now()
    ahead_ms = envelope.sent_at_ms - _ms(now)
    answers: list[_Answer] = []
    for entry in envelope.entries:
        before = answers[-1] if answers else None
        if before is not None and before.state == "later":
            answers.append(replace(before, id=entry.id))
        else:
            answers.append(_answered(request, who.site, who.shop, entry, files, ahead_ms))
    return JsonResponse({"now": _ms(timezone.now()), "answers": [asdict(answer) for answer in answers]})


def _read(request: HttpRequest) -> tuple[Envelope, list[tuple[str, UploadedFile[Any]]]]:
    """JSON alone, or one entry with its files."""
    if request.content_type == "application/json":
        return _read_json(request), []
    if request.content_type != "multipart/form-data" or request.headers.get("X-Queue") != "1":
        raise Garbage("neither application/json nor multipart/form-data with X-Queue: 1")
    try:
        # However large the files are: what is too much is dropped on the way in, and their page says so.
        envelope = read_envelope(request.POST.get("envelope", ""))
        files = [(name, file) for name, group in request.FILES.lists() for file in group]
    except (MultiPartParserError, SuspiciousOperation, TooManyFilesSent, OSError) as error:
        if code_of(error):
            # There was no room to put it down: no fault of what the phone sent.
            raise
        raise Garbage("the body could not be read") from error
    if len(envelope.entries) != 1 or len(files) > _FILES_MAX:
        raise Garbage(f"files come with one entry, at most {_FILES_MAX} of them")
    return envelope, [(name, file) for name, file in files if isinstance(file, UploadedFile)]


def _read_json(request: HttpRequest) -> Envelope:
    if int(request.META.get("CONTENT_LENGTH") or 0) > ENVELOPE_BYTES_MAX:
        raise Garbage(f"more than {ENVELOPE_BYTES_MAX} bytes")
    try:
        return read_envelope(request.body)
    except (RequestDataTooBig, OSError) as error:
        if code_of(error):
            raise
        raise Garbage("the body could not be read") from error


def _answered(
    request: HttpRequest,
    site: Site,
    actor: Actor,
    entry: Entry,
    files: list[tuple[str, UploadedFile[Any]]],
    ahead_ms: int,
) -> _Answer:
    """One entry, whatever becomes of it."""
    person = actor.person if actor.on_behalf else spelt(site, entry.person, actor.person)
    if entry.fault or entry.uid is None:
        return _refused(entry, "entry_unreadable", {"found": entry.fault})
    if not person:
        return _refused(entry, "person_needed")
    if any(name.startswith(SURE) and value == "no" for name, value in entry.fields):
        return _refused(entry, "said_no")
    fields = [*entry.fields, ("news_id", entry.id)]
    form = inside.Form(entry.path, fields, person, files)
    queued = Queued(_tapped(entry.at_ms, ahead_ms), ahead_ms)
    outage.noticed()
    try:
        answer = _reported(request, site, entry, form, queued)
    except Exception as error:
        code = code_of(error)
        if code:
            return _later(entry, code, error)
        # A fault of ours must not stop the rest, nor lose what was told: it is taken down and looked at.
        _log.exception("entry %s of a phone's queue", entry.id)
        return _for_review_after_fault(entry, site, actor, form, queued)
    # What came with it (a photo, a number) may have failed where the news itself did not: told again, it is added.
    missed = outage.noticed()
    if missed:
        return _later(entry, missed)
    if answer.state == "stored":
        with suppress(OperationalError, InterfaceError):
            tell_waiting(request, site)
    return answer


def _later(entry: Entry, code: str, error: Exception | None = None) -> _Answer:
    outage.notice(code)
    _log.warning("entry %s of a phone's queue: %s: %s", entry.id, code, str(error or "").strip())
    return _Answer(entry.id, "later", code, say(code))


def _tapped(at_ms: int, ahead_ms: int) -> datetime:
    """When it was tapped, by our clock. Whatever the phone's clock says, it was not later than now."""
    now = timezone.now()
    ours_ms = at_ms - ahead_ms
    if not _ms(EARLIEST) <= ours_ms <= _ms(now):
        return now
    return datetime.fromtimestamp(ours_ms / 1000, UTC)


def _reported(request: HttpRequest, site: Site, entry: Entry, form: inside.Form, queued: Queued) -> _Answer:
    """By its page; else set aside, or refused with the page's own words."""
    actor = who_of(request).shop
    assert actor is not None
    try:
        place = inside.match_news(form.path).url_name
        unreported = cause_missing(site.pk, form.path, form.fields)
        if unreported:
            return _for_review(entry, site, actor, form, queued, Refusal(unreported))
        answer = inside.tell(request, form, queued)
    except Http404:
        return _refused(entry, "no_such_task")
    if is_reported(answer):
        return _Answer(entry.id, "stored", href=str(answer.get("Location", "")))
    said = inside.unsaid(answer)
    if place == "here_start" and not said["wrong"]:
        # It was started, whatever stood in the way: that is news, where the page would have asked.
        answer = inside.tell(request, _with(form, ("already", "yes")), queued)
        if is_reported(answer):
            return _Answer(entry.id, "stored", href=str(answer.get("Location", "")))
    code = str(said["code"])
    if code in UNABLE:
        return _Answer(entry.id, "later", code, str(said["words"]))
    if said.get("asked") or code in CLASHES or code in WAITS:
        return _for_review(entry, site, actor, form, queued, Refusal(code, said["figures"]))
    return _Answer(entry.id, "refused", code, str(said["words"]) or say(code, said["figures"]))


def _with(form: inside.Form, *more: tuple[str, str]) -> inside.Form:
    return inside.Form(form.path, [*form.fields, *more], form.person, form.files)


def _for_review(entry: Entry, site: Site, actor: Actor, form: inside.Form, queued: Queued, why: Refusal) -> _Answer:
    """Taken down whole: the phone may forget it, the founder sees it."""
    assert entry.uid is not None
    now = timezone.now()
    event_context = EventContext(
        uid=entry.uid,
        at=min(queued.at, now),
        recorded_at=now,
        actor=replace(actor, person=form.person),
        device_offset_ms=queued.ahead_ms,
    )
    done = attempt(
        keep_for_review,
        event_context=event_context,
        site_id=site.pk,
        path=form.path,
        fields=entry.fields,
        reason=why.code,
        figures=why.figures,
        subject_id=subject_of(site.pk, form.path),
        files=_sent(form.files),
    )
    if isinstance(done, Refusal):
        state = "later" if done.code in UNABLE else "refused"
        return _Answer(entry.id, state, done.code, say(done.code, done.figures))
    if done.parked is None:
        return _Answer(entry.id, "stored")
    words = f"{say('set_aside')} {why_for_review(why.code, why.figures)}"
    return _Answer(entry.id, "parked", why.code, words)


def _sent(files: Any) -> Sequence[SentFile]:
    found = []
    for name, file in files:
        # One that was too large came without its content.
        file.seek(0)
        found.append(SentFile(name, file.name or "", file.read()))
    return found


def _for_review_after_fault(entry: Entry, site: Site, actor: Actor, form: inside.Form, queued: Queued) -> _Answer:
    try:
        return _for_review(entry, site, actor, form, queued, Refusal("fault"))
    except Exception as error:
        code = code_of(error)
        if code:
            return _later(entry, code, error)
        # It stays on the phone, which shows it and may try again; it must not bar the way for ever.
        _log.exception("entry %s of a phone's queue could not even be set aside", entry.id)
        return _refused(entry, "fault_kept")


def _refused(entry: Entry, code: str, figures: dict[str, Any] | None = None) -> _Answer:
    return _Answer(entry.id, "refused", code, say(code, figures))


def _ms(moment: datetime) -> int:
    return int(moment.timestamp() * 1000)
