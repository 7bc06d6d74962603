"""What kind of file is this, by its bytes? And what does a logger's file say?"""

from __future__ import annotations

import io
import warnings
from functools import lru_cache
from hashlib import sha256
from typing import Any

from PIL import Image, ImageOps, UnidentifiedImageError

from traveller.batches.models import Attachment, AttachmentKind, EvidenceFile
from traveller.journal.refusal import Refused
from traveller.paper.pdf_pages import PdfPages, draw_pages
from traveller.products.frozen import checks_of
from traveller.rules.checks.heat import heat_asked
from traveller.rules.logs import Answers, Log, NotALog, Unclear, read
from traveller.rules.logs.doubt import unit_doubt
from traveller.rules.moments import read_moment

BYTES_MAX = 25 * 1024 * 1024
PIXELS_MAX = 60_000_000
PDF = "application/pdf"
_IMAGES = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}


def keep(content: bytes, kind: str) -> EvidenceFile:
    """Store the bytes once. A log is kept whatever it is, and said to be unreadable when it is; a photo must be
    a picture and a certificate a picture or a PDF, since they are shown."""
    if not content:
        raise Refused("file_empty")
    if len(content) > BYTES_MAX:
        raise Refused("file_too_large", megabytes_max=BYTES_MAX // 1024 // 1024)
    found = content_type(content)
    if kind == AttachmentKind.PHOTO and not found.startswith("image/"):
        raise Refused("not_a_picture")
    if kind == AttachmentKind.CERTIFICATE and not found.startswith(("image/", PDF)):
        raise Refused("not_a_certificate")
    digest = sha256(content).hexdigest()
    there = EvidenceFile.objects.defer("content").filter(digest=digest).first()
    return there or EvidenceFile.objects.create(digest=digest, content=content, size=len(content), content_type=found)


def content_type(content: bytes) -> str:
    """The type by content: a picture we can open, a PDF, text, or anything else."""
    if content.startswith(b"%PDF-"):
        return PDF
    try:
        with warnings.catch_warnings():
            # A picture that unpacks to more than it looks announces itself by a warning.
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            image = Image.open(io.BytesIO(content))
            if image.format in _IMAGES and image.width * image.height <= PIXELS_MAX:
                image.verify()
                return _IMAGES[image.format]
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Warning, Image.DecompressionBombError):
        pass
    return "application/octet-stream" if b"\x00" in content[:4096] else "text/plain"


def content_of(file_id: str) -> bytes:
    """The bytes as they were sent."""
    return bytes(EvidenceFile.objects.values_list("content", flat=True).get(pk=file_id))


def bare_picture(content: bytes, side_most: int) -> bytes | None:
    """A JPEG of the pixels alone, turned as it was held: place, camera and name stay in the original only.

    None where no picture can be made of it; more pixels than PIXELS_MAX are not even unpacked.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            image = Image.open(io.BytesIO(content))
            if image.format not in _IMAGES or image.width * image.height > PIXELS_MAX:
                return None
            image.draft("RGB", (side_most, side_most))
            turned = ImageOps.exif_transpose(image).convert("RGB")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Warning, Image.DecompressionBombError):
        return None
    turned.thumbnail((side_most, side_most))
    bare = Image.new("RGB", turned.size)
    bare.paste(turned)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=82)
    return out.getvalue()


def pages_of(file: EvidenceFile) -> PdfPages:
    """The first pages of a PDF as pictures; of any other file none, and nothing to be said."""
    if file.content_type != PDF:
        return PdfPages()
    try:
        return _pages(file.digest)
    except TimeoutError:
        # Not remembered: the next look may find the machine less busy.
        return PdfPages(fault="endless")


@lru_cache(maxsize=8)
def _pages(digest: str) -> PdfPages:
    """Drawn once per process while it is being looked at, since a file never changes under its digest."""
    return draw_pages(content_of(digest))


def log_of(attachment: Attachment, operation_id: int | None = None) -> Log | Unclear | NotALog:
    """A logger's file as it is understood with what was answered about it, and asked about where its unit can
    hardly be right for the checks of its step (`operation_id` saves a query where it is known)."""
    found = _read(attachment.file_id, tuple(sorted(attachment.answers.items())))
    if not isinstance(found, Log):
        return found
    plans = checks_of(operation_id or attachment.step.operation_id)
    return unit_doubt(found, heat_asked([plan.params for plan in plans])) or found


@lru_cache(maxsize=16)
def _read(digest: str, answers: tuple[tuple[str, str], ...]) -> Log | Unclear | NotALog:
    """Named by their digest files never change: a log is read once per process, however often its step is judged."""
    return read(content_of(digest), to_answers(dict(answers)))


def to_answers(told: dict[str, Any]) -> Answers:
    """Answers as they are kept: names of the log reader's questions, values as text."""
    start = told.get("start")
    return Answers(
        date_order=told.get("date_order"),
        unit=told.get("unit"),
        channel=told.get("channel"),
        zone=told.get("zone"),
        start=read_moment(start) if start else None,
        elapsed_unit=told.get("elapsed_unit"),
        unit_sure=told.get("unit_sure"),
    )
