"""`manage.py test`: everything that must hold, on SQLite, on PostgreSQL and in the browser."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import psycopg
from django.conf import settings
from django.core.management.base import BaseCommand

from traveller.management.lock import NAME, disagreements

# What a PostgreSQL in its usual place offers to a developer; CI names its own in TEST_DATABASE_URL.
USUAL_POSTGRES = "postgres://postgres@127.0.0.1:5432/postgres"
WORKERS_MAX = 4
HELP = """usage: manage.py test [--all | pytest arguments]

Alone: linter, templates, types, migrations, lock, the tests on SQLite and in the browsers but those that run long,
then on PostgreSQL (TEST_DATABASE_URL, or one on 127.0.0.1:5432) those that have to be shown on both databases.
--all: the long ones too, with the coverage of the whole, and on PostgreSQL every test that touches the database.
With other arguments: only pytest, with those arguments, for example  manage.py test tests/rules -k cure
CI=true turns a missing Chromium, WebKit or PostgreSQL into a failure."""


@dataclass
class Tally:
    """What became of the tests, over all passes."""

    passed: int = 0
    failed: int = 0
    not_run: dict[str, list[str]] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)

    def add(self, report: Path) -> str:
        """Count one pass from pytest's own report and say what it gave."""
        passed = failed = 0
        for case in ElementTree.parse(report).iter("testcase"):
            name = f"{case.get('classname', '')}::{case.get('name', '')}"
            skipped = case.find("skipped")
            if case.find("failure") is not None or case.find("error") is not None:
                failed += 1
            elif skipped is not None:
                self.not_run.setdefault(skipped.get("message", "no reason given"), []).append(name)
            else:
                passed += 1
        self.passed += passed
        self.failed += failed
        return f"{passed} passed, {failed} failed"


class Command(BaseCommand):
    help = "Runs every test; with arguments, only pytest with those arguments."

    def run_from_argv(self, argv: list[str]) -> None:
        """Hand everything behind `test` on to pytest untouched: its options are not ours to parse."""
        arguments = argv[2:]
        if arguments in (["-h"], ["--help"]):
            print(HELP)
            return
        if arguments and arguments != ["--all"]:
            sys.exit(call("pytest", *arguments))
        sys.exit(run_all(everything=bool(arguments)))

    def handle(self, *args: Any, **options: Any) -> None:
        sys.exit(run_all(everything=False))


def call(module: str, *arguments: str, env: dict[str, str] | None = None) -> int:
    """Run a tool of this environment at the project's root, its output straight to the reader."""
    sys.stdout.flush()
    command = [sys.executable, "-m", module, *arguments]
    return subprocess.run(command, cwd=settings.ROOT, env={**os.environ, **(env or {})}).returncode


def run_all(*, everything: bool) -> int:
    """Every check and both passes, with the long tests and the coverage where `everything`; last comes the count."""
    first = ("--cov", "--cov-report=term") if everything else ("-m", "not long")
    second = ("--only-database",) if everything else ("--only-database", "--only-both", "-m", "not long")
    tally = Tally()
    lines = [
        checked("linter", "ruff", "check", ".", tally=tally),
        templates_checked(tally),
        checked("types", "mypy", ".", tally=tally),
        checked("migrations", "manage", "makemigrations", "--check", "--dry-run", tally=tally),
        lock_checked(tally),
    ]
    postgres, why_not = find_postgres()
    with tempfile.TemporaryDirectory() as folder:
        sqlite_env = {"DATABASE_URL": "", "TEST_DATABASE_URL": postgres or ""}
        lines.append(suite("SQLite", Path(folder), tally, sqlite_env, *first))
        if postgres:
            env = {"DATABASE_URL": postgres, "TEST_DATABASE_URL": postgres}
            lines.append(suite("PostgreSQL", Path(folder), tally, env, *second))
        else:
            lines.append(f"PostgreSQL: not run. {why_not}")
            if os.environ.get("CI") == "true":
                tally.faults.append("PostgreSQL is missing, and CI=true allows nothing to be missing")
    if not everything:
        lines.append("Not asked for: what runs long, coverage, all else on PostgreSQL. `manage.py test --all` does.")
    return say_outcome(lines, tally, whole=postgres is not None)


def checked(title: str, module: str, *arguments: str, tally: Tally) -> str:
    """One check that is no test; its failure fails the whole."""
    print(f"== {title}", flush=True)
    if call(module, *arguments) == 0:
        return f"{title}: clean"
    tally.faults.append(f"{title}: not clean")
    return f"{title}: NOT CLEAN"


def templates_checked(tally: Tally, folder: Path | None = None) -> str:
    """Is every template written as djlint writes it? Each that is not is a fault, with what to do."""
    print("== templates", flush=True)
    command = [sys.executable, "-m", "djlint", "--check", "."]
    done = subprocess.run(command, cwd=folder or settings.ROOT, capture_output=True, text=True)
    if done.returncode == 0:
        return "templates: clean"
    print(done.stdout, done.stderr, sep="\n")
    # Its report names each file on a line of its own, before the lines that would change.
    wrong = re.findall(r"^\w.*\.html$", done.stdout, re.MULTILINE)
    todo = "`.venv/bin/python -m djlint --reformat .` writes it so; then see in git diff that no blank came or went"
    tally.faults += [f"templates: {name}: {todo}" for name in wrong] or ["templates: djlint did not run"]
    return "templates: NOT CLEAN"


def lock_checked(tally: Tally) -> str:
    """Do the lock and pyproject.toml fit each other? Each place where they do not is a fault."""
    print("== lock", flush=True)
    project = tomllib.loads((settings.ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    file = settings.ROOT / NAME
    text = file.read_text(encoding="utf-8") if file.exists() else ""
    wrong = disagreements(project, text) if text else [f"{NAME} is missing"]
    for line in wrong:
        print(f"{line}; `manage.py lock` writes it anew")
    tally.faults += [f"lock: {line}" for line in wrong]
    return "lock: NOT IN STEP" if wrong else "lock: in step"


def suite(title: str, folder: Path, tally: Tally, env: dict[str, str], *arguments: str) -> str:
    """One pass of pytest; anything but success, the coverage floor included, fails the whole."""
    print(f"== tests on {title}", flush=True)
    report = folder / f"{title}.xml"
    workers = min(WORKERS_MAX, os.cpu_count() or 1)
    own = {**env, "TRAVELLER_DEMO": "", "TRAVELLER_SERVING": "", "TRAVELLER_DATA": str(folder / "data")}
    code = call("pytest", "-q", "-n", str(workers), f"--junitxml={report}", *arguments, env=own)
    if not report.exists():
        tally.faults.append(f"{title}: pytest ended with {code} before any test")
        return f"tests on {title}: DID NOT START"
    line = f"tests on {title}: {tally.add(report)}"
    if code != 0:
        tally.faults.append(f"{title}: pytest ended with {code} (a failure, or coverage below the floor)")
    return line


def find_postgres() -> tuple[str | None, str]:
    """The URL of a PostgreSQL where test databases can be made, or None and why there is none."""
    named = os.environ.get("TEST_DATABASE_URL", "").strip()
    url = named or USUAL_POSTGRES
    try:
        with psycopg.connect(url, connect_timeout=3) as connection:
            row = connection.execute(
                "SELECT rolcreatedb OR rolsuper FROM pg_roles WHERE rolname = current_user"
            ).fetchone()
    except psycopg.OperationalError as error:
        last = str(error).strip().splitlines()[-1]
        asked = "TEST_DATABASE_URL" if named else "127.0.0.1:5432, and TEST_DATABASE_URL is not set"
        return None, f"No PostgreSQL at {asked} ({last})."
    if not row or not row[0]:
        return None, "The PostgreSQL user may not create databases."
    return url, ""


def say_outcome(lines: list[str], tally: Tally, *, whole: bool) -> int:
    """Print the outcome, what did not run and why, and last the count."""
    print("== outcome")
    print("\n".join(lines))
    for reason, names in tally.not_run.items():
        print(f"NOT RUN: {len(names)} tests. {reason.removeprefix('Skipped: ')}")
        print("\n".join(f"  {name}" for name in names))
    if not whole:
        print("NOT RUN: the second pass, on PostgreSQL")
    for fault in tally.faults:
        print(f"FAULT: {fault}")
    left = sum(map(len, tally.not_run.values()))
    print(f"{tally.passed} passed, {tally.failed} failed" + (f", {left} not run" if left else ""))
    return 1 if tally.faults or tally.failed else 0
