"""Which files of a folder are the workbook; for the server, which sends them, and for the child, which has the zip."""

from __future__ import annotations

from collections.abc import Sequence

from traveller.decode.book.bounds import BookRefused

__all__ = ["sheet_files"]


def sheet_files(names: Sequence[str], shown: str) -> tuple[list[str], list[str]]:
    """The one XLSX, or the CSV files, that lie straight in the folder. Refused where it holds neither, or both."""
    top = [name for name in names if "/" not in name]
    books = [name for name in top if name.lower().endswith(".xlsx")]
    tables = [name for name in top if name.lower().endswith((".csv", ".tsv", ".txt"))]
    if len(books) > 1 or (books and tables):
        both = ", ".join(books + tables)
        raise BookRefused(shown, f"holds more than one workbook ({both})", "leave one XLSX, or only CSV files")
    if not books and not tables:
        raise BookRefused(shown, "holds no sheets", "put sites.csv, parts.csv and so on straight into it")
    return books, tables
