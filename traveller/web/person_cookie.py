"""The name that was tapped on a phone, in a cookie of ASCII alone: the server drops all cookies of a phone beside one
that it cannot read, and with them the pass."""

from __future__ import annotations

from urllib.parse import quote, unquote

from django.conf import settings
from django.core.signing import BadSignature
from django.http import HttpRequest, HttpResponse

from sites.people import written

PERSON_COOKIE = "person"
SHIFT_SECONDS = 16 * 3600


def reported_name(request: HttpRequest) -> str:
    """The name on this phone; nothing where there is none, or one that we did not write."""
    try:
        value = request.get_signed_cookie(PERSON_COOKIE, default="") or ""
        return written(unquote(value, errors="strict"))
    except (BadSignature, ValueError):
        return ""


def in_ascii(name: str) -> str:
    """A name as its cookie carries it, before it is signed."""
    return quote(name, safe="")


def keep_name(answer: HttpResponse, name: str) -> None:
    """Leave a name on the phone for a shift."""
    answer.set_signed_cookie(
        PERSON_COOKIE,
        in_ascii(name),
        max_age=SHIFT_SECONDS,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
