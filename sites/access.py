"""The one place that answers: which rows may this pass see? Handed a queryset, it narrows it; it knows no step."""

from __future__ import annotations

from typing import TypeVar

from django.db.models import Model, Q, QuerySet

from sites.actor import Actor

M = TypeVar("M", bound=Model)


def narrow(rows: QuerySet[M], actor: Actor | None, *paths: str) -> QuerySet[M]:
    """All rows for the founder; for a pass those whose site, by any of the paths, is its own; none for others."""
    if actor is None:
        return rows.none()
    if actor.is_founder and not actor.on_behalf:
        return rows
    if actor.site_id is None:
        return rows.none()
    own = Q()
    for path in paths:
        own |= Q(**{path: actor.site_id})
    # Several steps of one batch may be at the same site.
    return rows.filter(own).distinct() if own else rows.none()
