"""The time without a signal in WebKit, the engine of every iPhone: kept, told apart, sent in order by an open page."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.utils import timezone
from pytest_django.live_server_helper import LiveServer

from tests.browser.pocket import until
from tests.browser.webkit import hand_over, webkit
from tests.browser.webkit_phone import WebkitPhone
from tests.browser.wire import Wire, wire_to
from tests.web.operator.floor import PICTURE, Floor, make_floor
from traveller.batches.models import Attachment, Count

pytestmark = [pytest.mark.webkit, pytest.mark.django_db(transaction=True)]


@dataclass
class Held(WebkitPhone):
    """The phone at the moulder's."""

    floor: Floor
    wire: Wire

    def step(self, number: int, tail: str = "") -> str:
        return f"/here/step/{self.floor.step(number).pk}{tail}"


@pytest.fixture
def held(live_server: LiveServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[Held]:
    floor = make_floor()
    floor.clock.now = timezone.now() - timedelta(hours=6)
    with monkeypatch.context() as then:
        then.setattr("django.utils.timezone.now", floor.clock)
        floor.moulded(48)
    with wire_to(live_server.url) as wire, webkit() as driver:
        hand_over(driver, wire.address, {name: row.value for name, row in floor.phone.cookies.items()})
        yield Held(driver, wire.address, floor, wire)


def test_what_is_told_without_a_signal_waits_and_goes_in_order_from_a_page_that_stands_open(held: Held) -> None:
    held.ready(held.step(20, "/count"), held.step(30, "/proof"))
    held.wire.be("down")
    held.tell(held.step(20, "/count"), good="3", shots="4", open_cavities="2")
    held.said("Kept on this phone, not sent yet")
    # No browser of this engine wakes a keeper by itself.
    held.said("Open this page again where there is a signal")
    assert not held.shows("It goes by itself")
    held.go(held.step(30, "/proof"))
    held.driver.find_element("css selector", "main input[type=file]").send_keys(str(PICTURE))
    held.ask("[...document.querySelectorAll('.thumb .go')].filter((el) => el.offsetParent).pop()?.click()")
    held.said("Kept on this phone, not sent yet")
    # A photo of a code, which only the server can read: the page says so, and nothing of what waits is touched.
    held.go("/here/")
    held.driver.find_element("css selector", "input[data-photo]").send_keys(str(PICTURE))
    held.said("No signal, and this page is not on this phone")
    held.tell(held.step(20, "/count"), good="5", shots="4", open_cavities="2")
    held.said("Kept on this phone, not sent yet")
    held.said("The server can’t be reached: 3 waiting here.")
    assert [entry["state"] for entry in held.entries()] == ["waiting"] * 3
    assert not Count.objects.filter(good__in=[3, 5]).exists()
    back = time.monotonic()
    held.wire.be("up")
    until(lambda: Count.objects.filter(good=5).exists(), "sent by the page that stands open")
    took = time.monotonic() - back
    print(f"sent {took:.1f} s after the signal was back")
    assert took < 10
    until(lambda: not held.entries(), "the phone has nothing left to send")
    news: list[Count | Attachment] = [*Count.objects.filter(good__in=[3, 5]), Attachment.objects.get()]
    reported: list[Count | Attachment] = sorted(news, key=lambda row: row.event.pk)
    assert [type(row).__name__ for row in reported] == ["Count", "Attachment", "Count"]
    assert [row.good for row in reported if isinstance(row, Count)] == [3, 5]
    assert bytes(Attachment.objects.select_related("file").get().file.content) == PICTURE.read_bytes()
