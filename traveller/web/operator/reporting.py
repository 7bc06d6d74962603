"""From a posted form to news: its event context, whether it was told before, and what is asked before it is told."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, TypeVar
from uuid import UUID

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import reverse

from sites.access import narrow
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import reported_before, reported_elsewhere
from traveller.journal.refusal import Refusal
from traveller.web.door import Asked, attempt, event_context_from, queued_of
from traveller.web.operator.shop import actor_of, page, site_of
from traveller.web.question_words import answers_to
from traveller.web.words import say

T = TypeVar("T")
SURE = "sure:"
# Asked of news that waited on a phone too, since somebody else told something meanwhile: for the founder to answer.
CONFLICTS = frozenset(("same_again", "same_bad_again", "same_shots_again", "step_was_done", "batch_was_closed"))
CONFLICTS |= {"load_was_out", "nothing_arrived", "none_after_all"}
NOT_CARRIED = ("csrfmiddlewaretoken", "news_id")


def event_context_here(request: HttpRequest) -> EventContext | Refusal:
    """The event context of a form of this shop; a time that was typed needs the reason why it is told late."""
    event_context = event_context_from(request, actor_of(request), site_of(request).zone)
    if isinstance(event_context, Refusal):
        found = str(event_context.figures.get("found", ""))
        return Refusal(event_context.code, {"found": found.replace("T", " ")}) if found else event_context
    if reported_elsewhere(event_context.uid, site_of(request).pk):
        # Another site's news: not a word about what it is, nor that it is.
        return Refusal("form_without_id")
    typed = request.POST.get("at", "").strip()
    if typed and not late_reason(request):
        return Refusal("late_reason_needed")
    return event_context


def late_reason(request: HttpRequest) -> str:
    return request.POST.get("late_reason", "").strip()[:200]


def note_of(request: HttpRequest) -> str:
    """The remark, and why it was told late if so."""
    said = (request.POST.get("note", "").strip()[:90], late_reason(request) if request.POST.get("at") else "")
    return "; ".join(text for text in said if text)


def event_here(request: HttpRequest, uid: str) -> Event | None:
    """An event of this site by its id, None for anything else."""
    try:
        wanted = UUID(uid)
    except ValueError:
        return None
    # Most news is told once: whether there is such an event is asked before it is read.
    if not reported_before(wanted):
        return None
    return narrow(Event.objects.all(), actor_of(request), "site").filter(uid=wanted).first()


def tell_here(request: HttpRequest, action: Callable[..., T | Refusal], **reported: Any) -> T | Refusal:
    """Do an action of this shop's under the event context of its form."""
    event_context = event_context_here(request)
    return (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(action, event_context=event_context, **reported)
    )


def already_recorded(request: HttpRequest) -> Event | None:
    """The event that this very form already became: then nothing is asked again, the action answers the same."""
    return event_here(request, request.POST.get("news_id", ""))


def just_reported(request: HttpRequest) -> str:
    """The id of the news that led to this page (`?told=`), once it stands in the journal: the phone may forget it."""
    uid = request.GET.get("told", "")
    return uid if uid and event_here(request, uid) else ""


def unanswered(request: HttpRequest, questions: Iterable[Asked]) -> Asked | None:
    """The first question that nobody has said yes to; each is answered by its own name.

    News that waited on a phone can be asked nothing: it happened. Only where it conflicts with other news is it asked.
    """
    queued = queued_of(request)
    if queued and queued.taken:
        return None
    return next(
        (
            asked
            for asked in questions
            if request.POST.get(f"{SURE}{asked.code}") != "yes" and (queued is None or asked.code in CONFLICTS)
        ),
        None,
    )


def form_let_go(request: HttpRequest) -> str:
    """The id of a form that led here and of which nothing was to be recorded: the phone may forget it, too."""
    try:
        return str(UUID(request.GET.get("told", "")))
    except ValueError:
        return ""


def said_no(request: HttpRequest) -> bool:
    """Change it: the form comes back with what was typed."""
    return any(name.startswith(SURE) and value == "no" for name, value in request.POST.items())


def carried(request: HttpRequest, *own: str) -> list[tuple[str, str]]:
    """What was typed on another page of the same form, to be sent along unseen; `own` are this page's fields."""
    dropped = {*NOT_CARRIED, *own}
    return [
        (name, value)
        for name, values in request.POST.lists()
        for value in values
        if name not in dropped and not (name.startswith(SURE) and value == "no")
    ]


def ask(
    request: HttpRequest, asked: Asked, context: dict[str, Any], why: str = "", same: UUID | str = ""
) -> HttpResponse:
    """ "You typed 1,400; only 1,132 are here" as a page of its own, with all that was typed behind it.

    `same`: the value of a further answer, that it is what was recorded before under this id.
    """
    if queued_of(request):
        return JsonResponse(
            {"code": asked.code, "figures": asked.figures, "words": say(asked.code, asked.figures), "asked": True},
            status=409,
        )
    name = f"{SURE}{asked.code}"
    shown = {"question": say(asked.code, asked.figures), "why": why, "sure": name, "carried": carried(request, name)}
    answers = {"answers": answers_to(asked.code, asked.figures), "same": same}
    return page(request, "ask.html", {**context, **shown, **answers})


def reported_url(name: str, *args: Any, reported: str) -> str:
    """The address of a page, with the news that it confirms."""
    return f"{reverse(name, args=args)}?told={reported}"
