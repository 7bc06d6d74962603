"""A workbook between trying and importing: kept on the server, so that nothing has to be chosen twice."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any
from uuid import UUID, uuid4

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest
from django.utils import timezone

from traveller.journal.refusal import Refusal

SESSION_KEY = "workbook"
KEPT_SECONDS_MAX = 24 * 3600


@dataclass(frozen=True, slots=True)
class Kept:
    """An upload as one file: `key` names it here, `name` is what the person called it."""

    key: str
    name: str

    @property
    def path(self) -> Path:
        return folder() / self.key

    def open(self) -> ContentFile[bytes] | None:
        """Its content under its own name; none when it was swept away."""
        try:
            return ContentFile(self.path.read_bytes(), name=self.name)
        except OSError:
            return None


def folder() -> Path:
    """Where uploads wait, beside the database and not below any address."""
    return Path(settings.MEDIA_ROOT).parent / f"{Path(settings.MEDIA_ROOT).name}-uploads"


def keep(request: HttpRequest, files: Sequence[UploadedFile[Any]]) -> Kept | Refusal:
    """Store an upload for this browser's session; several files become one zip."""
    sizes = [file.size or 0 for file in files]
    if not any(sizes):
        return Refusal("upload_empty")
    if sum(sizes) > settings.UPLOAD_BYTES_MAX:
        return Refusal("upload_too_large", {"megabytes_max": settings.UPLOAD_BYTES_MAX // 1024 // 1024})
    content, name = _as_one(files)
    kept = Kept(uuid4().hex, name)
    try:
        folder().mkdir(parents=True, exist_ok=True)
        _sweep()
        kept.path.write_bytes(content)
    except OSError:
        return Refusal("disk_full")
    forget(request)
    request.session[SESSION_KEY] = {"key": kept.key, "name": kept.name}
    return kept


def _as_one(files: Sequence[UploadedFile[Any]]) -> tuple[bytes, str]:
    """One XLSX or zip as it is; anything else as a zip of what came."""
    first = _plain_name(files[0].name)
    if len(files) == 1 and first.lower().endswith((".xlsx", ".zip")):
        return files[0].read(), first
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in files:
            archive.writestr(zipfile.ZipInfo(_plain_name(file.name)), file.read(), zipfile.ZIP_DEFLATED)
    return out.getvalue(), first if len(files) == 1 and "." not in first else "upload.zip"


def _plain_name(name: str | None) -> str:
    return PurePosixPath((name or "upload").replace("\\", "/")).name or "upload"


def kept_for(request: HttpRequest, key: str) -> Kept | None:
    """The upload that this session tried last, if that is the one asked for."""
    row = request.session.get(SESSION_KEY)
    try:
        asked = UUID(key).hex
    except ValueError:
        return None
    return Kept(asked, row["name"]) if row and row["key"] == asked else None


def forget(request: HttpRequest) -> None:
    """Drop what this session had kept."""
    row = request.session.pop(SESSION_KEY, None)
    if row:
        with suppress(OSError):
            Kept(row["key"], row["name"]).path.unlink()


def _sweep() -> None:
    """What nobody imported within a day is not wanted any more."""
    oldest = timezone.now().timestamp() - KEPT_SECONDS_MAX
    for path in folder().iterdir():
        with suppress(OSError):
            if path.stat().st_mtime < oldest:
                path.unlink()
