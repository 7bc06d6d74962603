"""A file that was sent is answered before it is read; a worker reads it once, tells it, and then it is judged."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from tests import factory as f
from tests.batches.test_attach import load_of, log, oven_batch, verdict
from tests.globe import ok
from tests.working import work
from traveller.batches import tasks
from traveller.batches.actions.attach import attach, understand
from traveller.batches.actions.finish_step import finish_step
from traveller.batches.actions.read_file import READ, UNREADABLE
from traveller.batches.files import decoded as read_files
from traveller.batches.files.decoded import BeingRead, being_read, log_of
from traveller.batches.files.turns import READ_TRIES_MAX
from traveller.batches.history.verify import differences
from traveller.batches.models import Attachment, Batch, FileReading, Load
from traveller.decode import Undecoded
from traveller.journal.background import enqueue
from traveller.journal.models import Event
from traveller.ledger.models import Hold
from traveller.rules.logs import Log, NotALog, Unclear

pytestmark = pytest.mark.django_db

HOT = [85.0] * 41


@pytest.fixture(autouse=True)
def a_worker_is_awaited(settings: Any) -> None:
    settings.TASKS_AT_ONCE = False
    read_files.forget_logs()


def send(batch: Batch, load: Load | None, content: bytes, n: str = "log", **more: Any) -> Attachment:
    step_id = load.step_id if load else batch.steps.get().pk
    reported = {"name": "oven.csv", "kind": "log", "load": load.uid if load else None, **more}
    event = ok(attach(event_context=f.event_context(n), step_id=step_id, content=content, **reported)).event
    return Attachment.objects.get(event=event)


def broken(*_: Any, **__: Any) -> Any:
    raise AssertionError("read a second time")


def test_a_log_proves_nothing_until_it_is_read_and_is_judged_then() -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    sent = send(batch, load, log(f.MONDAY, HOT))
    assert isinstance(log_of(sent), BeingRead) and being_read([load.step_id]) == 1
    assert verdict(batch)[0] == "missing" and not Event.objects.filter(kind=READ).exists()
    assert work() == 1
    assert isinstance(log_of(sent), Log) and being_read([load.step_id]) == 0
    assert verdict(batch)[0] == "passed"
    reported = Event.objects.get(kind=READ)
    assert (reported.actor_kind, reported.data["caused_by"]) == ("system", str(sent.event.uid))
    assert reported.data["digest"] == sent.reading.digest and sent.reading.version == 2  # type: ignore[union-attr]
    assert not list(differences())


def test_a_step_reported_done_while_its_log_is_read_is_held_and_let_go_when_it_was_hot_enough() -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    ok(f.report_good(batch, 60)) if hasattr(f, "report_good") else None
    send(batch, load, log(f.MONDAY, HOT))
    ok(finish_step(event_context=f.event_context("done"), step_id=load.step_id))
    held = Hold.objects.filter(closed_at=None)
    before = held.count()
    work()
    assert verdict(batch)[0] == "passed" and held.count() == 0 and before <= 1


def test_a_task_that_is_done_twice_is_done_once() -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    send(batch, load, log(f.MONDAY, HOT))
    work()
    before = Event.objects.count()
    DBTaskResult.objects.update(status="READY")
    FileReading.objects.update(state=FileReading.State.WAITING, taken_at=None)
    work()
    assert Event.objects.count() == before and verdict(batch)[0] == "passed"


def test_a_log_shared_by_two_batches_is_read_once_and_told_of_both(monkeypatch: pytest.MonkeyPatch) -> None:
    first, second = oven_batch(), oven_batch("2")
    content = log(f.MONDAY, HOT)
    send(first, load_of(first, f.MONDAY, 40, "a"), content, "log a")
    send(second, load_of(second, f.MONDAY, 40, "b"), content, "log b")
    assert work() == 1
    assert verdict(first)[0] == verdict(second)[0] == "passed"
    third = oven_batch("3")
    monkeypatch.setattr(tasks, "decode", broken)
    send(third, load_of(third, f.MONDAY, 40, "c"), content, "log c")
    assert verdict(third)[0] == "passed" and work() == 0, "what was read already is told at once"
    assert Event.objects.filter(kind=READ).count() == 3 and FileReading.objects.count() == 1


def test_what_was_answered_about_a_log_has_it_read_that_way() -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    sent = send(batch, load, log(f.MONDAY, HOT).replace(b"oven (C)", b"oven"))
    work()
    assert isinstance(found := log_of(sent), Unclear) and found.question == "unit"
    assert Event.objects.get(kind=READ).data["finding"] == "log.ask_unit"
    answer = ok(understand(event_context=f.event_context("answer"), attachment_id=sent.pk, answers={"unit": "C"}))
    sent.refresh_from_db()
    assert isinstance(log_of(sent), BeingRead)
    work()
    assert isinstance(log_of(sent), Log) and verdict(batch)[0] == "passed"
    assert Event.objects.filter(kind=READ).last().data["caused_by"] == str(answer.event.uid)  # type: ignore[union-attr]
    assert not list(differences())


@pytest.mark.parametrize(
    ("why", "code"),
    [
        ("too_slow", "log.too_slow"),
        ("too_large", "log.takes_memory"),
        ("unreadable", "log.unreadable"),
        ("ended", "log.ended"),
    ],
)
def test_a_file_that_cannot_be_read_is_kept_and_said_so(monkeypatch: pytest.MonkeyPatch, why: Any, code: str) -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    monkeypatch.setattr(tasks, "decode", lambda *_, **__: Undecoded(why))
    # Bytes of its own: what was read well once is remembered by a process, as it may be.
    content = log(f.MONDAY, [85.0, *map(float, range(81, 81 + len(why)))])
    sent = send(batch, load, content)
    work()
    assert isinstance(found := log_of(sent), NotALog) and found.code == code
    assert Event.objects.get(kind=UNREADABLE).data["why"] == why
    assert verdict(batch)[0] == "missing" and bytes(sent.file.content) == content
    assert not list(differences())


def test_a_file_whose_reader_was_killed_from_outside_is_read_at_the_next_try(monkeypatch: pytest.MonkeyPatch) -> None:
    batch = oven_batch()
    sent = send(batch, load_of(batch, f.MONDAY, 40), log(f.MONDAY, HOT))
    with monkeypatch.context() as killed:
        killed.setattr(tasks, "decode", lambda *_, **__: Undecoded("ended"))
        work(most=READ_TRIES_MAX - 1)
    reading = FileReading.objects.get(pk=sent.reading_id or 0)
    assert (reading.state, reading.taken_at, reading.tries) == ("waiting", None, READ_TRIES_MAX - 1)
    work()
    assert verdict(batch)[0] == "passed" and Event.objects.filter(kind__in=[READ, UNREADABLE]).count() == 1


def test_a_file_whose_worker_ended_three_times_is_said_to_be_unread_and_not_left_waiting() -> None:
    batch = oven_batch()
    sent = send(batch, load_of(batch, f.MONDAY, 40), log(f.MONDAY, HOT))
    reading = FileReading.objects.filter(pk=sent.reading_id or 0)
    DBTaskResult.objects.all().delete()
    reading.update(tries=READ_TRIES_MAX, taken_at=timezone.now(), taken_by="elsewhere:1:1")
    enqueue(tasks.read_waiting, now=timezone.now())
    work()
    assert reading.get().state == "waiting", "somebody may just be reading it"
    reading.update(taken_at=None, taken_by="")
    enqueue(tasks.read_waiting, now=timezone.now())
    work()
    assert (reading.get().state, reading.get().why) == ("unreadable", "ended")
    assert Event.objects.get(kind=UNREADABLE).data["why"] == "ended" and not list(differences())


@pytest.mark.parametrize("why", ["too_slow", "ended"])
def test_a_file_that_was_not_read_by_no_fault_of_its_own_is_tried_again_when_it_is_sent_again(
    monkeypatch: pytest.MonkeyPatch, why: Any
) -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    with monkeypatch.context() as slow:
        slow.setattr(tasks, "decode", lambda *_, **__: Undecoded(why))
        send(batch, load, log(f.MONDAY, HOT))
        work()
    assert FileReading.objects.get().state == "unreadable"
    send(batch, load, log(f.MONDAY, HOT), "again")
    work()
    assert verdict(batch)[0] == "passed"


def test_when_no_place_is_free_the_file_is_the_next_again(monkeypatch: pytest.MonkeyPatch) -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    with monkeypatch.context() as full:
        full.setattr(tasks, "decode", lambda *_, **__: Undecoded("busy"))
        sent = send(batch, load, log(f.MONDAY, HOT))
        work(most=1)
    reading = FileReading.objects.get(pk=sent.reading_id or 0)
    assert (reading.state, reading.taken_at, reading.tries) == ("waiting", None, 0)
    work()
    assert verdict(batch)[0] == "passed"


def test_a_log_in_place_of_another_is_not_proved_by_the_one_before_while_it_is_read() -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    send(batch, load, log(f.MONDAY, HOT))
    work()
    assert verdict(batch)[0] == "passed"
    send(batch, load, log(f.MONDAY, [60.0] * 41), "colder")
    assert verdict(batch)[0] == "missing"
    work()
    assert verdict(batch)[0] == "failed"
    assert not list(differences())


def test_a_worker_tells_the_hour_at_which_it_read(monkeypatch: pytest.MonkeyPatch) -> None:
    later = f.MONDAY + timedelta(days=2, hours=3)
    monkeypatch.setattr(timezone, "now", lambda: later)
    batch = oven_batch()
    send(batch, load_of(batch, f.MONDAY, 40), log(f.MONDAY, HOT))
    work()
    reported = Event.objects.get(kind=READ)
    assert reported.happened_at == reported.recorded_at == FileReading.objects.get().read_at == later


def test_what_lies_on_the_shelf_is_what_was_judged_by_or_verify_names_it() -> None:
    batch = oven_batch()
    sent = send(batch, load_of(batch, f.MONDAY, 40), log(f.MONDAY, HOT))
    work()
    reading = FileReading.objects.get(pk=sent.reading_id or 0)
    whole = bytes(reading.content or b"")
    FileReading.objects.update(content=whole[:-4])
    assert [one.field for one in differences()] == ["read"]
    FileReading.objects.update(content=whole, digest="0" * 64)
    assert {"read"} == {one.field for one in differences()}
    FileReading.objects.update(content=whole, digest=reading.digest)
    assert not list(differences())
