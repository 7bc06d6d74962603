"""The trial of outages: its short form runs through, and its judgement closes as well as it opens."""

from __future__ import annotations

import os
import sys
from typing import Any

import pytest
from django.conf import settings

from tests.processes import ran
from tests.trials.outage.main import AGREES, Found, goals, tell

TOLD = {"P0": [1, 2, 3], "P1": [7, 8]}


def judged(*, short: bool = False, **changes: Any) -> list[str]:
    """Which goals are missed when so much is otherwise."""
    journal = [("P0", 1), ("P1", 7), ("P0", 2), ("P0", 3), ("P1", 8)]
    stands = {"told": journal, "events": 5, "parked": 0, "verify": AGREES, **changes.pop("stands", {})}
    found = Found()
    found.felt.update(changes.pop("felt", {"line cut": 4}))
    found.after["line cut", "WebKit"] += changes.pop("after", [3.0, 59.0])
    rows = goals(stands, TOLD, changes.pop("left", 0), changes.pop("faults", 0), found, short=short)
    lines: list[str] = []
    assert tell(rows, lines.append) == all(held for *_rest, held in rows)
    return [title for title, _value, _goal, held in rows if not held]


def test_news_that_stands_once_each_in_order_is_all_that_is_asked() -> None:
    assert judged() == []


@pytest.mark.parametrize(
    ("changes", "missed"),
    [
        ({"stands": {"told": [("P0", 1), ("P0", 2), ("P0", 3), ("P1", 8), ("P1", 7)]}}, "not in their own order"),
        ({"stands": {"told": [("P0", 1), ("P0", 2), ("P0", 3), ("P1", 7)], "events": 4}}, "once each"),
        ({"stands": {"events": 6}}, "once each"),
        ({"stands": {"parked": 1}}, "set aside"),
        ({"stands": {"verify": "1 differences"}}, "verify"),
        ({"left": 1}, "left on a phone"),
        ({"faults": 1}, "answers of 500"),
        ({"felt": {"disk full": 0}}, "disk full: met"),
        ({"after": [60.1]}, "all sent after its end"),
    ],
)
def test_each_goal_can_be_missed(changes: dict[str, Any], missed: str) -> None:
    assert any(missed in title for title in judged(**changes)), missed


def test_the_short_form_judges_all_but_the_times() -> None:
    assert judged(short=True, after=[100.0]) == []


@pytest.mark.long
@pytest.mark.browser
def test_the_short_trial_runs_through() -> None:
    """A cut line, a killed server and a full disk under three phones, on the server as it is run for real."""
    cleared = {"DATABASE_URL": "", "TRAVELLER_DATA": "", "TRAVELLER_ADDRESS": ""}
    command = [sys.executable, str(settings.ROOT / "manage.py"), "trial", "outage", "--short"]
    done = ran(command, env={**os.environ, **cleared}, within_s=400)
    print(done.stdout, done.stderr)
    assert done.returncode == 0
    assert "24 of 24" in done.stdout and "MISSED" not in done.stdout
