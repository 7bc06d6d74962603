"""The test master on the phone: asked before the first piece and after the last one, told by one tap."""

from __future__ import annotations

import pytest

from tests import cast, factory
from tests.batches.proof.test_tester import make_tub
from tests.web.operator.floor import Clock, html_of, text_of
from traveller.batches.models import Batch, Reading

pytestmark = pytest.mark.django_db


def test_it_is_the_next_thing_before_the_first_piece_and_after_the_last(monkeypatch: pytest.MonkeyPatch) -> None:
    tub = make_tub()
    batch = tub.batch(pieces=100)
    tub.start(batch, "06:00")
    clock = Clock(tub.at("06:02"))
    monkeypatch.setattr("django.utils.timezone.now", clock)
    phone = cast.pass_client(tub.shop)
    step = tub.test(batch)
    leak = f"/here/step/{step}/leak"

    def great() -> str:
        page = html_of(phone.get(f"/here/step/{step}"))
        thumb = page[page.index('class="thumb"') :]
        return thumb[: thumb.index("</section>")]

    def tell(n: int, found: str) -> None:
        answer = phone.post(leak, {"news_id": str(factory.uid(f"leak {n}")), "found": found})
        assert answer.status_code == 302, text_of(answer)

    assert leak in great()
    words = text_of(phone.get(leak))
    assert "Did the tester find the known leak?" in words and "is held until the maker decides" in words
    tell(1, "1")
    assert leak not in great()
    clock.go(hours=7, minutes=50)
    tub.count(batch, "13:50", 100, done=True)
    assert tub.held(batch) == ["every_piece.no_master_at_end"]
    assert leak in great()
    assert "06:02 · found" in text_of(phone.get(leak))
    tell(2, "1")
    assert leak not in great()
    assert tub.says(batch) == ("passed", "passed") and tub.held(batch) == []


def test_no_is_told_as_plainly_as_yes_and_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    tub = make_tub()
    batch: Batch = tub.batch(pieces=100)
    tub.start(batch, "06:00")
    tub.leak(batch, "06:00")
    tub.count(batch, "13:50", 100)
    monkeypatch.setattr("django.utils.timezone.now", Clock(tub.at("13:52")))
    phone = cast.pass_client(tub.shop)
    leak = f"/here/step/{tub.test(batch)}/leak"
    unsaid = phone.post(leak, {"news_id": str(factory.uid("leak 1"))})
    assert unsaid.status_code == 422 and "Tap yes or no." in text_of(unsaid)
    assert Reading.objects.count() == 1
    assert phone.post(leak, {"news_id": str(factory.uid("leak 2")), "found": "0"}).status_code == 302
    assert tub.says(batch) == ("failed", "master_failed") and tub.held(batch)


def test_a_step_without_a_known_leak_has_no_such_page() -> None:
    tub = make_tub()
    batch = tub.batch()
    phone = cast.pass_client(tub.shop)
    pack = batch.steps.get(number=90).pk
    answer = phone.get(f"/here/step/{pack}/leak")
    assert answer.status_code == 302 and answer["Location"] == f"/here/step/{pack}"
    assert "/leak" not in html_of(phone.get(f"/here/step/{pack}"))
