"""`manage.py bench`: which measurements there are, on which databases, and the table of what they gave."""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
from collections.abc import Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Literal

import psycopg

from tests.bench.figures import Figure, NotRun, Size
from tests.bench.scratch import on_postgres, on_sqlite

Database = Literal["SQLite", "PostgreSQL"]
ROOT = Path(__file__).resolve().parents[2]
# In the order of the table.
MEASUREMENTS: dict[str, tuple[Database, ...]] = {
    "recording": ("SQLite", "PostgreSQL"),
    "serving": ("SQLite", "PostgreSQL"),
    "queued": ("SQLite", "PostgreSQL"),
    "shops": ("SQLite", "PostgreSQL"),
    "racing": ("PostgreSQL",),
    "growing": ("SQLite", "PostgreSQL"),
    "judging": ("SQLite", "PostgreSQL"),
    "tables": ("SQLite",),
    "printing": ("SQLite",),
    "logs": ("SQLite",),
    "budgets": ("SQLite",),
    "phone": ("SQLite",),
    "suite": ("SQLite",),
}
# Longer than all others together, so only when it is named.
WHEN_NAMED = ("suite",)
LONGEST_S = 1800


def measured(name: str, database: Database, size: Size) -> list[Figure] | NotRun:
    """One measurement in a process of its own; words where it could not run."""
    title = f"{name} on {database}"
    url = os.environ.get("TEST_DATABASE_URL", "").strip()
    if database == "PostgreSQL":
        if not url:
            return NotRun(title, "TEST_DATABASE_URL names no PostgreSQL")
        try:
            psycopg.connect(url, connect_timeout=3).close()
        except psycopg.OperationalError as error:
            return NotRun(title, f"PostgreSQL does not answer: {str(error).strip().splitlines()[-1]}")
    scratch: AbstractContextManager[dict[str, str]] = on_postgres(url) if database == "PostgreSQL" else on_sqlite()
    with scratch as environment:
        command = [sys.executable, "-m", "tests.bench.inside", name, size]
        done = subprocess.run(
            command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=LONGEST_S, check=False
        )
    if done.returncode != 0:
        return NotRun(title, f"it failed: {(done.stderr.strip() or 'no words').splitlines()[-1]}")
    return [Figure(**row) for row in json.loads(done.stdout.strip().splitlines()[-1])]


def run(names: Sequence[str], *, size: Size) -> int:
    """Measure what is named (all when nothing is), print the table, and answer with the exit code."""
    unknown = sorted(set(names) - set(MEASUREMENTS))
    if unknown:
        print(f"There is no measurement {', '.join(unknown)}; there are {', '.join(MEASUREMENTS)}.")
        return 2
    missed = failed = 0
    not_run: list[NotRun] = []
    print(machine(), flush=True)
    print(f"{'figure':<58} {'measured':>12} {'target':>14}", flush=True)
    for name in names or [name for name in MEASUREMENTS if name not in WHEN_NAMED]:
        for database in MEASUREMENTS[name]:
            found = measured(name, database, size)
            if isinstance(found, NotRun):
                not_run.append(found)
                failed += found.why.startswith("it failed")
                continue
            for figure in found:
                print(line(figure), flush=True)
                missed += not figure.met
    for one in not_run:
        print(f"NOT RUN: {one.name}. {one.why}")
    print(f"{missed} missed, {len(not_run)} not run")
    return 1 if missed or failed else 0


def line(figure: Figure) -> str:
    """A figure as a row, with its notes below."""
    target = "" if figure.target is None else f"{figure.better} {figure.target:g}"
    verdict = "" if figure.target is None else "met" if figure.met else "MISSED"
    value = f"{figure.value:.4g}{' ' + figure.unit if figure.unit else ''}"
    notes = f"\n    {figure.notes}" if figure.notes else ""
    return f"{figure.name:<58} {value:>12} {target:>14}  {verdict}{notes}"


def machine() -> str:
    """Where this was measured: figures of another machine are not these."""
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg()) if hasattr(os, "getloadavg") else "unknown"
    return (
        f"Python {platform.python_version()} on {platform.system()} {platform.machine()}, {os.cpu_count()} processors, "
        f"load {load} at the start. Ratios hold within one run; all else is told only."
    )
