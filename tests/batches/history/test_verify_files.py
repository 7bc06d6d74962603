"""Verify tells evidence again from the journal: tampering with a file, its answers or its place is named."""

from __future__ import annotations

import pytest

from tests import factory as f
from tests.batches.test_attach import load_of, log, oven_batch
from tests.globe import everything_agrees, ok
from traveller.batches.actions.attach import attach, understand
from traveller.batches.actions.decide import decide
from traveller.batches.history.verify import differences
from traveller.batches.models import Attachment, EvidenceFile, Load
from traveller.ledger.models import Hold

pytestmark = pytest.mark.django_db


def reported() -> Load:
    """A log asked about and answered, replaced by a second, beside a certificate."""
    batch = oven_batch()
    load = load_of(batch, f.MONDAY, 40)
    for n, degrees in enumerate((150.0, 165.0)):
        content = log(f.MONDAY, [degrees] * 41, unit="")
        ok(
            attach(
                event_context=f.event_context(f"l{n}"),
                step_id=load.step_id,
                content=content,
                name=f"{n}.csv",
                kind="log",
                load=load.uid,
            )
        )
        pk = Attachment.objects.latest("id").pk
        ok(understand(event_context=f.event_context(f"a{n}"), attachment_id=pk, answers={"unit": "F"}))
    ok(
        attach(
            event_context=f.event_context("c"),
            step_id=load.step_id,
            content=b"%PDF-1.4 x",
            name="c.pdf",
            kind="certificate",
        )
    )
    return load


def named() -> list[tuple[str, str]]:
    return [(row.thing, row.field) for row in differences()]


def test_files_answers_and_replaced_logs_follow_from_the_journal() -> None:
    reported()
    assert everything_agrees()


def test_rework_strikes_files_in_the_journal_as_in_the_tables() -> None:
    reported()
    hold = Hold.objects.get(root=None, closed_at=None)
    ok(decide(event_context=f.event_context("again"), hold_id=hold.pk, disposition="rework", reason="x", to_step=10))
    assert not Attachment.objects.filter(struck_by=None).exists()
    assert everything_agrees()


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"answers": {"unit": "C"}}, "answers"),
        ({"struck_by": None}, "struck_by_id"),
        ({"load": None}, "load_id"),
        ({"name": "better.csv"}, "name"),
    ],
)
def test_a_row_that_was_changed_is_named(change: dict[str, object], field: str) -> None:
    reported()
    first = Attachment.objects.order_by("id").first()
    assert first is not None
    Attachment.objects.filter(pk=first.pk).update(**change)
    assert [where for _thing, where in named()] == [field]


def test_bytes_that_were_changed_are_named_by_their_digest() -> None:
    reported()
    file = EvidenceFile.objects.filter(attachments__name="1.csv").get()
    EvidenceFile.objects.filter(pk=file.pk).update(content=bytes(file.content).replace(b"165.0", b"185.0"))
    assert named() == [(f"file {file.digest[:12]}", "digest")]


def test_a_file_that_nobody_sent_and_one_that_is_gone_are_named() -> None:
    load = reported()
    row = Attachment.objects.latest("id")
    Attachment.objects.create(
        file=row.file, event=f.make_event("forged"), step=load.step, kind="photo", name="forged.jpg"
    )
    Attachment.objects.filter(pk=row.pk).delete()
    assert {(row.stored, row.rebuilt) for row in differences()} == {("forged.jpg", "nothing"), ("nothing", "c.pdf")}
