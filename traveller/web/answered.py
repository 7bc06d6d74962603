"""The answer to a form has come: wherever it leads, the page there lets the device forget what it kept of the form.

A device keeps a form, with the id of its news, until a page carries that id as `data-confirmed` (once.js). So that no
view has to think of it, the id travels in the address (`?told=`) through every redirect, and both layouts show it once
it stands in the journal. A page that knows better says `confirmed` itself.
"""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlencode, urlsplit, urlunsplit
from uuid import UUID

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.functional import SimpleLazyObject

from traveller.journal.record import reported_at, reported_before
from traveller.journal.refusal import Refusal
from traveller.web.door import new_uid
from traveller.web.who import who_of

# In the address of a page, and the cookie beside a paper.
TOLD = "told"
COOKIE_SECONDS = 3600
_PDF = "application/pdf"
# The door is no answer to a form, and the packer's forms are not kept.
ELSEWHERE = ("/person", "/sign-in", "/pack/")
# After these the id of the form stands for something that was told or made.
USED_UP = frozenset(("told_otherwise", "pass_shown_before"))
# Where the founder who speaks for a shop is that shop.
_SHOPS = ("/here/", "/pack/")


class AnsweredMiddleware:
    """Sends the id of a form's news along to the page that its answer leads to."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        there = answer.get("Location", "")
        if there.startswith("/") and not there.startswith(("//", *ELSEWHERE)):
            # A form's own id; or that of the form which led to a page that itself leads on.
            uid = _id(request.POST.get("news_id") if request.method == "POST" else request.GET.get(TOLD))
            if uid and uid not in there:
                answer["Location"] = _with(there, uid)
        elif request.method == "POST" and answer.get("Content-Type", "") == _PDF:
            # A paper is no page: the script of the page that is open next reads it here.
            uid = _id(request.POST.get("news_id"))
            if uid:
                secure = bool(settings.SESSION_COOKIE_SECURE)
                answer.set_cookie(TOLD, uid, max_age=COOKIE_SECONDS, samesite="Lax", secure=secure)
        return answer


def confirmed(request: HttpRequest) -> dict[str, object]:
    """For both layouts: the id of the news that led to this page, once the reader's journal has it; else nothing.

    Asked of the database only by a page that is led to, and only if it does not say `confirmed` itself.
    """
    return {"confirmed": SimpleLazyObject(lambda: reported_here(request))}


def reported_here(request: HttpRequest) -> str:
    """The id in `?told=` as text, when there is such news: any of the founder's journal, of a shop only its own."""
    uid = _id(request.GET.get(TOLD))
    if not uid or not hasattr(request, "who"):
        return ""
    who = who_of(request)
    if who.shop is not None and (who.founder is None or request.path.startswith(_SHOPS)):
        return uid if reported_at(UUID(uid), who.shop.site_id) else ""
    return uid if who.founder is not None and reported_before(UUID(uid)) else ""


def after_refusal(refusal: Refusal, news_id: str) -> dict[str, str]:
    """What a form that comes back says of its id, lest the page opened anew carry one that is refused for good.

    Other figures stand under it: the answer to it has come, the device lets it go. It cannot be used at all, so that
    nothing stands under it: the same form goes on under a new one.
    """
    if refusal.code in USED_UP:
        return {"confirmed": news_id}
    return {"news_id": str(new_uid())} if refusal.code == "form_without_id" else {}


def _id(text: str | None) -> str:
    """An id as it is written everywhere, or nothing."""
    try:
        return str(UUID(text or ""))
    except ValueError:
        return ""


def _with(there: str, uid: str) -> str:
    parts = urlsplit(there)
    query = "&".join(part for part in (parts.query, urlencode({TOLD: uid})) if part)
    return urlunsplit(parts._replace(query=query))
