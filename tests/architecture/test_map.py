"""DEVELOPERS.md is a map: its folder table is held against the tree."""

from __future__ import annotations

import re

from tests.architecture.tree import ROOT

ROW = re.compile(r"^\|\s*`([^`]+/)`\s*\|", re.MULTILINE)


def listed(text: str) -> set[str]:
    """The folders that open a table row, such as | `traveller/rules/` | ... |."""
    return {folder.strip("/") for folder in ROW.findall(text)}


def rooms() -> set[str]:
    """The folders that the map must show: the top ones and the rooms."""
    top = {name for name in ("sites", "tests", "fixtures") if (ROOT / name).is_dir()}
    return top | {f"traveller/{path.parent.name}" for path in (ROOT / "traveller").glob("*/__init__.py")}


def test_the_map_shows_every_room_and_no_folder_that_is_not_there() -> None:
    page = ROOT / "DEVELOPERS.md"
    if not page.exists():  # the map is drawn when the rooms stand
        return
    shown = listed(page.read_text(encoding="utf-8"))
    assert rooms() <= shown, f"not on the map: {sorted(rooms() - shown)}"
    gone = sorted(folder for folder in shown if not (ROOT / folder).is_dir())
    assert not gone, f"on the map only: {gone}"


def test_a_folder_is_read_from_a_table_row() -> None:
    assert listed("| folder | what |\n|---|---|\n| `traveller/rules/` | arithmetic |\ntext `x/` |") == {
        "traveller/rules"
    }
