"""The two commands of the workbook."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from sites.models import Site
from tests.exchange.books import SMALL, write

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


def test_warnings_are_told_before_the_table(tmp_path: Path) -> None:
    folder = write(
        tmp_path, lanes=SMALL["lanes"].replace("transit_days", "transit_days,colour").replace(",2", ",2,red")
    )
    assert said("import_workbook", str(folder)).splitlines()[0] == (
        "Note: lanes, column colour: is not a column of this sheet; it is left aside"
    )


@pytest.mark.parametrize("name", ["out", "out.xlsx", "out.zip"])
def test_what_is_exported_imports_as_nothing_new(tmp_path: Path, name: str) -> None:
    said("import_workbook", str(write(tmp_path / "in")))
    assert str(tmp_path / name) in said("export_workbook", str(tmp_path / name))
    assert said("import_workbook", str(tmp_path / name)).splitlines()[-1] == "Everything was there already."


def test_an_export_writes_over_nothing(tmp_path: Path) -> None:
    said("import_workbook", str(write(tmp_path / "in")))
    with pytest.raises(CommandError, match="is there already"):
        call_command("export_workbook", str(tmp_path / "in"))
