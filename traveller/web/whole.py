"""Large uploads lie on disk until they are wanted; then one of them at a time is held in memory."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.conf import settings
from django.core.files.uploadedfile import TemporaryUploadedFile

from traveller.decode.slots import slot
from traveller.web import outage

__all__ = ["whole"]

# In one process, and among those of this machine; after so long it goes on as it is: memory is not worth the news.
_turn = threading.Lock()
LONGEST_WAIT_S = 10.0


@contextmanager
def whole(file: Any) -> Iterator[bytes]:
    """The bytes of an upload, for as long as it takes to keep them: whoever sends many large files at once waits.

    What lies in memory already waits for nobody: it may be told again from within a transaction, for whose end others
    wait with their file in hand.
    """
    if not isinstance(file, TemporaryUploadedFile):
        yield file.read()
        return
    with _turn, slot(settings.DECODE_PLACE, ("upload",), LONGEST_WAIT_S):
        try:
            yield file.read()
        finally:
            outage.wear()
