"""Uploads that are too large are let through the door without being kept, so that the page can say so in words.

Django alone would write a file of any size to the disk before a view could look at it. Here a request keeps at
most UPLOAD_BYTES_MAX: what goes beyond is read off the line and dropped, and the view gets a file that has its
true size and no content. So the form comes back with all that was typed, instead of a broken connection.
"""

from __future__ import annotations

import io
from typing import Any

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.core.files.uploadhandler import FileUploadHandler

# The fields beside the files, and the lines that part them, are never more than this.
FIELDS_BYTES_MAX = 4 * 1024 * 1024


class BoundedUpload(FileUploadHandler):
    """The first handler: passes chunks on to the others until a request has brought too much."""

    def __init__(self, request: Any = None) -> None:
        super().__init__(request)
        self.so_far = 0
        self.announced = 0

    def handle_raw_input(
        self,
        input_data: Any,
        META: dict[str, Any],
        content_length: int,
        boundary: Any,
        encoding: str | None = None,
    ) -> None:
        """A request that says at its head that it is too large is not kept even in part."""
        self.announced = content_length

    @property
    def is_too_much(self) -> bool:
        most = settings.UPLOAD_BYTES_MAX
        return self.so_far > most or self.announced > most + FIELDS_BYTES_MAX

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:
        self.so_far += len(raw_data)
        return None if self.is_too_much else raw_data

    def file_complete(self, file_size: int) -> UploadedFile[Any] | None:
        """Nothing for a file that the others have whole; else a file of that size without its content."""
        if not self.is_too_much:
            return None
        for handler in self.request.upload_handlers if self.request else ():
            if handler is not self:
                # What the others had begun to write goes at once.
                handler.upload_interrupted()
        size = max(file_size, self.so_far)
        return UploadedFile(io.BytesIO(), self.file_name, self.content_type, size, self.charset)
