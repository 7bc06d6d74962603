"""A cookie that cannot be read must not cost the pass.

The production server hands on an empty text in place of a header with anything but ASCII in it, so that one cookie of
that kind (written by an earlier release, or by another program of the same host) hides all others. `wsgi.py` marks
such a request. Our own name of a person is taken off the phone and the page asked for once more; if that was not it,
a script clears what it can see, and the page says in words what else there is to do.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render

from traveller.web.person_cookie import PERSON_COOKIE

Environ = dict[str, Any]
MADE_READABLE = "traveller.cookies_unreadable"
AGAIN = "cookies"
RETRY_SECONDS = 5


def marked(application: Callable[[Environ, Any], Any]) -> Callable[[Environ, Any], Any]:
    """For the server's door: a browser sends no cookie header rather than an empty one."""

    def marking(environ: Environ, start_response: Any) -> Any:
        if environ.get("HTTP_COOKIE") == "":
            environ[MADE_READABLE] = True
        return application(environ, start_response)

    return marking


class WholeCookiesMiddleware:
    """Forgets cookies with a NUL or the like in them: PostgreSQL takes one in the session's key for a fault."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        for name in [name for name, value in request.COOKIES.items() if not (name + value).isprintable()]:
            del request.COOKIES[name]
        return self.get_response(request)


class ReadableCookiesMiddleware:
    """Answers requests whose cookies cannot be read, and no others."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not request.META.get(MADE_READABLE):
            return self.get_response(request)
        asked = request.META.get("QUERY_STRING", "")
        if request.headers.get("accept", "").startswith("application/json"):
            answer: HttpResponse = JsonResponse({"error": "cookies_unreadable"}, status=503)
        elif request.method == "GET" and AGAIN not in request.GET:
            answer = redirect(f"{quote(request.path)}?{asked}{'&' if asked else ''}{AGAIN}=again")
        else:
            # A form is not led on: it stays with who sent it, as it does whenever the server cannot take it.
            answer = render(request, "web/unreadable_cookies.html", status=503)
        if answer.status_code == 503:
            answer["Retry-After"] = str(RETRY_SECONDS)
        answer["Cache-Control"] = "no-store"
        answer.delete_cookie(PERSON_COOKIE, samesite="Lax")
        return answer
