"""Large uploads lie on disk until they are wanted; then a process holds one of them in memory at a time."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.core.files.uploadedfile import TemporaryUploadedFile

from traveller.web import outage

__all__ = ["whole"]

_turn = threading.Lock()


@contextmanager
def whole(file: Any) -> Iterator[bytes]:
    """The bytes of an upload, for as long as it takes to keep them: whoever sends many large files at once waits.

    What lies in memory already waits for nobody: it may be told again from within a transaction, for whose end others
    wait with their file in hand.
    """
    if not isinstance(file, TemporaryUploadedFile):
        yield file.read()
        return
    with _turn:
        try:
            yield file.read()
        finally:
            outage.wear()
