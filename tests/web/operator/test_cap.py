"""Before the first piece is approved: how many more may be made stands on the page, more is asked about and taken."""

from __future__ import annotations

import pytest

from tests import cast, factory
from tests.batches.proof.test_first_piece import make_mould
from tests.globe import ok
from tests.web.operator.floor import Clock, text_of
from traveller.batches.models import Count
from traveller.ledger.models import Hold

pytestmark = pytest.mark.django_db


def test_how_many_more_may_be_made_is_said_before_typing_and_asked_about_beyond(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    mould = make_mould()
    batch = mould.batch()
    mould.count(batch, 12)
    monkeypatch.setattr("django.utils.timezone.now", Clock(mould.at))
    phone = cast.pass_client(mould.shop)
    path = f"/here/step/{batch.steps.get().pk}/count"
    said = "Only 8 more may be made before the first-off is approved."
    assert said in text_of(phone.get(path))

    def tell(n: int, good: int, **more: str) -> object:
        form = {"news_id": str(factory.uid(f"cap {n}")), "stage": "rest", "good": str(good), "shots": "", **more}
        return phone.post(path, form)

    asked = tell(1, 9)
    assert "You typed 9; only 8 more may be made before the first-off is approved." in text_of(asked)  # type: ignore[arg-type]
    assert Count.objects.count() == 1
    assert tell(2, 8).status_code == 302 and not Hold.objects.exists()  # type: ignore[attr-defined]
    assert tell(3, 1, **{"sure:beyond_cap": "yes"}).status_code == 302  # type: ignore[attr-defined]
    assert [hold.code for hold in Hold.objects.all()] == ["approval.over_cap"]


def test_nothing_is_said_once_it_is_approved() -> None:
    mould = make_mould()
    batch = mould.batch()
    ok(mould.decide(batch))
    phone = cast.pass_client(mould.shop)
    assert "may be made before" not in text_of(phone.get(f"/here/step/{batch.steps.get().pk}/count"))
