"""Everything is written in UTF-8 here. A request that names another charset is refused before anybody reads it.

Browsers send UTF-8, because our pages are. With another name Django would decode address and form by a codec of the
sender's choice. Some of them are no text at all ("hex"): then it fails where the request is made, before any page or
handler could answer.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpRequest, HttpResponseBase
from django.utils.http import parse_header_parameters

from traveller.web.faults import unreadable

__all__ = ["OnlyUtf8Middleware", "Utf8Request", "charset_of"]

UNSUPPORTED_MEDIA_TYPE = 415
KNOWN = {"utf-8", "utf8"}


class Utf8Request(WSGIRequest):
    """A request that is never read in a charset of the sender's choice: the middleware refuses those."""

    def _set_content_type_params(self, meta: dict[str, Any]) -> None:
        self.content_type, self.content_params = parts_of(meta.get("CONTENT_TYPE", ""))


class OnlyUtf8Middleware:
    """Stands before whatever reads fields."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        charset = charset_of(request.META.get("CONTENT_TYPE", ""))
        if charset is not None and charset not in KNOWN:
            return unreadable(request, status=UNSUPPORTED_MEDIA_TYPE)
        return self.get_response(request)


def charset_of(content_type: str) -> str | None:
    """The charset that a Content-Type names, in lower case; None when it names none; "" when it cannot be read."""
    charset = parts_of(content_type)[1].get("charset")
    return None if charset is None else charset.strip().lower()


def parts_of(content_type: str) -> tuple[str, dict[str, str]]:
    """A Content-Type taken apart; what cannot be taken apart is of no type and of a charset without a name."""
    try:
        kind, found = parse_header_parameters(content_type)
        return str(kind), {str(name): str(value) for name, value in found.items()}
    except (ValueError, LookupError):
        return "", {"charset": ""}
