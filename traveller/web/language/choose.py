"""The page where a reader chooses the language and the units of this phone."""

from __future__ import annotations

from urllib.parse import urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods

from traveller.web.language.reader import SYSTEMS, UNITS_COOKIE, language_names, units_of

YEAR_SECONDS = 400 * 24 * 3600


@require_http_methods(["GET", "POST"])
def choose_language(request: HttpRequest) -> HttpResponse:
    """GET shows each language by its own name; a tap on one keeps it and goes back to the page it came from."""
    back = own_path(request.POST.get("next") or request.GET.get("next") or came_from(request))
    chosen: dict[str, str | None] = {
        settings.LANGUAGE_COOKIE_NAME: request.POST.get("language"),
        UNITS_COOKIE: request.POST.get("units"),
    }
    known: dict[str, list[str]] = {
        settings.LANGUAGE_COOKIE_NAME: [code for code, _ in language_names()],
        UNITS_COOKIE: list(SYSTEMS),
    }
    kept = {name: value for name, value in chosen.items() if value in known[name]}
    if request.method == "POST" and kept:
        answer = redirect(back or "/")
        for name, value in kept.items():
            answer.set_cookie(
                name,
                str(value),
                max_age=YEAR_SECONDS,
                httponly=True,
                samesite="Lax",
                secure=settings.SESSION_COOKIE_SECURE,
            )
        return answer
    context = {"languages": language_names(), "units": units_of(request), "next": back}
    # The door asks for this page by a form, because its own address may be a secret.
    asked = request.method == "GET" or "show" in request.POST
    return render(request, "web/language.html", context, status=200 if asked else 422)


def came_from(request: HttpRequest) -> str:
    """The page of ours whose link led here: the neutral page must be the same for every code, so it names no `next`."""
    try:
        before = urlsplit(request.headers.get("Referer", ""))
    except ValueError:  # no address at all, such as "http://["
        return ""
    return before.path if before.netloc == request.get_host() and before.path != request.path else ""


def own_path(target: str) -> str:
    """Only a path of our own may be gone to next."""
    own = target.startswith("/") and url_has_allowed_host_and_scheme(target, allowed_hosts=None)
    return target if own else ""
