"""Site passes: a long random token in a link or QR, kept here only as a hash."""

from __future__ import annotations

from datetime import datetime, timedelta
from hashlib import sha256

from sites.models import DoorTry, SitePass

TRIES_MAX = 10
TRIES_WINDOW_MINUTES = 15


def hash_token(token: str) -> str:
    """A token is 80 random bits, so that a plain digest cannot be reversed by guessing."""
    return sha256(token.encode()).hexdigest()


def find_pass(token: str, at: datetime) -> SitePass | None:
    """The pass behind a token, unless it is revoked or was idle for too long."""
    row = SitePass.objects.select_related("site").filter(token_hash=hash_token(token), revoked_at=None).first()
    if row is None:
        return None
    last = row.last_seen_at or row.made_at
    return row if at - last <= timedelta(days=row.idle_days_max) else None


def pass_seen(row: SitePass, at: datetime) -> None:
    """Note that a pass is in use, at most once an hour: a page view should not write."""
    if row.last_seen_at is None or at - row.last_seen_at > timedelta(hours=1):
        SitePass.objects.filter(pk=row.pk).update(last_seen_at=at)


def too_many_tries(door: str, address: str, at: datetime) -> bool:
    since = at - timedelta(minutes=TRIES_WINDOW_MINUTES)
    tries = DoorTry.objects.filter(door=door, address_hash=hash_token(address), tried_at__gte=since)
    return tries.count() >= TRIES_MAX


def note_try(door: str, address: str, at: datetime) -> None:
    """Count a failed try; old ones are swept out on the way."""
    DoorTry.objects.filter(tried_at__lt=at - timedelta(days=1)).delete()
    DoorTry.objects.create(door=door, address_hash=hash_token(address), tried_at=at)
