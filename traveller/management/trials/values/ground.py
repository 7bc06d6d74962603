"""A database of the trial's own, with the demo's story in it, and the readers who come in through its door."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from django.contrib.auth import get_user_model
from django.db import connection
from django.test import override_settings
from django.utils import timezone

from sites.actions.make_pass import make_pass
from sites.models import PassKind, Site, SiteKind
from traveller.management.commands.demo import Command as Demo
from traveller.management.demo.story import Story
from traveller.management.trials.values.filled import form_encoded
from traveller.management.trials.values.storm import Reader
from traveller.management.trials.values.wire import CSRF, Jar, Overheard, Request, ask_server
from traveller.products import frozen
from traveller.web.door_views import new_token, sign_in_link
from traveller.web.operator.pace import PACE

__all__ = ["demo_readers", "readers_of", "story_reported"]

# The trial's own answers: a password is checked as fast as in the tests, and a pass has an address to be printed.
SETTINGS = {
    "ALLOWED_HOSTS": ["localhost"],
    "PASSWORD_HASHERS": ["django.contrib.auth.hashers.MD5PasswordHasher"],
    "PUBLIC_ADDRESS": "https://trace.example",
    "SECURE_SSL_REDIRECT": False,
}


@contextmanager
def story_reported() -> Iterator[None]:
    """The demo's story in a database made for this and thrown away; the one of the settings is never touched."""
    before = str(connection.settings_dict["NAME"])
    with override_settings(**SETTINGS):
        connection.creation.create_test_db(verbosity=0, autoclobber=True)
        try:
            frozen.forget()
            now = timezone.now()
            Demo().read_workbook(now)
            Story(now).tell()
            yield
        finally:
            frozen.forget()
            connection.creation.destroy_test_db(before, verbosity=0)


def readers_of(moulder: Site, other: Site, bench: Site) -> list[Reader]:
    """The founder, also on behalf of a shop, two shops, the packer, and a stranger from ever another address."""
    strangers = iter(range(10**9))

    def stranger() -> Jar:
        number = next(strangers)
        return Jar(f"198.51.{number // 250 % 250}.{number % 250}")

    def founder(on_behalf: Site | None = None) -> Callable[[], Jar]:
        return lambda: _founder_in(on_behalf)

    return [
        Reader("founder", founder(), "/orders"),
        Reader("founder", founder(), "/"),
        Reader("on behalf", founder(moulder), "/here/", moulder.pk),
        Reader("shop", lambda: _shop_in(moulder, PassKind.OPERATOR), "/here/", moulder.pk),
        Reader("other shop", lambda: _shop_in(other, PassKind.OPERATOR), "/here/", other.pk),
        Reader("packer", lambda: _shop_in(bench, PassKind.PACKING), "/pack/", bench.pk),
        Reader("stranger", stranger, "/nobody-is-let-in-here"),
    ]


def demo_readers() -> list[Reader]:
    """Of the demo's sites: who moulds, another shop, and the maker's own bench."""
    shops = list(Site.objects.filter(kind=SiteKind.SUBCONTRACTOR).order_by("code"))
    moulder = next(site for site in shops if site.code == "moulder")
    return readers_of(moulder, next(site for site in shops if site != moulder), Site.objects.get(kind=SiteKind.OWN))


def _founder_in(on_behalf: Site | None) -> Jar:
    user, _ = get_user_model().objects.get_or_create(username="founder")
    if not user.is_active:
        get_user_model().objects.filter(pk=user.pk).update(is_active=True)
    user.refresh_from_db()
    jar = _opened(sign_in_link(user))
    if on_behalf is not None:
        _post(jar, "/founder/behalf", site=str(on_behalf.pk))
    return jar


def _shop_in(site: Site, kind: str) -> Jar:
    """A new pass each time: the last one may have been revoked, and its site closed, by the founder of the trial."""
    PACE.forget()
    Site.objects.filter(pk=site.pk).update(closed_on=None)
    token = new_token()
    make_pass(site=site, kind=kind, token=token, at=timezone.now(), label="trial")
    jar = _opened(f"/pass/{token}")
    _post(jar, "/person", new_name="Ines")
    return jar


def _opened(path: str) -> Jar:
    jar = Jar()
    _post(jar, path, open="1")
    return jar


def _post(jar: Jar, path: str, **fields: str) -> None:
    body = form_encoded([("csrfmiddlewaretoken", CSRF), *fields.items()])
    jar.take(ask_server(Request("POST", path, "", {}, body, "application/x-www-form-urlencoded"), jar, Overheard()))
