"""A lock ends with its process, however that ends, and a child does not keep it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.test_settings import ROOT
from traveller.management import locks

HOLD = (
    "import os, sys, time; from pathlib import Path; from traveller.management import locks\n"
    "locks.hold(Path(sys.argv[1]), 'serve, process 7')\n"
    "if os.fork() == 0:\n    time.sleep(60); os._exit(0)\n"
    "print('held', flush=True); time.sleep(60)\n"
)


def test_the_second_process_is_told_who_was_first_until_that_one_is_killed(tmp_path: Path) -> None:
    file = tmp_path / "a.lock"
    command = [sys.executable, "-c", HOLD, str(file)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True, start_new_session=True) as first:
        assert first.stdout is not None
        try:
            assert first.stdout.readline() == "held\n"
            with pytest.raises(locks.Taken) as taken:
                locks.hold(file, "me")
            assert taken.value.who == "serve, process 7"
            first.kill()
            first.wait()
            locks.hold(file, "me")  # although its child is still alive
            assert file.read_text() == "me"
        finally:
            locks.let_go(file)
            os.killpg(first.pid, signal.SIGKILL)


def test_holding_twice_is_holding_once_and_it_can_be_let_go(tmp_path: Path) -> None:
    file = tmp_path / "a.lock"
    locks.hold(file, "one")
    locks.hold(file, "two")
    assert (file.read_text(), file.stat().st_mode & 0o777) == ("one", 0o600)
    locks.let_go(file)
    locks.hold(file, "three")
    assert file.read_text() == "three"
    locks.let_go(file)


def test_a_link_that_somebody_laid_there_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "precious").write_text("kept")
    (tmp_path / "a.lock").symlink_to(tmp_path / "precious")
    with pytest.raises(OSError):
        locks.hold(tmp_path / "a.lock", "me")
    assert (tmp_path / "precious").read_text() == "kept"
