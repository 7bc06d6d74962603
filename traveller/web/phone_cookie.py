"""Which phone is it? A random id in a cookie of its own, to tell phones of one shop apart; it proves nothing.

It comes with the first pass that is opened and stays when the pass is left or another site's is opened: it is the
device. What stands in the cookie is believed only as far as its form goes; anything else is replaced.
"""

from __future__ import annotations

import re
import secrets

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from sites.actor import PHONE_LETTERS
from traveller.rules.codes import ALPHABET

PHONE_COOKIE = "phone"
# As long as browsers keep any cookie.
COOKIE_SECONDS = 400 * 24 * 3600
_FORM = re.compile(f"[0-9A-Z]{{{PHONE_LETTERS}}}")


def reported_phone(request: HttpRequest) -> str:
    """The id that this phone brings; nothing where it has none, or something that is none."""
    value = request.COOKIES.get(PHONE_COOKIE, "")
    return value if _FORM.fullmatch(value) else ""


def new_phone() -> str:
    """Eighty random bits."""
    return "".join(secrets.choice(ALPHABET) for _ in range(PHONE_LETTERS))


def keep_phone(answer: HttpResponse, phone: str) -> None:
    """Leave its id on the phone."""
    answer.set_cookie(
        PHONE_COOKIE,
        phone,
        max_age=COOKIE_SECONDS,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
