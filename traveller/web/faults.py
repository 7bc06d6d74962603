"""The pages of refusals and faults. They are shown when something is wrong already, so nothing here may go wrong.

Django's own ask for a form's token once more, which reads the form that could not be read; these ask for nothing.
Where even the page cannot be made (no database, no template), the same is said in bare words.
"""

from __future__ import annotations

import logging
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

__all__ = ["bad_request", "fault", "not_allowed", "not_there", "page_too_old", "unreadable"]

_log = logging.getLogger(__name__)
_BARE = (
    '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
    '<title>{title}</title></head><body><h1>{title}</h1><p>{words}</p><p><a href="/">Back to the beginning</a></p>'
    "</body></html>\n"
)
_SAID: dict[int, tuple[str, str]] = {
    400: (
        "The message could not be read.",
        "Nothing was recorded. Go back, load the page again and send once more.",
    ),
    403: (
        "This was not accepted.",
        "The page may have been open too long. Go back, load the page again and send once more: "
        "what you typed is kept on this phone.",
    ),
    404: (
        "There is nothing here.",
        "The address may be mistyped, or it is not for this phone. If you scanned a traveller, scan it again.",
    ),
    500: (
        "Something went wrong on our side.",
        "Nothing was recorded. What you typed is kept on this phone: go back and send it again.",
    ),
}


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """400: the request itself cannot be read."""
    return unreadable(request)


def unreadable(request: HttpRequest, *, status: int = 400) -> HttpResponse:
    """The same page for a request that is refused before a view is chosen: 400, 415."""
    return _page(request, "400.html", 400, status)


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    """403."""
    return _page(request, "403.html", 403)


def page_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """403 for a form without its token."""
    return _page(request, "403_csrf.html", 403)


def not_there(request: HttpRequest, exception: Exception) -> HttpResponse:
    """404."""
    return _page(request, "404.html", 404)


def fault(request: HttpRequest) -> HttpResponse:
    """500. The page stands alone: it asks for no request, session or database."""
    return _page(None, "500.html", 500)


def _page(request: HttpRequest | None, template: str, said: int, status: int | None = None) -> HttpResponse:
    body: Any
    try:
        body = render_to_string(template, request=request)
    except Exception:  # whatever it is: somebody waits for an answer, and the reason is in the log
        _log.exception("The page %s could not be made", template)
        title, words = _SAID[said]
        body = _BARE.format(title=title, words=words)
    return HttpResponse(body, status=status or said)
