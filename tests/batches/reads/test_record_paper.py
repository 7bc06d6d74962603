"""The process record from real rows: every reading, verdict, correction, decision and file of a batch is in it."""

from __future__ import annotations

import io
import re
from datetime import datetime, timedelta

import pypdfium2
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from PIL import Image

from tests import factory as f
from tests.batches.test_attach import load_of, log, oven_batch
from tests.globe import BORE, COOLING, TESTING, Globe, make_globe, ok
from tests.paper.certificates import certificate
from tests.paper.reading import texts
from traveller.batches.actions.attach import attach
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.decide import decide
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.measure import measure
from traveller.batches.models import Attachment, Batch, Reading, Verdict
from traveller.batches.proof.readings import ReadingTold
from traveller.batches.reads.papers import Heading
from traveller.batches.reads.record_paper import process_record, record_of
from traveller.batches.reads.record_rows import Voice, picture_of
from traveller.paper.canvas import PaperSize
from traveller.products.frozen import checks_of
from traveller.rules.checks import WORDS
from traveller.rules.logs import Log, read_log

pytestmark = pytest.mark.django_db

HEADING = Heading("Lantern Field Co.", "Mara", "https://bench.example", ("1042",))
CHECKS = {30: (COOLING,), 40: (TESTING,), 50: (BORE,)}


def say(code: str, figures: object) -> str:
    """Sentences of verdicts as their kinds have them; of other codes the code itself."""
    return WORDS.get(code, code)


VOICE = Voice(say, lambda found, zone: f"{found.times.size} readings in {found.said.unit}")


def flat(batch: Batch, size: PaperSize = "A4") -> str:
    batch.refresh_from_db()
    return re.sub(r"\s+", " ", " ".join(texts(process_record(batch, heading=HEADING, voice=VOICE, size=size))))


def played() -> Globe:
    """Moulded, one count corrected, cooled, held and conceded."""
    globe = make_globe(checks=CHECKS, start=48, insert=True)
    wrong = globe.report(20, 47, scrap={"short": 1}, done=True)
    ok(
        correct_count(
            event_context=globe.event_context(),
            event_id=wrong.event.pk,
            reason="transposed",
            good=45,
            scrap={"short": 3},
        )
    )
    globe.cooled((24, 16), (21, 20))
    ok(
        hold_lot(
            event_context=f.event_context("hold", actor=f.founder()), lot_id=globe.lot().pk, reason="smells of smoke"
        )
    )
    hold = globe.open_holds()[-1]
    ok(
        decide(
            event_context=f.event_context("ok", actor=f.founder()),
            hold_id=hold.pk,
            disposition="concession",
            reason="aired out",
        )
    )
    return globe


def test_counts_corrections_holds_and_verdicts_are_all_in_it() -> None:
    globe = played()
    record = record_of(Batch.objects.get(pk=globe.batch.pk), HEADING, VOICE)
    by_number = {step.number: step for step in record.steps}
    assert dict(by_number[20].counts)["scrap"] == "3 (short 3)"
    assert dict(by_number[20].counts)["good"] == "45"
    assert [load.quantity for load in by_number[30].loads] == [24, 21]
    assert {check.verdict for check in by_number[30].checks if check.of.startswith("load")} == {"passed"}
    assert [check.verdict for check in by_number[50].checks][-1] in ("not judged", "not shown")
    assert [row.then for row in record.corrections] == ["transposed"]
    assert "good 47, scrap 1" in record.corrections[0].what and "good 45, scrap 3" in record.corrections[0].what
    assert any("aired out" in row.then for row in record.holds)
    text = flat(globe.batch)
    for words in ("transposed", "aired out", "short 3", "1042", "Lantern Field Co."):
        assert words in text


def test_every_latest_verdict_and_every_reading_is_in_it() -> None:
    globe = played()
    step = globe.step(50)
    for n, value in enumerate(("2.001", "1.997", "2.009"), 1):
        ok(
            measure(
                event_context=globe.event_context(),
                step_id=step.pk,
                readings=[ReadingTold("bore", "bore", value, "in", piece=n)],
            )
        )
    record = record_of(globe.batch, HEADING, VOICE)
    rows = [row for one in record.steps for row in one.readings]
    assert len(rows) == Reading.objects.filter(step__batch=globe.batch).count() == 3
    assert [row.value for row in rows] == ["2.001 in", "1.997 in", "2.009 in"]
    standing = [row for one in record.steps for row in one.checks if not row.replaced and row.verdict != "not judged"]
    assert len(standing) == Verdict.objects.filter(step__batch=globe.batch, latest=True).count() > 0
    assert "FAILED" in {row.verdict for row in standing if row.name == "bore"}
    text = flat(globe.batch, "Letter")
    for row in rows:
        assert row.value in text


def test_a_log_is_drawn_with_its_limits_its_digest_and_what_was_understood() -> None:
    batch = oven_batch()
    start = datetime(2026, 3, 2, 8, tzinfo=f.event_context(1).at.tzinfo)
    load = load_of(batch, start, 45)
    content = log(start, [85.0] * 46)
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
    row = Attachment.objects.get()
    (file,) = record_of(batch, HEADING, VOICE).steps[0].files
    assert file.picture is not None
    assert [c for _, c in file.picture.limits] == [80.0, 95.0]
    assert file.picture.load == (0.0, 2700.0)
    text = flat(batch)
    for words in ("oven.csv", row.file_id[:10], "46 readings in C", "least 80 °C", "most 95 °C"):
        assert words in text


def test_downsampling_keeps_the_highest_and_the_lowest_and_breaks_at_gaps() -> None:
    batch = oven_batch()
    start = datetime(2026, 3, 2, 8, tzinfo=f.event_context(1).at.tzinfo)
    load = load_of(batch, start, 45)
    celsius = [85.0 + (n % 7) / 10 for n in range(3000)]
    celsius[1234], celsius[2345] = 133.0, 12.0
    found = read_log(log(start, celsius) + log(start + timedelta(days=4), celsius[:10]))
    assert isinstance(found, Log)
    picture = picture_of(found, load, checks_of(batch.steps.get().operation_id), load.step.site.zone)
    drawn = [c for line in picture.lines for _, c in line]
    assert max(drawn) == 133.0 and min(drawn) == 12.0
    assert len(picture.lines) == 2 and len(drawn) < 500


def test_the_same_record_is_the_same_bytes() -> None:
    globe = played()
    once, again = (process_record(globe.batch, heading=HEADING, voice=VOICE) for _ in range(2))
    assert once == again


def test_what_the_bill_supposes_is_marked_and_the_suppliers_number_stands() -> None:
    globe = played()
    f.make_stock(globe.insert, globe.bench, 60)
    globe.moved(45)
    globe.report(40, 45, done=True)
    globe.report(50, 40)
    used = record_of(Batch.objects.get(pk=globe.batch.pk), HEADING, VOICE).used
    assert [row.inferred for row in used] == [True]
    assert "follows from the bill" in flat(globe.batch)


def queries(batch: Batch) -> int:
    with CaptureQueriesContext(connection) as seen:
        record_of(
            Batch.objects.select_related("part", "lot", "routing", "destination").get(pk=batch.pk), HEADING, VOICE
        )
    return len(seen)


def test_three_loads_or_thirty_cost_the_same_queries() -> None:
    globe = make_globe(checks=CHECKS, start=90)
    globe.report(20, 90, done=True)
    globe.cooled(*[(3, 16)] * 3)
    queries(globe.batch)  # the routing's checks are read once per process
    few = queries(globe.batch)
    globe.cooled(*[(3, 16)] * 27)
    assert queries(globe.batch) == few


def test_photos_and_certificates_are_printed_or_named_with_their_whole_digest() -> None:
    batch = oven_batch()
    step = batch.steps.get()
    pictured = snapshot()
    for name, kind, content in (
        ("short shot.jpg", "photo", pictured),
        ("resin.pdf", "certificate", b"%PDF-1.4 certificate of the resin"),
        ("ink.png", "certificate", plain_png()),
    ):
        ok(attach(event_context=f.event_context(name), step_id=step.pk, content=content, name=name, kind=kind))
    files = {file.name: file for file in record_of(batch, HEADING, VOICE).steps[0].files}
    assert files["short shot.jpg"].photo and files["ink.png"].photo and files["resin.pdf"].photo is None
    body = process_record(batch, heading=HEADING, voice=VOICE)
    assert pictures_in(body) == 2
    text = re.sub(r"\s+", "", " ".join(texts(body)))
    for row in Attachment.objects.all():
        assert row.file_id in text, row.name
    # What the phone wrote into the photo is not on paper either.
    assert b"Odalys" in pictured and b"Odalys" not in body and b"Exif" not in body
    assert process_record(batch, heading=HEADING, voice=VOICE) == body


def test_the_pages_of_a_pdf_certificate_are_printed_and_what_is_not_is_said() -> None:
    batch = oven_batch()
    step = batch.steps.get()
    for name, content in (
        ("resin.pdf", certificate(8)),
        ("ink.pdf", certificate(1, size=(842.0, 595.0))),
        ("locked.pdf", certificate(password="between us")),
        ("torn.pdf", certificate()[:200]),
    ):
        ok(attach(event_context=f.event_context(name), step_id=step.pk, content=content, name=name, kind="certificate"))
    files = {file.name: file for file in record_of(batch, HEADING, VOICE).steps[0].files}
    assert [len(file.pages) for file in files.values()] == [6, 1, 0, 0]
    body = process_record(batch, heading=HEADING, voice=VOICE)
    assert pictures_in(body) == 7
    words = re.sub(r"\s+", " ", " ".join(texts(body)))
    assert "2 more pages in the original." in words
    assert "resin.pdf, page 6" in words and "resin.pdf, page 7" not in words
    assert words.count("Its pages cannot be shown") == 2
    assert process_record(batch, heading=HEADING, voice=VOICE) == body


def test_many_photos_page_well() -> None:
    batch = oven_batch()
    for n in range(20):
        reported = {
            "step_id": batch.steps.get().pk,
            "content": snapshot(40 + n, 30),
            "name": f"{n}.jpg",
            "kind": "photo",
        }
        ok(attach(event_context=f.event_context(n), **reported))  # type: ignore[arg-type]
    body = process_record(batch, heading=HEADING, voice=VOICE)
    assert pictures_in(body) == 20
    # Three photos with their rows fill a page; none is left out and none runs off the foot.
    assert 7 <= len(texts(body)) <= 12


def snapshot(width: int = 64, height: int = 48) -> bytes:
    exif = Image.Exif()
    exif[0x013B] = "Odalys Quickbasin"
    out = io.BytesIO()
    Image.new("RGB", (width, height), "#e39a2d").save(out, "JPEG", exif=exif)
    return out.getvalue()


def plain_png() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (30, 40), "#223366").save(out, "PNG")
    return out.getvalue()


def pictures_in(pdf: bytes) -> int:
    document = pypdfium2.PdfDocument(pdf)
    found = sum(1 for page in document for _ in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]))
    document.close()
    return found
