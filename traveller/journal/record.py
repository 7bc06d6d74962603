"""The only writer of events."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any
from uuid import UUID

from django.db import connection

from traveller.journal.event_context import EventContext
from traveller.journal.kinds import kind as known_kind
from traveller.journal.models import Event, Parked, Subject
from traveller.journal.refusal import Refused
from traveller.journal.rows import insert, run_sql

_UID = Event._meta.get_field("uid")


def earlier(event_context: EventContext, kind: str, data: Mapping[str, Any]) -> Event | None:
    """The event this telling already is, if it was told before; the same id with other data is refused."""
    if not reported_before(event_context.uid):
        return None
    event = Event.objects.get(uid=event_context.uid)
    if event.kind != kind or event.data.get("told") != _reported(data):
        raise Refused("told_otherwise", kind=event.kind, recorded_at=event.recorded_at.isoformat())
    return event


def record(
    *,
    event_context: EventContext,
    kind: str,
    subjects: Iterable[Subject | int],
    reported: Mapping[str, Any],
    site_id: int | None = None,
    corrects: Event | None = None,
    **found: Any,
) -> Event:
    """Write one event. `reported` is what the client said (compared on a retry), `found` what the action derived.

    Subjects as rows or by key.
    """
    known_kind(kind)
    data = {"told": _reported(reported), **_plain(found)}
    actor = event_context.actor
    event = Event(
        uid=event_context.uid,
        kind=kind,
        site_id=site_id,
        actor_kind=actor.kind,
        person=actor.person,
        site_pass_id=actor.pass_id,
        on_behalf=actor.on_behalf,
        phone=actor.phone,
        happened_at=event_context.at,
        recorded_at=event_context.recorded_at,
        device_offset_ms=event_context.device_offset_ms,
        data=data,
        corrects=corrects,
    )
    event.digest = digest(event)
    insert(event)
    about = dict.fromkeys(subject if isinstance(subject, int) else subject.pk for subject in subjects)
    if about:
        marks = ", ".join(["(%s, %s)"] * len(about))
        values = [value for pk in about for value in (event.pk, pk)]
        run_sql(f"INSERT INTO journal_eventsubject (event_id, subject_id) VALUES {marks}", values)
    return event


def reported_before(uid: UUID) -> bool:
    """Is there an event of this id?"""
    return bool(run_sql("SELECT 1 FROM journal_event WHERE uid = %s", [_UID.get_db_prep_value(uid, connection)]))


def reported_at(uid: UUID, site_id: int | None) -> bool:
    """Is this the id of news of this site?"""
    sql = "SELECT 1 FROM journal_event WHERE uid = %s AND site_id = %s"
    return bool(run_sql(sql, [_UID.get_db_prep_value(uid, connection), site_id]))


def reported_elsewhere(uid: UUID, site_id: int) -> bool:
    """Is this the id of another site's event? Whoever sends it must not learn more than that it cannot be used."""
    sql = "SELECT 1 FROM journal_event WHERE uid = %s AND (site_id IS NULL OR site_id <> %s)"
    return bool(run_sql(sql, [_UID.get_db_prep_value(uid, connection), site_id]))


def park(event: Event, reason: str, **figures: Any) -> Parked:
    """News taken but not posted yet: shown to the founder until its cause arrives."""
    return Parked.objects.create(event=event, reason=reason, figures=_plain(figures))


def settle_parked(parked: Parked, by: Event) -> None:
    parked.settled_by = by
    parked.save(update_fields=["settled_by"])


def digest(event: Event) -> str:
    """What `verify` recomputes: sha256 over the canonical JSON of all that an event says."""
    text = json.dumps(
        [
            str(event.uid),
            event.kind,
            event.site_id,
            event.actor_kind,
            event.person,
            event.site_pass_id,
            event.on_behalf,
            _utc(event.happened_at),
            _utc(event.recorded_at),
            event.device_offset_ms,
            event.corrects_id,
            event.data,
            # Said only where there is one: what was told before phones had an id keeps its digest.
            *([event.phone] if event.phone else []),
        ],
        sort_keys=True,
        separators=(",", ":"),
    )
    return sha256(text.encode()).hexdigest()


def _utc(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat()


def _reported(data: Mapping[str, Any]) -> dict[str, Any]:
    return _plain(data)


def _plain(data: Mapping[str, Any]) -> dict[str, Any]:
    """As JSON will give it back, so that what is compared later is what was stored."""
    text = json.dumps(dict(data), default=str, sort_keys=True)
    plain: dict[str, Any] = json.loads(text)
    # Nobody types a NUL, and PostgreSQL keeps none.
    return _without_nul(plain) if "\\u0000" in text else plain


def _without_nul(value: Any) -> Any:
    if isinstance(value, str):
        return value.replace("\0", "")
    if isinstance(value, list):
        return [_without_nul(each) for each in value]
    if isinstance(value, dict):
        return {_without_nul(key): _without_nul(each) for key, each in value.items()}
    return value
