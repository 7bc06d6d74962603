"""A release is what its files say: change one, and it is another release."""

from __future__ import annotations

from pathlib import Path

import pytest

from traveller.management.release import digest_of


def program(folder: Path, text: str = "a = 1\n") -> Path:
    (folder / "room").mkdir(parents=True)
    (folder / "room" / "page.py").write_text(text)
    (folder / "room" / "page.pyc").write_text("made by Python")
    return folder


def test_the_same_files_are_the_same_release_wherever_they_lie(tmp_path: Path) -> None:
    one, two = program(tmp_path / "here" / "traveller"), program(tmp_path / "there" / "traveller")
    (two / "room" / "page.pyc").write_text("made by another Python")
    assert digest_of([one]) == digest_of([two])


@pytest.mark.parametrize("change", ["content", "name", "more"])
def test_any_changed_file_makes_another_release(tmp_path: Path, change: str) -> None:
    folder = program(tmp_path / "traveller")
    before = digest_of([folder])
    page = folder / "room" / "page.py"
    if change == "content":
        page.write_text("a = 2\n")
    elif change == "name":
        page.rename(folder / "room" / "leaf.py")
    else:
        (folder / "room" / "style.css").write_text("")
    assert digest_of([folder]) != before
