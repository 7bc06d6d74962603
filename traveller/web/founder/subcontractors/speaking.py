"""For whom the founder speaks in an action: for her own bench, or for a shop that phoned."""

from __future__ import annotations

from django.http import HttpRequest

from sites.actor import Actor
from sites.models import Site
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.web.door import event_context_from
from traveller.web.founder.desk.frame import Desk, founder_of


def speaker(request: HttpRequest, desk: Desk, site: Site) -> Actor:
    """What happens at another's site is told on its behalf, and marked so."""
    founder = founder_of(request)
    if desk.bench is not None and site.pk == desk.bench.pk:
        return founder
    return Actor(kind="founder", person=founder.person, site_id=site.pk, on_behalf=True)


def event_context_at(request: HttpRequest, desk: Desk, site: Site) -> EventContext | Refusal:
    """The event context of news from a site; a typed time is read on the founder's own clock, as her pages show it."""
    return event_context_from(request, speaker(request, desk, site), desk.zone)
