"""What a correction came to: the figures before it, and the pieces that were gone from where they should lie."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Sum

from traveller.journal.models import Event
from traveller.ledger.models import Condition, Posting

_KINDS = ("good", "scrap", "rework", "samples")


@dataclass(frozen=True, slots=True)
class Corrected:
    """`now` and `before` by kind of piece; `gone`: so many were used or sent on and stand as unexplained since."""

    now: dict[str, int]
    before: dict[str, int]
    gone: int


def corrected_by(event: Event) -> Corrected:
    """Of an event that corrected a count."""
    reported, delta = event.data["told"], event.data["delta"]
    now = {kind: reported.get(kind, 0) for kind in _KINDS}
    now["scrap"] = sum(reported["scrap"].values())
    rows = Posting.objects.filter(event=event, account__condition=Condition.UNEXPLAINED)
    taken = rows.aggregate(all=Sum("quantity"))["all"] or 0
    return Corrected(now, {kind: now[kind] - delta[kind] for kind in _KINDS}, max(0, -taken))
