"""Pictures of parts: looked at before they are believed, and redrawn, so that they tell nothing but their pixels."""

from __future__ import annotations

import io
import struct

from PIL import Image, UnidentifiedImageError

from traveller.decode.book.bounds import MEGABYTE, PICTURE_BYTES_MAX, PICTURE_SIDE_MAX
from traveller.decode.kinds.opened import reduced
from traveller.decode.limits import PIXELS_MAX

__all__ = ["PictureFault", "drawn", "is_bare"]

FORMATS = ("PNG", "JPEG")
QUALITY = 85
# Smaller and smaller until it is light enough to be imported again from an export.
_SIDES = (PICTURE_SIDE_MAX, 800, 500)
_PNG_HEAD = b"\x89PNG\r\n\x1a\n"
_PNG_PIXELS = (b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND")
_JFIF = b"\xff\xe0\x00\x10JFIF\x00"
# Tables, frames, scans and restarts; APP0 is looked at by itself.
_JPEG_PIXELS = frozenset((0xC0, 0xC1, 0xC2, 0xC4, 0xDB, 0xDD))


class PictureFault(Exception):
    """These bytes are no picture to print; in words: what is wrong, what would be right."""

    def __init__(self, wrong: str, right: str) -> None:
        super().__init__(wrong)
        self.wrong, self.right = wrong, right


def drawn(content: bytes) -> bytes:
    """The picture as PNG or JPEG, as it came in, without place, camera or remarks, no side above PICTURE_SIDE_MAX.

    One that is small and bare already stays as it is, so that it comes out of an export and in again unchanged and a
    JPEG does not fade. Raises Fault.
    """
    if len(content) > PICTURE_BYTES_MAX:
        raise PictureFault(f"is larger than {PICTURE_BYTES_MAX // MEGABYTE} MB", "make the picture smaller")
    try:
        form, mode, size, deep = _looked_at(content)
        if size[0] * size[1] > PIXELS_MAX:
            raise PictureFault(f"has {size[0]:,} by {size[1]:,} points", "make the picture smaller")
        if max(size) <= PICTURE_SIDE_MAX and is_bare(content):
            Image.open(io.BytesIO(content), formats=FORMATS).load()
            return content
        if deep:
            raise PictureFault("has 16 bits for each point's grey", "save it again with 8 bits")
        return _redrawn(content, form, mode)
    except UnidentifiedImageError:
        raise PictureFault("is not a picture", "use a PNG or JPEG file") from None
    except MemoryError:
        raise PictureFault("takes too much memory to draw", "make the picture smaller") from None
    except (OSError, SyntaxError, ValueError, EOFError, LookupError, TypeError, struct.error):
        raise PictureFault("is a damaged picture", "save it again as PNG or JPEG") from None


def _looked_at(content: bytes) -> tuple[str, str, tuple[int, int], bool]:
    """By its head alone: format, colours, size, and whether its grey is finer than what it would be redrawn in."""
    image = Image.open(io.BytesIO(content), formats=FORMATS)
    form = "PNG" if image.format == "PNG" else "JPEG"
    clear = form == "PNG" and (image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info)
    return form, "RGBA" if clear else "RGB", image.size, image.mode.startswith("I")


def _redrawn(content: bytes, form: str, mode: str) -> bytes:
    image, _, _ = reduced(content, PICTURE_SIDE_MAX, mode)
    found = b""
    for side in _SIDES:
        image.thumbnail((side, side))
        # A new picture knows nothing but its pixels.
        bare = Image.new(image.mode, image.size)
        bare.paste(image)
        out = io.BytesIO()
        if form == "PNG":
            bare.save(out, "PNG", optimize=True)
        else:
            bare.save(out, "JPEG", quality=QUALITY)
        found = out.getvalue()
        if len(found) <= PICTURE_BYTES_MAX:
            break
    return found


def is_bare(content: bytes) -> bool:
    """True where nothing stands in the file that is not pixels: no remark, no place, nothing behind the end."""
    if content.startswith(_PNG_HEAD):
        return _bare_png(content)
    return content.startswith(b"\xff\xd8") and _bare_jpeg(content)


def _bare_png(content: bytes) -> bool:
    at, kind = len(_PNG_HEAD), b""
    while at + 12 <= len(content):
        length, kind = struct.unpack(">I4s", content[at : at + 8])
        if kind not in _PNG_PIXELS:
            return False
        at += 12 + length
        if kind == b"IEND":
            break
    return kind == b"IEND" and at == len(content)


def _bare_jpeg(content: bytes) -> bool:
    at = 2
    while at + 4 <= len(content):
        if content[at] != 0xFF:
            return False
        marker = content[at + 1]
        if marker == 0xD9:
            break
        length = int.from_bytes(content[at + 2 : at + 4])
        jfif = marker == 0xE0 and at == 2 and content.startswith(_JFIF, at) and not any(content[at + 16 : at + 18])
        if marker != 0xDA and marker not in _JPEG_PIXELS and not jfif:
            return False
        at += 2 + length
        if marker == 0xDA:
            at = _after_scan(content, at)
    return content[at:] == b"\xff\xd9"


def _after_scan(content: bytes, at: int) -> int:
    """Where the next marker stands that neither is a letter of the scan nor starts it again."""
    while (at := content.find(b"\xff", at)) >= 0:
        if at + 1 < len(content) and content[at + 1] != 0 and not 0xD0 <= content[at + 1] <= 0xD7:
            return at
        at += 2
    return len(content)
