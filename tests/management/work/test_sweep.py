"""What a worker had taken and will never finish is done by the next one, once."""

from __future__ import annotations

import subprocess
import sys
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from tests import factory as f
from tests.batches.files.test_read_file import HOT, send
from tests.batches.test_attach import load_of, log, oven_batch, verdict
from tests.working import work
from traveller.batches.models import FileReading
from traveller.batches.tasks import read_next, read_waiting
from traveller.journal.background import enqueue, enqueue_once
from traveller.journal.models import Event
from traveller.management.tasks import ask_by_the_clock, tidy
from traveller.management.work.alive import worker_name
from traveller.management.work.run import take_up
from traveller.management.work.sweep import KEPT, TASK_LIMITS, TIMES_MOST, look_after, prune, sweep

pytestmark = pytest.mark.django_db
NOW = timezone.now()


@pytest.fixture(autouse=True)
def a_worker_is_awaited(settings: Any) -> None:
    settings.TASKS_AT_ONCE = False


def a_dead_worker() -> str:
    child = subprocess.Popen([sys.executable, "-c", ""])
    child.wait()
    return f"{worker_name().split(':')[0]}:{child.pid}:"


def taken(by: str) -> DBTaskResult[Any, Any]:
    enqueue(read_next, now=NOW)
    row = DBTaskResult.objects.ready().get()
    row.claim(by)
    return row


def test_a_task_of_a_dead_worker_is_given_to_the_next_and_one_of_a_living_worker_is_not() -> None:
    taken(worker_name())
    assert sweep(NOW) == 0
    DBTaskResult.objects.all().delete()
    taken(a_dead_worker())
    assert sweep(NOW) == 1 and DBTaskResult.objects.ready().count() == 1


def test_a_task_of_another_machine_is_given_on_only_when_it_took_twice_its_limit() -> None:
    row = taken("elsewhere:1:1")
    assert row.started_at is not None
    assert sweep(row.started_at + 2 * TASK_LIMITS["quick"]) == 0
    assert sweep(row.started_at + 2 * TASK_LIMITS["quick"] + timedelta(seconds=1)) == 1


def test_a_task_that_ended_five_workers_is_left_as_failed() -> None:
    row = taken(a_dead_worker())
    DBTaskResult.objects.filter(pk=row.pk).update(worker_ids=[a_dead_worker()] * TIMES_MOST)
    assert sweep(NOW) == 0 and DBTaskResult.objects.failed().count() == 1


def test_a_worker_killed_in_the_middle_of_a_file_leaves_it_to_the_next_which_reads_it_once() -> None:
    batch = oven_batch()
    sent = send(batch, load_of(batch, f.MONDAY, 40), log(f.MONDAY, HOT))
    dead = a_dead_worker()
    DBTaskResult.objects.get().claim(dead)
    FileReading.objects.filter(pk=sent.reading_id or 0).update(taken_at=timezone.now(), taken_by=dead, tries=1)
    assert work() == 0
    take_up()
    work()
    assert verdict(batch)[0] == "passed" and Event.objects.filter(kind="evidence read").count() == 1


def test_files_whose_asking_was_lost_are_asked_for_anew_when_a_worker_starts() -> None:
    batch = oven_batch()
    send(batch, load_of(batch, f.MONDAY, 40), log(f.MONDAY, HOT))
    DBTaskResult.objects.all().delete()
    take_up()
    work()
    assert verdict(batch)[0] == "passed"


def test_a_file_that_waits_though_no_task_would_read_it_is_asked_for_within_a_minute_and_once() -> None:
    batch = oven_batch()
    send(batch, load_of(batch, f.MONDAY, 40), log(f.MONDAY, HOT))
    look_after(timezone.now())
    assert DBTaskResult.objects.count() == 1, "its task is there"
    DBTaskResult.objects.all().delete()
    for _ in range(2):
        look_after(timezone.now())
    assert DBTaskResult.objects.count() == 1
    work()
    assert verdict(batch)[0] == "passed"
    look_after(timezone.now())
    assert not DBTaskResult.objects.ready().exists(), "nothing waits, so nothing is asked for"


def test_what_is_done_by_the_clock_is_asked_for_once_an_hour_however_many_ask() -> None:
    at = NOW.replace(minute=1)
    for minutes in (0, 1, 30, 58):
        ask_by_the_clock(at + timedelta(minutes=minutes))
    assert DBTaskResult.objects.count() == 1
    ask_by_the_clock(at + timedelta(minutes=59))
    assert DBTaskResult.objects.count() == 2
    assert enqueue_once(tidy, "another name", now=NOW) and not enqueue_once(tidy, "another name", now=NOW)


def test_tasks_done_days_ago_are_forgotten() -> None:
    enqueue(read_waiting, now=NOW)
    work()
    assert prune(NOW) == 0
    assert prune(timezone.now() + KEPT + timedelta(minutes=1)) == 1
    ask_by_the_clock(NOW)
    work()
    assert DBTaskResult.objects.successful().count() == 2
