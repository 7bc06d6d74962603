"""The two commands of the workbook."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from sites.models import Site
from tests.exchange.books import SMALL, changed, write

pytestmark = pytest.mark.django_db


def said(*words: str) -> str:
    out = io.StringIO()
    call_command(*words, stdout=out)
    return out.getvalue()


def test_a_dry_run_says_what_would_change_and_changes_nothing(tmp_path: Path) -> None:
    folder = str(write(tmp_path))
    assert "Tried only: nothing was changed." in said("import_workbook", folder, "--dry-run")
    assert not Site.objects.exists()
    lines = said("import_workbook", folder).splitlines()
    assert lines[-1] == "Imported."
    assert ["sites", "2", "0", "0", "0"] in [line.split() for line in lines]
    assert said("import_workbook", folder).splitlines()[-1] == "Everything was there already."


def test_a_bad_workbook_ends_in_its_faults_and_a_failure(tmp_path: Path) -> None:
    err = io.StringIO()
    folder = write(tmp_path, lanes="from,to,transit_days\nmill,moon,1\nmill,sun,2\n")
    with pytest.raises(SystemExit) as ended:
        call_command("import_workbook", str(folder), stderr=err)
    assert ended.value.code == 1
    assert err.getvalue().splitlines() == [
        'lanes row 2, column to: "moon" is not a site; add it to the sheet sites',
        'lanes row 3, column to: "sun" is not a site; add it to the sheet sites',
        "",
        "Nothing was imported: 2 faults.",
    ]


def test_notes_are_told_before_the_table(tmp_path: Path) -> None:
    folder = write(tmp_path, lanes=None, **changed("routings", "CUP,20,mill", "CUP,20,bench"))
    assert said("import_workbook", str(folder)).splitlines()[0] == (
        'Note: routings row 3, column site: "bench" has no lane from mill, where step 10 is done; '
        "add it to the sheet lanes"
    )


def coloured(folder: Path, more: str = "") -> str:
    lanes = SMALL["lanes"].replace("transit_days", "transit_days,colour").replace(",2", ",2,red")
    return str(write(folder, lanes=lanes + more))


def asked(*words: str) -> list[str]:
    err = io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command(*words, stderr=err)
    assert ended.value.code == 1
    return err.getvalue().splitlines()


def test_a_question_stops_the_import_until_it_is_confirmed(tmp_path: Path) -> None:
    folder = coloured(tmp_path)
    *told, empty, count, how = asked("import_workbook", folder)
    assert told == ["Question: lanes, column colour: is not a column of this sheet; confirmed, it is left out"]
    assert (empty, count) == ("", "Nothing was imported: 1 question.")
    assert not Site.objects.exists()
    start, _space, code = how.rpartition(" ")
    assert start == "To import, and leave this column out: --confirm"
    lines = said("import_workbook", folder, "--confirm", code).splitlines()
    assert lines[0].startswith("Confirmed: lanes, column colour") and lines[-1] == "Imported."


def test_a_dry_run_asks_too_and_answers_nothing(tmp_path: Path) -> None:
    lines = said("import_workbook", coloured(tmp_path), "--dry-run").splitlines()
    assert lines[0].startswith("Question: lanes, column colour")
    assert lines[-2] == "Tried only: nothing was changed." and "--confirm" in lines[-1]
    assert not Site.objects.exists()


def test_the_code_of_another_file_confirms_nothing(tmp_path: Path) -> None:
    code = asked("import_workbook", coloured(tmp_path / "one"))[-1].split()[-1]
    other = coloured(tmp_path / "two", "bench,mill,1,blue\n")
    again = asked("import_workbook", other, "--confirm", code)[-1].split()[-1]
    assert again != code and not Site.objects.exists()
    assert said("import_workbook", other, "--confirm", again).splitlines()[-1] == "Imported."


@pytest.mark.parametrize("name", ["out", "out.xlsx", "out.zip"])
def test_what_is_exported_imports_as_nothing_new(tmp_path: Path, name: str) -> None:
    said("import_workbook", str(write(tmp_path / "in")))
    assert str(tmp_path / name) in said("export_workbook", str(tmp_path / name))
    assert said("import_workbook", str(tmp_path / name)).splitlines()[-1] == "Everything was there already."


def test_an_export_writes_over_nothing(tmp_path: Path) -> None:
    said("import_workbook", str(write(tmp_path / "in")))
    with pytest.raises(CommandError, match="is there already"):
        call_command("export_workbook", str(tmp_path / "in"))
