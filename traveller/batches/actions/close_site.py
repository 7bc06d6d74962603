"""A site closes for good, perhaps with goods inside: its passes end, and what is to be done about the rest is shown."""

from __future__ import annotations

from datetime import date

from sites.actions.revoke_pass import revoke_pass
from sites.models import Site, SiteKind, SitePass
from traveller.journal.deed import deed
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.journal.stamp import Stamp

CLOSED, OPENED = "site closed", "site opened again"


@deed
def close_site(*, stamp: Stamp, site_id: int, on: date, reason: str) -> Event:
    """Nothing of its goods moves by this: they are fetched, written off, and its steps get another site one by one."""
    told = {"site": site_id, "on": on.isoformat(), "reason": reason}
    if before := earlier(stamp, CLOSED, told):
        return before
    refuse_without(reason)
    site = Site.objects.select_for_update().get(pk=site_id)
    if site.kind == SiteKind.OWN:
        raise Refused("own_bench_stays", site=site.name)
    if site.closed_on is not None:
        raise Refused("site_closed", site=site.name)
    open_passes = list(SitePass.objects.filter(site=site, revoked_at=None).order_by("id"))
    event = record(
        stamp=stamp,
        kind=CLOSED,
        subjects=[],
        told=told,
        site_id=site.pk,
        passes=[row.pk for row in open_passes],
    )
    for row in open_passes:
        revoke_pass(site_pass=row, at=stamp.recorded_at)
    Site.objects.filter(pk=site.pk).update(closed_on=on, closed_why=reason.strip()[:200])
    return event


@deed
def open_site_again(*, stamp: Stamp, site_id: int, reason: str) -> Event:
    """It was closed by mistake, or works again; its old passes stay revoked."""
    told = {"site": site_id, "reason": reason}
    if before := earlier(stamp, OPENED, told):
        return before
    refuse_without(reason)
    site = Site.objects.select_for_update().get(pk=site_id)
    if site.closed_on is None:
        raise Refused("site_is_open", site=site.name)
    event = record(stamp=stamp, kind=OPENED, subjects=[], told=told, site_id=site.pk)
    Site.objects.filter(pk=site.pk).update(closed_on=None, closed_why="")
    return event
