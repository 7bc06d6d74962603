"""What goods are, said on a page: the mark, the word, why, and what comes next and where."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from traveller.batches.status import LotStatus
from traveller.rules.statuses import StatusKind, kind_of_stop, status_word
from traveller.web.pictures.marks import MarkDrawn
from traveller.web.words import say

_MARKS: Mapping[StatusKind, MarkDrawn] = {
    "not_made": "two",
    "in_process": "one",
    "rework": "one",
    "unproved": "gate",
    "held": "held",
    "expired": "late",
    "disputed": "doubt",
    "road": "road",
    "misplaced": "doubt",
    "free": "free",
}


def said_in_words(status: LotStatus) -> dict[str, Any]:
    """For a template: `mark` and `word`, `why` (empty where nothing stops them), `next` and `next_site`."""
    stop = status.stop
    return {
        "mark": _MARKS[status.kind],
        "word": _(status.word),
        "why": say(stop.code, stop.figures) if stop else "",
        # What a step is called is the founder's own word; what comes after all steps is one of ours.
        "next": status.verb if status.step or not status.verb else _(status.verb),
        "next_site": status.site,
    }


def stop_in_a_word(code: str) -> tuple[MarkDrawn, str]:
    """The mark and the word for the code of a stop."""
    kind = kind_of_stop(code)
    return _MARKS[kind], _(status_word(kind, "pack"))
