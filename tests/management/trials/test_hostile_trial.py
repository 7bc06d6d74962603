"""The trial of hostile uploads in its short form, and that each of its gates can close."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from traveller.management.trials.hostile import main, processes
from traveller.management.trials.hostile.caller import NO_ANSWER, Heard, Tally
from traveller.management.trials.hostile.doors import DOORS, meant_for
from traveller.management.trials.hostile.fairness import Fairness
from traveller.management.trials.hostile.files import every_kind
from traveller.management.trials.hostile.files.postscript import MARK
from traveller.management.trials.hostile.goals import Goals
from traveller.management.trials.hostile.neighbours import Waits
from traveller.management.trials.hostile.serving import Surroundings, Watch, faults_in

SEED = 20261129
# A number that no process has: the highest of a system is 4,194,304.
NOBODY = 2**30


@pytest.mark.long
def test_hostile_files_through_every_door_break_nothing() -> None:
    said: list[str] = []
    assert main.tried(SEED, short=True, out=said.append) == 0, "\n".join(said)


def test_even_in_short_every_door_is_tried() -> None:
    tried = {door for turn, kind in enumerate(every_kind()) for door in main.doors_of(kind, turn)}
    assert tried == set(DOORS)
    assert all(meant_for(kind, 0) in DOORS for kind in every_kind())


@pytest.fixture
def around(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Surroundings:
    monkeypatch.setattr("traveller.management.trials.hostile.serving.SYSTEM", (tmp_path / "system",))
    (tmp_path / "system").mkdir()
    return Surroundings(tmp_path)


def found(around: Surroundings) -> main.Found:
    """A trial in which nothing went wrong."""
    waits = Waits()
    for phase, seconds in (("quiet", 0.1), ("logs", 0.5), ("files", 2.9)):
        waits.phase = phase
        waits.note("report of a count", phase, Heard(302, seconds), 302)
    watch = Watch(NOBODY, around)
    watch.most_bytes = 500_000_000
    seen = main.Found(waits=waits, fair=Fairness(read_s=12.0), watch=watch)
    seen.sent.update(dict.fromkeys(DOORS, 1))
    return seen


def missed(seen: main.Found, *, short: bool = False) -> list[str]:
    goals = Goals(lambda line: None)
    main.judge(seen, goals, short=short)
    assert goals.code == (1 if goals.missed else 0)
    return goals.missed


def test_a_trial_in_which_nothing_went_wrong_is_passed(around: Surroundings) -> None:
    assert missed(found(around)) == []


def test_a_fault_of_the_server_s_is_a_missed_goal(around: Surroundings) -> None:
    seen = found(around)
    seen.tally.note("POST /here/photo", Heard(500, 0.1))
    assert missed(seen) == missed(seen, short=True) == ["answers that were a fault of the server's (5xx)"]


def test_an_answer_that_never_came_or_was_a_refusal_is_no_fault_of_the_server_s() -> None:
    tally = Tally()
    for status in (NO_ANSWER, 200, 302, 400, 422, 429):
        tally.note("POST /here/photo", Heard(status, 0.1))
    assert not tally.faults


@pytest.mark.parametrize("status", [401, 403, 404])
def test_a_file_that_nobody_looked_at_was_not_tried(around: Surroundings, status: int) -> None:
    seen = found(around)
    seen.tally.note("GET /here/proof/1/picture", Heard(status, 0.1))
    assert missed(seen) == []
    seen.tally.note("POST /here/photo", Heard(status, 0.1))
    assert missed(seen) == ["files turned away before anybody looked at them"]


def test_a_neighbour_who_waited_longer_than_three_seconds_is_a_missed_goal(around: Surroundings) -> None:
    seen = found(around)
    seen.waits.note("report of a count", "files", Heard(302, 3.1), 302)
    assert missed(seen) == ["report of a count answered"]
    assert missed(seen, short=True) == []


def test_five_times_the_quiet_wait_is_allowed_where_that_is_more(around: Surroundings) -> None:
    seen = found(around)
    seen.waits.seconds["report of a count", "quiet"] = [1.0]
    seen.waits.note("report of a count", "files", Heard(302, 4.9), 302)
    assert missed(seen) == []


def test_a_neighbour_who_was_refused_is_a_missed_goal(around: Surroundings) -> None:
    seen = found(around)
    seen.waits.note("report of a count", "files", Heard(NO_ANSWER, 1.0), 302)
    assert missed(seen) == ["honest people's requests that failed"]


def test_memory_and_a_late_honest_log_are_missed_goals(around: Surroundings) -> None:
    seen = found(around)
    assert seen.watch is not None
    seen.watch.most_bytes = 700_000_000
    seen.fair.read_s = 30.5
    assert missed(seen) == ["the honest log was read", "most memory of server, worker and children (PSS)"]


@pytest.mark.parametrize("place", ["tmp/upload", "away/.cache", "work/file", f"system/{MARK}-1"])
def test_a_file_outside_the_data_folder_is_seen(around: Surroundings, place: str) -> None:
    (around.home / place).write_text("written")
    watch = Watch(NOBODY, around)
    watch.look()
    assert watch.written == {str(around.home / place)}


def test_a_file_in_the_data_folder_or_of_somebody_else_is_not(around: Surroundings) -> None:
    (around.home / "data" / "traveller.sqlite3").write_text("the database")
    (around.home / "system" / "other").write_text("not ours")
    watch = Watch(NOBODY, around)
    watch.look()
    assert not watch.written


def test_a_process_that_is_left_is_named_and_ended(around: Surroundings) -> None:
    """It has left its parent, its session and its group, but not what tells it as ours."""
    sleeper = [sys.executable, "-c", "import time; time.sleep(60)"]
    left = subprocess.Popen(sleeper, env=around.environment(), cwd=around.home, start_new_session=True)
    watch = Watch(NOBODY, around)
    try:
        until = time.monotonic() + 20
        while not watch.known and time.monotonic() < until:
            watch.look()
        assert watch.most_bytes > 0
        named = watch.left()
        assert len(named) == 1 and named[0].startswith(f"{left.pid} ") and "time.sleep" in named[0]
        assert left.wait(10) < 0
    finally:
        left.kill()
        left.wait()
    assert not processes.alive(list(watch.known))


@pytest.mark.parametrize("root", [0, 1, -1])
def test_nobody_s_family_is_not_everybody(root: int) -> None:
    with pytest.raises(ValueError, match="no family"):
        processes.family_of(root)


def test_a_mark_that_anybody_may_have_is_refused() -> None:
    with pytest.raises(ValueError, match="anybody"):
        processes.Marked("")


def test_whoever_watches_is_no_part_of_what_is_watched() -> None:
    """Even where its surroundings look the same, as those of a test do that a trial has started."""
    known = processes.every()
    everybody = processes.Marked(f"PATH={os.environ['PATH']}")
    assert everybody.among(list(known.values()))
    parent = known[os.getpid()].parent
    assert not {os.getpid(), parent, 1} & {one.pid for one in processes.family_of(NOBODY, everybody)}


def test_the_last_lines_of_tracebacks_are_found_in_a_log() -> None:
    trace = "Traceback (most recent call last):\n  File 'a', line 1\n{}: words\nBad Request: /here/\n"
    assert faults_in(trace.format("IndexError") * 2 + trace.format("django.db.Error")) == [
        "2 x IndexError: words",
        "1 x django.db.Error: words",
    ]
    assert faults_in("Not Found: /here/\n") == []
