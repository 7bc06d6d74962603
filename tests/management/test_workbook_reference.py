"""The command that prints the workbook's reference, or writes an empty workbook with it."""

from __future__ import annotations

import io
from pathlib import Path

import openpyxl
import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from traveller.exchange.workbook import reference_text
from traveller.exchange.workbook.sheets import SHEETS


def said(*words: str) -> str:
    out = io.StringIO()
    call_command("workbook_reference", *words, stdout=out)
    return out.getvalue()


def test_alone_it_prints_the_reference() -> None:
    assert said() == reference_text()


def test_with_a_path_it_writes_a_template(tmp_path: Path) -> None:
    assert said(str(tmp_path / "new" / "empty.xlsx")) == f"Written: {tmp_path / 'new' / 'empty.xlsx'}\n"
    book = openpyxl.load_workbook(tmp_path / "new" / "empty.xlsx")
    assert book.sheetnames[:2] == ["sites", "lanes"]
    book.close()
    assert said(str(tmp_path / "csv")).startswith("13 files written")
    assert {path.stem for path in (tmp_path / "csv").iterdir()} == {*SHEETS, "reference", "examples"}


def test_it_writes_over_nothing(tmp_path: Path) -> None:
    (tmp_path / "kept.xlsx").write_text("mine")
    with pytest.raises(CommandError, match="is there already"):
        said(str(tmp_path / "kept.xlsx"))
    assert (tmp_path / "kept.xlsx").read_text() == "mine"
