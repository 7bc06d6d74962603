"""A photo, redrawn: pixels alone, without place, camera or name, in the sizes asked for."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

from PIL import Image

from traveller.decode.kinds.opened import TooManyPoints, reduced, samples

QUALITY = 82


def rehearse(asked: Mapping[str, Any]) -> None:
    for sample in samples():
        decode(asked, [sample])


def decode(asked: Mapping[str, Any], blobs: list[bytes]) -> tuple[dict[str, Any], list[bytes]]:
    """`asked`: {"sides": [1600, 500], "form": "JPEG" or "PNG"}; answers format, width, height and a picture a side.

    A picture of too many points answers {"points": [width, height]} and no picture.
    """
    sides = sorted((int(side) for side in asked["sides"]), reverse=True)
    keep_clear = asked.get("form") == "PNG"
    try:
        image, form, size = reduced(blobs[0], sides[0], "RGBA" if keep_clear else "RGB")
    except TooManyPoints as many:
        return {"points": [many.width, many.height]}, []
    drawn = {}
    for side in sides:
        image.thumbnail((side, side))
        # A new picture knows nothing but its pixels.
        bare = Image.new(image.mode, image.size)
        bare.paste(image)
        out = io.BytesIO()
        if keep_clear:
            bare.save(out, "PNG", optimize=True)
        else:
            bare.save(out, "JPEG", quality=QUALITY)
        drawn[side] = out.getvalue()
    facts = {"format": form, "width": size[0], "height": size[1]}
    return facts, [drawn[int(side)] for side in asked["sides"]]
