"""The register of things that events are about, and their short codes."""

from __future__ import annotations

from hashlib import sha256
from uuid import UUID

from traveller.journal.models import Subject
from traveller.rules.codes import TravellerCode, from_number


def code_for(uid: UUID, attempt: int = 0) -> TravellerCode:
    """A short code drawn from the uid, so that the same story prints the same codes and no row is guessable."""
    drawn = sha256(uid.bytes + attempt.to_bytes(2, "big")).digest()
    return from_number(int.from_bytes(drawn[:4], "big") % 2**30)


def register(uid: UUID, kind: str) -> Subject:
    """Enter a thing with a free short code. Within an action: the queue keeps two from taking one code."""
    for attempt in range(1000):
        code = code_for(uid, attempt)
        if not Subject.objects.filter(code=code).exists():
            return Subject.objects.create(uid=uid, kind=kind, code=code)
    raise RuntimeError("no free short code in a thousand tries")
