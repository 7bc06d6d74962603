"""A decoded workbook as bytes, to lie beside the file that it came from: a file is decoded once."""

from __future__ import annotations

import zlib
from dataclasses import astuple
from typing import Any

from traveller.decode.book.cells import rows_from_json, rows_to_json
from traveller.decode.wire import packed_message, unpack_kept
from traveller.exchange.workbook.problems import Problem
from traveller.exchange.workbook.raw import RawBook, RawSheet

__all__ = ["from_bytes", "to_bytes"]

# Raised whenever what is written here changes: an older one is decoded anew.
FORM = 1


def to_bytes(book: RawBook, digest: str) -> bytes:
    """Compressed JSON and pictures, signed with the digest of the file's bytes."""
    sheets = list(book.sheets.values())
    head = {
        "form": FORM,
        "digest": digest,
        "sheets": [[sheet.name, sheet.file, sheet.header, sheet.decimal_mark] for sheet in sheets],
        "pictures": list(book.pictures),
        "picture_faults": book.picture_faults,
        "has_folder": book.has_folder,
        "opened": book.opened,
        "problems": [astuple(problem) for problem in book.problems],
        "warnings": [astuple(problem) for problem in book.warnings],
    }
    blobs = [*(rows_to_json(sheet.rows) for sheet in sheets), *book.pictures.values()]
    return zlib.compress(packed_message(head, blobs), level=6)


def from_bytes(content: bytes, digest: str) -> RawBook | None:
    """The workbook again; none where these bytes are of another file or another release."""
    try:
        head, blobs = unpack_kept(zlib.decompress(content))
    except (zlib.error, ValueError):
        return None
    if (head.get("form"), head.get("digest")) != (FORM, digest):
        return None
    sheets = [_sheet(kept, rows) for kept, rows in zip(head["sheets"], blobs, strict=False)]
    return RawBook(
        sheets={sheet.name: sheet for sheet in sheets},
        pictures=dict(zip(head["pictures"], blobs[len(sheets) :], strict=True)),
        picture_faults={name: (wrong, right) for name, (wrong, right) in head["picture_faults"].items()},
        has_folder=head["has_folder"],
        opened=head["opened"],
        problems=[Problem(*kept) for kept in head["problems"]],
        warnings=[Problem(*kept) for kept in head["warnings"]],
    )


def _sheet(kept: list[Any], rows: bytes) -> RawSheet:
    name, file, header, mark = kept
    return RawSheet(name, file, tuple(header), rows_from_json(rows), mark)
