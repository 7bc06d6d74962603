"""What conflicts with another phone's news: the phone says that it is not booked, and later what came of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING
from uuid import uuid4

import pytest
from playwright.sync_api import expect
from pytest_django.live_server_helper import LiveServer

from tests import cast
from tests.browser.pocket import Pocket, pocket, until
from tests.web.operator.floor import moved
from traveller.journal.models import Event

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def held(browser: Browser, live_server: LiveServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[Pocket]:
    with pocket(browser, live_server.url, monkeypatch) as made:
        yield made
    assert made.faults == []


def test_an_entry_for_review_is_never_called_sent_and_its_decision_is_said(held: Pocket) -> None:
    page, floor = held.page, held.floor
    held.ready()
    held.wire.be("down")
    held.tell(held.step(20, "/count"), good="7", shots="4", open_cavities="2")
    held.says_kept()
    moved(floor.count(20, 7, shots=4, client=cast.pass_client(floor.moulder)))
    held.wire.be("up")
    until(lambda: [entry["state"] for entry in held.entries()] == ["review"], "it waits for review")
    page.get_by_role("heading", name="Waits for review: not booked yet").wait_for()
    expect(page.locator("[data-review-why]:visible")).to_contain_text("7 good already recorded at")
    held.number("1 for review")
    held.in_order()
    held.go("/here/unsent")
    page.get_by_role("heading", name="1 entry waits for review: not booked yet").wait_for()
    item = page.locator("[data-review-items] .unsent-item")
    expect(item).to_contain_text("How many are good? 7")
    expect(item).to_contain_text("Taken down and not booked yet")
    expect(page.get_by_text("Everything is sent.")).to_be_hidden()
    held.in_order()
    event = Event.objects.get(kind="set aside")
    typed = {"news_id": str(uuid4()), "deed": "leave", "reason": "The same tote."}
    assert cast.founder_client().post(f"/phone-entries/{event.pk}", typed).status_code == 302
    # What is told next has the phone ask for its pages, and with them for what was decided.
    held.tell(held.step(20, "/count"), good="3", shots="2", open_cavities="2")
    held.number("1 decided")
    held.go("/here/unsent")
    expect(item).to_contain_text("Decided: not booked. The same tote.")
    held.in_order()
    page.get_by_role("button", name="Seen: take it off this list").click()
    until(lambda: not held.entries(), "seen")
    page.get_by_text("Everything is sent.").wait_for()
    expect(page.locator("[data-unsent]")).to_be_hidden()
    assert floor.step(20).good == 48 + 7 + 3
