"""News from a phone that cannot be booked as it is: taken down whole, for the founder to see and to decide.

It is journalled under an id derived from its own, which stays free: when it is taken later it is told by its own id,
so that what the phone tells next of it (its load is out) finds it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from traveller.batches.files.stored import keep_file
from traveller.batches.history.for_review import KIND
from traveller.batches.models import AttachmentKind
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event, Parked
from traveller.journal.record import earlier, park, record
from traveller.journal.refusal import Refused

ASIDE = "aside"


@dataclass(frozen=True, slots=True)
class SentFile:
    """A file of the form: in which field, under which name, and its bytes."""

    field: str
    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class ForReview:
    """`parked` is None where the news was told meanwhile: then there is nothing to set aside."""

    event: Event
    parked: Parked | None


@action
def keep_for_review(
    *,
    event_context: EventContext,
    site_id: int,
    path: str,
    fields: Sequence[tuple[str, str]],
    reason: str,
    figures: Mapping[str, Any] | None = None,
    subject_id: int | None = None,
    files: Sequence[SentFile] = (),
) -> ForReview:
    """Keep a form with its files as a phone sent it. `event_context` is that of the news itself."""
    news = Event.objects.filter(uid=event_context.uid).first()
    if news:
        # Sent twice at the same moment: the other sending was taken while this one was looked at.
        if news.site_id != site_id:
            raise Refused("form_without_id")
        return ForReview(news, None)
    kept = [(file, keep_file(file.content, _kind(fields))) for file in files]
    reported = {
        "news": str(event_context.uid),
        "path": path,
        "fields": [list(pair) for pair in fields],
        "files": [[file.field, file.name, row.pk] for file, row in kept],
    }
    own = event_context.derived(ASIDE)
    if before := earlier(own, KIND, reported):
        return ForReview(before, before.parked)
    event = record(
        event_context=own,
        kind=KIND,
        subjects=[subject_id] if subject_id else [],
        reported=reported,
        site_id=site_id,
        reason=reason,
        figures=dict(figures or {}),
    )
    return ForReview(event, park(event, reason, **dict(figures or {})))


def _kind(fields: Sequence[tuple[str, str]]) -> str:
    """What the form says its file is; a photo unless it says otherwise, as on the page of a problem."""
    said = dict(fields).get("kind", "")
    return said if said in AttachmentKind.values else AttachmentKind.PHOTO
