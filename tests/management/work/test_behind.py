"""The work behind a server: forked with it, begun again as a program of its own, ended with it."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

import pytest

from tests.test_settings import ROOT
from traveller.management.work import behind

SERVER = """
import multiprocessing, os, sys, time
from pathlib import Path
import django
django.setup()
from traveller.management.work import behind

place, how = Path(sys.argv[1]), sys.argv[2]

def run(say, complain, parent):
    (place / "begun").write_text(f"{os.getpid()} {os.getppid()} {parent}")
    if how == "falls":
        raise RuntimeError("the work fell")
    time.sleep(60)

behind.run = run
with behind.working():
    while not (place / "begun").exists():
        time.sleep(0.02)
    while how == "falls" and multiprocessing.active_children():
        time.sleep(0.02)
    print(os.getpid(), flush=True)
"""


def served(place: Path, how: str) -> tuple[int, list[int], str]:
    call = [sys.executable, "-c", SERVER, str(place), how]
    done = subprocess.run(call, cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    return int(done.stdout), [int(number) for number in (place / "begun").read_text().split()], done.stderr


def test_the_first_is_a_child_of_the_server_and_over_with_it(tmp_path: Path) -> None:
    server, (work, its_parent, reported), _ = served(tmp_path, "works")
    assert (its_parent, reported) == (server, server) and work != server
    with pytest.raises(ProcessLookupError):
        os.kill(work, 0)


def test_one_that_falls_says_why_and_the_server_goes_on(tmp_path: Path) -> None:
    _, _, said = served(tmp_path, "falls")
    assert "the work fell" in said


class Over(BaseProcess):
    """A first one that has ended."""

    def __init__(self) -> None:
        """Never started."""

    def is_alive(self) -> bool:
        return False


def test_after_the_first_has_ended_the_work_is_begun_as_a_program(monkeypatch: pytest.MonkeyPatch) -> None:
    over, begun = threading.Event(), []

    class Program:
        def __init__(self, call: list[str], **_more: Any) -> None:
            begun.append(call[1:])
            if len(begun) == 2:
                over.set()

        def poll(self) -> int:
            return 1

    monkeypatch.setattr(behind, "AGAIN_S", 0.0)
    monkeypatch.setattr(subprocess, "Popen", Program)
    behind._keep(Over(), over)
    assert begun == 2 * [[str(ROOT / "manage.py"), "work", "--parent", str(os.getpid())]]


def test_a_child_that_has_lost_its_parent_before_it_begins_does_nothing() -> None:
    begun = "_begun(1, print, ('of another',)); _begun(os.getppid(), print, ('of this',))"
    call = f"import os; from traveller.management.parent import _begun; {begun}"
    said = subprocess.run([sys.executable, "-c", call], cwd=ROOT, capture_output=True, text=True)
    assert (said.stdout, said.stderr) == ("of this\n", "")
