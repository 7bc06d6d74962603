"""The picture files that the parts sheet names, read and looked at before they are believed."""

from __future__ import annotations

import io
import warnings
from collections.abc import Sequence
from pathlib import PurePosixPath

from PIL import Image, UnidentifiedImageError

from traveller.exchange.workbook.folders import Folder, Refused
from traveller.exchange.workbook.problems import Findings, nearest
from traveller.exchange.workbook.rows import PartRow

PICTURE_BYTES_MAX = 2 * 1024 * 1024
PIXELS_MAX = 25_000_000
FORMATS = {"PNG": "image/png", "JPEG": "image/jpeg"}


def read_pictures(parts: Sequence[PartRow], folder: Folder, has_folder: bool, findings: Findings) -> dict[str, bytes]:
    """Each named picture once, by the name that the sheet gives it."""
    pictures: dict[str, bytes] = {}
    for part in parts:
        if not part.picture or part.picture in pictures:
            continue
        if not has_folder:
            right = "upload a zip of the XLSX with its pictures to bring them"
            findings.warn("parts", part.row, "picture", part.picture, "did not come with the XLSX", right)
            continue
        content = _read_one(part, folder, findings)
        if content is not None:
            pictures[part.picture] = content
    return pictures


def _read_one(part: PartRow, folder: Folder, findings: Findings) -> bytes | None:
    def wrong(what: str, right: str) -> None:
        findings.wrong("parts", part.row, "picture", part.picture, what, right)

    path = PurePosixPath(part.picture)
    if path.is_absolute() or ".." in path.parts or "\\" in part.picture or ":" in part.picture:
        wrong("leads out of the workbook's folder", "put the picture beside the sheets and give its name alone")
        return None
    stored = folder.find(str(path))
    if stored is None:
        close = nearest(str(path), folder.names(), 1)
        hint = f"did you mean {close[0]}?" if close else "put the file there, or leave the cell empty"
        wrong("is not beside the sheets", hint)
        return None
    try:
        content = folder.read(stored)
    except Refused as refusal:
        wrong(refusal.wrong, refusal.right)
        return None
    fault = fault_of(content)
    if fault:
        wrong(*fault)
        return None
    return content


def fault_of(content: bytes) -> tuple[str, str] | None:
    """Why these bytes are no picture to print, in words; None when they are one."""
    if len(content) > PICTURE_BYTES_MAX:
        return f"is larger than {PICTURE_BYTES_MAX // 1024 // 1024} MB", "make the picture smaller"
    try:
        with warnings.catch_warnings():
            # A picture that claims to be huge is refused below by its header, in our words.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=list(FORMATS)) as image:
                if image.width * image.height > PIXELS_MAX:
                    return f"has {image.width:,} by {image.height:,} points", "make the picture smaller"
                image.load()
    except (UnidentifiedImageError, Image.DecompressionBombError):
        return "is not a picture", "use a PNG or JPEG file"
    except (OSError, SyntaxError, ValueError, EOFError):
        return "is a damaged picture", "save it again as PNG or JPEG"
    return None


def media_type(content: bytes) -> str:
    """image/png or image/jpeg, for a picture that `fault_of` found good."""
    with Image.open(io.BytesIO(content), formats=list(FORMATS)) as image:
        return FORMATS[image.format or "PNG"]
