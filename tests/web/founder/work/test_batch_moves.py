"""Split, join, move a rest, take back scrap: forms on the batch page, each an event with its reason."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests import cast, factory
from tests.globe import COOLING, Globe, everything_agrees, make_globe
from tests.web.founder import signed_in as desk
from traveller.batches.models import Batch
from traveller.journal.models import Event
from traveller.ledger.models import Condition

pytestmark = pytest.mark.django_db


@pytest.fixture
def globe(db: None) -> Globe:
    made = make_globe(checks={30: (COOLING,)})
    made.report(20, 60, scrap={"short": 5})
    return made


@pytest.fixture
def client(globe: Globe) -> Client:
    return cast.founder_client()


def _send(client: Client, globe: Globe, what: str, batch: Batch | None = None, **typed: object) -> Any:
    code = (batch or globe.batch).code
    fields = {f"{what}-{name}": value for name, value in typed.items()}
    return client.post(f"/batches/{code}/move/{what}", {"news_id": desk.news_id(), **fields})


def _here(globe: Globe) -> str:
    return f"{globe.moulder.pk}:in_process:30"


def test_a_part_is_split_off_and_its_page_opens(client: Client, globe: Globe) -> None:
    assert "Split: some go on apart" in desk.text_of(client.get(f"/batches/{globe.batch.code}"))
    answer = _send(client, globe, "split", place=_here(globe), quantity=20, reason="to be polished")
    (child,) = globe.children()
    assert answer["Location"].startswith(f"/batches/{child.code}?told=")
    page = desk.text_of(client.get(answer["Location"]))
    assert "set apart from" in page
    assert "20 at Moulder set apart as a batch of their own: to be polished" in desk.text_of(
        client.get(f"/batches/{globe.batch.code}")
    )
    assert everything_agrees()


def test_a_split_that_is_no_part_says_so_and_keeps_what_was_typed(client: Client, globe: Globe) -> None:
    answer = _send(client, globe, "split", place=_here(globe), quantity=60, reason="all of it")
    assert answer.status_code == 409
    assert "A part is at least 1 and fewer than all" in desk.text_of(answer)
    assert "all of it" in answer.content.decode()
    assert _send(client, globe, "split", place=_here(globe), quantity="x", reason="").status_code == 422
    assert globe.children() == []


def test_two_batches_are_joined_and_both_histories_say_so(client: Client, globe: Globe) -> None:
    _send(client, globe, "split", place=_here(globe), quantity=20, reason="two fixtures")
    (child,) = globe.children()
    answer = _send(client, globe, "join", other=f"{globe.lot(child).pk}:{_here(globe)}", reason="one again")
    joined = Batch.objects.latest("id")
    assert answer["Location"].startswith(f"/batches/{joined.code}?told=")
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30, batch=joined) == 60
    for code in (globe.batch.code, child.code):
        assert "Joined at Moulder, 60 in all: one again" in desk.text_of(client.get(f"/batches/{code}"))
    assert everything_agrees()


def test_a_rest_joins_the_next_batch(client: Client, globe: Globe) -> None:
    after = factory.make_batch(globe.part, name="next")
    answer = _send(client, globe, "rest", place=_here(globe), target=f"batch:{after.pk}", reason="too few to run")
    assert answer.status_code == 302
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30, batch=after) == 60
    assert everything_agrees()


def test_a_rest_is_not_carried_past_what_is_not_proved(client: Client, globe: Globe) -> None:
    globe.report(30, 60)
    place = f"{globe.moulder.pk}:stock:30"
    answer = _send(client, globe, "rest", place=place, target=f"site:{globe.bench.pk}", reason="in my car")
    assert answer.status_code == 409
    assert "is not proved" in desk.text_of(answer)


def test_scrap_found_good_waits_at_its_step_again(client: Client, globe: Globe) -> None:
    answer = _send(client, globe, "found", step=globe.step(20).pk, quantity=2, reason="only flash")
    assert answer.status_code == 302
    assert globe.at(globe.moulder, Condition.REWORK, 20) == 2
    assert "2 told as scrap were found good: only flash" in desk.text_of(client.get(f"/batches/{globe.batch.code}"))
    refused = _send(client, globe, "found", step=globe.step(20).pk, quantity=4, reason="more")
    assert refused.status_code == 409 and "3 were told as scrap there" in desk.text_of(refused)
    assert everything_agrees()


def test_the_same_form_sent_twice_splits_once(client: Client, globe: Globe) -> None:
    fields = {"news_id": desk.news_id(), "split-place": _here(globe), "split-quantity": 20, "split-reason": "x"}
    first = client.post(f"/batches/{globe.batch.code}/move/split", fields)
    again = client.post(f"/batches/{globe.batch.code}/move/split", fields)
    assert first["Location"] == again["Location"]
    assert Event.objects.filter(kind="split").count() == 1


def test_another_word_is_no_form_and_nobody_else_may(client: Client, globe: Globe) -> None:
    assert _send(client, globe, "burn").status_code == 404
    desk.assert_for_the_founder_alone(f"/batches/{globe.batch.code}/move/split", globe.moulder, "post")
