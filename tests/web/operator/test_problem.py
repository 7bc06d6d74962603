"""A problem on the phone: three taps, a photo on the same page, and the batch is held whatever becomes of the photo."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from tests import cast, factory
from tests.globe import everything_agrees, ok
from tests.web.operator.floor import PICTURE, Floor, events, html_of, moved, text_of
from traveller.batches.actions.decide import decide
from traveller.batches.models import Attachment
from traveller.journal.models import Event
from traveller.ledger.models import Hold

pytestmark = pytest.mark.django_db


def photo(content: bytes | None = None) -> SimpleUploadedFile:
    return SimpleUploadedFile("specks.png", PICTURE.read_bytes() if content is None else content, "image/png")


def test_three_taps_hold_the_batch_the_last_of_them_says_so(floor: Floor) -> None:
    floor.moulded(48)
    step = html_of(floor.phone.get(f"/here/step/{floor.step(30).pk}"))
    path = f"/here/problem/{floor.batch.code}"
    assert f'href="{path}"' in step, "the first tap"
    page = html_of(floor.phone.get(path))
    assert 'name="what" value="damaged"' in page and "Hold it and tell the maker" in page
    reported = floor.phone.get(moved(floor.post(path, what="damaged")))
    assert "Set all of it apart" in text_of(reported)
    assert Hold.objects.get(lot=floor.lot(), closed_at=None).figures == {"reason": "damaged"}


def test_words_may_be_added_and_a_kind_that_is_not_offered_says_nothing(floor: Floor) -> None:
    path = f"/here/problem/{floor.batch.code}"
    assert floor.post(path, what="invented").status_code == 422
    moved(floor.post(path, what="damaged", reason="the lower tote fell"))
    assert Hold.objects.get(closed_at=None).figures == {"reason": "damaged: the lower tote fell"}


def test_the_photo_goes_with_it_and_the_same_form_sent_twice_keeps_one(floor: Floor) -> None:
    floor.moulded(48)
    path, uid = f"/here/problem/{floor.batch.code}", factory.uid("a problem")
    for _ in range(2):
        moved(floor.post(path, what="it looks wrong", photo=photo(), news_id=uid))
    kept = Attachment.objects.get()
    assert (kept.kind, kept.name, kept.step) == ("photo", "specks.png", floor.step(20))
    assert events("problem reported") == 1 and Hold.objects.filter(closed_at=None).count() == 1


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"no picture", "This is not a picture that can be shown here."), (b"", "nothing in this file")],
)
def test_a_photo_that_is_none_is_said_to_be_lost_and_the_hold_stands(floor: Floor, content: bytes, words: str) -> None:
    floor.moulded(48)
    reported = floor.phone.get(
        moved(floor.post(f"/here/problem/{floor.batch.code}", what="damaged", photo=photo(content)))
    )
    assert "Set all of it apart" in text_of(reported) and words in text_of(reported)
    assert "It is held, but the photo was not taken:" in text_of(reported)
    assert Hold.objects.filter(closed_at=None).exists() and not Attachment.objects.exists()


def _reported(floor: Floor) -> tuple[str, str]:
    """Where the page leads that says that it is held, and where its way back does."""
    floor.moulded(48)
    there = moved(floor.post(f"/here/problem/{floor.batch.code}", what="damaged"))
    return there, f"/here/told/{Event.objects.get(kind='problem reported').uid}/no-problem"


def test_a_problem_that_was_none_is_taken_back_by_its_shop_and_holds_nothing(floor: Floor) -> None:
    there, back = _reported(floor)
    assert f'action="{back}"' in html_of(floor.phone.get(there))
    words = text_of(floor.phone.get(moved(floor.post(back))))
    assert "The problem is taken back." in words and "take it back" not in words
    hold = Hold.objects.get()
    assert hold.closed_event is not None and (hold.closed_event.kind, hold.disposition) == (
        "problem taken back",
        "undone",
    )
    moved(floor.post(back))
    assert events("problem taken back") == 1
    assert everything_agrees()


def test_only_the_own_shop_takes_a_problem_back_in_ten_minutes_and_before_anybody_has_decided(floor: Floor) -> None:
    _there, back = _reported(floor)
    rival = cast.pass_client(factory.make_site("rival"), person="Eve")
    assert floor.post(back, client=rival).status_code == 404 and floor.phone.get(back).status_code == 405
    hold = Hold.objects.get()
    context = factory.event_context("decided", at=floor.clock.now, actor=factory.founder())
    ok(decide(event_context=context, hold_id=hold.pk, disposition="release", reason="a shadow"))
    refused = floor.post(back)
    assert refused.status_code == 409 and "The maker has decided on it already" in text_of(refused)
    late = moved(floor.post(f"/here/problem/{floor.batch.code}", what="damaged"))
    floor.clock.go(minutes=11)
    assert "no-problem" not in html_of(floor.phone.get(late))
    newest = Event.objects.filter(kind="problem reported").latest("id")
    refused = floor.post(f"/here/told/{newest.uid}/no-problem")
    assert refused.status_code == 409 and "More than 10 minutes have passed" in text_of(refused)
    assert Hold.objects.filter(closed_at=None).count() == 1 and events("problem taken back") == 0
