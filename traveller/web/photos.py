"""A photo of a code: bounded in bytes, read in a child process while somebody stands there and waits."""

from __future__ import annotations

from typing import Any

from django.conf import settings

from traveller.decode import Undecoded, decode
from traveller.decode.limits import PIXELS_MAX
from traveller.decode.slots import alone
from traveller.journal.refusal import Refusal

PHOTO_BYTES_MAX = 20 * 1024 * 1024
_WHY = {
    "busy": "photo_busy",
    "too_slow": "photo_slow",
    "too_large": "photo_slow",
    "unreadable": "photo_unreadable",
    "ended": "photo_slow",
}


def code_in_photo(upload: Any, asker: str) -> str | Refusal:
    """The text of the first code in the picture, or why there is none: after seconds, whatever the picture is.

    `asker` is who may have one photo read at a time: a pass. Others find their place meanwhile.
    """
    if upload is None or not upload.size:
        return Refusal("photo_empty")
    if upload.size > PHOTO_BYTES_MAX:
        return Refusal("photo_too_large", {"megabytes_max": PHOTO_BYTES_MAX // 1024 // 1024})
    with alone(settings.DECODE_PLACE, asker) as first:
        if not first:
            return Refusal("photo_busy")
        found = decode("code", [upload.read], {}, place=settings.DECODE_PLACE)
    if isinstance(found, Undecoded):
        return Refusal(_WHY[found.why])
    if points := found.facts.get("points"):
        figures = {"width": points[0], "height": points[1], "most": PIXELS_MAX // 1_000_000}
        return Refusal("photo_too_many_points", figures)
    return found.facts["text"] or Refusal("photo_without_code")


def asker_of(who: Any) -> str:
    """Whose photos are read one at a time: a pass's, or the founder's."""
    return f"pass-{who.site_pass.pk}" if who.site_pass else "founder"
