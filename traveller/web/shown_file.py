"""Files that strangers' phones sent, shown and given back so that nothing in them can act."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from urllib.parse import quote

from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse

from traveller.batches.files.decoded import SHOWN_PX, head_of, pages_of, photo_of, state_of
from traveller.batches.files.other_oven import other_place
from traveller.batches.files.stored import content_of
from traveller.batches.files.turns import silent_since
from traveller.batches.models import Attachment, AttachmentKind, FileReading
from traveller.web.words import say

# So long a worker may be silent before somebody is told.
PATIENCE = timedelta(minutes=1)


def as_picture(request: HttpRequest, attachment: Attachment) -> HttpResponse:
    """A photo drawn anew, without what the phone wrote into it; of a PDF certificate the page asked for (`?page=2`)."""
    if is_picture(attachment):
        bare = photo_of(attachment, SHOWN_PX)
    else:
        asked = request.GET.get("page", "1")
        shown = {str(number): page for number, page in enumerate(pages_of(attachment).pictures, start=1)}
        bare = shown.get(asked)
    if bare is None:
        raise Http404
    answer = HttpResponse(bare, content_type="image/jpeg")
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Cache-Control"] = "private, no-store"
    return answer


def is_picture(attachment: Attachment) -> bool:
    return attachment.file.content_type.startswith("image/")


def reading_in(attachment: Attachment, now: datetime) -> dict[str, Any]:
    """Where the reading of a file stands: being read, with since when nothing was where nothing reads; what is wrong
    with one that cannot be read; whether there is a picture to show."""
    reading = state_of(attachment)
    waits = reading is not None and reading.state == FileReading.State.WAITING
    fails = reading is not None and reading.state == FileReading.State.UNREADABLE and is_picture(attachment)
    is_read = reading is not None and reading.state == FileReading.State.READ
    return {
        "being_read": waits,
        "silent_since": silent_since(now, PATIENCE) if waits else None,
        "unreadable": say(f"picture_{reading.why}") if reading is not None and fails else "",
        "is_picture": is_picture(attachment) and is_read,
    }


def pages_in(attachment: Attachment) -> dict[str, Any]:
    """What a page needs to show them: their numbers, of how many, and what is not shown."""
    pages = pages_of(attachment)
    return {
        "pages": range(1, len(pages.pictures) + 1),
        "pages_total": pages.total,
        "pages_note": pages.note,
    }


def as_original(attachment: Attachment) -> HttpResponse:
    """The bytes as they were sent, to be saved: never opened as a page, whatever they hold."""
    answer = HttpResponse(content_of(attachment.file_id), content_type="application/octet-stream")
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "._- ") else "_" for c in attachment.name)
    answer["Content-Disposition"] = f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(attachment.name)}"
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer["Cache-Control"] = "private, no-store"
    return answer


def also_sent(found: Attachment, others: QuerySet[Attachment]) -> dict[str, Any]:
    """Other batches that the very same file was sent for, and whether it speaks of somewhere else than this load."""
    rows = others.exclude(step__batch=found.step.batch_id).select_related("step__batch", "load").order_by("id")
    named = list(rows)
    place = found.load.place if found.load else ""
    elsewhere = [row for row in named if place and row.load and row.load.place and row.load.place != place]
    return {
        "also_for": list(dict.fromkeys(row.step.batch.code for row in named)),
        "elsewhere": [
            *_named_elsewhere(found),
            *(
                say("same_log_elsewhere", {"batch": row.step.batch.code, "place": row.load.place, "own": place})
                for row in elsewhere
                if row.load
            ),
        ],
    }


def _named_elsewhere(found: Attachment) -> list[str]:
    """A log whose name or head names another oven of this site than the one that the load was in."""
    place, own = other_place(found, head_of(found) if found.kind == AttachmentKind.LOG else "")
    return [say("log_of_another_place", {"place": place, "own": own})] if place else []
