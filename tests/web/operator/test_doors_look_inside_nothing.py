"""Every door of a shop works though the server itself can decode nothing: what strangers send is read in a child."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from tests import factory as f
from tests.paper.certificates import certificate
from tests.web.operator.floor import text_of
from tests.web.oven import Oven, log, make_oven, photo
from traveller.batches.files.decoded import SHOWN_PX, pages_of, photo_of
from traveller.batches.models import Attachment, FileReading

pytestmark = [pytest.mark.django_db, pytest.mark.child]


def raising(*_: Any, **__: Any) -> Any:
    raise AssertionError("the server itself looked into a stranger's file")


@pytest.fixture
def oven(monkeypatch: pytest.MonkeyPatch) -> Oven:
    made = make_oven()
    sent = made.bake()
    assert sent.ended_at is not None
    for name in (
        "PIL.Image.open",
        "pypdfium2.PdfDocument",
        "zxingcpp.read_barcodes",
        "csv.reader",
        "traveller.rules.logs.reader.read_log",
        "traveller.rules.logs.read_log",
        "traveller.decode.kinds.log.read_log",
        "numpy.loadtxt",
    ):
        monkeypatch.setattr(name, raising)
    return made


def test_a_log_is_read_and_judged(oven: Oven) -> None:
    load = oven.step.loads.get()
    page = oven.send(log([84.25] * 41), load)
    assert "Read as: year first, Celsius" in text_of(page)
    assert oven.verdict() == ("passed", "soak.passed")


def test_a_photo_is_drawn_anew(oven: Oven) -> None:
    page = oven.send(photo(), kind="photo", name="part.jpg")
    sent = Attachment.objects.get(kind="photo")
    assert page.status_code == 200 and photo_of(sent, SHOWN_PX)
    shown = oven.phone.get(f"/here/proof/{sent.pk}/picture")
    assert shown.status_code == 200 and b"Odalys" not in shown.content


def test_a_certificates_pages_are_drawn(oven: Oven) -> None:
    oven.send(certificate(2), kind="certificate", name="resin.pdf")
    assert len(pages_of(Attachment.objects.get(kind="certificate")).pictures) == 2


def test_a_photo_beside_a_problem_is_drawn_anew(oven: Oven) -> None:
    reported = {"news_id": str(f.uid("a problem")), "what": "damaged", "photo": SimpleUploadedFile("x.jpg", photo())}
    answer = oven.phone.post(f"/here/problem/{oven.batch.code}", reported)
    assert answer.status_code == 302 and "photo=" not in answer["Location"]
    assert FileReading.objects.get().state == "read"


def test_a_photo_that_waited_on_the_phone_is_drawn_anew(oven: Oven) -> None:
    entry = {
        "id": str(f.uid("waited")),
        "seq": 1,
        "at": 1_772_568_120_000,
        "path": f"/here/step/{oven.step.pk}/proof",
        "person": "Ann",
        "fields": [["kind", "photo"]],
    }
    envelope = {"site": oven.site.pk, "sent_at": 1_772_568_180_000, "entries": [entry]}
    reported = {"envelope": json.dumps(envelope), "file": SimpleUploadedFile("x.jpg", photo())}
    answer = oven.phone.post("/here/queue", reported, headers={"X-Queue": "1"})
    assert [one["state"] for one in answer.json()["answers"]] == ["stored"]
    assert FileReading.objects.get().state == "read"
