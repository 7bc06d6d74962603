"""The reference says of every column and kind what reads them, in whole sentences; the template imports as nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sites.models import Site
from tests.exchange.books import Upload, read
from tests.exchange.examples import write_examples
from tests.exchange.test_import import DEMO, imported
from traveller.exchange.workbook import (
    from_database,
    kinds_said,
    reference_text,
    sheets_said,
    template_xlsx,
    write_template_folder,
)
from traveller.exchange.workbook.reference import KindSaid
from traveller.exchange.workbook.sheets import SHEETS, SHOWN_ONLY
from traveller.products.models import Check
from traveller.rules.checks import COLUMNS, KINDS


def test_every_column_and_every_kind_is_in_the_reference() -> None:
    said = {sheet.name: [column.name for column in sheet.columns] for sheet in sheets_said()}
    assert said == {name: [column.name for column in sheet.columns] for name, sheet in SHEETS.items()}
    assert [kind.name for kind in kinds_said()] == list(KINDS)
    assert {column.name for kind in kinds_said() for column in kind.columns} == set(COLUMNS)
    text = reference_text()
    for place in (*(f"## Sheet {name}" for name in SHEETS), *(f"## {name}: " for name in KINDS)):
        assert place in text


@pytest.mark.parametrize("kind", kinds_said(), ids=lambda kind: kind.name)
def test_a_kind_says_what_it_proves_and_what_each_of_its_columns_means(kind: KindSaid) -> None:
    assert kind.about.endswith(".") and kind.scopes
    for column in kind.columns:
        assert column.meaning.endswith(".") and (column.takes or column.words), column.name


# What newcomers had to guess: where it stands, and the words that answer it.
ANSWERS = [
    ("routings", "destroyed", "uses up"),
    ("routings", "kind", "prepare readies material"),
    ("routings", "load_size", "done and recorded in loads"),
    ("routings", "cavities", "one shot of the mould"),
    ("routings", "startup_shots", "thrown away when the mould is started"),
    ("routings", "operation", "machining, coating, sanding, oiling"),
    ("checks", "scope", "each load by itself"),
    ("checks", "blocks", "advice that stops nothing"),
    ("sites", "turnaround_days", "waiting included"),
    ("bills", "per", "1000 where one piece takes a part of a unit"),
    ("bills", "step", "when a kit is packed"),
    ("parts", "piece_mass_mg", "net mass"),
    ("lanes", "over_percent", "taken on arrival"),
    ("orders", "over_percent", "the customer takes"),
]


@pytest.mark.parametrize(("sheet", "name", "words"), ANSWERS)
def test_what_newcomers_had_to_guess_is_answered(sheet: str, name: str, words: str) -> None:
    (found,) = [
        column for each in sheets_said() if each.name == sheet for column in each.columns if column.name == name
    ]
    assert words in found.meaning


def test_days_say_whether_they_are_working_days() -> None:
    units = {
        f"{sheet.name}.{column.name}": column.unit
        for sheet in sheets_said()
        for column in sheet.columns
        if column.name.endswith("_days")
    }
    assert units == {
        "sites.turnaround_days": "working days of the site",
        "lanes.transit_days": "working days",
        "parts.shelf_life_days": "calendar days",
    }


@pytest.mark.django_db
def test_the_worked_row_of_every_kind_can_be_imported_and_comes_back(tmp_path: Path) -> None:
    """Each at its step of the demo; copied out of the template's sheet of examples into the sheet of checks."""
    folder = write_examples(tmp_path / "book")
    examples = {row["kind"]: row for row in rows_of(write_template_folder(tmp_path / "template"), "examples")}
    assert set(examples) == set(KINDS)
    with (folder / "checks.csv").open("a", encoding="utf-8", newline="") as out:
        csv.DictWriter(out, [each.name for each in SHEETS["checks"].all_columns]).writerows(examples.values())
    assert read(folder).questions == ()
    imported(folder)
    kept = {row.kind: row for row in Check.objects.filter(key__endswith="-example")}
    for name, kind in KINDS.items():
        assert kind.parse(kept[name].parameters) == kind.parse(dict(kind.example)), name
    assert imported(folder, 2).changes_nothing


def rows_of(paths: list[Path], name: str) -> list[dict[str, str]]:
    path = next(path for path in paths if path.stem == name)
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))


@pytest.mark.django_db
def test_the_template_imports_as_nothing_without_a_word_in_an_empty_database_and_in_a_full_one(tmp_path: Path) -> None:
    write_template_folder(tmp_path / "csv")
    sources: list[Callable[[], Any]] = [lambda: tmp_path / "csv", lambda: Upload("template.xlsx", template_xlsx())]
    for n, source in enumerate(sources):
        assert not Site.objects.exists()
        assert imported(source(), n).changes_nothing
        assert (read(source()).warnings, read(source()).questions) == ((), ())
    imported(DEMO, 3)
    before = from_database()
    for n, source in enumerate(sources):
        assert imported(source(), 10 + n).changes_nothing
    assert from_database() == before


def test_every_heading_of_the_template_bears_a_note() -> None:
    book = openpyxl.load_workbook(io.BytesIO(template_xlsx()))
    assert book.sheetnames == [*SHEETS, *SHOWN_ONLY]
    for name, sheet in SHEETS.items():
        head = [cell for row in book[name].iter_rows(min_row=1, max_row=1) for cell in row]
        assert [cell.value for cell in head] == [column.name for column in sheet.all_columns]
        assert all(cell.comment and len(cell.comment.text) > 10 for cell in head), name
        assert book[name].max_row == 1
    assert {row[0].value for row in book["reference"].iter_rows(min_row=2)} == {
        *(sheet for sheet in SHEETS),
        *(f"check {kind}" for kind in KINDS),
    }
    book.close()
