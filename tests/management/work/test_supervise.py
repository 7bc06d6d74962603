"""Lanes run while their supervisor does: started again when they end, gone when it is, however it came to its end."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from multiprocessing import Process
from pathlib import Path

import pytest

from traveller.management.work.alive import is_gone, worker_name
from traveller.management.work.supervise import AGAIN_MOST_S, Supervisor, WorkLane

# A real lane, but for its work.
PARENT = """
import os, sys, time
import django
django.setup()
from django_tasks_db.management.commands import db_worker
from traveller.management.work.lane import begin_lane
from traveller.management.work.supervise import Supervisor, WorkLane

def run(worker):
    with open(sys.argv[1], "w") as file:
        file.write(f"{os.getpid()} ")
    time.sleep(60)

db_worker.Worker.run = run
Supervisor([WorkLane("quick", begin_lane)], print, lambda: None).run()
"""


def until(holds: Callable[[], bool], seconds: float = 30) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if holds():
            return True
        time.sleep(0.05)
    return holds()


def at_its_end(name: str) -> Process:
    """A lane that is over at once."""
    process = Process(target=str, name=name)
    process.start()
    return process


def runs(number: int) -> bool:
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    # Ended and not yet fetched by anybody counts as ended.
    return "(zombie)" not in Path(f"/proc/{number}/status").read_text(encoding="utf-8")


@pytest.mark.parametrize("end", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL])
def test_a_lane_ends_with_its_supervisor_however_that_ends(tmp_path: Path, end: signal.Signals) -> None:
    path = tmp_path / "lane"
    supervisor = subprocess.Popen([sys.executable, "-c", PARENT, str(path)])
    assert until(lambda: path.exists() and path.read_text(encoding="ascii").endswith(" "))
    lane = int(path.read_text(encoding="ascii"))
    assert runs(lane)
    supervisor.send_signal(end)
    supervisor.wait(30)
    assert until(lambda: not runs(lane)), "the lane outlived its supervisor"


def test_a_lane_that_ends_is_started_again_after_one_second_then_two_and_at_most_thirty() -> None:
    lane, now, waits = WorkLane("quick", at_its_end), 0.0, []
    for _ in range(7):
        lane.look(now)
        assert lane.process is not None
        lane.process.join()
        said = lane.look(now + 0.1)
        assert "starts again in" in said
        waits.append(round(lane.again_at - now - 0.1))
        assert lane.look(lane.again_at - 0.01) == "", "not before its time"
        now = lane.again_at
    assert waits == [1, 2, 4, 8, 16, 30, 30] and waits[-1] == AGAIN_MOST_S


def test_what_an_ended_lane_had_taken_is_asked_for_when_it_ends_and_not_an_hour_later(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # The tests keep their own way of being interrupted.
    monkeypatch.setattr(signal, "signal", lambda *_: None)
    reported: list[str] = []
    lane = WorkLane("quick", at_its_end)

    def ended() -> None:
        reported.append("ended")
        supervisor._ending = True

    supervisor = Supervisor([lane], reported.append, lambda: None, ended)
    supervisor.run()
    assert len(reported) == 2 and "starts again in" in reported[0] and reported[1] == "ended"


def test_a_lane_that_ran_soundly_is_started_again_at_once_as_if_it_had_never_ended() -> None:
    lane = WorkLane("quick", at_its_end, wait_s=16)
    lane.look(0.0)
    assert lane.process is not None
    lane.process.join()
    assert "in 1 s" in lane.look(61.0)


def test_a_worker_is_known_to_be_gone_on_its_own_machine_only() -> None:
    child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    host, _, _ = worker_name().split(":")
    assert not is_gone(worker_name())
    assert not is_gone(f"{host}:{child.pid}:")
    child.kill()
    child.wait()
    assert is_gone(f"{host}:{child.pid}:")
    assert not is_gone(f"elsewhere:{child.pid}:"), "of other machines nothing is known"
    assert not is_gone("") and not is_gone("garbage")


def test_a_number_that_was_given_to_another_process_is_not_taken_for_the_worker() -> None:
    host, number, began = worker_name().split(":")
    if began:
        assert is_gone(f"{host}:{number}:{int(began) - 1}")
