"""manage.py makes its own environment, or says in one line why it cannot."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from traveller.management import lock

ROOT = Path(__file__).resolve().parents[1]
PYPROJECT = """
[project]
dependencies = ["django~=5.2.0"]
[project.optional-dependencies]
test = ["pytest>=8"]
"""
LOCK = """\
django==5.2.19 \\
    --hash=sha256:00
# --- Only the tests need what follows ---
pytest==9.2.0 \\
    --hash=sha256:11
"""


@pytest.fixture
def manage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """A fresh copy of manage.py that believes to stand in an empty folder."""
    spec = importlib.util.spec_from_file_location("manage_copy", ROOT / "manage.py")
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    venv = tmp_path / ".venv"
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "VENV", venv)
    monkeypatch.setattr(module, "VENV_PYTHON", venv / "bin" / "python")
    (tmp_path / "pyproject.toml").write_text(PYPROJECT)
    (tmp_path / "requirements.lock").write_text(LOCK)
    return module


def complete(manage: ModuleType) -> None:
    """Pretend that everything was installed."""
    manage.VENV_PYTHON.parent.mkdir(parents=True)
    manage.VENV_PYTHON.touch()
    for kind in ("core", "test"):
        manage.stamp(kind).write_text(manage.stamp_text(kind == "test"))


def without(monkeypatch: pytest.MonkeyPatch, *modules: str) -> None:
    """Pretend that this Python lacks these modules."""
    real = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name, *rest: None if name in modules else real(name, *rest))


def test_an_old_python_is_told_in_words(manage: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 10, 4))
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or newer"):
        manage.main()


def test_an_environment_without_its_stamp_is_not_complete(manage: ModuleType) -> None:
    complete(manage)
    assert manage.installed(False) and manage.installed(True)
    manage.stamp("core").unlink()
    assert not manage.installed(False)
    assert not manage.sound()


def test_a_changed_list_of_packages_makes_the_stamp_stale_but_keeps_the_environment(
    manage: ModuleType,
) -> None:
    complete(manage)
    (manage.ROOT / "pyproject.toml").write_text(PYPROJECT.replace("5.2.0", "5.2.1"))
    assert not manage.installed(False)
    assert manage.sound()


def test_a_changed_lock_makes_the_stamp_stale_for_whoever_uses_that_part(manage: ModuleType) -> None:
    complete(manage)
    (manage.ROOT / "requirements.lock").write_text(LOCK.replace("pytest==9.2.0", "pytest==9.2.1"))
    assert manage.installed(False) and not manage.installed(True)
    (manage.ROOT / "requirements.lock").write_text(LOCK.replace("hash=sha256:00", "hash=sha256:01"))
    assert not manage.installed(False)
    assert manage.sound()


def test_a_missing_lock_is_told_in_words(manage: ModuleType) -> None:
    complete(manage)
    (manage.ROOT / "requirements.lock").unlink()
    with pytest.raises(SystemExit, match=r"requirements\.lock is missing beside manage\.py"):
        manage.installed(False)


@pytest.mark.parametrize("testing", [False, True])
def test_pip_gets_its_part_of_the_lock_and_must_check_every_digest(
    manage: ModuleType, monkeypatch: pytest.MonkeyPatch, testing: bool
) -> None:
    ran: list[tuple[list[str], str]] = []
    monkeypatch.setattr(manage, "make", lambda: ["pip"])
    monkeypatch.setattr(manage, "run_pip", lambda command: ran.append((command, Path(command[-1]).read_text())))
    (manage.VENV).mkdir()
    manage.install(testing)
    [(command, text)] = ran
    assert command[:2] == ["pip", "install"] and "--require-hashes" in command and command[-2] == "-r"
    assert "django==5.2.19" in text and ("pytest==9.2.0" in text) == testing
    manage.VENV_PYTHON.parent.mkdir()
    manage.VENV_PYTHON.touch()
    assert manage.installed(False) and manage.installed(True) == testing


def test_the_mark_that_parts_the_lock_is_the_one_that_is_written(manage: ModuleType) -> None:
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    assert (manage.LOCK, manage.LOCK_MARK) == (lock.NAME, lock.TESTS_MARK)
    assert text.count(f"\n{manage.LOCK_MARK}\n") == 1


def test_another_python_makes_the_environment_anew(manage: ModuleType) -> None:
    complete(manage)
    manage.stamp("core").write_text("3.99.0\n" + manage.stamp_text(False).split("\n")[1] + "\n")
    assert not manage.installed(False)
    assert not manage.sound()


def test_a_half_made_environment_is_removed_first(manage: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    (manage.VENV / "lib").mkdir(parents=True)
    (manage.VENV / "lib" / "left_behind").touch()
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: subprocess.CompletedProcess([], 0, "", ""))
    manage.make()
    assert not manage.VENV.exists()


def test_without_ensurepip_the_outer_pip_fills_the_environment(
    manage: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    without(monkeypatch, "ensurepip")
    ran: list[list[str]] = []

    def run(command: list[str], **_: Any) -> subprocess.CompletedProcess[str]:
        ran.append(command)
        return subprocess.CompletedProcess(command, 0, "", "")

    monkeypatch.setattr(subprocess, "run", run)
    assert manage.make() == [sys.executable, "-m", "pip", "--python", str(manage.VENV_PYTHON)]
    assert "--without-pip" in ran[0]


def test_without_pip_and_ensurepip_one_line_says_what_to_install(
    manage: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    without(monkeypatch, "ensurepip", "pip")
    with pytest.raises(SystemExit, match="apt install python3-venv"):
        manage.make()


def test_without_venv_one_line_says_what_to_install(manage: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    without(monkeypatch, "venv")
    with pytest.raises(SystemExit, match="no venv module"):
        manage.make()


@pytest.mark.parametrize(
    ("last_words", "reported"),
    [
        ("NewConnectionError: [Errno -3] Temporary failure in name resolution", "cannot be reached"),
        ("ERROR: No space left on device", "No space left on device"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "its digest differs"),
    ],
)
def test_a_failed_installation_says_why(manage: ModuleType, last_words: str, reported: str) -> None:
    failing = [sys.executable, "-c", f"print({last_words!r}); raise SystemExit(1)"]
    with pytest.raises(SystemExit, match=reported):
        manage.run_pip(failing)


def test_the_callers_own_packages_do_not_leak_in(manage: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONPATH", "/somewhere/else")
    monkeypatch.setenv("PIP_TARGET", "/somewhere/else")
    monkeypatch.setenv("PIP_INDEX_URL", "https://index.example/simple")
    kept = manage.environment()
    assert "PYTHONPATH" not in kept and "PIP_TARGET" not in kept
    assert kept["PIP_INDEX_URL"] == "https://index.example/simple"


def test_two_first_starts_wait_for_each_other(manage: ModuleType, tmp_path: Path) -> None:
    code = (
        "import importlib.util, pathlib, sys\n"
        f"spec = importlib.util.spec_from_file_location('m', {str(ROOT / 'manage.py')!r})\n"
        "m = importlib.util.module_from_spec(spec); spec.loader.exec_module(m)\n"
        f"m.ROOT = pathlib.Path({str(tmp_path)!r})\n"
        "with m.alone():\n    print('inside', flush=True)\n"
    )
    with manage.alone():
        other = subprocess.Popen(
            [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        assert other.stderr is not None
        assert "waiting for it" in other.stderr.readline()
        assert other.poll() is None
    assert other.communicate(timeout=20)[0] == "inside\n"
    assert other.returncode == 0
