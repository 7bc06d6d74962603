"""The pages at the door. A pass sees its site; everybody else sees one neutral page for any code."""

from __future__ import annotations

import secrets
from typing import Any
from urllib.parse import quote

from django import forms
from django.conf import settings
from django.contrib.auth import get_user_model, login, logout
from django.contrib.auth.views import LoginView
from django.core import signing
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from sites import passes
from sites.models import Person, Site
from sites.people import called, called_or_new
from traveller.rules.codes import ALPHABET
from traveller.web.address import address_of
from traveller.web.language.choose import own_path
from traveller.web.person_cookie import PERSON_COOKIE, keep_name
from traveller.web.phone_cookie import COOKIE_SECONDS, keep_phone, new_phone, reported_phone
from traveller.web.who import BEHALF_KEY, PASS_COOKIE, home_of, who_of

LINK_SECONDS = 24 * 3600
LINK_SALT = "traveller.sign-in-link"


def new_token() -> str:
    """Eighty random bits as sixteen characters that can be typed from a card."""
    return "".join(secrets.choice(ALPHABET) for _ in range(16))


def plain_token(text: str) -> str:
    """A token as typed or pasted: the whole link, groups, lower case, look-alikes."""
    tail = text.strip().rstrip("/").rsplit("/", 1)[-1].upper()
    return "".join({"O": "0", "I": "1", "L": "1", "U": "V"}.get(c, c) for c in tail if c.isalnum())


class SignIn(LoginView):
    template_name = "web/sign_in.html"

    def dispatch(self, request: Any, *args: Any, **kwargs: Any) -> Any:
        if request.method == "POST" and passes.too_many_tries("sign-in", address_of(request), timezone.now()):
            return render(request, "web/too_many_tries.html", status=429)
        return super().dispatch(request, *args, **kwargs)

    def form_invalid(self, form: Any) -> HttpResponse:
        passes.note_try("sign-in", address_of(self.request), timezone.now())
        return super().form_invalid(form)


def sign_in_link(user: Any) -> str:
    """A link that signs the founder in once, within a day: signing in changes what it was signed with."""
    token = signing.dumps([user.pk, str(user.last_login)], salt=LINK_SALT)
    return reverse("sign_in_by_link", args=[token])


@require_http_methods(["GET", "POST"])
def sign_in_by_link(request: HttpRequest, token: str) -> HttpResponse:
    now = timezone.now()
    if passes.too_many_tries("sign-in", address_of(request), now):
        return render(request, "web/too_many_tries.html", status=429)
    try:
        pk, last_login = signing.loads(token, salt=LINK_SALT, max_age=LINK_SECONDS)
        user = get_user_model().objects.get(pk=pk, is_active=True)
    except (signing.BadSignature, get_user_model().DoesNotExist, ValueError, TypeError):
        passes.note_try("sign-in", address_of(request), now)
        return render(request, "web/link_used.html", status=410)
    if str(user.last_login) != last_login:
        return render(request, "web/link_used.html", status=410)
    if request.method == "POST":
        login(request, user)
        return redirect("/")
    return render(request, "web/sign_in_by_link.html", {"person": user.get_username()})


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("sign_in")


class PassForm(forms.Form):
    code = forms.CharField(max_length=300)


@require_http_methods(["GET", "POST"])
def enter_pass(request: HttpRequest) -> HttpResponse:
    """Type or paste a pass; a wrong one counts as a try."""
    if request.method != "POST":
        return render(request, "web/enter_pass.html")
    form = PassForm(request.POST)
    if not form.is_valid():
        return render(request, "web/enter_pass.html", {"wrong": True}, status=422)
    return open_pass(request, plain_token(form.cleaned_data["code"]))


@require_http_methods(["GET", "POST"])
def open_pass(request: HttpRequest, token: str) -> HttpResponse:
    """GET asks, POST opens: a chat program that previews the link must not use it up or sign anything in."""
    now = timezone.now()
    if passes.too_many_tries("pass", address_of(request), now):
        return render(request, "web/too_many_tries.html", status=429)
    found = passes.find_pass(plain_token(token), now)
    if found is None:
        passes.note_try("pass", address_of(request), now)
        return render(request, "web/enter_pass.html", {"wrong": True}, status=404)
    if request.method == "GET" or "open" not in request.POST:
        plain = plain_token(token)
        context = {"site_pass": found, "token": plain, "back": reverse("open_pass", args=[plain])}
        return render(request, "web/open_pass.html", context)
    answer = redirect(home_of(found))
    answer.set_cookie(
        PASS_COOKIE,
        plain_token(token),
        max_age=COOKIE_SECONDS,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
    # It is the same phone, whichever pass it opens.
    keep_phone(answer, reported_phone(request) or new_phone())
    # Whoever used this phone at another shop is nobody here.
    answer.delete_cookie(PERSON_COOKIE)
    request.session.pop(BEHALF_KEY, None)
    return answer


@require_POST
def leave_pass(request: HttpRequest) -> HttpResponse:
    """This phone no longer belongs to the site; or the founder stops speaking for it."""
    request.session.pop(BEHALF_KEY, None)
    answer = redirect("/")
    answer.delete_cookie(PASS_COOKIE)
    answer.delete_cookie(PERSON_COOKIE)
    return answer


@require_http_methods(["GET", "POST"])
def choose_person(request: HttpRequest) -> HttpResponse:
    """Tap a name once a shift; "someone new" types one."""
    who = who_of(request)
    if who.site is None:
        raise Http404
    if request.method == "POST":
        person = _person_reported(request, who.site)
        if person:
            home = home_of(who.site_pass) if who.site_pass else "/here/"
            answer = redirect(own_path(request.POST.get("next", "")) or home)
            keep_name(answer, person.name)
            return answer
    people = Person.objects.filter(site=who.site)
    target = request.POST.get("next") or request.GET.get("next", "")
    status = 422 if request.method == "POST" else 200
    return render(request, "web/choose_person.html", {"people": people, "next": own_path(target)}, status=status)


def _person_reported(request: HttpRequest, site: Site) -> Person | None:
    """One of the site's people, or somebody new; the same name in other letters is the same person."""
    new = called_or_new(site, request.POST.get("new_name", ""))
    return new or called(site, request.POST.get("name", ""))


def scanned(request: HttpRequest, code: str, step: int | None = None) -> HttpResponse:
    """What a phone's camera opens. Without a pass: one page, the same for a real code and an invented one."""
    who = who_of(request)
    # Whatever was scanned stays one piece of the next address.
    whole = quote(code, safe="")
    tail = f"{whole}/{step}" if step is not None else whole
    if who.shop is not None:
        home = "/pack/" if who.shop.kind == "packer" else "/here/"
        return redirect(f"{home}t/{tail}")
    if who.founder is not None:
        return redirect(f"/find?code={whole}")
    return render(request, "web/neutral.html", {"call": settings.CALL_WHOM})
