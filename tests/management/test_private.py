"""An older, looser data folder is closed at the start, or named where that fails."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from traveller.management import private


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def loose(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder as an earlier release made it: everybody may look."""
    folder = tmp_path / "data"
    for inner in ("static/css", "media"):
        (folder / inner).mkdir(parents=True)
    for name in ("traveller.sqlite3", "traveller.sqlite3-wal", "secret_key", "static/css/a.css", "notes.txt"):
        (folder / name).write_text("x")
        (folder / name).chmod(0o644)
    for path in (folder, folder / "static", folder / "static/css", folder / "media"):
        path.chmod(0o755)
    settings.DATA, settings.STATIC_ROOT, settings.MEDIA_ROOT = folder, folder / "static", folder / "media"
    monkeypatch.setitem(connection.settings_dict, "NAME", str(folder / "traveller.sqlite3"))
    return folder


def test_folder_and_files_are_closed_to_others(loose: Path) -> None:
    assert private.tighten() == []
    assert [mode(loose / name) for name in (".", "static", "static/css", "media")] == [0o700] * 4
    names = ("traveller.sqlite3", "traveller.sqlite3-wal", "secret_key", "static/css/a.css")
    assert [mode(loose / name) for name in names] == [0o600] * 4


def test_what_this_program_did_not_make_is_left_as_it_is(loose: Path) -> None:
    private.tighten()
    assert mode(loose / "notes.txt") == 0o644


@pytest.mark.sqlite
def test_a_database_elsewhere_is_closed_and_its_folder_is_not(
    loose: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir(mode=0o755)
    (elsewhere / "shop.sqlite3").touch(0o644)
    monkeypatch.setitem(connection.settings_dict, "NAME", str(elsewhere / "shop.sqlite3"))
    assert private.tighten() == []
    assert (mode(elsewhere), mode(elsewhere / "shop.sqlite3")) == (0o755, 0o600)


def test_what_cannot_be_closed_is_named_with_the_way_to_do_it(loose: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(path: Path, mode: int) -> None:
        raise PermissionError(1, "Operation not permitted", str(path))

    monkeypatch.setattr(os, "chmod", refused)
    said = private.tighten()
    assert any(f"chmod 700 {loose}" in words for words in said)
    assert any(f"chmod 600 {loose}/secret_key" in words for words in said)


def test_a_folder_of_the_whole_machine_is_named_and_not_closed(loose: Path, settings: Any) -> None:
    loose.chmod(0o1777)
    said = private.tighten()
    assert len(said) == 1 and "shared with others" in said[0] and "TRAVELLER_DATA" in said[0]
    assert mode(loose) == 0o1777
    assert private._is_shared(Path("/srv")) and not private._is_shared(loose / "static")


def test_a_link_is_not_followed_out_of_the_folder(loose: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside.css"
    outside.touch(0o644)
    (loose / "static" / "linked.css").symlink_to(outside)
    private.tighten()
    assert mode(outside) == 0o644
