"""A lock ends with its process, however that ends, and a child does not keep it."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.test_settings import ROOT
from traveller.management import locks

HOLD = (
    "import os, sys, time; from pathlib import Path; from traveller.management import locks\n"
    "locks.hold_lock(Path(sys.argv[1]), 'serve, process 7')\n"
    # The child says it: by then it has let its copy of the lock go, which its mother need not wait for.
    "if os.fork() == 0:\n    print('held', flush=True); time.sleep(60); os._exit(0)\n"
    "time.sleep(60)\n"
)


def test_the_second_process_is_told_who_was_first_until_that_one_is_killed(tmp_path: Path) -> None:
    file = tmp_path / "a.lock"
    command = [sys.executable, "-c", HOLD, str(file)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True, start_new_session=True) as first:
        assert first.stdout is not None
        try:
            assert first.stdout.readline() == "held\n"
            with pytest.raises(locks.Taken) as taken:
                locks.hold_lock(file, "me")
            assert taken.value.who == "serve, process 7"
            first.kill()
            first.wait()
            locks.hold_lock(file, "me")  # although its child is still alive
            assert file.read_text() == "me"
        finally:
            locks.let_lock_go(file)
            os.killpg(first.pid, signal.SIGKILL)


SHARE = (
    "import sys, time; from pathlib import Path; from traveller.management import locks\n"
    "locks.share(Path(sys.argv[1]), sys.argv[2], f'work of {sys.argv[2]}')\n"
    "print('held', flush=True); time.sleep(60)\n"
)


@contextmanager
def sharing(file: Path, mark: str) -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "-c", SHARE, str(file), mark]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as other:
        try:
            assert other.stdout is not None
            assert other.stdout.readline() == "held\n"
            yield other
        finally:
            other.kill()


def test_those_with_one_mark_share_and_nobody_with_another_until_all_of_them_are_gone(tmp_path: Path) -> None:
    file = tmp_path / "a.release"
    with sharing(file, "old") as first:
        with sharing(file, "old"):
            first.kill()
            first.wait()
            with pytest.raises(locks.Taken) as taken:
                locks.share(file, "new", "me")
            assert taken.value.who == "work of old"
        locks.share(file, "new", "me")
        try:
            assert file.read_text().split() == ["new", "me"]
            with sharing(file, "new"):
                pass
        finally:
            locks.let_lock_go(file)


def test_on_a_full_disk_a_mark_is_written_over_the_last_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only bytes that the file has already can be written."""
    file, really = tmp_path / "a.release", os.pwrite

    def full(handle: int, data: bytes, place: int) -> int:
        if place + len(data) > os.fstat(handle).st_size:
            raise OSError(errno.ENOSPC, "No space left on device")
        return really(handle, data, place)

    locks.share(file, "old", "someone whose name is far longer than that of whoever comes next")
    locks.let_lock_go(file)
    monkeypatch.setattr(os, "pwrite", full)
    locks.share(file, "new", "me")
    try:
        assert file.read_text().split() == ["new", "me"]
    finally:
        locks.let_lock_go(file)


def test_a_lock_that_cannot_be_shared_leaves_no_handle_open(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int, data: bytes, place: int) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "pwrite", full)
    before = os.listdir("/proc/self/fd")
    with pytest.raises(OSError, match="No space left"):
        locks.share(tmp_path / "a.release", "new", "me")
    assert len(os.listdir("/proc/self/fd")) == len(before)


def test_of_two_marks_that_come_at_once_at_most_one_is_shared(tmp_path: Path) -> None:
    """From the lock of one to the lock of many there is a moment without any."""
    file = tmp_path / "a.release"
    tried = (
        "import sys; from pathlib import Path; from traveller.management import locks\n"
        "for turn in range(60):\n"
        "    try:\n        locks.share(Path(sys.argv[1]), sys.argv[2], 'me')\n"
        "    except locks.Taken:\n        continue\n"
        "    assert Path(sys.argv[1]).read_text().startswith(sys.argv[2] + '\\n'), 'another mark stands there'\n"
        "    locks.let_lock_go(Path(sys.argv[1]))\n"
    )
    both = [
        subprocess.Popen([sys.executable, "-c", tried, str(file), mark], cwd=ROOT, stderr=subprocess.PIPE)
        for mark in ("old", "new")
    ]
    assert [(one.communicate(timeout=120)[1], one.returncode) for one in both] == [(b"", 0), (b"", 0)]


def test_holding_twice_is_holding_once_and_it_can_be_let_go(tmp_path: Path) -> None:
    file = tmp_path / "a.lock"
    locks.hold_lock(file, "one")
    locks.hold_lock(file, "two")
    assert (file.read_text(), file.stat().st_mode & 0o777) == ("one", 0o600)
    locks.let_lock_go(file)
    locks.hold_lock(file, "three")
    assert file.read_text() == "three"
    locks.let_lock_go(file)


def test_a_link_that_somebody_laid_there_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "precious").write_text("kept")
    (tmp_path / "a.lock").symlink_to(tmp_path / "precious")
    with pytest.raises(OSError):
        locks.hold_lock(tmp_path / "a.lock", "me")
    assert (tmp_path / "precious").read_text() == "kept"
