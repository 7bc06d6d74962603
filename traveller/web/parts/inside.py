"""A page of the operator called from inside, with the pass of the request that asks.

What a phone told without a signal is the very form that it would have posted, and a page kept on a phone is the very
page that it would have fetched: so parsing, access and action are those of the page. No middleware stands between,
hence no sign-in, no CSRF token and no session of its own: whoever calls has passed the door already.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, cast
from urllib.parse import urlsplit

from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.middleware.csrf import get_token
from django.urls import ResolverMatch, resolve
from django.utils.datastructures import MultiValueDict

from traveller.web.door import Queued
from traveller.web.who import Who, nothing_there, who_of

ADDRESSES = "traveller.web.operator.urls"
PREFIX = "/here"
# What tells no news: called from here itself, finding a code, printing a paper for nobody to take, only to be read.
NOT_NEWS = frozenset(("here_queue", "here_keep", "here_unsent", "here_scan", "here_photo", "here_lost"))
NOT_NEWS |= {"here_label", "here_note", "here_paper", "here", "here_code", "here_code_step", "here_step"}
NOT_NEWS |= {"here_else", "here_told", "here_sent", "here_proof_picture"}
# What a page may ask its request about the browser and the server.
CARRIED: tuple[str, ...] = ("HTTP_HOST", "SERVER_NAME", "SERVER_PORT", "REMOTE_ADDR", "HTTP_ACCEPT_LANGUAGE")
CARRIED += ("HTTP_USER_AGENT", "HTTP_X_FORWARDED_PROTO", "CSRF_COOKIE", "wsgi.url_scheme")


@dataclass(frozen=True, slots=True)
class Form:
    """A form as a page would have posted it, and who tapped it."""

    path: str
    fields: Iterable[tuple[str, str]]
    person: str
    files: Iterable[tuple[str, UploadedFile[Any]]] = ()


def matched_view(path: str) -> ResolverMatch:
    """Which page of the operator an address leads to; Http404 for any other."""
    place = urlsplit(path).path
    if not place.startswith(f"{PREFIX}/"):
        raise Http404
    found = resolve(place.removeprefix(PREFIX), urlconf=ADDRESSES)
    if nothing_there(found.kwargs):
        raise Http404
    return found


def match_news(path: str) -> ResolverMatch:
    """Which form that tells news an address is that of; Http404 for any other page."""
    found = matched_view(path)
    if found.url_name in NOT_NEWS:
        raise Http404
    return found


def get(request: HttpRequest, path: str) -> HttpResponse:
    """The page as this pass sees it, to be kept on the phone: without a number of its own for the news it tells."""
    found = matched_view(path)
    if found.url_name in ("here_queue", "here_keep"):
        raise Http404
    # Tokens of kept forms must fit the cookie that this answer leaves on the phone.
    get_token(request)
    inner = _request(request, path, "GET", found)
    inner.who = who_of(request)
    inner.kept = True
    return _called(found, inner)


def tell(request: HttpRequest, form: Form, queued: Queued, who: Who | None = None) -> HttpResponse:
    """Post a form that waited: a redirect when it is recorded, else data that says why not.

    `who` is whose pass it was, where another than the request's: the founder takes what a shop told.
    """
    found = match_news(form.path)
    inner = _request(request, form.path, "POST", found)
    who = who or who_of(request)
    if who.shop is None:
        raise Http404
    inner.who = who if who.shop.on_behalf else replace(who, shop=replace(who.shop, person=form.person))
    typed = QueryDict(mutable=True)
    for name, value in form.fields:
        typed.appendlist(name, value)
    inner.POST, inner.queued = typed, queued
    files: MultiValueDict[str, UploadedFile[Any]] = MultiValueDict()
    for name, file in form.files:
        files.appendlist(name, file)
    inner.FILES = files
    return _called(found, inner)


def unsaid(answer: HttpResponse) -> dict[str, Any]:
    """Why a form was not recorded, as its page said it to us (see shop.page and telling.ask)."""
    none = {"code": "no_such_task", "figures": {}, "words": "", "wrong": {}}
    if not answer.get("Content-Type", "").startswith("application/json"):
        return none
    return {**none, **json.loads(answer.content)}


def _request(request: HttpRequest, path: str, method: str, found: ResolverMatch) -> Any:
    """A request of its own, so that nothing of one form is left when the next is told."""
    asked = urlsplit(path)
    inner: Any = HttpRequest()
    inner.method = method
    inner.path = inner.path_info = asked.path
    inner.META = {name: request.META[name] for name in CARRIED if name in request.META}
    inner.META["QUERY_STRING"] = asked.query
    inner.GET = QueryDict(asked.query)
    inner.user, inner.session = request.user, request.session
    inner.resolver_match = found
    return inner


def _called(found: ResolverMatch, inner: Any) -> HttpResponse:
    return cast(HttpResponse, found.func(inner, *found.args, **found.kwargs))
