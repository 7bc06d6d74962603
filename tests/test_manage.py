"""manage.py makes its own environment, or says in one line why it cannot."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]
PYPROJECT = """
[project]
dependencies = ["django~=5.2.0"]
[project.optional-dependencies]
test = ["pytest>=8"]
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
    ("last_words", "told"),
    [
        ("NewConnectionError: [Errno -3] Temporary failure in name resolution", "cannot be reached"),
        ("ERROR: No space left on device", "No space left on device"),
    ],
)
def test_a_failed_installation_says_why(manage: ModuleType, last_words: str, told: str) -> None:
    failing = [sys.executable, "-c", f"print({last_words!r}); raise SystemExit(1)"]
    with pytest.raises(SystemExit, match=told):
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
