"""A site closes for good, perhaps with goods inside: its passes end, and what is to be done about the rest is shown."""

from __future__ import annotations

from datetime import date

from sites.actions.revoke_pass import revoke_pass
from sites.models import Site, SiteKind, SitePass
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without

CLOSED, OPENED = "site closed", "site opened again"


@action
def close_site(*, event_context: EventContext, site_id: int, on: date, reason: str) -> Event:
    """Nothing of its goods moves by this: they are fetched, written off, and its steps get another site one by one."""
    reported = {"site": site_id, "on": on.isoformat(), "reason": reason}
    if before := earlier(event_context, CLOSED, reported):
        return before
    refuse_without(reason)
    site = Site.objects.select_for_update().get(pk=site_id)
    if site.kind == SiteKind.OWN:
        raise Refused("own_bench_stays", site=site.name)
    if site.closed_on is not None:
        raise Refused("site_closed", site=site.name)
    open_passes = list(SitePass.objects.filter(site=site, revoked_at=None).order_by("id"))
    event = record(
        event_context=event_context,
        kind=CLOSED,
        subjects=[],
        reported=reported,
        site_id=site.pk,
        passes=[row.pk for row in open_passes],
    )
    for row in open_passes:
        revoke_pass(site_pass=row, at=event_context.recorded_at)
    Site.objects.filter(pk=site.pk).update(closed_on=on, closed_why=reason.strip()[:200])
    return event


@action
def open_site_again(*, event_context: EventContext, site_id: int, reason: str) -> Event:
    """It was closed by mistake, or works again; its old passes stay revoked."""
    reported = {"site": site_id, "reason": reason}
    if before := earlier(event_context, OPENED, reported):
        return before
    refuse_without(reason)
    site = Site.objects.select_for_update().get(pk=site_id)
    if site.closed_on is None:
        raise Refused("site_is_open", site=site.name)
    event = record(event_context=event_context, kind=OPENED, subjects=[], reported=reported, site_id=site.pk)
    Site.objects.filter(pk=site.pk).update(closed_on=None, closed_why="")
    return event
