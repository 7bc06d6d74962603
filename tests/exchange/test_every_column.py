"""Every column of every sheet comes back from the database with a value that is not its default; and what is forgotten
of a new one is named."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.exchange.books import Upload
from tests.exchange.examples import lost_columns, wanted_rows, write_examples
from tests.exchange.test_import import imported
from traveller.exchange.workbook import as_zip, from_database
from traveller.exchange.workbook.cells import read_line
from traveller.exchange.workbook.columns import Column
from traveller.exchange.workbook.sheets import SHEETS
from traveller.exchange.workbook.sheets.routes import RoutingRow
from traveller.exchange.workbook.stored import Stored, at
from traveller.exchange.workbook.tables import Sheet, column, record_of_columns, sheet_of

EVERY = [(sheet, each) for sheet in SHEETS.values() for each in sheet.columns]
NAMES = [f"{sheet.name}.{each.name}" for sheet, each in EVERY]


@pytest.mark.parametrize(("sheet", "each"), EVERY, ids=NAMES)
def test_a_column_says_what_it_means_and_its_example_is_not_its_default(sheet: Sheet, each: Column) -> None:
    assert each.meaning[-1] == "." and len(each.meaning) > 10, f"{sheet.name}.{each.name} says nothing"
    assert each.takes and each.stored is not None
    value = each.parse(each.example, ".")
    assert each.needed or value != each.default, f"{sheet.name}.{each.name}: the example is the default"


@pytest.mark.django_db
def test_every_column_comes_back_from_the_database_and_says_nothing_new_then(tmp_path: Path) -> None:
    folder = write_examples(tmp_path / "in")
    wanted = wanted_rows(folder)
    imported(folder)
    assert lost_columns(wanted) == []
    first = from_database()
    assert imported(Upload("out.zip", as_zip(first)), 2).changes_nothing
    assert imported(folder, 3).changes_nothing
    assert from_database() == first


FORGOTTEN = [
    ("sites", "contact"),
    ("lanes", "over_percent"),
    ("closures", "name"),
    ("people", "initials"),
    ("parts", "shelf_life_days"),
    ("routings", "kept"),
    ("checks", "source"),
    ("orders", "ship_to"),
    ("stock", "expires"),
]


def patched(monkeypatch: pytest.MonkeyPatch, sheet: str, name: str, **changes: Any) -> None:
    """One column, stored otherwise."""
    columns = tuple(
        replace(each, stored=replace(each.stored or at("-"), **changes)) if each.name == name else each
        for each in SHEETS[sheet].columns
    )
    monkeypatch.setitem(SHEETS, sheet, replace(SHEETS[sheet], columns=columns))


@pytest.mark.django_db
@pytest.mark.parametrize(("sheet", "name"), FORGOTTEN)
def test_a_column_that_is_read_and_never_written_is_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, sheet: str, name: str
) -> None:
    folder = write_examples(tmp_path)
    wanted = wanted_rows(folder)
    patched(monkeypatch, sheet, name, writes="")
    imported(folder)
    assert lost_columns(wanted) == [f"{sheet}.{name}"]


@pytest.mark.django_db
def test_a_column_that_is_written_and_never_read_back_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    folder = write_examples(tmp_path)
    wanted = wanted_rows(folder)
    patched(monkeypatch, "batches", "order", load=lambda row: "")
    imported(folder)
    assert lost_columns(wanted) == ["batches.order"]


def with_no_such_place(monkeypatch: pytest.MonkeyPatch, stored: Stored) -> None:
    """The sheet of routings with one column more, which the model has not."""

    @record_of_columns
    class Longer(RoutingRow):
        no_such_place: str = column(read_line(60), "Which data sheet says how.", stored, "DS-17", default="")

    longer = sheet_of("routings", SHEETS["routings"].about, Longer, SHEETS["routings"].key, needed=True)
    monkeypatch.setitem(SHEETS, "routings", longer)


@pytest.mark.django_db
def test_a_new_column_without_a_place_in_the_model_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    with_no_such_place(monkeypatch, at("no_such_place"))
    with pytest.raises(TypeError, match="no_such_place"):
        imported(write_examples(tmp_path))


@pytest.mark.django_db
def test_a_new_column_that_is_stored_where_nothing_keeps_it_is_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    with_no_such_place(monkeypatch, Stored("no_such_place", lambda row: ""))
    folder = write_examples(tmp_path)
    wanted = wanted_rows(folder)
    imported(folder)
    assert lost_columns(wanted) == ["routings.no_such_place"]
