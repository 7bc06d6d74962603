"""What recording a count costs now, against an earlier commit measured first in the same run."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from statistics import median

from django.conf import settings
from django.core.management.base import CommandError

from traveller.management.trials import Out

TITLE = "the CPU that recording a count takes, of bare SQL, beside what it took at an earlier commit"
EARLIER = "3fa0030"
GOAL = 0.97
RECORDING_TURNS = 3
STATEMENTS = {"sqlite": (17, 10), "postgresql": (19, 12)}
# Both trees write two digits of a ratio, which is too coarse to tell three hundredths of it.
EXACT = """
import sys
from tests.bench import figures, inside

class Exact(float):
    def __format__(self, form):
        return format(float(self), ".5f" if form == ".2f" else form)

coarse = figures.Rounds.rate_ratio
figures.Rounds.rate_ratio = lambda rounds, *, cpu=False: Exact(coarse(rounds, cpu=cpu))
inside.main("recording", sys.argv[1])
"""


def run(seed: int, *, short: bool, out: Out) -> int:
    """Both trees in turn, three times, each 21 rounds with bare SQL (short: once one); 0 when nothing got dearer than
    the goal allows in the median of the turns: a quiet machine gives one and the same tree 5 % more or less.

    Nothing is drawn, so the seed says nothing here.
    """
    databases = {"sqlite": ""}
    if url := os.environ.get("TEST_DATABASE_URL"):
        databases["postgresql"] = url
    missed = 0
    with tempfile.TemporaryDirectory() as place:
        earlier = _earlier(Path(place) / "earlier")
        for vendor, url in databases.items():
            turns = [
                [_measured(tree, url, short=short) for tree in (earlier, settings.ROOT)]
                for _ in range(1 if short else RECORDING_TURNS)
            ]
            for kind, most in enumerate(STATEMENTS[vendor]):
                (words, _, _), (_, _, statements) = turns[-1][0][kind], turns[-1][1][kind]
                olds, news = ([turn[tree][kind][1] for turn in turns] for tree in (0, 1))
                ratio = median(new / old for old, new in zip(olds, news, strict=True))
                good = ratio >= GOAL and statements <= most
                missed += not good
                out(
                    f"{'held' if good or short else 'MISSED':7}{words}: CPU of bare SQL {_told(olds)} at {EARLIER}, "
                    f"{_told(news)} now: {ratio:.3f} (at least {GOAL}); {statements} statements (at most {most})"
                )
    return 0 if short else missed


def _told(ratios: Sequence[float]) -> str:
    return " / ".join(f"{ratio:.3f}" for ratio in ratios)


def _earlier(place: Path) -> Path:
    """The tree of the earlier commit, as git keeps it."""
    done = subprocess.run(["git", "archive", EARLIER], cwd=settings.ROOT, capture_output=True)
    if done.returncode != 0:
        raise CommandError(f"The commit {EARLIER} is not here: run it in a clone with the whole history.")
    with tarfile.open(fileobj=BytesIO(done.stdout)) as archive:
        archive.extractall(place, filter="data")
    return place


def _measured(tree: Path, url: str, *, short: bool) -> list[tuple[str, float, int]]:
    """For each kind of count: its words, bare SQL's CPU over ours, statements."""
    with tempfile.TemporaryDirectory() as scratch:
        own = {"TRAVELLER_DATA": scratch, "DATABASE_URL": url or f"sqlite:///{scratch}/bench.sqlite3"}
        if url:
            own["DATABASE_URL"] = _fresh(url)
        done = subprocess.run(
            [sys.executable, "-c", EXACT, "tiny" if short else "full"],
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
