"""Files as they were sent: taken in by their first bytes, kept once, given back. Nothing here looks inside."""

from __future__ import annotations

from hashlib import sha256

from traveller.batches.models import AttachmentKind, EvidenceFile
from traveller.journal.refusal import Refused

BYTES_MAX = 25 * 1024 * 1024
PDF = "application/pdf"
_SIGNS = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"), (b"%PDF-", PDF))


def keep_file(content: bytes, kind: str) -> EvidenceFile:
    """Store the bytes once. A log is kept whatever it is, and said to be unreadable when it is; a photo must begin
    as a picture does and a certificate as a picture or a PDF, since they are to be shown."""
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
    """The type by the bytes it begins with: JPEG, PNG, WEBP, PDF; else text, or anything."""
    for sign, name in _SIGNS:
        if content.startswith(sign):
            return name
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return "application/octet-stream" if b"\x00" in content[:4096] else "text/plain"


def content_of(file_id: str) -> bytes:
    """The bytes as they were sent."""
    return bytes(EvidenceFile.objects.values_list("content", flat=True).get(pk=file_id))
