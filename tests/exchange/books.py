"""A small valid workbook as CSV text, and the ways to spoil it."""

from __future__ import annotations

import csv
import datetime as dt
import io
import struct
import zlib
from pathlib import Path
from typing import Any

import openpyxl
from PIL import Image

from traveller.exchange.workbook import Problem, Workbook, read_workbook

SMALL = {
    "sites": (
        "site,name,kind,timezone\nbench,Own bench,own,America/New_York\nmill,The mill,subcontractor,Europe/London\n"
    ),
    "lanes": "from,to,transit_days\nmill,bench,2\n",
    "parts": (
        "part,name,kind,unit,supplier,picture\nCUP,Cup,made,piece,,\nLID,Lid,bought,piece,mill,\nCLAY,Clay,material,g,mill,\n"
    ),
    "bills": "part,component,quantity,unit,per,step\nCUP,CLAY,250,kg,1000,10\nCUP,LID,1,piece,1,pack\n",
    "routings": "part,step,site,verb,kind\nCUP,10,mill,throw,make\nCUP,20,mill,fire,work\n",
    "checks": (
        "part,step,check,kind,scope,blocks,least,most,unit,source\n"
        'CUP,20,kiln,window,load,sending,30,90,min,"common practice, no source"\n'
    ),
    "orders": "order,customer,placed,part,quantity,due\nA-1,Corner Shop,2026-01-05,CUP,100,2026-02-05\n",
    "stock": "part,lot,site,quantity,unit,received\nCLAY,C-9,mill,80,kg,2026-01-02\n",
    "batches": "reference,part,order,line,step,site,good,started_on\nR-1,CUP,A-1,1,10,mill,40,2026-01-03\n",
}


def write(folder: Path, **sheets: str | bytes | None) -> Path:
    """The small workbook in a folder, some sheets replaced, or left out with None."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in {**SMALL, **sheets}.items():
        if text is not None:
            content = text if isinstance(text, bytes) else text.encode()
            (folder / f"{name}.csv").write_bytes(content)
    return folder


def changed(sheet: str, old: str, new: str) -> dict[str, str]:
    """One sheet of the small workbook, spoiled."""
    assert old in SMALL[sheet], old
    return {sheet: SMALL[sheet].replace(old, new)}


def read(source: Any, **options: Any) -> Workbook:
    """A workbook that must be valid."""
    found = read_workbook(source, **options)
    assert isinstance(found, Workbook), [problem.text() for problem in found]
    return found


def asked(source: Any, **options: Any) -> list[str]:
    """What a workbook without a fault asks, in words."""
    return [question.text() for question in read(source, **options).questions]


def problems(source: Any, **options: Any) -> list[Problem]:
    """What is wrong with a workbook that must be refused."""
    found = read_workbook(source, **options)
    assert isinstance(found, list), "the workbook was accepted"
    return found


def texts(source: Any, **options: Any) -> list[str]:
    """The same, in words."""
    return [problem.text() for problem in problems(source, **options)]


def xlsx(sheets: dict[str, list[list[Any]]]) -> bytes:
    """An XLSX of these rows."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        page = book.create_sheet(name)
        for row in rows:
            page.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def small_xlsx(**changed: list[list[Any]]) -> bytes:
    """The small workbook as XLSX, some sheets replaced."""
    sheets: dict[str, list[list[Any]]] = {
        name: [_cells(line) for line in text.strip().split("\n")] for name, text in SMALL.items()
    }
    return xlsx({**sheets, **changed})


def _cells(line: str) -> list[Any]:
    return next(iter(csv.reader([line])))


class Upload(io.BytesIO):
    """What a page hands over."""

    def __init__(self, name: str, content: bytes) -> None:
        super().__init__(content)
        self.name = name


def png(width: int = 8, height: int = 8) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), "#aa3300").save(out, "PNG")
    return out.getvalue()


def cell_date(year: int, month: int, day: int, hour: int = 0, minute: int = 0) -> dt.datetime:
    """A date as a spreadsheet's cell holds it: such cells know no zone."""
    return dt.datetime(year, month, day, hour, minute)  # noqa: DTZ001


def claiming_to_be(width: int, height: int) -> bytes:
    """A tiny PNG whose head says that it is vast (PNG specification, 11.2.2: IHDR and its CRC)."""
    small = png()
    head = b"IHDR" + struct.pack(">II", width, height) + small[24:29]
    return small[:12] + head + struct.pack(">I", zlib.crc32(head)) + small[33:]
