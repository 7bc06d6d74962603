"""Does a log name another oven than the one that its load was in? By its name and its first lines."""

from __future__ import annotations

import re

from traveller.batches.models import Attachment, AttachmentKind, Load

# Which ovens a site has, its latest loads tell.
LOADS_LOOKED_AT = 300


def other_place(found: Attachment, head: str) -> tuple[str, str]:
    """The place of this site that the log names, and those that it was sent for; empty words where it names none, or
    its own. `head` are the file's first lines."""
    own = _own_places(found) if found.kind == AttachmentKind.LOG else []
    if not own:
        return "", ""
    latest = Load.objects.filter(step__site=found.step.site_id).order_by("-id").values_list("place", flat=True)
    places = sorted({place for place in latest[:LOADS_LOOKED_AT] if place and place not in own})
    text = f"{_plain(found.name)} {_plain(head)}" if places else ""
    said = ", ".join(own)
    if not places or any(_names(text, place) for place in own):
        return "", said
    return next((place for place in places if _names(text, place)), ""), said


def _own_places(found: Attachment) -> list[str]:
    """Where its load was, or all loads of its step; where nobody said, the tool that the operation is done with."""
    if found.load:
        places = [found.load.place]
    else:
        rows = Load.objects.filter(step=found.step_id, struck_by=None).values_list("place", flat=True)
        places = sorted(set(rows))
    known = [place for place in places if place]
    # "box oven, 60 places": what it is called stands first.
    tool = found.step.operation.tool.split(",")[0].strip() if not known else ""
    return known or ([tool] if tool else [])


def _plain(text: str) -> str:
    """Words with single blanks: file names join them by other signs."""
    return " ".join(re.sub(r"[_\-.;,:/\t]", " ", text).casefold().split())


def _names(text: str, place: str) -> bool:
    return re.search(rf"(?<!\w){re.escape(_plain(place))}(?!\w)", text) is not None
