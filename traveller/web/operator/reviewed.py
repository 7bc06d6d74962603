"""What became of a phone's entries that waited for review: said to the very phone that told them."""

from __future__ import annotations

from datetime import timedelta

from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from traveller.batches.history.for_review import KIND, LEFT
from traveller.journal.models import Event, Parked
from traveller.web.operator.shop import actor_of

# A phone that was away for longer than a fortnight has forgotten what it asked.
_LATELY = timedelta(days=14)
_MOST = 20


def decided_for(request: HttpRequest) -> list[dict[str, str]]:
    """The decisions of the last days about this phone's entries, the latest first: the form's id, and in words what
    came of it."""
    actor = actor_of(request)
    if not actor.phone:
        return []
    rows = Parked.objects.filter(event__kind=KIND, event__site=actor.site_id, event__phone=actor.phone)
    lately = rows.filter(settled_by__recorded_at__gte=timezone.now() - _LATELY)
    found = lately.select_related("event", "settled_by").order_by("-settled_by")[:_MOST]
    return [{"id": row.event.data["told"]["news"], "words": _words(row.settled_by)} for row in found if row.settled_by]


def _words(decision: Event) -> str:
    if decision.kind == LEFT:
        return _("Decided: not booked. %(reason)s") % {"reason": decision.data["told"]["reason"]}
    if decision.data["told"].get("came"):
        return _("Booked: what it waited for has come.")
    return _("Decided: it is booked as you recorded it.")
