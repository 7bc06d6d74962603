"""One owner of a database: a second server is refused in words, and harms nothing."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.management.servers import answers, begin, serving
from tests.test_settings import ROOT, manage
from traveller.management import locks
from traveller.management.ports import unused
from traveller.management.release import release_name


@dataclass
class First:
    """A server that was there first: its data folder, its port."""

    folder: Path
    port: int


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory, migrated: Callable[[Path], None]) -> Iterator[First]:
    folder, port = tmp_path_factory.mktemp("first"), unused()
    migrated(folder)
    with serving(folder, port):
        yield First(folder, port)


def refused(done: subprocess.CompletedProcess[str], *words: str) -> None:
    """One sentence that says all this, and no traceback."""
    assert done.returncode == 1, done.stdout
    assert "Traceback" not in done.stderr
    assert [word for word in words if word not in done.stderr] == [], done.stderr


def serve(folder: Path, port: int, *arguments: str) -> subprocess.CompletedProcess[str]:
    address = f"http://127.0.0.1:{port}"
    return manage(folder, "serve", "--migrate", "--port", str(port), *arguments, TRAVELLER_ADDRESS=address)


def test_a_second_server_on_the_port_is_refused(first: First, tmp_path: Path) -> None:
    refused(serve(tmp_path, first.port, "--host", "0.0.0.0"), f"Port {first.port} is taken", "process", "--port")
    assert answers(first.port)


def test_a_second_server_on_the_database_is_refused(first: First) -> None:
    done = serve(first.folder, unused())
    refused(done, "traveller.sqlite3 is in use", f"on port {first.port}", "TRAVELLER_DATA")


def test_a_database_reached_by_another_name_is_the_same_database(first: First, tmp_path: Path) -> None:
    (tmp_path / "linked").symlink_to(first.folder)
    refused(serve(tmp_path / "linked", unused()), "is in use by another server")


def test_a_demo_on_the_port_of_a_server_is_refused_before_it_plays_anything(first: First, tmp_path: Path) -> None:
    done = manage(tmp_path, "demo", f"--port={first.port}")
    refused(done, f"Port {first.port} is taken")
    assert "Importing" not in done.stdout
    assert not (tmp_path / "demo.sqlite3").exists()


def test_what_a_server_keeps_is_for_its_own_user_alone(first: First) -> None:
    kept = [first.folder / "static", *first.folder.rglob("*")]
    assert {"static", "staticfiles.json", "traveller.sqlite3", "traveller.sqlite3.owner"} <= {p.name for p in kept}
    assert [path for path in kept if path.stat().st_mode & 0o077] == []


def test_a_look_at_the_books_beside_a_server_is_allowed(first: First) -> None:
    done = manage(first.folder, "verify")
    assert (done.returncode, "Everything agrees." in done.stdout) == (0, True), done.stderr


OTHER_RELEASE = (
    "import sys; from pathlib import Path; from traveller.management import locks\n"
    "locks.share(Path(sys.argv[1]), '0badcafe', 'work, process 7'); print('held', flush=True); sys.stdin.read()\n"
)


def test_a_worker_of_another_release_is_refused_beside_a_server(first: First) -> None:
    """As it is after an update under a server that still runs."""
    mark = first.folder / "traveller.sqlite3.release"
    reported, _, who = mark.read_text(encoding="utf-8").partition("\n")
    assert reported == release_name() and f"serve on port {first.port}" in who
    with pytest.raises(locks.Taken):
        locks.share(mark, "0badcafe", "me")


def test_a_server_and_a_worker_are_refused_beside_a_worker_of_another_release(
    tmp_path: Path, migrated: Callable[[Path], None]
) -> None:
    migrated(tmp_path)
    command = [sys.executable, "-c", OTHER_RELEASE, str(tmp_path / "traveller.sqlite3.release")]
    with subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as other:
        try:
            assert other.stdout is not None and other.stdout.readline() == "held\n"
            refused(manage(tmp_path, "work"), "Another release", "work, process 7")
            refused(serve(tmp_path, unused()), "Another release", "work, process 7")
        finally:
            other.kill()


@pytest.mark.long
def test_a_demo_on_another_port_beside_a_server_begins_and_a_second_one_is_refused(first: First) -> None:
    with begin(first.folder, "demo", "--port", str(unused())) as demo:
        try:
            assert demo.stdout is not None
            assert "Importing the workbook" in demo.stdout.readline()
            kept = (first.folder / "demo.sqlite3").stat().st_ino
            refused(manage(first.folder, "demo", "--port", str(unused())), "demo.sqlite3 is in use", "demo on port")
            refused(manage(first.folder, "demo", "--no-serve"), "demo.sqlite3 is in use")
            assert (first.folder / "demo.sqlite3").stat().st_ino == kept
            assert demo.poll() is None
        finally:
            demo.kill()
            demo.communicate(timeout=30)
    assert answers(first.port)


def test_after_a_kill_the_next_server_starts_and_nobody_of_the_old_one_is_left(
    tmp_path: Path, migrated: Callable[[Path], None]
) -> None:
    port = unused()
    migrated(tmp_path)
    with serving(tmp_path, port) as killed:
        killed.send_signal(signal.SIGKILL)
        killed.wait()
        assert answers(port)  # its worker has not noticed yet
        with serving(tmp_path, port) as following:
            time.sleep(0.5)
            assert following.poll() is None
    assert not answers(port)
