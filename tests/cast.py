"""The fixed cast at the pages: the founder, two rival shops, the packer, a revoked pass, a stranger.

Each is a browser (a Django test client) as the door leaves it; tests/web/test_door.py walks through the door itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth import get_user_model
from django.contrib.auth.models import User
from django.core import signing
from django.test import Client
from django.utils import timezone

from sites.models import PassKind, Person, Site, SitePass
from sites.passes import hash_token
from tests import factory
from traveller.web.door_views import new_token
from traveller.web.person_cookie import PERSON_COOKIE, in_ascii
from traveller.web.who import BEHALF_KEY, PASS_COOKIE

FOUNDER = "mara"
PASSWORD = "nine lanterns on a quay"


@dataclass
class Cast:
    """Who may knock. `operator` works at `moulder`, `rival` at `printer`, `packer` at `bench`."""

    moulder: Site
    printer: Site
    bench: Site
    founder: Client
    operator: Client
    rival: Client
    packer: Client
    revoked: Client
    stranger: Client

    def everyone(self) -> dict[str, Client]:
        names = ("founder", "operator", "rival", "packer", "revoked", "stranger")
        return {name: getattr(self, name) for name in names}


def make_founder(name: str = FOUNDER) -> User:
    """The founder's account of that name, which may be there already; its password is PASSWORD."""
    known = get_user_model().objects.filter(username=name).first()
    return known or get_user_model().objects.create_superuser(name, password=PASSWORD)


def make_pass(
    site: Site, kind: str = PassKind.OPERATOR, *, at: datetime | None = None, revoked: bool = False
) -> tuple[SitePass, str]:
    """A pass and the token that opens it."""
    token = new_token()
    at = at or timezone.now()
    row = SitePass.objects.create(
        site=site, kind=kind, token_hash=hash_token(token), made_at=at, revoked_at=at if revoked else None
    )
    return row, token


def founder_client(user: User | None = None) -> Client:
    """A browser in which the founder has signed in."""
    client = Client()
    client.force_login(user or make_founder())
    return client


def pass_client(site: Site, kind: str = PassKind.OPERATOR, person: str = "Ines", *, revoked: bool = False) -> Client:
    """A phone that opened a pass, whose person has tapped a name."""
    client = Client()
    client.cookies[PASS_COOKIE] = make_pass(site, kind, revoked=revoked)[1]
    if person:
        Person.objects.get_or_create(site=site, name=person, defaults={"initials": person[:2].upper()})
        client.cookies[PERSON_COOKIE] = signing.get_cookie_signer(salt=PERSON_COOKIE).sign(in_ascii(person))
    return client


def on_behalf(client: Client, site: Site) -> Client:
    """Let the founder speak for a site that has phoned."""
    session = client.session
    session[BEHALF_KEY] = site.pk
    session.save()
    return client


def make_cast(*, moulder: Site | None = None, printer: Site | None = None, bench: Site | None = None) -> Cast:
    """All of them, at sites given or made."""
    moulder = moulder or factory.make_site("moulder")
    printer = printer or factory.make_site("printer")
    bench = bench or factory.make_bench("bench")
    return Cast(
        moulder=moulder,
        printer=printer,
        bench=bench,
        founder=founder_client(),
        operator=pass_client(moulder),
        rival=pass_client(printer, person="Bruno"),
        packer=pass_client(bench, PassKind.PACKING, "Tomas"),
        revoked=pass_client(moulder, person="Odile", revoked=True),
        stranger=Client(),
    )
