"""When was a site last heard from? What its own people recorded, or what it said by phone through the founder.

The founder's own desk work is no news from a shop, whatever shop it is about: a purchase delivered there, a
difference settled, stock opened by an import. Neither is what follows by itself from somebody's news, which stands
under the step's site although another site told it.
"""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from sites.models import Site, SiteKind
from traveller.journal.models import Event, Parked

TAKEN_UP_MOST = 200
# Follows from news, without anybody saying more.
_FOLLOWS = ("judged", "evidence read", "evidence unreadable", "over tolerance")
_PRINTED = ("traveller printed", "label printed", "note printed", "packing list printed")
# Done at the founder's desk, also where it stands under a shop as if said by phone.
_DESK = (
    "adopted", "count corrected", "decided", "delivered", "difference settled",
    "first-off decided", "held", "log understood", "made again", "order entered", "part held", "purchased",
    "recombined", "released", "rest moved", "sent back to step", "set aside left", "set aside taken", "site closed",
    "site opened again", "split", "step rerouted", "stock opened", "unexplained settled", "unknown matched",
    "written off",
)  # fmt: skip


def reports() -> QuerySet[Event]:
    """Events by which the site that they stand under was heard.

    By its people: an operator's or packer's, with a pass (where one is named) of that very site. By phone: the
    founder's on its behalf. At the own bench the founder is one of its people.
    """
    people = Q(actor_kind__in=("operator", "packer")) & (Q(site_pass=None) | Q(site_pass__site=F("site")))
    spoken = Q(actor_kind="founder") & (Q(on_behalf=True) | Q(site__kind=SiteKind.OWN))
    said = people | (spoken & ~Q(kind__in=_DESK))
    reported = Event.objects.filter(said, site__isnull=False).exclude(kind__in=[*_FOLLOWS, *_PRINTED])
    return reported.exclude(uid__in=_taken_up())


def _taken_up() -> list[UUID]:
    """What a phone told and the founder took up later, of late: the shop was heard when the phone told it."""
    settled = Parked.objects.filter(event__kind="set aside", settled_by__isnull=False).order_by("-pk")
    return [UUID(news) for news in settled.values_list("event__data__told__news", flat=True)[:TAKEN_UP_MOST]]


def last_heard() -> dict[int, datetime | None]:
    """By site, when its last report was recorded; None: not heard from yet. Two queries, each site by its index."""
    latest = reports().filter(site=OuterRef("pk")).order_by("-recorded_at").values("recorded_at")[:1]
    return dict(Site.objects.order_by("pk").annotate(heard=Subquery(latest)).values_list("pk", "heard"))
