"""A logger's file as evidence: kept as sent, judged load by load, asked about where it cannot be known."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from tests import factory as f
from tests.globe import ok, refused
from traveller.batches.actions.attach import attach, understand
from traveller.batches.actions.loads import end_load, start_load
from traveller.batches.actions.report import report
from traveller.batches.history.verify import differences
from traveller.batches.models import Attachment, Batch, EvidenceFile, Load, Step, Verdict
from traveller.ledger.models import Hold

pytestmark = pytest.mark.django_db

BAKE = f.CheckRow("bake", "soak", {"least": "30", "unit": "min", "temperature": "80-95 C", "gap": "2 min"}, "load")


def oven_batch(name: str = "") -> Batch:
    bench = f.make_bench(f"oven{name}")
    part = f.make_part(f"BAND{name}")
    f.make_routing(part, [f.Op(10, bench, "bake", "make", checks=[BAKE])])
    return f.make_batch(part, wanted=60, name=name)


def load_of(batch: Batch, start: datetime, minutes: int, n: str = "load") -> Load:
    step = Step.objects.get(batch=batch)
    reported = f.event_context(n, at=start)
    ok(start_load(event_context=reported, step_id=step.pk, quantity=60))
    load = Load.objects.get(uid=reported.uid)
    ok(end_load(event_context=f.event_context(f"{n} out", at=start + timedelta(minutes=minutes)), load_id=load.pk))
    return load


def log(start: datetime, celsius: list[float], *, unit: str = "C") -> bytes:
    """A reading a minute from `start`, with its zone."""
    rows = [f"{(start + timedelta(minutes=n)).isoformat()};{value}" for n, value in enumerate(celsius)]
    return "\r\n".join([f"time;oven ({unit})", *rows, ""]).encode()


def verdict(batch: Batch) -> tuple[str, str]:
    row = Verdict.objects.get(step__batch=batch, check_key="bake", load=None, latest=True)
    return row.outcome, row.code


def test_a_load_without_a_log_proves_nothing_and_passes_with_one() -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    assert verdict(batch)[0] == "missing"
    content = log(f.MONDAY, [85.0] * 41)
    ok(
        attach(
            event_context=f.event_context("log"),
            step_id=load.step_id,
            content=content,
            name="oven.csv",
            kind="log",
            load=load.uid,
        )
    )
    assert verdict(batch)[0] == "passed"
    assert bytes(EvidenceFile.objects.get().content) == content


def test_a_log_too_cold_fails_and_one_a_hair_warmer_passes() -> None:
    for n, degrees, outcome in ((1, 79.99, "failed"), (2, 80.0, "passed")):
        batch = oven_batch(str(n))
        load = load_of(batch, f.MONDAY, 40, f"load {n}")
        reported = log(f.MONDAY, [degrees] * 41)
        ok(
            attach(
                event_context=f.event_context(f"log {n}"),
                step_id=load.step_id,
                content=reported,
                name="o",
                kind="log",
                load=load.uid,
            )
        )
        assert verdict(batch)[0] == outcome


def test_the_log_of_a_whole_shift_proves_a_load_only_within_its_own_times() -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY + timedelta(hours=2), 40)
    shift = log(f.MONDAY, [85.0] * 100 + [60.0] * 200)
    ok(attach(event_context=f.event_context("log"), step_id=load.step_id, content=shift, name="shift.csv", kind="log"))
    assert verdict(batch)[0] == "failed"


def test_a_load_that_fails_by_the_log_of_the_whole_shift_is_split_off_and_stays_held_by_it() -> None:
    bench, part = f.make_bench("oven"), f.make_part("BAND")
    f.make_routing(part, [f.Op(10, bench, "mould", "make"), f.Op(20, bench, "bake", checks=[BAKE])])
    batch = f.make_batch(part, wanted=60)
    ok(report(event_context=f.event_context("made", at=f.MONDAY), step_id=batch.steps.get(number=10).pk, good=60))
    step = batch.steps.get(number=20)
    for n, start in enumerate((0, 60)):
        reported = f.event_context(f"in {n}", at=f.MONDAY + timedelta(minutes=start))
        ok(start_load(event_context=reported, step_id=step.pk, quantity=30))
        out = f.event_context(f"out {n}", at=f.MONDAY + timedelta(minutes=start + 40))
        ok(end_load(event_context=out, load_id=Load.objects.get(uid=reported.uid).pk))
    shift = log(f.MONDAY, [85.0] * 50 + [60.0] * 60)
    ok(attach(event_context=f.event_context("log"), step_id=step.pk, content=shift, name="shift.csv", kind="log"))
    child = Batch.objects.get(parent=batch)
    assert verdict(child) == ("failed", "soak.too_short") and verdict(batch)[0] == "passed"
    assert [hold.lot_id for hold in Hold.objects.filter(closed_at=None, root=None)] == [child.lot_id]
    assert not list(differences())


def test_what_the_log_cannot_tell_is_asked_and_the_answer_is_judged() -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    fahrenheit = log(f.MONDAY, [185.0] * 41, unit="")
    sent = attach(
        event_context=f.event_context("l"),
        step_id=load.step_id,
        content=fahrenheit,
        name="x",
        kind="log",
        load=load.uid,
    )
    ok(sent)
    assert verdict(batch)[0] == "missing"
    row = Attachment.objects.get()
    ok(understand(event_context=f.event_context("answer"), attachment_id=row.pk, answers={"unit": "F"}))
    assert verdict(batch)[0] == "passed"


def test_a_second_log_takes_the_place_of_the_first_which_is_kept() -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    for n, degrees in ((1, 60.0), (2, 85.0)):
        reported = log(f.MONDAY, [degrees] * 41)
        ok(
            attach(
                event_context=f.event_context(f"l{n}"),
                step_id=load.step_id,
                content=reported,
                name="x",
                kind="log",
                load=load.uid,
            )
        )
    assert [row.struck_by_id is None for row in Attachment.objects.order_by("id")] == [False, True]
    assert EvidenceFile.objects.count() == 2


def test_the_same_file_for_two_batches_is_kept_once_and_said() -> None:
    one, two = oven_batch("1"), oven_batch("2")
    reported = log(f.MONDAY, [85.0] * 41)
    for batch, n in ((one, "a"), (two, "b")):
        load = load_of(batch, f.MONDAY, 40, n)
        answer = attach(
            event_context=f.event_context(f"log {n}"),
            step_id=load.step_id,
            content=reported,
            name="o.csv",
            kind="log",
            load=load.uid,
        )
    assert ok(answer).event.data["also_for"] == [one.code]
    assert EvidenceFile.objects.count() == 1 and Attachment.objects.count() == 2


def test_a_log_sent_twice_is_one_event() -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    reported = log(f.MONDAY, [85.0] * 41)
    for _ in range(2):
        again = attach(
            event_context=f.event_context("l"),
            step_id=load.step_id,
            content=reported,
            name="x",
            kind="log",
            load=load.uid,
        )
    assert ok(again).repeated and Attachment.objects.count() == 1


@pytest.mark.parametrize(
    ("content", "kind", "code"),
    [
        (b"", "log", "file_empty"),
        (b"x" * (25 * 1024 * 1024 + 1), "log", "file_too_large"),
        (b"not a picture", "photo", "not_a_picture"),
        (b"<script>", "certificate", "not_a_certificate"),
        (b"x", "song", "unknown_kind_of_file"),
    ],
)
def test_what_is_no_evidence_is_refused_in_words(content: bytes, kind: str, code: str) -> None:
    step = Step.objects.get(batch=oven_batch())
    answer = attach(event_context=f.event_context("l"), step_id=step.pk, content=content, name="x", kind=kind)
    assert refused(answer).code == code


def test_a_binary_log_is_kept_and_proves_nothing() -> None:
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    noise = bytes(range(256)) * 20
    ok(
        attach(
            event_context=f.event_context("l"),
            step_id=load.step_id,
            content=noise,
            name="x.bin",
            kind="log",
            load=load.uid,
        )
    )
    assert verdict(batch)[0] == "missing" and EvidenceFile.objects.get().content_type == "application/octet-stream"
