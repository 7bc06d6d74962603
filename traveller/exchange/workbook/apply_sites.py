"""Sites, lanes, closures and people: added or updated."""

from __future__ import annotations

from sites.models import Closure, Lane, Person, Site
from sites.people import written
from traveller.exchange.workbook.compare import Changes

__all__ = ["apply_sites", "site_ids"]


def site_ids() -> dict[str, int]:
    """Each site's id by its code."""
    return dict(Site.objects.values_list("code", "pk"))


def apply_sites(changes: Changes) -> None:
    """Rows that stand already are not written again."""
    for row in changes.of("sites", "added", "changed"):
        Site.objects.update_or_create(
            code=row.site,
            defaults={
                "name": row.name,
                "kind": row.kind,
                "timezone": row.timezone,
                "language": row.language,
                "country": row.country,
                "address": row.address,
                "phone": row.phone,
                "contact": row.contact,
                "paper": row.paper,
                "turnaround_days": row.turnaround_days,
                "shifts": row.shifts,
            },
        )
    ids = site_ids()
    for row in changes.of("lanes", "added", "changed"):
        Lane.objects.update_or_create(
            origin_id=ids[row.from_site],
            destination_id=ids[row.to_site],
            defaults={
                "transit_days": row.transit_days,
                "carrier": row.carrier,
                "over_ppm": None if row.over_percent is None else int(row.over_percent * 10_000),
            },
        )
    for row in changes.of("closures", "added", "changed"):
        Closure.objects.update_or_create(
            site_id=ids[row.site], first_day=row.first_day, last_day=row.last_day, defaults={"name": row.name}
        )
    for row in changes.of("people", "added", "changed"):
        name = written(row.name) or row.name
        Person.objects.update_or_create(site_id=ids[row.site], name=name, defaults={"initials": row.initials})
