"""Starting in sentences: the wrong system, Ctrl-C, the port that the demo prints, whose files are whose."""

from __future__ import annotations

import importlib.util
import os
import signal
import stat
import sys
import time
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest

from tests.management.servers import begin
from tests.processes import ran
from tests.test_settings import ROOT, manage


@pytest.fixture
def copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """A fresh copy of manage.py that believes to stand in an empty folder."""
    spec = importlib.util.spec_from_file_location("manage_started", ROOT / "manage.py")
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(module, "VENV_PYTHON", tmp_path / ".venv" / "bin" / "python")
    return module


def test_windows_is_refused_before_anything_is_made(
    copy: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(copy, "os", SimpleNamespace(name="nt"))
    with pytest.raises(SystemExit, match=r"needs Linux, macOS or another Unix.*Windows Subsystem for Linux"):
        copy.main()
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_during_the_set_up_is_a_sentence(
    copy: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def stopped(testing: bool) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(copy, "install", stopped)
    monkeypatch.setattr(copy, "installed", lambda testing: False)
    monkeypatch.setattr(copy.sys, "argv", ["manage.py", "demo"])
    with pytest.raises(SystemExit) as end:
        copy.main()
    assert end.value.code == 130
    assert "demo was stopped before it was done. Start it again" in capsys.readouterr().err


# Python drops an exception that is raised in the callback of a weak reference, and says so on the error line.
IN_A_CALLBACK = """
import os, signal, sys, time, weakref
sys.path.insert(0, sys.argv[1])
import manage
# Whoever runs in the background was told not to hear it, and hands that on.
signal.signal(signal.SIGINT, signal.default_int_handler)
def told(*given):
    signal.raise_signal(signal.SIGINT)
class Thing: pass
def run():
    thing = Thing()
    seen = weakref.ref(thing, told)
    del thing
    print("went on", flush=True)
    time.sleep(20)
    print("was never stopped", flush=True)
manage.run = run
manage.lose_no_interrupt()
manage.main()
"""


def test_ctrl_c_that_python_drops_is_heard_all_the_same() -> None:
    done = ran([sys.executable, "-c", IN_A_CALLBACK, str(ROOT)], env=os.environ, within_s=60)
    assert (done.returncode, done.stdout) == (130, "went on\n")
    assert "was stopped before it was done" in done.stderr and "Exception ignored" not in done.stderr


@pytest.mark.long
def test_ctrl_c_in_the_middle_of_the_story_is_a_sentence(tmp_path: Path) -> None:
    with begin(tmp_path, "demo", "--no-serve") as demo:
        assert demo.stdout is not None
        while "Playing" not in demo.stdout.readline():
            assert demo.poll() is None
        time.sleep(1)
        demo.send_signal(signal.SIGINT)
        said, _ = demo.communicate(timeout=30)
    assert demo.returncode == 130
    assert "demo was stopped before it was done" in said and "Traceback" not in said


@pytest.mark.parametrize(
    ("arguments", "port"),
    [
        (["--port", "8010"], "8010"),
        (["--no-serve", "--port=8010", "--now", "2026-11-25T15:00+00:00"], "8010"),
        (["--po", "8010"], "8010"),
        (["--no-serve"], None),
        (["--port"], None),
        (["--port", "80a"], None),
        (["--port", "-5"], None),
    ],
)
def test_the_port_is_read_before_the_settings_however_it_is_written(
    copy: ModuleType, arguments: list[str], port: str | None
) -> None:
    assert copy.port_reported(arguments) == port


@pytest.mark.parametrize("arguments", [("--port", "99999"), ("--port=0",), ("--port", "80a"), ("--port=-5",)])
def test_what_is_no_port_is_refused_before_the_story(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    done = manage(tmp_path, "demo", *arguments)
    assert done.returncode != 0
    assert "whole number from 1 to 65535" in done.stderr and "Traceback" not in done.stderr
    assert done.stdout == ""


def test_the_demo_is_at_the_port_that_it_is_told(tmp_path: Path) -> None:
    code = "from django.conf import settings; print(settings.PUBLIC_ADDRESS)"
    done = manage(tmp_path, "shell", "--no-imports", "-c", code, TRAVELLER_DEMO="1", TRAVELLER_PORT="8010")
    assert done.stdout.strip() == "http://127.0.0.1:8010"


@pytest.mark.long
def test_what_a_command_makes_is_for_its_own_user_alone(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    assert manage(folder, "migrate", DATABASE_URL=f"sqlite:///{tmp_path}/elsewhere/shop.sqlite3").returncode == 0
    made = [folder, tmp_path / "elsewhere", *folder.rglob("*"), *(tmp_path / "elsewhere").rglob("*")]
    assert {path.name for path in made} >= {"data", "secret_key", "elsewhere", "shop.sqlite3"}
    assert [path for path in made if stat.S_IMODE(path.stat().st_mode) & 0o077] == []


@pytest.mark.long
def test_a_workbook_is_written_as_its_user_writes_other_files(tmp_path: Path) -> None:
    assert manage(tmp_path / "data", "migrate").returncode == 0
    book = tmp_path / "book.zip"
    assert manage(tmp_path / "data", "export_workbook", str(book)).returncode == 0
    (tmp_path / "other").touch()
    assert book.stat().st_mode == (tmp_path / "other").stat().st_mode
