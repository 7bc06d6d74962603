"""Who asks? The founder (a signed-in user), a site pass (a phone that opened its link once), both, or a stranger."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, cast

from django.contrib.auth.views import redirect_to_login
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone

from sites import passes
from sites.actor import Actor
from sites.models import PassKind, Site, SitePass
from traveller.web.language.reader import in_english
from traveller.web.person_cookie import reported_name
from traveller.web.phone_cookie import PHONE_COOKIE, keep_phone, new_phone, reported_phone

PASS_COOKIE = "site_pass"
BEHALF_KEY = "on_behalf_of_site"
ROW_MAX = 2**63 - 1
View = Callable[..., HttpResponse]


@dataclass(frozen=True, slots=True)
class Who:
    """`founder` for the founder's pages; `shop` for a site's pages, with the site they act at.

    `new_phone`: the device had no id of its own yet; the one that `shop` carries is left on it with the answer.
    """

    founder: Actor | None = None
    shop: Actor | None = None
    site: Site | None = None
    site_pass: SitePass | None = None
    new_phone: bool = False


class WhoMiddleware:
    """Puts the answer on the request once, for all pages."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        who = cast(Any, request).who = _find(request)
        answer = self.get_response(request)
        # Never beside what is kept for everybody: two phones would become one.
        shared = "public" in answer.get("Cache-Control", "")
        if who.new_phone and who.shop and PHONE_COOKIE not in answer.cookies and not shared:
            keep_phone(answer, who.shop.phone)
        return answer

    def process_view(
        self, request: HttpRequest, view: View, args: tuple[Any, ...], places: Mapping[str, Any]
    ) -> HttpResponse | None:
        if nothing_there(places):
            raise Http404
        return None


def nothing_there(places: Mapping[str, Any]) -> bool:
    """A number that no row can have, or a NUL, which PostgreSQL takes for a fault."""
    return any(
        (isinstance(value, int) and value > ROW_MAX) or (isinstance(value, str) and "\0" in value)
        for value in places.values()
    )


def who_of(request: HttpRequest) -> Who:
    return cast(Who, cast(Any, request).who)


def _find(request: HttpRequest) -> Who:
    founder = None
    if request.user.is_authenticated and request.user.is_active:
        founder = Actor(kind="founder", person=request.user.get_username())
        site_id = request.session.get(BEHALF_KEY)
        site = Site.objects.filter(pk=site_id).first() if site_id else None
        if site:
            shop = Actor(kind="founder", person=founder.person, site_id=site.pk, on_behalf=True)
            return Who(founder=founder, shop=shop, site=site)
    token = request.COOKIES.get(PASS_COOKIE)
    if token:
        now = timezone.now()
        row = passes.find_pass(token, now)
        if row:
            # A full disk or a locked database must not shut the door on a page that only reads.
            with suppress(OperationalError, InterfaceError):
                passes.pass_seen(row, now)
            kind = "packer" if row.kind == PassKind.PACKING else "operator"
            phone = reported_phone(request)
            shop = Actor(
                kind=cast(Any, kind),
                person=reported_name(request),
                site_id=row.site_id,
                pass_id=row.pk,
                phone=phone or new_phone(),
            )
            return Who(founder=founder, shop=shop, site=row.site, site_pass=row, new_phone=not phone)
    return Who(founder=founder)


def home_of(site_pass: SitePass) -> str:
    return "/pack/" if site_pass.kind == PassKind.PACKING else "/here/"


def founder_only(view: View) -> View:
    """The founder's pages: strangers are shown the sign-in, to a site pass they do not exist.

    Only the beginning is everybody's: from there a phone of a shop goes to its own.
    """
    english = in_english(view)

    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        who = who_of(request)
        if who.founder is None:
            if who.site_pass is not None and request.path == "/":
                return redirect(home_of(who.site_pass))
            if who.shop is not None:
                raise Http404
            return redirect_to_login(request.get_full_path())
        return english(request, *args, **kwargs)

    return guarded


def shop_here(who: Who, *kinds: str) -> bool:
    """A pass of one of these kinds, or the founder on behalf of its site."""
    return who.shop is not None and (who.shop.kind in kinds or who.shop.on_behalf)


def shop_only(*kinds: str) -> Callable[[View], View]:
    """A site's pages: for a pass of these kinds (or the founder on behalf of a site); 404 to everyone else."""

    def decorate(view: View) -> View:
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            who = who_of(request)
            if not shop_here(who, *kinds):
                if request.headers.get("accept", "").startswith("application/json"):
                    return JsonResponse({"error": "pass_needed"}, status=401)
                raise Http404
            return view(request, *args, **kwargs)

        return guarded

    return decorate
