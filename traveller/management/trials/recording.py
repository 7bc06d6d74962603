"""What recording a count costs now, against an earlier commit measured first in the same run."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tarfile
import tempfile
from io import BytesIO
from pathlib import Path

from django.conf import settings
from django.core.management.base import CommandError

from traveller.management.trials import Out

TITLE = "the CPU that recording a count takes, of bare SQL, beside what it took at an earlier commit"
EARLIER = "3fa0030"
GOAL = 0.97
STATEMENTS = {"sqlite": (17, 10), "postgresql": (19, 12)}


def run(seed: int, *, short: bool, out: Out) -> int:
    """Both trees, each 21 rounds in turn with bare SQL (short: one); 0 when nothing got dearer than the goal allows.

    Nothing is drawn, so the seed says nothing here.
    """
    databases = {"sqlite": ""}
    if url := os.environ.get("TEST_DATABASE_URL"):
        databases["postgresql"] = url
    missed = 0
    with tempfile.TemporaryDirectory() as place:
        earlier = _earlier(Path(place) / "earlier")
        for vendor, url in databases.items():
            before = _measured(earlier, url, Path(place) / "data", short=short)
            now = _measured(settings.ROOT, url, Path(place) / "data", short=short)
            for (words, old, _), (_, new, statements), most in zip(before, now, STATEMENTS[vendor], strict=True):
                good = new / old >= GOAL and statements <= most
                missed += not good
                out(
                    f"{'held' if good or short else 'MISSED':7}{words}: CPU of bare SQL {old:.3f} at {EARLIER}, "
                    f"{new:.3f} now: {new / old:.3f} (at least {GOAL}); {statements} statements (at most {most})"
                )
    return 0 if short else missed


def _earlier(place: Path) -> Path:
    """The tree of the earlier commit, as git keeps it."""
    reported = subprocess.run(["git", "archive", EARLIER], cwd=settings.ROOT, capture_output=True)
    if reported.returncode != 0:
        raise CommandError(f"The commit {EARLIER} is not here: run it in a clone with the whole history.")
    with tarfile.open(fileobj=BytesIO(reported.stdout)) as archive:
        archive.extractall(place, filter="data")
    return place


def _measured(tree: Path, url: str, data: Path, *, short: bool) -> list[tuple[str, float, int]]:
    """For each kind of count: its words, bare SQL's CPU over ours, statements."""
    with tempfile.TemporaryDirectory() as scratch:
        own = {"TRAVELLER_DATA": scratch, "DATABASE_URL": url or f"sqlite:///{scratch}/bench.sqlite3"}
        if url:
            own["DATABASE_URL"] = _fresh(url)
        done = subprocess.run(
            [sys.executable, "-m", "tests.bench.inside", "recording", "tiny" if short else "full"],
            cwd=tree,
            env={**os.environ, **own},
            capture_output=True,
            text=True,
        )
    if done.returncode != 0:
        raise CommandError(f"The measurement did not run:\n{done.stderr[-2000:]}")
    found = []
    for figure in json.loads(done.stdout.strip().splitlines()[-1]):
        notes = figure["notes"]
        ratio, statements = re.search(r"\(ratio ([\d.]+)\)", notes), re.search(r"(\d+) statements", notes)
        assert ratio and statements, notes
        found.append((figure["name"], float(ratio[1]), int(statements[1])))
    return found


def _fresh(url: str) -> str:
    """An empty database on that server."""
    import psycopg

    name = "trial_recording"
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE IF EXISTS {name}")
        connection.execute(f"CREATE DATABASE {name}")
    return url.rsplit("/", 1)[0] + f"/{name}"
