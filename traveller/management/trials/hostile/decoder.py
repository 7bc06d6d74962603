"""A bare decoder in a process of its own: `python decoder.py READER FILE LIMIT_BYTES`.

It reads the file as the program once did in its server, without formats, limits or a time; what it costs shows
what the file is good for. The last line printed is JSON: seconds, megabytes, and the exception if there was one.
"""

from __future__ import annotations

import csv
import importlib
import io
import json
import os
import resource
import sys
import warnings
import zipfile
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any


def _picture(content: bytes) -> None:
    """As a photo was opened: whatever kind it is, to its points, turned as it was held, made grey."""
    from PIL import Image, ImageOps

    warnings.simplefilter("ignore")
    image = Image.open(io.BytesIO(content))
    image.load()
    turned = ImageOps.exif_transpose(image)
    turned.convert("L").thumbnail((2600, 2600))


def _pdf(content: bytes) -> None:
    """As the first pages of a certificate were drawn."""
    import pypdfium2

    document = pypdfium2.PdfDocument(content)
    for number in range(min(len(document), 6)):
        page = document[number]
        wide, tall = page.get_size()
        page.render(scale=min(999 / wide, 1499 / tall)).to_pil().convert("RGB")


def _log(content: bytes) -> None:
    """As a logger's file was read before there were limits: by that reader where it is at hand, else as it began."""
    try:
        from traveller.rules.logs import Answers, read_log
    except ImportError:
        cells(content)
        return
    zone, unit, channel = "America/New_York", "C", "1"
    read_log(content, Answers(zone=zone, unit=unit, channel=channel))  # type: ignore[arg-type]


def cells(content: bytes) -> None:
    """Parted into cells, and each row's time and value read."""
    marked = content[:2] in (b"\xff\xfe", b"\xfe\xff")
    lines = content.decode("utf-16" if marked else "utf-8", errors="replace").splitlines()
    sign = max(",;\t", key=lambda mark: sum(line.count(mark) for line in lines[:50]))
    times, values = [], []
    for row in list(csv.reader(lines, delimiter=sign)):
        with suppress(ValueError, IndexError):
            times.append(datetime.fromisoformat(row[0]).timestamp())
            values.append(float(row[1]))


def _workbook(content: bytes) -> None:
    """As a workbook was read: every member of a zip, every sheet and cell; or every row of a CSV file."""
    if not content.startswith(b"PK"):
        list(csv.reader(io.StringIO(content.decode("utf-8")), strict=True))
        return
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        names = archive.namelist()
        if not any(name.endswith("workbook.xml") for name in names):
            for name in names:
                archive.read(name)
            return
    import openpyxl

    warnings.simplefilter("ignore")
    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    for sheet in book.worksheets:
        sheet.reset_dimensions()
        kept = [[cell.value for cell in row] for row in sheet.iter_rows()]
        del kept


def _queue(content: bytes) -> None:
    """As the envelope of a phone's queue was read."""
    found = json.loads(content)
    for entry in found["entries"]:
        for name, value in entry["fields"]:
            len(name) + len(value)


def form(content: bytes) -> None:
    """As a form with files is read: its head is the first line, the rest is its body."""
    from django.conf import settings
    from django.core.files.uploadhandler import MemoryFileUploadHandler
    from django.http.multipartparser import MultiPartParser

    settings.configure()
    head, _, body = content.partition(b"\n")
    meta = {"CONTENT_TYPE": head.decode("latin-1"), "CONTENT_LENGTH": len(body)}
    MultiPartParser(meta, io.BytesIO(body), [MemoryFileUploadHandler()]).parse()


READERS: dict[str, Callable[[bytes], None]] = {
    "picture": _picture,
    "pdf": _pdf,
    "log": _log,
    "workbook": _workbook,
    "json": _queue,
    "form": form,
}
# What is loaded before anything is reckoned.
IMPORTS = {
    "picture": ["PIL.Image"],
    "pdf": ["pypdfium2"],
    "log": ["traveller.rules.logs"],
    "workbook": ["openpyxl"],
    "form": ["django.http"],
}


def peak() -> int:
    """The most memory that this process, or one that it started, ever had; bytes.

    Its own from /proc: the figure of `getrusage` is that of whoever started it, where that one was larger.
    """
    lines = Path("/proc/self/status").read_text(encoding="ascii", errors="replace").splitlines()
    own = next(int(line.split()[1]) for line in lines if line.startswith("VmHWM:"))
    return 1024 * max(own, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)


def _spent() -> float:
    """Seconds of the processor, with those of what it started: the same on a busy machine as on a quiet one."""
    rows = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(row.ru_utime + row.ru_stime for row in rows)


def main(reader: str, file: str, limit: int) -> None:
    content = Path(file).read_bytes()
    # What a file makes other programs print is not what we say.
    said_by_us = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    for name in IMPORTS.get(reader, ()):
        with suppress(ImportError):
            importlib.import_module(name)
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    before, began = peak(), _spent()
    said: dict[str, Any] = {}
    # The parent reckons from this line on when it has to stop us.
    print(json.dumps({"before": before}), file=said_by_us, flush=True)
    try:
        READERS[reader](content)
    except BaseException as fault:
        said = {"fault": type(fault).__name__, "words": str(fault)[:200]}
    figures = {"seconds": _spent() - began, "bytes": max(0, peak() - before)}
    print(json.dumps({**figures, **said}), file=said_by_us, flush=True)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
