"""In which language and in which units does this reader read? Chosen by the phone, changed by a tap, kept in cookies.

The shops' pages and the door are translated. The founder's pages are written in English only: they are shown in
English whatever the browser asks for, because half a page in another language is worse than none.
"""

from __future__ import annotations

from collections.abc import Callable
from contextvars import ContextVar
from functools import wraps
from typing import Any, Literal, get_args

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.middleware.locale import LocaleMiddleware
from django.utils import translation
from django.utils.cache import patch_vary_headers

__all__ = ["UNITS_COOKIE", "ReaderMiddleware", "in_english", "language_names", "units", "units_of"]

_System = Literal["metric", "inch_pound"]
SYSTEMS: tuple[_System, ...] = get_args(_System)
UNITS_COOKIE = "units"
# Where a phone says only its country, these measure in inches, pounds and Fahrenheit (common practice, no source).
INCH_POUND_TAGS = ("en-us", "es-us", "en-lr")

_units: ContextVar[_System] = ContextVar("units", default="metric")


def units() -> _System:
    """The system of units of whoever reads the page that is being made."""
    return _units.get()


def units_of(request: HttpRequest) -> _System:
    """As tapped on this phone; else as its country measures; else metric."""
    chosen = request.COOKIES.get(UNITS_COOKIE)
    for system in SYSTEMS:
        if chosen == system:
            return system
    first = request.headers.get("Accept-Language", "").split(",")[0].split(";")[0].strip().lower()
    return "inch_pound" if first in INCH_POUND_TAGS else "metric"


def language_names() -> list[tuple[str, str]]:
    """Each language by its own name."""
    return [(code, str(name)) for code, name in settings.LANGUAGES]


class ReaderMiddleware(LocaleMiddleware):
    """Django's choice of a language, and beside it the units; both depend on cookies, and caches are told so."""

    def process_request(self, request: HttpRequest) -> None:
        super().process_request(request)
        _units.set(units_of(request))

    def process_response(self, request: HttpRequest, response: Any) -> Any:
        answer = super().process_response(request, response)
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            patch_vary_headers(answer, ("Cookie",))
        return answer


def in_english(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """A page of the founder's: written in English, so told in English, its `lang` included."""

    @wraps(view)
    def reported(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        with translation.override("en"):
            answer = view(request, *args, **kwargs)
        answer.headers.setdefault("Content-Language", "en")
        return answer

    return reported
