"""What a scanned, typed or photographed code opens at a shop; what is not this shop's does not exist."""

from __future__ import annotations

from io import BytesIO

import pytest
import segno
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from tests import cast, factory
from tests.web.operator.floor import PICTURE, Floor, events, field_of, html_of, moved, text_of
from traveller.batches.models import Batch, StepState
from traveller.rules.codes import from_number, show_code
from traveller.web.photos import PHOTO_BYTES_MAX

pytestmark = pytest.mark.django_db


def elsewhere(floor: Floor) -> Batch:
    """A batch with which the moulder has nothing to do."""
    printer = factory.make_site("printer")
    part = factory.make_part("BAND", name="Band")
    factory.make_routing(part, [factory.Op(10, printer, "print", "make")])
    return factory.make_batch(part, destination=printer)


@pytest.mark.parametrize("way", ["/here/t/{}", "/here/scan?code={}", "/here/t/{}/30", "/here/scan?code=%20{}%0A"])
def test_a_code_asks_is_this_it_with_picture_colour_and_quantity(floor: Floor, way: str) -> None:
    floor.moulded(48)
    page = floor.phone.get(way.format(floor.batch.code))
    words = text_of(page)
    assert page.status_code == 200
    for word in ("Is this it?", "Globe, amber", "amber", "48 wait here", "cool on the fixture"):
        assert word in words
    assert f"/picture/{floor.part.picture_digest}" in html_of(page)
    assert 'fill="#e39a2d"' in html_of(page) and "style=" not in html_of(page)


def test_not_this_one_is_as_large_as_yes(floor: Floor) -> None:
    page = html_of(floor.phone.get(f"/here/t/{floor.batch.code}"))
    assert 'class="go go-plain" href="/here/">Not this one' in page
    assert 'class="go" href="/here/step/' in page


def test_lower_case_hyphens_and_the_whole_address_open_the_same(floor: Floor) -> None:
    code = floor.batch.code
    for text in (
        code.lower(),
        show_code(code),
        f"https://trace.example/t/{code}",
        f"HTTPS://TRACE.EXAMPLE/T/{code}/30",
    ):
        assert "Is this it?" in text_of(floor.phone.get("/here/scan", {"code": text})), text


def test_a_step_that_is_done_elsewhere_says_so_and_offers_the_one_that_is_done_here(floor: Floor) -> None:
    words = text_of(floor.phone.get(f"/here/t/{floor.batch.code}/60"))
    assert "Step 60 is not done at this site" in words and "Here it is step 10" in words


def test_a_step_that_was_said_to_be_done_says_when(floor: Floor) -> None:
    floor.moulded(48)
    assert "was said to be done: Tue 24 Nov, 16:00" in text_of(floor.phone.get(f"/here/t/{floor.batch.code}/10"))


def test_a_code_of_another_sites_batch_reads_like_one_that_does_not_exist(floor: Floor) -> None:
    other, invented = elsewhere(floor).code, from_number(987_654)
    pages = [floor.phone.get(f"/here/t/{code}") for code in (other, invented)]
    words = [text_of(page).replace(code, "CODE") for page, code in zip(pages, (other, invented), strict=True)]
    assert words[0] == words[1] and [page.status_code for page in pages] == [404, 404]
    assert "No batch here has this code" in words[0] and "Band" not in words[0]


def test_a_damaged_code_offers_the_nearest_of_this_shop_with_their_pictures(floor: Floor) -> None:
    code = floor.batch.code
    wrong = code[:2] + ("7" if code[2] != "7" else "4") + code[3:]
    page = floor.phone.get("/here/scan", {"code": wrong})
    assert page.status_code == 404 and events("counted") == 0
    assert "Is it one of these?" in text_of(page) and f'href="/here/t/{code}"' in html_of(page)
    assert f"/picture/{floor.part.picture_digest}" in html_of(page)


@pytest.mark.parametrize("text", ["<script>alert(1)</script>", "🙂" * 50, "'; DROP TABLE", "x" * 300])
def test_nonsense_in_the_scan_field_is_answered_in_words_and_never_run(floor: Floor, text: str) -> None:
    page = floor.phone.get("/here/scan", {"code": text})
    assert page.status_code == 404 and "No batch here has this code" in text_of(page)
    assert "<script>alert" not in html_of(page)


def test_an_empty_scan_leads_back_to_the_list(floor: Floor) -> None:
    assert moved(floor.phone.get("/here/scan", {"code": "  "})) == "/here/"


def test_the_code_of_a_resin_lot_says_that_it_is_one(floor: Floor) -> None:
    words = text_of(floor.phone.get(f"/here/t/{floor.resin_lot.code}"))
    assert "This is a lot of Polycarbonate resin, amber" in words and "PC-77120" in words


def png(image: Image.Image) -> bytes:
    out = BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize("tail", ["", "/30"])
def test_a_photo_of_the_travellers_code_opens_it(floor: Floor, tail: str) -> None:
    out = BytesIO()
    segno.make(f"https://trace.example/t/{floor.batch.code}{tail}", error="m").save(out, kind="png", scale=6)
    answer = floor.phone.post("/here/photo", {"photo": SimpleUploadedFile("a.png", out.getvalue(), "image/png")})
    assert moved(answer) == f"/here/t/{floor.batch.code}{tail}"


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (png(Image.new("L", (400, 300), 255)), "No code was found in the photo."),
        (b"", "There was no photo in it."),
        (b"not a picture at all", "This file is not a photo that can be read here."),
        (b"\x89PNG" + b"0" * (PHOTO_BYTES_MAX + 1), "This photo is too large. Send one of at most 20 megabytes."),
    ],
    ids=["no code", "empty", "no picture", "huge"],
)
def test_a_photo_that_cannot_be_read_says_why_and_leaves_the_field(floor: Floor, content: bytes, sentence: str) -> None:
    before = events()
    answer = floor.phone.post("/here/photo", {"photo": SimpleUploadedFile("a.png", content, "image/png")})
    assert answer.status_code == 422 and sentence in text_of(answer)
    assert field_of(answer, "code") == "" and events() == before


def test_a_form_without_a_photo_says_so(floor: Floor) -> None:
    answer = floor.phone.post("/here/photo", {})
    assert answer.status_code == 422 and "There was no photo in it." in text_of(answer)


def test_pictures_are_for_the_founder_and_passes_and_may_be_kept_for_ever(floor: Floor) -> None:
    path = f"/picture/{floor.part.picture_digest}"
    answer = floor.phone.get(path)
    assert (answer.status_code, answer["Content-Type"], answer.content) == (200, "image/png", PICTURE.read_bytes())
    assert "immutable" in answer["Cache-Control"] and "private" in answer["Cache-Control"]
    assert cast.founder_client().get(path).status_code == 200
    assert Client().get(path).status_code == 404
    assert cast.pass_client(floor.moulder, person="Odile", revoked=True).get(path).status_code == 404
    assert floor.phone.get("/picture/" + "0" * 64).status_code == 404
    assert floor.phone.post(path).status_code == 405


def test_only_this_sites_steps_exist_for_its_pass(floor: Floor) -> None:
    rival = cast.pass_client(factory.make_site("rival"), person="Bruno")
    for number, tail in ((30, ""), (30, "/count"), (30, "/load"), (40, "/measure"), (30, "/done")):
        path = f"/here/step/{floor.step(number).pk}{tail}"
        assert floor.phone.get(path).status_code == 200, path
        assert rival.get(path).status_code == 404, path
    assert floor.phone.get(f"/here/step/{floor.step(60).pk}").status_code == 404
    for path in (f"/here/label/{floor.batch.code}", f"/here/problem/{floor.batch.code}"):
        assert floor.phone.get(path).status_code == 200 and rival.get(path).status_code == 404, path
    assert floor.step(30).state == StepState.WAITING
