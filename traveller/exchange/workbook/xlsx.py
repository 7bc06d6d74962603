"""An XLSX file to rows of raw cells, sizes bounded before anything is parsed."""

from __future__ import annotations

import datetime as dt
import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from typing import Any

import openpyxl

from traveller.exchange.workbook.folders import Refused, open_zip
from traveller.exchange.workbook.raw import Raw, Unusable

_SHEETS_MAX = 60
_GRID_ROWS_MAX = 1_048_576
Rows = list[tuple[int, tuple[Raw, ...]]]


def read_sheets(content: bytes, name: str, rows_max: int, columns_max: int) -> list[tuple[str, Rows]]:
    """Each sheet's title and its rows that are not blank, with their numbers in the spreadsheet."""
    _refuse_what_parsers_choke_on(content, name)
    try:
        with warnings.catch_warnings():
            # openpyxl warns of styles and extensions it drops: none of them is data.
            warnings.simplefilter("ignore")
            values = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
            formulas = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=False)
            try:
                return [
                    (str(title), _rows(values[title], formulas[title], rows_max, columns_max))
                    for title in values.sheetnames[:_SHEETS_MAX]
                    if hasattr(values[title], "iter_rows")
                ]
            finally:
                values.close()
                formulas.close()
    except Refused:
        raise
    except Exception as fault:  # a damaged XLSX makes the parser fail in many ways, all the file's fault
        raise Refused(name, "cannot be read as XLSX", "open it in a spreadsheet and save it again") from fault


def _refuse_what_parsers_choke_on(content: bytes, name: str) -> None:
    """XML entities can blow up in memory, and no spreadsheet writes them."""
    with open_zip(content, name) as archive:
        if "xl/workbook.xml" not in archive.namelist() and not any(
            each.endswith("workbook.xml") for each in archive.namelist()
        ):
            raise Refused(name, "is not an XLSX workbook", "save it from the spreadsheet as XLSX")
        for info in archive.infolist():
            if info.filename.endswith((".xml", ".rels")):
                try:
                    with archive.open(info) as member:
                        head = member.read(4096)
                except (zipfile.BadZipFile, RuntimeError, OSError, EOFError, zlib.error) as fault:
                    raise Refused(name, "is damaged", "open it in a spreadsheet and save it again") from fault
                if re.search(rb"<!\s*(DOCTYPE|ENTITY)", head.replace(b"\0", b"")):
                    raise Refused(name, "holds XML declarations that no spreadsheet writes", "save it again as XLSX")


def _rows(values: Any, formulas: Any, rows_max: int, columns_max: int) -> Rows:
    # The file's own idea of its size may be wrong in both directions.
    values.reset_dimensions()
    formulas.reset_dimensions()
    rows: Rows = []
    pairs: Iterator[tuple[Any, Any]] = zip(values.iter_rows(), formulas.iter_rows(), strict=True)
    for number, (value_row, formula_row) in enumerate(pairs, start=1):
        row = tuple(
            _cell(value, formula)
            for value, formula in zip(value_row[:columns_max], formula_row[:columns_max], strict=True)
        )
        if any(cell is not None for cell in row):
            rows.append((number, row))
        if len(rows) > rows_max + 1 or number > _GRID_ROWS_MAX:
            break
    return rows


def _cell(value: Any, formula: Any) -> Raw:
    found = value.value
    if formula.data_type == "f" and found is None:
        shown = str(getattr(formula.value, "text", formula.value))
        return Unusable(
            shown,
            "is a formula whose result was never saved",
            "open and save the file in a spreadsheet, or write the value",
        )
    if value.data_type == "e":
        return Unusable(str(found), "is a spreadsheet error", "mend the formula or write the value")
    if found is None or isinstance(found, str | int | float | bool | dt.datetime | dt.date | dt.time | dt.timedelta):
        return found
    return str(found)
