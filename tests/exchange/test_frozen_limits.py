"""Checks belong to the routing revision that a batch was released with: limits changed later rewrite no history."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from tests import factory
from tests.exchange.books import SMALL, write
from tests.exchange.test_import import imported
from tests.globe import ok
from traveller.batches.actions.loads import end_load, start_load
from traveller.batches.actions.report import report
from traveller.batches.history import verify
from traveller.batches.models import Batch, Load, Verdict
from traveller.batches.proof.gates import closed
from traveller.batches.reads.papers import limit_texts
from traveller.products.frozen import checks_of
from traveller.products.models import Part

pytestmark = pytest.mark.django_db

AT = dt.datetime(2026, 1, 12, 9, 0, tzinfo=dt.UTC)


def fire(batch: Batch, n: int, minutes: int, pieces: int = 20) -> str:
    """A kiln load of so many minutes, counted good; what the check says of it."""
    step = batch.steps.get(number=20).pk
    at = AT + dt.timedelta(hours=2 * n)
    load = ok(
        start_load(event_context=factory.event_context(f"in {n}", at=at), step_id=step, quantity=pieces)
    ).event.uid
    end = at + dt.timedelta(minutes=minutes)
    ok(end_load(event_context=factory.event_context(f"out {n}", at=end), load_id=Load.objects.get(uid=load).pk))
    ok(report(event_context=factory.event_context(f"count {n}", at=end), step_id=step, good=pieces, load=load))
    return Verdict.objects.get(load__uid=load, latest=True).outcome


def test_a_limit_changed_by_an_import_judges_only_what_is_released_after_it(tmp_path: Path) -> None:
    imported(write(tmp_path / "first"))
    old = Batch.objects.get()
    assert fire(old, 1, 35) == "passed"
    reported = list(Verdict.objects.order_by("pk").values("pk", "outcome", "code", "figures", "latest"))

    imported(write(tmp_path / "second", checks=SMALL["checks"].replace("30,90,min", "40,90,min")), 2)
    assert list(Verdict.objects.order_by("pk").values("pk", "outcome", "code", "figures", "latest")) == reported
    # What is told later of the old batch is judged by the limits that its traveller was printed with.
    assert fire(old, 2, 35) == "passed"
    assert closed(old, "send") == []
    assert limit_texts(checks_of(old.steps.get(number=20).operation_id)[0]) == ["30 to 90 min"]

    new = factory.make_batch(Part.objects.get(number="CUP"), wanted=20, name="new")
    ok(report(event_context=factory.event_context("thrown", at=AT), step_id=new.steps.get(number=10).pk, good=20))
    assert fire(new, 3, 35) == "failed"
    assert limit_texts(checks_of(new.steps.get(number=20).operation_id)[0]) == ["40 to 90 min"]
    assert list(verify.differences()) == []


def test_a_check_taken_out_by_an_import_still_gates_the_batch_under_way(tmp_path: Path) -> None:
    imported(write(tmp_path / "first"))
    old = Batch.objects.get()
    header = SMALL["checks"].split("\n")[0] + "\n"
    imported(write(tmp_path / "second", checks=header), 2)
    assert [(block.step, block.check) for block in closed(old, "send")] == [(20, "kiln")]
    assert fire(old, 1, 10, pieces=40) == "failed"
    assert [block.outcome for block in closed(old, "send")] == ["failed"]
    new = factory.make_batch(Part.objects.get(number="CUP"), wanted=20, name="new")
    assert closed(new, "send") == []
