"""A log from the phone's files: kept whatever it is, its reading said, what is unclear asked, what misfits named."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests import cast
from tests import factory as f
from tests.paper.certificates import certificate
from tests.web.operator.floor import html_of, text_of
from tests.web.oven import IN_AT, Oven, log, make_oven, photo
from traveller.batches.models import Attachment, EvidenceFile, Reading

pytestmark = pytest.mark.django_db

HOT = [85.0] * 41


@pytest.fixture
def oven() -> Oven:
    return make_oven()


def test_the_page_says_how_the_log_was_read_in_the_sites_time_and_what_it_proves(oven: Oven) -> None:
    page = oven.send(log(HOT), oven.bake())
    words = text_of(page)
    assert (
        "Read as: year first, Celsius, 1 reading / 1 min, 3 Mar 2026, 14:02 to 14:42 site time. 41 readings; "
        "between them the temperature is taken as a straight line."
    ) in words
    assert "proved Load 1: 40 min unbroken and 40 min in all at or above 80 °C" in words
    assert oven.verdict() == ("passed", "soak.passed")


def test_a_date_that_can_be_read_both_ways_is_asked_with_one_button_for_each(oven: Oven) -> None:
    asked = oven.send(log(HOT, style="day"), oven.bake())
    assert "Is 03/03/2026" not in text_of(asked), "the third of the third is the same day either way"
    other = make_oven("2")
    start = IN_AT + timedelta(days=1)
    asked = other.send(log(HOT, style="day", start=start), other.bake(start=start))
    assert "Is 04/03/2026 written with the day first or the month first?" in text_of(asked)
    assert '<button name="date_order" value="day">Day first' in html_of(asked)
    assert other.verdict()[0] == "missing"
    answered = other.answer(date_order="day")
    assert "Read as: day first, Celsius, 1 reading / 1 min, 4 Mar 2026, 14:02 to 14:42 site time" in text_of(answered)
    assert other.verdict() == ("passed", "soak.passed")


def test_a_unit_that_the_file_does_not_name_is_asked(oven: Oven) -> None:
    asked = oven.send(log([185.0] * 41, head="time;oven"), oven.bake())
    assert "Are the temperatures (such as 185.0) in Celsius, in Fahrenheit or in kelvin?" in text_of(asked)
    words = text_of(oven.answer(unit="F"))
    assert "Read as: year first, Fahrenheit," in words
    assert oven.verdict() == ("passed", "soak.passed")


def test_which_of_several_channels_it_was_is_asked(oven: Oven) -> None:
    two = log(HOT, head="time;left (C);right (C)").replace(b";85.0", b";60.0;85.0")
    asked = oven.send(two, oven.bake())
    assert "Which channel belongs to this load?" in text_of(asked)
    words = text_of(oven.answer(channel="right (C)"))
    assert "channel 2 of 2 (right (C))" in words
    assert oven.verdict() == ("passed", "soak.passed")


def test_when_a_log_that_only_counts_minutes_began_is_asked_and_may_be_typed_in_site_time(oven: Oven) -> None:
    load = oven.bake()
    asked = oven.send(log(HOT, head="minutes;oven (C)", style="minutes"), load)
    assert "When did the log start?" in text_of(asked)
    assert "When the load went in (14:02)" in text_of(asked)
    wrong = oven.answer(start="noon")
    assert wrong.status_code == 422 and "“noon” is not a date and time" in text_of(wrong)
    words = text_of(oven.answer(start="2026-03-03T14:02"))
    assert "time since the start" in words and "3 Mar 2026, 14:02 to 14:42 site time" in words
    assert oven.verdict() == ("passed", "soak.passed")


def test_an_answer_that_was_not_offered_is_none(oven: Oven) -> None:
    oven.send(log([185.0] * 41, head="time;oven"), oven.bake())
    assert oven.answer(unit="R").status_code == 422
    assert Attachment.objects.get().answers == {"zone": "America/Chicago"}


def test_a_log_of_another_day_is_kept_and_said_not_to_fit(oven: Oven) -> None:
    page = oven.send(log(HOT, start=IN_AT - timedelta(days=1)), oven.bake())
    words = text_of(page)
    assert "Is it the right log?" in words
    assert "The log runs from Mon 2 Mar, 14:02 to Mon 2 Mar, 14:42; the load from Tue 3 Mar, 14:02 to" in words
    assert oven.verdict() == ("missing", "logged.another_time") and EvidenceFile.objects.count() == 1


def test_a_log_shorter_than_the_load_is_said_to_be_so(oven: Oven) -> None:
    page = oven.send(log([85.0] * 21), oven.bake())
    assert "The log covers 20.0 of the load's 40.0 minutes." in text_of(page)
    assert oven.verdict() == ("missing", "logged.gap")


def test_a_log_from_the_future_is_said_to_be_so(oven: Oven, monkeypatch: pytest.MonkeyPatch) -> None:
    load = oven.bake()
    monkeypatch.setattr("django.utils.timezone.now", lambda: IN_AT + timedelta(minutes=10))
    page = oven.send(log(HOT), load)
    assert "The last reading (Tue 3 Mar, 14:42) is later than now." in text_of(page)


def test_faults_are_named_by_their_line(oven: Oven) -> None:
    rows = log(HOT).split(b"\r\n")
    rows[5] = rows[5].replace(b"85.0", b"9999")
    rows[9] = rows[9].replace(b"85.0", b"hot")
    words = text_of(oven.send(b"\r\n".join(rows), oven.bake()))
    assert "Line 6: 9999 °C is no temperature of an oven; the sensor may be broken." in words
    assert "Line 10: the temperature is not a number." in words


def test_a_log_truncated_in_mid_line_is_read_up_to_there(oven: Oven) -> None:
    words = text_of(oven.send(log(HOT)[:-5], oven.bake()))
    assert "Line 42 breaks off in the middle." in words and "40 readings" in words


def test_a_decimal_comma_is_read_as_one(oven: Oven) -> None:
    oven.send(log(HOT).replace(b"85.0", b"85,0"), oven.bake())
    assert oven.verdict() == ("passed", "soak.passed")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (bytes(range(256)) * 20, "This is no text file. Let the logger's program write CSV and send that."),
        (b"PK\x03\x04" + b"\x00" * 200, "This is a packed file or a spreadsheet. Save the log as CSV and send that."),
        (b"dear all, the oven was fine", "No column of times was found."),
    ],
)
def test_what_is_no_log_is_kept_and_said_to_be_none(oven: Oven, content: bytes, said: str) -> None:
    page = oven.send(content, oven.bake(), name="../../x<b>.bin")
    assert page.status_code == 200 and said in text_of(page)
    assert bytes(EvidenceFile.objects.get().content) == content
    assert Attachment.objects.get().name == "x<b>.bin" and "x<b>" not in html_of(page)
    assert oven.verdict()[0] == "missing"


def test_an_empty_file_and_a_far_too_large_one_are_refused_in_words(
    oven: Oven, monkeypatch: pytest.MonkeyPatch
) -> None:
    load = oven.bake()
    empty = oven.send(b"", load)
    assert empty.status_code == 409 and "There was nothing in this file. Choose it again." in text_of(empty)
    monkeypatch.setattr("traveller.web.operator.proof.BYTES_MAX", 1024 * 1024)
    large = oven.send(b"0" * (1024 * 1024 + 1), load)
    assert large.status_code == 409 and "This file is larger than 1 megabytes" in text_of(large)
    assert not EvidenceFile.objects.exists()


def test_the_same_log_for_two_batches_is_kept_once_and_said_with_a_doubt_about_another_oven(oven: Oven) -> None:
    other = make_oven("2", site=oven.site, phone=oven.phone)
    oven.send(log(HOT), oven.bake())
    words = text_of(other.send(log(HOT), other.bake(place="Oven 2")))
    first, code = oven.batch.code, f"{oven.batch.code[:3]}-{oven.batch.code[3:6]}-{oven.batch.code[6:]}"
    assert "The same file was also sent for" in words and "That is right where they shared the load." in words
    assert f"was sent for batch {code}, whose load was in Oven 1; this load was in Oven 2." in words, first
    assert EvidenceFile.objects.count() == 1 and Attachment.objects.count() == 2


def test_a_form_sent_twice_is_kept_once(oven: Oven) -> None:
    load = oven.bake()
    for _ in range(2):
        page = oven.send(log(HOT), load, news=f.uid("once"))
        assert page.status_code == 200
    assert Attachment.objects.count() == 1


def test_the_step_leads_to_the_log_once_a_load_is_out_and_shows_what_was_sent(oven: Oven) -> None:
    load = oven.bake()
    step = oven.phone.get(f"/here/step/{oven.step.pk}")
    assert f'<a class="go" href="/here/step/{oven.step.pk}/proof?kind=log&amp;load={load.uid}">' in html_of(step)
    oven.send(log(HOT), load)
    step = oven.phone.get(f"/here/step/{oven.step.pk}")
    assert "Send the log of load 1" not in text_of(step) and "Temperature log: oven.csv" in text_of(step)
    assert "Send its log" in text_of(oven.phone.get(f"/here/load/{load.pk}/out", follow=True))


def test_a_photo_is_shown_without_what_the_phone_wrote_into_it(oven: Oven) -> None:
    page = oven.send(photo(), kind="photo", name="band.jpg")
    proof = Attachment.objects.get()
    assert f'src="/here/proof/{proof.pk}/picture"' in html_of(page)
    shown = oven.phone.get(f"/here/proof/{proof.pk}/picture")
    assert shown["Content-Type"] == "image/jpeg" and shown["X-Content-Type-Options"] == "nosniff"
    assert b"Odalys" in photo() and b"Odalys" not in shown.content and b"Exif" not in shown.content


def test_the_pages_of_a_pdf_certificate_are_shown_to_the_shop_that_sent_it_alone(oven: Oven) -> None:
    page = oven.send(certificate(2), kind="certificate", name="resin.pdf")
    proof = Attachment.objects.get()
    for number in (1, 2):
        assert f'src="/here/proof/{proof.pk}/picture?page={number}"' in html_of(page)
        assert f'alt="resin.pdf, {number}/2"' in html_of(page)
    path = f"/here/proof/{proof.pk}/picture?page=2"
    assert oven.phone.get(path)["Content-Type"] == "image/jpeg"
    assert cast.pass_client(f.make_site("rival")).get(path).status_code == 404


def test_a_locked_certificate_is_kept_and_its_page_stands(oven: Oven) -> None:
    page = oven.send(certificate(password="between us"), kind="certificate", name="resin.pdf")
    proof = Attachment.objects.get()
    assert page.status_code == 200 and "/picture" not in html_of(page)
    assert oven.phone.get(f"/here/proof/{proof.pk}/picture").status_code == 404


def test_what_is_no_picture_is_no_photo(oven: Oven) -> None:
    page = oven.send(b"<script>alert(1)</script>", kind="photo", name="x.jpg")
    assert page.status_code == 409 and "This is not a picture that can be shown here." in text_of(page)


def test_a_proof_of_one_shop_does_not_exist_for_another(oven: Oven) -> None:
    oven.send(photo(), kind="photo")
    proof = Attachment.objects.get().pk
    rival = cast.pass_client(f.make_site("rival"))
    for path in (f"/here/proof/{proof}", f"/here/proof/{proof}/picture", f"/here/step/{oven.step.pk}/proof"):
        assert rival.get(path).status_code == 404


def test_degrees_that_the_oven_cannot_have_are_asked_about_before_they_count(oven: Oven) -> None:
    path = f"/here/step/{oven.step.pk}/measure"
    reported = {"news_id": str(f.uid("350")), "r:surface:surface:0:0": "350"}
    asked = oven.phone.post(path, reported)
    assert "350 °C is outside what this can show (20 to 260 °C): did you mean Fahrenheit?" in text_of(asked)
    assert not Reading.objects.exists()
    again = oven.phone.post(path, {**reported, "sure:plausible.fahrenheit_meant": "no"})
    assert 'value="350"' in html_of(again), "what was typed is still there to be changed"


def test_text_in_a_number_is_said_and_a_comma_is_taken_for_a_point(oven: Oven) -> None:
    path = f"/here/step/{oven.step.pk}/measure"
    wrong = oven.phone.post(path, {"news_id": str(f.uid("hot")), "r:surface:surface:0:0": "hot"})
    assert wrong.status_code == 422 and "“hot” is not a number." in text_of(wrong)
    oven.phone.post(path, {"news_id": str(f.uid("comma")), "r:surface:surface:0:0": "85,5"})
    assert Reading.objects.get().value == "85.5"
