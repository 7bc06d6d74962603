"""Inside web: founder, operator and packer do not know each other; what they share stands in web/parts or above."""

from __future__ import annotations

import re
from pathlib import Path

from tests.test_settings import ROOT

WEB = ROOT / "traveller" / "web"
READERS = ("founder", "operator", "packer")
ROOM = re.compile(r"traveller\.web\.(\w+)")


def named(path: Path) -> set[str]:
    """Which rooms of web a module's imports name."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return {room for line in lines if line.lstrip().startswith(("from ", "import ")) for room in ROOM.findall(line)}


def strangers(room: str) -> list[str]:
    """Modules of this room that import another reader's."""
    others = set(READERS) - {room}
    return sorted(str(path.relative_to(WEB)) for path in (WEB / room).rglob("*.py") if named(path) & others)


def test_no_reader_imports_another_readers_room() -> None:
    assert {room: strangers(room) for room in READERS} == {room: [] for room in READERS}


def test_what_the_readers_share_imports_none_of_them() -> None:
    shared = [*(WEB / "parts").rglob("*.py"), *(WEB / "language").rglob("*.py"), *(WEB / "templatetags").rglob("*.py")]
    assert shared and [str(path.relative_to(WEB)) for path in shared if named(path) & set(READERS)] == []


def test_an_import_of_another_room_is_seen(tmp_path: Path) -> None:
    file = tmp_path / "a.py"
    file.write_text("def f():\n    from traveller.web.operator.queue import queue\n    return queue\n")
    assert named(file) == {"operator"}
