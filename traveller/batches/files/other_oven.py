"""Does a log name another oven than the one that its load was in? By its name and its first lines."""

from __future__ import annotations

import re

from traveller.batches.models import Attachment, AttachmentKind, Load

# Which ovens a site has, its latest loads tell.
LOADS_LOOKED_AT = 300


def other_place(found: Attachment, head: str) -> tuple[str, str]:
    """The place of this site that the log names, and the one that its load was in; empty words where it names none, or
    its own. `head` are the file's first lines."""
    own = found.load.place if found.load and found.kind == AttachmentKind.LOG else ""
    if not own:
        return "", ""
    latest = Load.objects.filter(step__site=found.step.site_id).order_by("-id").values_list("place", flat=True)
    places = sorted({place for place in latest[:LOADS_LOOKED_AT] if place and place != own})
    text = f"{_plain(found.name)} {_plain(head)}" if places else ""
    if not places or _names(text, own):
        return "", own
    return next((place for place in places if _names(text, place)), ""), own


def _plain(text: str) -> str:
    """Words with single blanks: file names join them by other signs."""
    return " ".join(re.sub(r"[_\-.;,:/\t]", " ", text).casefold().split())


def _names(text: str, place: str) -> bool:
    return re.search(rf"(?<!\w){re.escape(_plain(place))}(?!\w)", text) is not None
