"""The founder makes a pass for a site; the token is shown once and never kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sites.models import PassKind, Site, SitePass
from sites.passes import hash_token


@dataclass(frozen=True, slots=True)
class NewPass:
    site_pass: SitePass
    token: str


def make_pass(*, site: Site, kind: str, token: str, at: datetime, label: str = "") -> NewPass:
    """`token` is drawn at the door (secrets.token_urlsafe(32)). Packing passes belong to the maker's own bench."""
    if kind == PassKind.PACKING and site.kind != "own":
        raise ValueError("a packing pass belongs to the maker's own bench")
    row = SitePass.objects.create(site=site, kind=kind, label=label, token_hash=hash_token(token), made_at=at)
    return NewPass(row, token)
