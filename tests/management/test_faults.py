"""What the machine refuses is one sentence with the file and the way out."""

from __future__ import annotations

import errno
import os
import shutil
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import OperationalError

from traveller.management import faults


def of_system(number: int, file: str | None = "/data/static/a.css") -> OSError:
    return OSError(number, os.strerror(number), file)


@pytest.mark.parametrize(
    ("number", "reported"),
    [
        (errno.ENOSPC, "The disk is full: /data/static/a.css could not be written. Make room"),
        (errno.EROFS, "/data/static/a.css lies on a file system that can only be read"),
        (errno.EACCES, "/data/static/a.css may not be used by this user (Permission denied)"),
        (errno.EIO, "/data/static/a.css: Input/output error"),
    ],
)
def test_a_file_that_was_refused_is_named(number: int, reported: str) -> None:
    assert faults.fault_words(of_system(number)).startswith(reported)


def test_without_a_file_the_data_folder_is_named(settings: Any) -> None:
    assert str(settings.DATA) in faults.fault_words(of_system(errno.ENOSPC, None))


@pytest.fixture
def on_sqlite(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> str:
    name = str(tmp_path / "shop.sqlite3")
    monkeypatch.setattr(faults, "connection", SimpleNamespace(vendor="sqlite", settings_dict={"NAME": name}))
    return name


@pytest.mark.parametrize(
    ("said", "reported"),
    [
        ("database or disk is full", "disk under the database is full"),
        ("database is locked", "is being written by another process"),
        ("attempt to write a readonly database", "must be writable for this user"),
        ("unable to open database file", "must be writable for this user"),
        ("disk I/O error", "must be writable for this user"),
    ],
)
def test_what_sqlite_says_is_explained(on_sqlite: str, said: str, reported: str) -> None:
    words = faults.fault_words(OperationalError(said))
    assert reported in words and said in words


def test_an_error_of_input_on_a_full_disk_is_a_full_disk(on_sqlite: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: SimpleNamespace(free=0))
    assert "disk under the database is full" in faults.fault_words(OperationalError("disk I/O error"))


def test_what_postgresql_says_in_lines_becomes_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(faults, "connection", SimpleNamespace(vendor="postgresql", settings_dict={"NAME": "shop"}))
    words = faults.fault_words(OperationalError("connection failed:\n\tIs the server running?"))
    assert words == "The database cannot be reached: connection failed: Is the server running?"
    full = OperationalError("could not extend file")
    full.__cause__ = type("DiskFull", (Exception,), {"sqlstate": "53100"})()
    assert "disk under the database is full" in faults.fault_words(full)
