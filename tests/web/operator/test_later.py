"""The database away or busy in the middle of a phone's queue: what could not be told is overtaken by nothing."""

from __future__ import annotations

import errno
import json
from typing import Any

import psycopg
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError

from tests.web.operator.floor import Floor, events
from tests.web.oven import photo
from tests.web.queueing import Phone
from traveller.batches.models import Attachment
from traveller.batches.steps.news import record_at
from traveller.journal import unable
from traveller.web.operator.pace import PACE

pytestmark = pytest.mark.django_db
BUSY = OperationalError("database is locked")
LOST = OperationalError("the connection is lost")
LOST.__cause__ = psycopg.OperationalError("server closed the connection unexpectedly")


@pytest.fixture(autouse=True)
def _full_buckets() -> None:
    PACE.forget()


def broken_at(monkeypatch: pytest.MonkeyPatch, good: int, error: Exception) -> None:
    """The count of so many pieces fails; all others are told."""

    def record(*args: Any, **more: Any) -> Any:
        if more.get("told", {}).get("good") == good or f"'good': {good}" in str(more):
            raise error
        return record_at(*args, **more)

    monkeypatch.setattr("traveller.batches.actions.report.record_at", record)


def counts(floor: Floor, phone: Phone, *goods: int) -> None:
    for good in goods:
        phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=good, shots=1)


@pytest.mark.parametrize("error", [LOST, BUSY], ids=str)
def test_nothing_overtakes_an_entry_that_could_not_be_told_just_now(floor: Floor, error: Exception) -> None:
    phone = Phone(floor.phone, floor.moulder)
    counts(floor, phone, 1, 2, 3, 4)
    with pytest.MonkeyPatch.context() as then:
        broken_at(then, 2, error)
        answers = phone.send(floor.clock.now)
    assert [one["state"] for one in answers] == ["stored", "later", "later", "later"]
    assert {one["code"] for one in answers[1:]} == {unable.code_of(error)} and answers[1]["words"]
    assert floor.step(20).good == 1
    assert [one["state"] for one in phone.send(floor.clock.now)] == ["stored"] * 3
    assert events("counted") == 4 and floor.step(20).good == 10


def test_a_refusal_is_still_passed_by(floor: Floor) -> None:
    phone = Phone(floor.phone, floor.moulder)
    phone.tap("/here/step/999999/count", floor.clock.now, good=5)
    counts(floor, phone, 3)
    assert [one["state"] for one in phone.send(floor.clock.now)] == ["refused", "stored"]


def test_an_entry_that_cannot_even_be_set_aside_stays_on_the_phone_and_bars_no_way(
    floor: Floor, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stumble(**_reported: Any) -> None:
        raise RuntimeError("nobody thought of this")

    monkeypatch.setattr("traveller.web.operator.problem.report_problem", stumble)
    monkeypatch.setattr("traveller.web.operator.queue.keep_for_review", stumble)
    phone = Phone(floor.phone, floor.moulder)
    phone.tap(f"/here/problem/{floor.batch.code}", floor.clock.now, reason="cracked")
    counts(floor, phone, 3)
    answers = phone.send(floor.clock.now)
    assert [(one["state"], one["code"]) for one in answers] == [("refused", "fault_kept"), ("stored", "")]
    assert len(phone.kept) == 1


def test_a_photo_that_could_not_be_stored_beside_its_problem_is_sent_again(
    floor: Floor, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone = Phone(floor.phone, floor.moulder)
    floor.moulded(24)
    entry = phone.tap(f"/here/problem/{floor.batch.code}", floor.clock.now, reason="cracked")

    def locked(**_reported: Any) -> None:
        raise OperationalError("database is locked")

    with monkeypatch.context() as then:
        then.setattr("traveller.web.operator.problem.attach", locked)
        answer = phone.send_file(floor.clock.now, entry, photo=SimpleUploadedFile("crack.jpg", photo()))
    assert json.loads(answer.content)["answers"][0]["state"] == "later"
    held = events("held")
    answer = phone.send_file(floor.clock.now, entry, photo=SimpleUploadedFile("crack.jpg", photo()))
    assert json.loads(answer.content)["answers"][0]["state"] == "stored"
    assert Attachment.objects.get().name == "crack.jpg" and events("held") == held


def test_a_disk_too_full_to_put_an_upload_down_is_an_outage_and_no_garbage(
    floor: Floor, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_args: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("django.core.files.uploadhandler.MemoryFileUploadHandler.receive_data_chunk", full)
    floor.phone.raise_request_exception = False
    phone = Phone(floor.phone, floor.moulder)
    entry = phone.tap(floor.path(20, "proof"), floor.clock.now, kind="photo")
    answer = phone.send_file(floor.clock.now, entry, file=SimpleUploadedFile("globe.jpg", b"x" * 1000))
    assert answer.status_code == 503 and json.loads(answer.content)["error"] == "disk_full"
