"""The dependency lock: where it and pyproject.toml disagree is named, and what is installed is pinned with digests."""

from __future__ import annotations

import os
import stat
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from tests.test_settings import ROOT
from traveller.management import lock
from traveller.management.commands import lock as command
from traveller.management.commands import test as test_command

PROJECT: dict[str, Any] = {
    "dependencies": ["django~=5.2.0", "psycopg[binary]>=3.2,<4", "numpy>=2"],
    "optional-dependencies": {"test": ["pytest>=8.3,<10"]},
}
CORE = """\
asgiref==3.13.0 \\
    --hash=sha256:aa
    # via django
Django==5.2.19 \\
    --hash=sha256:bb
    # via traveller (pyproject.toml)
numpy==2.4.6 ; python_full_version < '3.12' \\
    --hash=sha256:cc
    # via traveller (pyproject.toml)
numpy==2.5.5 ; python_full_version >= '3.12' \\
    --hash=sha256:dd \\
    --hash=sha256:de
    # via traveller (pyproject.toml)
psycopg==3.3.9 \\
    --hash=sha256:ee
    # via traveller (pyproject.toml)
psycopg-binary==3.3.9 ; implementation_name != 'pypy' \\
    --hash=sha256:ff
    # via psycopg
"""
TESTS = """\
iniconfig==2.3.0 \\
    --hash=sha256:11
    # via pytest
pytest==9.2.0 \\
    --hash=sha256:22
    # via
    #   traveller (pyproject.toml)
    #   pytest-cov
"""


def text(core: str = CORE, tests: str = TESTS) -> str:
    return f"# head\n{core}\n{lock.TESTS_MARK}\n{tests}"


def reported(lines: str, core: str = CORE, tests: str = TESTS, **project: Any) -> None:
    found = lock.disagreements({**PROJECT, **project}, text(core, tests))
    assert found == ([lines] if lines else []), found


def test_where_they_fit_nothing_is_named() -> None:
    reported("")


@pytest.mark.parametrize(
    ("dependencies", "said"),
    [
        ([*PROJECT["dependencies"], "segno>=1"], "segno is wanted by pyproject.toml and not locked"),
        (
            ["django~=5.2.20", *PROJECT["dependencies"][1:]],
            "django is locked at 5.2.19, and pyproject.toml wants ~=5.2.20",
        ),
        (["Django<5", *PROJECT["dependencies"][1:]], "Django is locked at 5.2.19, and pyproject.toml wants <5"),
        ([*PROJECT["dependencies"][:2], "numpy<2.5"], "numpy is locked at 2.5.5, and pyproject.toml wants <2.5"),
        (PROJECT["dependencies"][:2], "numpy is locked and needed by nothing"),
        ([*PROJECT["dependencies"], "pytest>=8"], "pytest is wanted by pyproject.toml and not locked"),
        ([*PROJECT["dependencies"], "uvloop; sys_platform == 'win32'"], ""),
        ([*PROJECT["dependencies"], "not a name!"], None),
    ],
)
def test_a_changed_list_is_named(dependencies: list[str], said: str | None) -> None:
    if said is None:
        assert len(lock.disagreements({"dependencies": dependencies}, text())) == 1
    else:
        reported(said, dependencies=dependencies)


@pytest.mark.parametrize(
    ("wanted", "said"),
    [
        (["pytest>=8.3,<10", "ruff"], ["ruff is wanted for the tests by pyproject.toml and not locked"]),
        (["pytest<9"], ["pytest is locked at 9.2.0, and pyproject.toml wants <9"]),
        (["pytest>=8", "numpy"], []),
        ([], ["iniconfig is locked and needed by nothing", "pytest is locked and needed by nothing"]),
    ],
)
def test_so_is_a_changed_list_of_the_tests(wanted: list[str], said: list[str]) -> None:
    assert lock.disagreements({**PROJECT, "optional-dependencies": {"test": wanted}}, text()) == said


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("    --hash=sha256:bb\n", "", "django 5.2.19 is locked without a digest"),
        (" ; python_full_version >= '3.12'", "", "numpy is locked at several versions: 2.4.6, 2.5.5"),
        (
            "python_full_version >= '3.12'",
            "python_full_version >= '3.13'",
            "numpy is wanted by pyproject.toml and not locked on every supported Python and system",
        ),
        ("    # via psycopg\n", "", "psycopg-binary is locked and needed by nothing"),
        ("asgiref==3.13.0", "asgiref>=3.13.0", f"{lock.NAME}: 'asgiref>=3.13.0 \\\\' is no pinned package"),
    ],
)
def test_a_spoiled_lock_is_named(old: str, new: str, said: str) -> None:
    assert old in CORE
    reported(said, core=CORE.replace(old, new, 1))


def test_a_lock_without_its_mark_is_named() -> None:
    assert lock.disagreements(PROJECT, CORE) == [f'{lock.NAME} has no line "{lock.TESTS_MARK}"']


def test_product_and_tests_may_not_take_different_versions_of_one_package() -> None:
    tests = TESTS + "asgiref==3.12.0 \\\n    --hash=sha256:99\n    # via pytest\n"
    reported("asgiref is locked at several versions: 3.12.0, 3.13.0", tests=tests)


def test_the_lock_that_is_committed_fits_and_names_no_place_of_any_machine() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    committed = (ROOT / lock.NAME).read_text(encoding="utf-8")
    assert lock.disagreements(project, committed) == []
    assert "://" not in committed and "index" not in committed
    assert all(pin.via for part in lock.parts(committed) for pin in lock.pinned(part)), "each says who needs it"


def test_the_whole_file_is_put_together_from_both_resolutions() -> None:
    whole = CORE + TESTS
    made = lock.composed("# a head of uv's\n" + CORE, whole)
    core, tests = lock.parts(made)
    assert lock.pinned(core) == lock.pinned(CORE) and lock.pinned(tests) == lock.pinned(TESTS)
    assert made.startswith(lock.HEAD) and "uv's" not in made


# A stand-in for uv: it answers with what lies beside it, so that no test asks the network.
UV = """#!/bin/sh
while [ $# -gt 0 ]; do [ "$1" = --output-file ] && out="$2"; shift; done
grep -q same "{folder}/mode" && exit 0
[ "$out" = core.txt ] && cat "{folder}/core" > "$out" || cat "{folder}/core" "{folder}/tests" > "$out"
"""


@pytest.fixture
def project(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A project of its own, and a uv that resolves nothing but this."""
    settings.ROOT = tmp_path
    lines = "\n".join(f'"{line}",' for line in PROJECT["dependencies"])
    (tmp_path / "pyproject.toml").write_text(
        f'[project]\ndependencies = [\n{lines}\n]\n[project.optional-dependencies]\ntest = ["pytest>=8.3,<10"]\n'
    )
    (tmp_path / "core").write_text(CORE)
    (tmp_path / "tests").write_text(TESTS)
    (tmp_path / "mode").write_text("new")
    uv = tmp_path / "uv"
    uv.write_text(UV.format(folder=tmp_path))
    uv.chmod(uv.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setattr(command, "find_uv", lambda: str(uv))
    return tmp_path


def test_the_command_writes_a_lock_that_fits(project: Path) -> None:
    call_command("lock", verbosity=0)
    made = (project / lock.NAME).read_text()
    assert lock.disagreements(PROJECT, made) == []
    # Where versions still fit, uv finds its own last answer and leaves it alone.
    (project / "mode").write_text("same")
    call_command("lock", verbosity=0)
    assert (project / lock.NAME).read_text() == made


def test_the_command_writes_nothing_that_does_not_fit(project: Path) -> None:
    (project / "tests").write_text("")
    with pytest.raises(CommandError, match=r"Nothing was written\. pytest is wanted for the tests"):
        call_command("lock", verbosity=0)
    assert not (project / lock.NAME).exists()


def test_a_resolution_that_fails_is_told_in_words(project: Path) -> None:
    (project / "uv").write_text("#!/bin/sh\necho 'no solution' >&2\nexit 1\n")
    with pytest.raises(CommandError, match="could not resolve the packages:\nno solution"):
        call_command("lock", verbosity=0)


def test_without_uv_it_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(sys, "executable", str(tmp_path / "python"))
    monkeypatch.setitem(os.environ, "PATH", str(tmp_path))
    with pytest.raises(CommandError, match="pip install uv"):
        command.find_uv()


def test_manage_py_test_names_each_disagreement_and_fails(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (project / lock.NAME).write_text(text(core=CORE.replace("Django==5.2.19", "Django==5.1.9")))
    tally = test_command.Tally()
    assert test_command.lock_checked(tally) == "lock: NOT IN STEP"
    assert tally.faults == ["lock: django is locked at 5.1.9, and pyproject.toml wants ~=5.2.0"]
    assert "manage.py lock" in capsys.readouterr().out
    (project / lock.NAME).write_text(text())
    tally = test_command.Tally()
    assert test_command.lock_checked(tally) == "lock: in step" and tally.faults == []
    (project / lock.NAME).unlink()
    assert test_command.lock_checked(tally) == "lock: NOT IN STEP" and tally.faults == [
        "lock: requirements.lock is missing"
    ]
