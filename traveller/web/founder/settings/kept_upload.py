"""The uploads of this browser's session: kept on the server, so that nothing has to be chosen twice."""

from __future__ import annotations

import io
from collections.abc import Sequence
from contextlib import suppress
from pathlib import PurePosixPath
from typing import Any
from uuid import UUID, uuid4
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import ngettext

from traveller.exchange.kept import Kept, sweep_kept
from traveller.journal.refusal import Refusal

__all__ = ["Kept", "keep", "kept_for"]

SESSION_KEY = "workbooks"
# Each tab has its own; more than these nobody has open.
KEPT_MOST = 5


def keep(request: HttpRequest, files: Sequence[UploadedFile[Any]]) -> Kept | Refusal:
    """Store an upload for this browser's session; several files become one zip."""
    sizes = [file.size or 0 for file in files]
    if not any(sizes):
        return Refusal("upload_empty")
    if sum(sizes) > settings.UPLOAD_BYTES_MAX:
        return Refusal("upload_too_large", {"megabytes_max": settings.UPLOAD_BYTES_MAX // 1024 // 1024})
    content, name = _as_one(files)
    kept = Kept(uuid4().hex, name, _called(files))
    try:
        kept.keep(content)
    except OSError:
        return Refusal("disk_full")
    with suppress(OSError):
        sweep_kept(timezone.now().timestamp())
    names: dict[str, list[str]] = {**request.session.get(SESSION_KEY, {}), kept.key: [kept.name, kept.called]}
    for key in list(names)[:-KEPT_MOST]:
        Kept(key, *names.pop(key)).drop()
    request.session[SESSION_KEY] = names
    return kept


def _as_one(files: Sequence[UploadedFile[Any]]) -> tuple[bytes, str]:
    """One XLSX or zip as it is; anything else as a zip of what came."""
    first = _plain_name(files[0].name)
    if len(files) == 1 and first.lower().endswith((".xlsx", ".zip")):
        return files[0].read(), first
    out = io.BytesIO()
    with ZipFile(out, "w", ZIP_DEFLATED) as archive:
        for file in files:
            archive.writestr(ZipInfo(_plain_name(file.name)), file.read(), ZIP_DEFLATED)
    return out.getvalue(), first if len(files) == 1 and "." not in first else "upload.zip"


def _called(files: Sequence[UploadedFile[Any]]) -> str:
    """The file that was chosen, or the first of them and how many more."""
    first, more = _plain_name(files[0].name), len(files) - 1
    if not more:
        return first
    return ngettext("%(name)s and %(n)s more file", "%(name)s and %(n)s more files", more) % {"name": first, "n": more}


def _plain_name(name: str | None) -> str:
    return PurePosixPath((name or "upload").replace("\\", "/")).name or "upload"


def kept_for(request: HttpRequest, key: str) -> Kept | None:
    """The upload of this session that is asked for."""
    try:
        asked = UUID(key).hex
    except ValueError:
        return None
    names = request.session.get(SESSION_KEY, {}).get(asked)
    return Kept(asked, *names) if names is not None else None
