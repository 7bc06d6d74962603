"""What people send by mistake: clear words, what was typed or sent is kept, nothing is lost and nothing breaks."""

from __future__ import annotations

import gzip
import io
import zipfile
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import override_settings
from openpyxl import Workbook
from PIL import Image

from tests import factory as f
from tests.cast import founder_client
from tests.web.operator.floor import Floor, events, field_of, html_of, text_of
from tests.web.oven import IN_AT, Oven, log, make_oven, photo
from traveller.batches.files.stored import BYTES_MAX
from traveller.batches.models import Attachment, EvidenceFile
from traveller.journal.models import Event
from traveller.ledger.models import Hold

pytestmark = pytest.mark.django_db

HOT = [85.0] * 41
PACKED = "This is a packed file or a spreadsheet. Save the log as CSV and send that."


@pytest.fixture
def oven() -> Oven:
    return make_oven()


def zip_bomb() -> bytes:
    """Some 200 kB that would unpack to 200 MB."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive,
        archive.open("a.csv", "w") as file,
    ):
        for _ in range(200):
            file.write(bytes(1024 * 1024))
    return out.getvalue()


def spreadsheet() -> bytes:
    book, out = Workbook(), io.BytesIO()
    assert book.active is not None
    book.active["A1"] = "time"
    book.save(out)
    return out.getvalue()


# ------------------------------------------------------------------ no log at all
@pytest.mark.parametrize(
    ("make", "name"),
    [(zip_bomb, "oven.zip"), (spreadsheet, "oven.xlsx"), (lambda: gzip.compress(log(HOT)), "oven.csv.gz")],
)
def test_a_packed_log_is_kept_unopened_and_said_to_need_unpacking(oven: Oven, make: Any, name: str) -> None:
    content = make()
    page = oven.send(content, oven.bake(), name=name)
    assert page.status_code == 200 and PACKED in text_of(page)
    assert bytes(EvidenceFile.objects.get().content) == content, "kept to the byte"
    assert oven.verdict()[0] == "missing"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b" \r\n \r\n", "The file is empty."),
        (b"time;oven (C)\r\n", "No column"),
        (b"time;oven (C)\r\n2026-03-03T14:02:00-06:00;85.0\r\n", "readings could be read: that is no log."),
        (b"<html><body>Your session has expired</body></html>", "No column"),
        (log(HOT).replace(b"85.0", b"open"), "No column of temperatures was found."),
    ],
)
def test_a_file_without_readings_is_kept_and_said_to_be_no_log(oven: Oven, content: bytes, said: str) -> None:
    page = oven.send(content, oven.bake())
    assert page.status_code == 200 and said in text_of(page)
    assert EvidenceFile.objects.count() == 1 and oven.verdict()[0] == "missing"
    assert "It is the wrong file: send another" in text_of(page)


def test_the_right_log_sent_after_a_wrong_one_proves_the_load(oven: Oven) -> None:
    load = oven.bake()
    oven.send(zip_bomb(), load)
    oven.send(log(HOT), load)
    assert oven.verdict() == ("passed", "soak.passed")
    assert EvidenceFile.objects.count() == 2, "what was sent first stays in the record"


# ------------------------------------------------------------------ a log of something else
def test_a_log_that_names_another_oven_of_the_shop_is_doubted(oven: Oven) -> None:
    oven.bake(20, place="Oven 2", start=IN_AT - timedelta(hours=3))
    load = oven.bake(20, place="Oven 1")
    page = oven.send(log(HOT), load, name="oven_2-tuesday.csv")
    assert "Is it the right log?" in text_of(page)
    assert "The file speaks of Oven 2; this load was in Oven 1." in text_of(page)
    page = oven.send(b"Logger 17, Oven 2\r\n" + log(HOT), load, name="x.csv")
    assert "The file speaks of Oven 2; this load was in Oven 1." in text_of(page)


def test_a_log_that_names_its_own_oven_or_none_is_not_doubted(oven: Oven) -> None:
    oven.bake(20, place="Oven 2", start=IN_AT - timedelta(hours=3))
    load = oven.bake(20, place="Oven 1")
    for name in ("oven 1 and oven 2.csv", "oven-22.csv", "tuesday.csv"):
        assert "speaks of" not in text_of(oven.send(log(HOT), load, name=name)), name


def test_the_founder_sees_the_same_doubt(oven: Oven) -> None:

    oven.bake(20, place="Oven 2", start=IN_AT - timedelta(hours=3))
    oven.send(log(HOT), oven.bake(20), name="oven 2.csv")
    page = founder_client().get(f"/evidence/{Attachment.objects.get().pk}")
    assert "The file speaks of Oven 2; this load was in Oven 1." in text_of(page)


def test_one_log_of_a_shared_load_proves_both_batches(oven: Oven) -> None:
    other = make_oven("2", site=oven.site, phone=oven.phone)
    oven.send(log(HOT), oven.bake())
    words = text_of(other.send(log(HOT), other.bake()))
    assert "That is right where they shared the load." in words and "Is it the right log?" not in words
    assert oven.verdict() == other.verdict() == ("passed", "soak.passed")
    assert EvidenceFile.objects.count() == 1


# ------------------------------------------------------------------ too large, or not what it says
def test_what_is_too_large_comes_back_as_a_form_with_all_that_was_typed(
    oven: Oven, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert settings.UPLOAD_BYTES_MAX >= BYTES_MAX, "what the door drops, the page must call too large"
    load = oven.bake()
    monkeypatch.setattr("traveller.web.operator.proof.BYTES_MAX", 1024 * 1024)
    with override_settings(UPLOAD_BYTES_MAX=1024 * 1024):
        page = oven.send(b"0" * (3 * 1024 * 1024), load, news=f.uid("large"))
    assert page.status_code == 409 and "This file is larger than" in text_of(page)
    assert str(f.uid("large")) in html_of(page) and str(load.uid) in html_of(page)
    assert not EvidenceFile.objects.exists() and not Event.objects.filter(kind="evidence sent").exists()


def test_several_files_are_too_large_together_even_where_each_is_not(oven: Oven) -> None:
    files = {f"part{n}": SimpleUploadedFile(f"{n}.csv", b"0" * 700_000) for n in range(2)}
    reported = {"news_id": str(f.uid("many")), "kind": "log", **files}
    with override_settings(UPLOAD_BYTES_MAX=1024 * 1024):
        files_of = oven.phone.post(
            f"/here/step/{oven.step.pk}/proof", {**reported, "file": SimpleUploadedFile("c.csv", log(HOT))}
        )
    assert files_of.status_code == 409 and not EvidenceFile.objects.exists()


@override_settings(UPLOAD_BYTES_MAX=1024 * 1024)
def test_a_file_just_small_enough_is_taken_whole(oven: Oven) -> None:
    content = b"0" * (1024 * 1024)
    assert oven.send(content, oven.bake()).status_code == 200
    assert bytes(EvidenceFile.objects.get().content) == content


def test_a_body_that_a_phone_squeezed_is_not_understood_and_nothing_is_recorded(oven: Oven) -> None:
    body = gzip.compress(b"--b\r\nContent-Disposition: form-data; name=kind\r\n\r\nlog\r\n--b--\r\n")
    answer = oven.phone.post(
        f"/here/step/{oven.step.pk}/proof",
        data=body,
        content_type="multipart/form-data; boundary=b",
        headers={"content-encoding": "gzip"},
    )
    assert 400 <= answer.status_code < 500 and "Nothing was recorded" in text_of(answer)
    assert not EvidenceFile.objects.exists()


def png(width: int, height: int) -> bytes:
    out = io.BytesIO()
    Image.new("1", (width, height)).save(out, "PNG")
    return out.getvalue()


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.mark.parametrize(
    ("content", "name", "words"),
    [
        (photo()[:200], "half.jpg", "This picture is damaged and cannot be read."),
        (png(9000, 9000), "bomb.png", "This picture is too large to be read here."),
    ],
)
def test_a_picture_that_only_begins_as_one_is_kept_said_to_be_unreadable_and_never_shown(
    oven: Oven, content: bytes, name: str, words: str
) -> None:
    for kind in ("photo", "certificate"):
        page = oven.send(content, kind=kind, name=name)
        assert words in text_of(page) and "<img" not in html_of(page)
        sent = Attachment.objects.latest("id")
        assert oven.phone.get(f"/here/proof/{sent.pk}/picture").status_code == 404
        assert bytes(sent.file.content) == content
        assert "cannot be read: send it again" in text_of(oven.phone.get(f"/here/step/{sent.step_id}"))


@pytest.mark.parametrize(
    ("content", "name"),
    [
        (SVG, "part.svg"),
        (SVG, "part.jpg"),
        (b"<!doctype html><script>alert(1)</script>", "part.png"),
        (b"GIF89a" + bytes(40), "old.gif"),
    ],
)
def test_what_cannot_be_shown_safely_is_refused_as_a_photo_and_as_a_certificate(
    oven: Oven, content: bytes, name: str
) -> None:
    refused = oven.send(content, kind="photo", name=name)
    assert refused.status_code == 409 and "Send a JPEG, PNG or WebP photo." in text_of(refused)
    refused = oven.send(content, kind="certificate", name=name)
    assert refused.status_code == 409 and "Send a certificate as a PDF or as a picture." in text_of(refused)
    assert not EvidenceFile.objects.exists()


# ------------------------------------------------------------------ a number in another unit
def test_inches_typed_where_millimetres_are_asked_for_are_asked_about_and_kept_in_the_field(floor: Floor) -> None:
    floor.moulded(24)
    path = floor.path(40, "measure")
    asked = floor.post(path, r__bore__bore__0__0="2.001")
    words = "2.001 mm, where 50.673 to 50.927 mm is allowed: did you mean inches?"
    assert words in text_of(asked) and field_of(asked, "r:bore:bore:0:0") == "2.001" and events("measured") == 0
    # Said again, it is news, judged as it stands.
    floor.post(path, {"sure:other_unit_meant": "yes"}, r__bore__bore__0__0="2.001")
    assert events("measured") == 1 and Hold.objects.filter(closed_at=None).exists()
