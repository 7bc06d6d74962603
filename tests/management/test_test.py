"""`manage.py test` counts honestly and says what did not run."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest
from django.conf import settings

from traveller.management.commands import test as command

REPORT = """<testsuites><testsuite>
<testcase classname="tests.a" name="one"/>
<testcase classname="tests.a" name="two"><failure message="no"/></testcase>
<testcase classname="tests.a" name="three"><error message="no"/></testcase>
<testcase classname="tests.b" name="four"><skipped message="Skipped: Chromium is missing"/></testcase>
</testsuite></testsuites>"""


@pytest.fixture
def report(tmp_path: Path) -> Path:
    path = tmp_path / "report.xml"
    path.write_text(REPORT)
    return path


def test_errors_count_as_failures_and_the_missing_are_named(report: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tally = command.Tally()
    assert tally.add(report) == "1 passed, 2 failed"
    assert command.say_outcome([], tally, whole=True) == 1
    out = capsys.readouterr().out
    assert "NOT RUN: 1 tests. Chromium is missing\n  tests.b::four" in out
    assert out.endswith("1 passed, 2 failed, 1 not run\n")


def test_a_fault_beside_the_tests_fails_the_whole(capsys: pytest.CaptureFixture[str]) -> None:
    assert command.say_outcome([], command.Tally(passed=3, faults=["types: not clean"]), whole=True) == 1
    assert capsys.readouterr().out.endswith("FAULT: types: not clean\n3 passed, 0 failed\n")


def test_all_well_is_nought(capsys: pytest.CaptureFixture[str]) -> None:
    assert command.say_outcome(["linter: clean"], command.Tally(passed=3), whole=True) == 0
    assert "NOT RUN" not in capsys.readouterr().out


def test_a_missing_postgres_is_told_even_when_nothing_failed(capsys: pytest.CaptureFixture[str]) -> None:
    command.say_outcome([], command.Tally(passed=3), whole=False)
    assert "on PostgreSQL" in capsys.readouterr().out


def test_a_postgres_that_is_not_there_gives_the_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TEST_DATABASE_URL", "postgres://nobody@127.0.0.1:9/none")
    url, why_not = command.find_postgres()
    assert url is None
    assert why_not.startswith("No PostgreSQL at TEST_DATABASE_URL")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A project of one template, with our settings."""
    shutil.copy(settings.ROOT / "pyproject.toml", tmp_path)
    (tmp_path / "web").mkdir()
    return tmp_path


def test_a_template_that_is_not_in_form_is_a_fault_that_names_it(folder: Path) -> None:
    (folder / "web" / "good.html").write_text("<div>\n  <p>{{ words }}</p>\n</div>\n")
    (folder / "web" / "bad.html").write_text("<div><p>{{ words }}</p></div>\n")
    tally = command.Tally()
    assert command.templates_checked(tally, folder) == "templates: NOT CLEAN"
    assert len(tally.faults) == 1 and tally.faults[0].startswith("templates: web/bad.html: ")
    assert "--reformat" in tally.faults[0]


def test_templates_in_form_are_clean(folder: Path) -> None:
    (folder / "web" / "good.html").write_text("<div>\n  <p>{{ words }}</p>\n</div>\n")
    tally = command.Tally()
    assert command.templates_checked(tally, folder) == "templates: clean"
    assert not tally.faults


def test_without_its_program_the_check_of_templates_is_a_fault(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", shutil.which("false"))
    tally = command.Tally()
    assert command.templates_checked(tally, folder) == "templates: NOT CLEAN"
    assert tally.faults == ["templates: djlint did not run"]
