"""The founder's page of a log: picture, table, how it was read, verdict; the original given back inert."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.test import Client
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from tests.cast import founder_client
from tests.factory import CheckRow
from tests.paper.certificates import certificate
from tests.web.founder.signed_in import assert_costs_the_same, assert_for_the_founder_alone, text_of
from tests.web.oven import IN_AT, Oven, log, make_oven, photo
from traveller.batches.models import Attachment

pytestmark = pytest.mark.django_db
CURVE = [25.0 + 12 * n for n in range(5)] + [88.0] * 32 + [70.0] * 4


@pytest.fixture
def oven() -> Oven:
    return make_oven()


def sent(oven: Oven, content: bytes, **how: str) -> str:
    load = oven.bake() if how.get("kind", "log") == "log" else None
    oven.send(content, load, **how)  # type: ignore[arg-type]
    return f"/evidence/{Attachment.objects.latest('id').pk}"


def test_picture_table_reading_and_verdict_stand_on_one_page(oven: Oven) -> None:
    answer = founder_client().get(sent(oven, log(CURVE)))
    page, words = answer.content.decode(), text_of(answer)
    assert "Temperature log of load 1, step 20, bake: Band." in words
    assert "Read as: year first, Celsius, 1 reading / 1 min, 3 Mar 2026, 14:02 to 14:42 site time." in words
    assert page.count('fill="url(#logw-reached)"') == 2 and page.count('fill="url(#logn-reached)"') == 2
    assert "80 °C or more" in page and "never above 95 °C" in page and "in 14:02" in page and "out 14:42" in page
    assert "Load 1: 31.97 min unbroken" in words, "from 7/15 into minute 4 to 8/18 into minute 36, rounded down"
    assert "Tue 3 Mar, 14:02 25.0 lowest" in words and "88.0 highest" in words
    assert "Limits Bake: 30 min unbroken at 80 C or more, never above 95 C" in words.replace("°C", "C")


def test_a_gap_is_a_break_with_a_word_and_stands_in_the_table(oven: Oven) -> None:
    rows = log([88.0] * 41).split(b"\r\n")
    answer = founder_client().get(sent(oven, b"\r\n".join(rows[:15] + rows[25:])))
    assert "nothing read for 11 min" in answer.content.decode()
    assert "then nothing read for 11 min" in text_of(answer) and "not shown yet" in text_of(answer)


def test_a_cure_shows_its_reference_and_when_it_was_worth_enough() -> None:
    cure = {"least": "5", "unit": "min", "reference": "160 C", "doubling": "10", "probe": "mould"}
    oven = make_oven(check=CheckRow("cure", "cure", cure, "load"))
    # At 170 degrees, 10 above the reference, each minute is worth two: 5 are reached after 2.5, seen at 3.
    answer = founder_client().get(sent(oven, log([170.0] * 41)))
    page = answer.content.decode()
    assert "reference 160 °C" in page and "worth 5 min 14:05" in page
    assert "Load 1: 40 min, worth 80 min at 160 °C" in text_of(answer)


def test_a_cure_that_was_worth_too_little_marks_no_moment() -> None:
    cure = {"least": "50", "unit": "min", "reference": "160 C", "doubling": "10", "probe": "mould"}
    oven = make_oven(check=CheckRow("cure", "cure", cure, "load"))
    page = founder_client().get(sent(oven, log([160.0] * 41))).content.decode()
    assert "worth 50 min 1" not in page and "worth only 40 min at 160 °C, 50 min needed" in page


def test_the_log_of_a_whole_shift_shows_every_load_in_it(oven: Oven) -> None:
    oven.bake(30)
    oven.bake(30, start=IN_AT + timedelta(hours=1))
    oven.send(log([88.0] * 120))
    answer = founder_client().get(f"/evidence/{Attachment.objects.get().pk}")
    page = answer.content.decode()
    assert "1: in 14:02" in page and "2: out 15:42" in page
    assert "Load 1: 40 min unbroken" in text_of(answer) and "Load 2: 40 min unbroken" in text_of(answer)


def test_the_original_is_given_back_to_the_byte_and_never_as_a_page(oven: Oven) -> None:
    content = b"<html><script>alert(1)</script>" + log(CURVE)
    path = sent(oven, content, name='or"d\u00e9r.html')
    given = founder_client().get(f"{path}/file")
    assert given.content == content
    assert given["Content-Type"] == "application/octet-stream" and given["X-Content-Type-Options"] == "nosniff"
    assert given["Content-Disposition"].startswith(
        "attachment; filename=\"or_d_r.html\"; filename*=UTF-8''or%22d%C3%A9r"
    )
    assert "sandbox" in given["Content-Security-Policy"]


def test_a_photo_is_shown_without_its_exif(oven: Oven) -> None:
    path = sent(oven, photo(), kind="photo")
    client = founder_client()
    assert f'src="{path}/picture"' in client.get(path).content.decode()
    assert b"Odalys" not in client.get(f"{path}/picture").content
    assert client.get(f"{path}/file").content == photo()


def test_the_pages_of_a_pdf_certificate_are_shown_as_pictures(oven: Oven) -> None:
    content = certificate(8)
    path = sent(oven, content, kind="certificate", name="resin.pdf")
    client = founder_client()
    page = client.get(path)
    for number in range(1, 7):
        assert f'src="{path}/picture?page={number}"' in page.content.decode()
        assert f'alt="Page {number} of 8 of resin.pdf"' in page.content.decode()
    assert f"{path}/picture?page=7" not in page.content.decode()
    assert "2 more pages in the original." in text_of(page)
    given = [client.get(f"{path}/picture?page={number}") for number in range(1, 7)]
    for answer in given:
        assert answer["Content-Type"] == "image/jpeg" and answer["X-Content-Type-Options"] == "nosniff"
        assert Image.open(io.BytesIO(answer.content)).format == "JPEG"
    assert len({answer.content for answer in given}) == 6
    for wrong in ("0", "7", "-1", "two", "1e9", ""):
        assert client.get(f"{path}/picture?page={wrong}").status_code == 404
    assert client.get(f"{path}/file").content == content
    assert_for_the_founder_alone(f"{path}/picture?page=2", oven.site)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (certificate(password="between us"), "Its pages cannot be shown: it is locked by a password."),
        (certificate()[:200], "Its pages cannot be shown: it is damaged, or no complete PDF."),
    ],
)
def test_a_pdf_that_cannot_be_drawn_says_why_and_can_be_saved(oven: Oven, content: bytes, words: str) -> None:
    path = sent(oven, content, kind="certificate", name="resin.pdf")
    client = founder_client()
    page = client.get(path)
    assert page.status_code == 200 and words in text_of(page)
    assert "/picture" not in page.content.decode()
    assert client.get(f"{path}/picture?page=1").status_code == 404
    assert client.get(f"{path}/file").content == content


@pytest.mark.parametrize("content", [bytes(range(256)) * 9, b"PK\x03\x04zip", b"time;oven\r\n1;2\r\n"])
def test_what_is_no_log_has_its_page_too(oven: Oven, content: bytes) -> None:
    path = sent(oven, content)
    client = founder_client()
    assert client.get(path).status_code == 200 and client.get(f"{path}/picture").status_code == 404
    assert client.get(f"{path}/file").content == content


def test_the_batch_page_lists_the_files_and_the_history_names_them(oven: Oven) -> None:
    path = sent(oven, log([185.0] * 41, head="time;oven"))
    oven.answer(unit="F")
    answer = founder_client().get(f"/batches/{oven.batch.code}")
    assert f'href="{path}">oven.csv</a>' in answer.content.decode()
    words = text_of(answer)
    assert "20, bake: temperature log oven.csv sent." in words
    assert "20, bake: how the log is to be read: unit F." in words


def test_other_batches_that_the_file_was_sent_for_are_linked(oven: Oven) -> None:
    other = make_oven("2", site=oven.site, phone=oven.phone)
    sent(oven, log(CURVE))
    answer = founder_client().get(sent(other, log(CURVE)))
    assert "The same file was also sent for" in text_of(answer)
    assert f'href="/batches/{oven.batch.code}"' in answer.content.decode()


def test_the_pages_are_the_founders_alone(oven: Oven) -> None:
    path = sent(oven, photo(), kind="photo")
    for one in (path, f"{path}/file", f"{path}/picture"):
        assert_for_the_founder_alone(one, oven.site)
    assert Client().get(path).status_code == 302


def test_the_page_asks_the_database_equally_often_for_one_load_and_for_ten(oven: Oven) -> None:
    oven.bake(6)
    oven.send(log([88.0] * 700))
    path = f"/evidence/{Attachment.objects.get().pk}"

    def more() -> None:
        for n in range(1, 10):
            oven.bake(6, start=IN_AT + timedelta(hours=n))

    assert_costs_the_same(founder_client(), path, more)


# ------------------------------------------------------------------ what a phone writes into its pictures
def with_gps(style: str) -> bytes:
    """A picture that says where and by whom it was taken, lying on its side."""
    exif = Image.Exif()
    exif[0x013B], exif[0x010F], exif[0x0112] = "Odalys Quickbasin", "Fieldphone 9", 6
    exif.get_ifd(0x8825).update({1: "N", 2: (41.0, 4.0, 12.0), 3: "W", 4: (85.0, 8.0, 20.0)})
    out = io.BytesIO()
    image = Image.new("RGB", (80, 40), "#e39a2d")
    more = {"pnginfo": _words_of_a_png()} if style == "PNG" else {"comment": b"Odalys was here"}
    image.save(out, style, exif=exif, **({} if style == "WEBP" else more))
    return out.getvalue()


def _words_of_a_png() -> PngInfo:
    words = PngInfo()
    words.add_text("Author", "Odalys Quickbasin")
    words.add_itxt("XML:com.adobe.xmp", "<x:xmpmeta>Odalys 41.07 N</x:xmpmeta>")
    return words


@pytest.mark.parametrize("style", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("kind", ["photo", "certificate"])
def test_place_camera_and_name_stay_in_the_original_alone(oven: Oven, style: str, kind: str) -> None:
    content = with_gps(style)
    assert Image.open(io.BytesIO(content)).getexif().get_ifd(0x8825)[1] == "N"
    path = sent(oven, content, kind=kind)
    client = founder_client()
    shown = client.get(f"{path}/picture")
    assert shown["Content-Type"] == "image/jpeg" and shown["X-Content-Type-Options"] == "nosniff"
    seen = Image.open(io.BytesIO(shown.content))
    assert not seen.getexif() and not ({"exif", "xmp", "comment"} & set(seen.info))
    for words in (b"Odalys", b"Fieldphone", b"Exif", b"xmp"):
        assert words not in shown.content
    assert seen.size == (40, 80), "turned as the phone was held"
    assert client.get(f"{path}/file").content == content, "the original is kept to the byte"


def test_the_original_is_given_to_the_founder_alone_and_never_to_a_shop(oven: Oven) -> None:
    path = sent(oven, with_gps("JPEG"), kind="photo")
    assert_for_the_founder_alone(f"{path}/file", oven.site)
    # On the shop's own page there is no way to the original: only the bare picture.
    pk = Attachment.objects.get().pk
    assert oven.phone.get(f"/here/proof/{pk}/file").status_code == 404
    assert b"Odalys" not in oven.phone.get(f"/here/proof/{pk}/picture").content
    assert b"Odalys" not in oven.phone.get(f"/here/proof/{pk}").content


@pytest.mark.parametrize(
    "content",
    [
        b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"></svg>',
        b"<html><script>alert(1)</script></html>",
        b"%PDF-1.4 /OpenAction << /S /JavaScript /JS (app.alert(1)) >>",
    ],
)
def test_what_could_act_is_only_ever_an_attachment_in_a_sandbox(oven: Oven, content: bytes) -> None:
    kind = "certificate" if content.startswith(b"%PDF") else "log"
    path = sent(oven, content, kind=kind)
    client = founder_client()
    given = client.get(f"{path}/file")
    assert given.content == content and given["Content-Type"] == "application/octet-stream"
    assert given["Content-Disposition"].startswith("attachment;") and given["X-Content-Type-Options"] == "nosniff"
    assert given["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert "no-store" in given["Cache-Control"]
    assert client.get(f"{path}/picture").status_code == 404
    page = client.get(path).content
    assert b"alert(1)" not in page and b"<svg xmlns" not in page.replace(b"<svg class", b"")
