"""Every kind of check with every parameter: through CSV, zip and XLSX, into the database and out again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from tests.exchange.books import SMALL, Upload, read, small_xlsx, texts, write
from tests.exchange.test_import import imported
from tests.rules.checks.tables import Row, tables
from traveller.exchange.workbook import as_zip, from_database, write_xlsx
from traveller.products.frozen import checks_of, forget
from traveller.products.models import Operation
from traveller.rules.checks import COLUMNS, KINDS

# One row of each kind with all that it reads; scope and parameters as a founder types them.
ROWS = {name: (table.scope, table.full) for name, table in tables().items()}


def sheet(rows: Mapping[str, tuple[str, Row]] = ROWS) -> str:
    """The checks of step 20 of the small workbook, one of each kind."""
    lines = [",".join(["part", "step", "check", "kind", "scope", "blocks", *COLUMNS, "source"])]
    for kind, (scope, reported) in rows.items():
        cells = [f'"{reported.get(name, "")}"' for name in COLUMNS]
        lines.append(",".join(["CUP", "20", kind.replace("_", "-"), kind, scope, "sending", *cells, "data sheet"]))
    return "\n".join(lines) + "\n"


def test_the_rows_of_a_kind_fill_every_column_that_it_reads() -> None:
    for name, table in tables().items():
        filled = set(table.full).union(*table.instead)
        assert set(KINDS[name].columns) == filled, f"TABLE in tests/rules/checks/test_{name}.py"


def test_what_stands_instead_of_another_parameter_is_read_too(tmp_path: Path) -> None:
    for name, table in tables().items():
        for number, row in enumerate(table.instead):
            book = read(write(tmp_path / f"{name}{number}", checks=sheet({name: (table.scope, row)})))
            assert [KINDS[name].parse(dict(each.parameters)) for each in book.checks] == [KINDS[name].parse(row)]


def test_what_is_written_of_each_kind_is_read_back_the_same(tmp_path: Path) -> None:
    book = read(write(tmp_path / "csv", checks=sheet()))
    assert {row.kind for row in book.checks} == set(KINDS)
    for row in book.checks:
        reported, kept = ROWS[row.kind][1], dict(row.parameters)
        params = KINDS[row.kind].parse(reported)
        assert not isinstance(params, list), (row.kind, params)
        assert KINDS[row.kind].parse(kept) == params, row.kind
        assert set(reported) <= {name for name, value in kept.items() if value}, row.kind
    write_xlsx(book, tmp_path / "book.xlsx")
    assert read(tmp_path / "book.xlsx") == book
    assert read(Upload("book.zip", as_zip(book))) == book


@pytest.mark.django_db
def test_each_kind_is_imported_judged_by_and_exported_the_same(tmp_path: Path) -> None:
    # One of the kinds asks for a word that a part has.
    parts = SMALL["parts"].replace("picture\n", "picture,variant\n").replace("piece,,", "piece,,,amber")
    imported(write(tmp_path / "csv", checks=sheet(), parts=parts))
    forget()
    plans = {
        plan.kind.name: plan for plan in checks_of(Operation.objects.get(routing__part__number="CUP", number=20).pk)
    }
    assert {name: plan.params for name, plan in plans.items()} == {
        name: KINDS[name].parse(reported) for name, (_scope, reported) in ROWS.items()
    }
    exported = from_database()
    write_xlsx(exported, tmp_path / "out.xlsx")
    assert imported(tmp_path / "out.xlsx", 2).changes_nothing
    assert imported(Upload("out.zip", as_zip(exported)), 3).changes_nothing


def test_numbers_that_a_spreadsheet_keeps_as_numbers_are_read(tmp_path: Path) -> None:
    """Cells of an XLSX hold 12.5 and 6, not texts."""
    header, *rows = [line.replace('"', "").split(",") for line in sheet().splitlines()]

    def cell(text: str) -> object:
        try:
            return float(text) if "." in text else int(text)
        except ValueError:
            return text or None

    book = small_xlsx(checks=[header, *[[cell(text) for text in row] for row in rows]])
    assert read(Upload("book.xlsx", book)).checks == read(write(tmp_path / "csv", checks=sheet())).checks


def test_a_decimal_comma_is_read_in_every_number_of_a_check(tmp_path: Path) -> None:
    dotted = sheet({"cure": ROWS["cure"], "soak": ROWS["soak"], "sample": ROWS["sample"]})
    with_commas = dotted.replace(",", ";").replace(".", ",")
    rest = dict.fromkeys(("orders", "stock", "batches"))
    checks = read(write(tmp_path / "comma", checks=with_commas, **rest)).checks
    assert checks == read(write(tmp_path / "point", checks=dotted, **rest)).checks


@pytest.mark.parametrize("name", [name for name, table in tables().items() if table.wrong_unit])
def test_a_unit_that_the_kind_cannot_take_stops_the_import_and_is_named(name: str, tmp_path: Path) -> None:
    table = tables()[name]
    row = {**table.full, "unit": table.wrong_unit}
    (said,) = texts(write(tmp_path, checks=sheet({name: (table.scope, row)})))
    unit = next(field for field in KINDS[name].fields if field.name == "unit")
    assert said.startswith(f'checks row 2, column unit: "{table.wrong_unit}" ')
    assert said.endswith("; write " + " or ".join(unit.allowed))


def test_a_kind_that_nobody_knows_is_answered_with_all_kinds_and_what_each_reads(tmp_path: Path) -> None:
    (said,) = texts(write(tmp_path, checks=sheet({"zzz": ("lot", {})})))
    assert '"zzz" is not a kind of check; use one of: window (reads least, most, unit); dwell' in said
    for kind in KINDS.values():
        assert f"{kind.name} (reads {', '.join(kind.columns)})" in said
