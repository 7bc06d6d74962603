"""A server that is away or ill while a page stands open: the phone says so, and sends by itself when it is back."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from django.http import HttpRequest, HttpResponse
from pytest_django.live_server_helper import LiveServer

from tests.browser.pocket import Pocket, pocket, until
from traveller.batches.models import Count
from traveller.web import keeper_files
from traveller.web.answered import AnsweredMiddleware

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# What came after Safari 15.4 (WebKit's release notes) and what pages of ours have used or might: gone for pages and
# keeper alike. Background Sync never came to it.
OLDER = """
delete AbortSignal.timeout; delete AbortSignal.any; delete Promise.withResolvers; delete Array.fromAsync;
for (const name of ['toSpliced', 'toSorted', 'toReversed', 'with']) delete Array.prototype[name];
for (const name of ['union', 'difference', 'intersection']) delete Set.prototype[name];
delete Object.groupBy; delete Map.groupBy;
if (self.ServiceWorkerRegistration) delete ServiceWorkerRegistration.prototype.sync;
if (self.HTMLFormElement) delete HTMLFormElement.prototype.requestSubmit;
if (self.Element) delete Element.prototype.checkVisibility;
"""
SOON_S = 8.0


@pytest.fixture(params=["as it is", "without what Safari 15.4 lacks"])
def held(
    request: pytest.FixtureRequest, browser: Browser, live_server: LiveServer, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Pocket]:
    old = request.param != "as it is"
    if old:
        # A script for pages does not reach a service worker: the server puts it before the keeper.
        script = keeper_files.keeper_script()
        monkeypatch.setattr(keeper_files, "keeper_script", lambda: OLDER + script)
    with pocket(browser, live_server.url, monkeypatch) as made:
        if old:
            made.context.add_init_script(OLDER)
        yield made
    assert made.faults == []


def counted(*goods: int) -> bool:
    reported = list(Count.objects.filter(good__in=goods).order_by("event_id").values_list("good", flat=True))
    return reported == list(goods)


def test_an_open_page_says_that_nobody_answers_and_sends_within_seconds_once_somebody_does(held: Pocket) -> None:
    page = held.page
    held.ready(held.step(20, "/count"))
    old = not page.evaluate("'timeout' in AbortSignal")
    assert old != page.evaluate("'sync' in ServiceWorkerRegistration.prototype")
    notice = page.locator("[data-trouble]")
    assert not notice.is_visible()
    for good, state in ((3, "ill"), (4, "down")):
        held.go(held.step(20, "/count"))
        held.wire.be(state)  # type: ignore[arg-type]
        held.tell(good=str(good), shots="4", open_cavities="2")
        held.says_kept()
    by_itself = page.get_by_text("It goes by itself as soon as there is a signal.")
    when_open = page.get_by_text("Open this page again where there is a signal")
    until(lambda: by_itself.is_visible() != old and when_open.is_visible() == old, "the words that are true here")
    notice.get_by_text("The server can’t be reached: 2 waiting here.").wait_for()
    held.in_order()
    # Long enough for the waits between tries to grow; nobody touches the phone.
    page.wait_for_timeout(2_500)
    assert len(held.entries()) == 2 and not Count.objects.filter(good__in=[3, 4]).exists()
    back = time.monotonic()
    held.wire.be("up")
    until(lambda: counted(3, 4), "sent in order by the page that stands open", 20)
    took = time.monotonic() - back
    print(f"sent {took:.1f} s after the server was back")
    # The figure to hold is "a few seconds"; twice the time between two questions is given to two busy cores.
    assert took < SOON_S
    until(lambda: not notice.is_visible(), "the notice is gone")


def test_a_browser_without_what_the_keeper_needs_keeps_nothing_and_the_page_says_so(
    browser: Browser, live_server: LiveServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    missing = "Object.defineProperty(Navigator.prototype, 'locks', { value: undefined });"
    with pocket(browser, live_server.url, monkeypatch) as held:
        held.context.add_init_script(missing)
        held.go("/here/")
        held.page.get_by_text("This browser is too old to keep anything without a signal.").wait_for()
        assert held.page.evaluate("navigator.serviceWorker.getRegistrations().then((all) => all.length)") == 0
        held.tell(held.step(20, "/count"), good="5", shots="4", open_cavities="2")
        until(lambda: counted(5), "told as ever")
        assert not held.page.get_by_text("This browser is too old").is_visible(), "it is said on the list alone"
        assert held.faults == []


def test_a_keeper_without_what_it_needs_stands_in_nobodys_way(
    browser: Browser, live_server: LiveServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that was there before, in a browser that is too old for this release."""
    script = keeper_files.keeper_script()
    missing = "Object.defineProperty(WorkerNavigator.prototype, 'locks', { value: undefined });\n"
    monkeypatch.setattr(keeper_files, "keeper_script", lambda: missing + script)
    with pocket(browser, live_server.url, monkeypatch) as held:
        held.go("/here/")
        held.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        held.page.reload()
        held.tell(held.step(20, "/count"), good="6", shots="4", open_cavities="2")
        until(lambda: counted(6), "told as ever")
        assert held.entries() == [] and held.faults == []


def test_news_that_was_taken_although_its_page_could_not_be_drawn_lets_its_form_go(
    held: Pocket, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else the next count would go under the same id, and be refused as the first one with other figures."""
    drawn, ill = AnsweredMiddleware.__call__, [True]

    def not_drawn(self: AnsweredMiddleware, request: HttpRequest) -> HttpResponse:
        if ill and request.path.startswith("/here/told/"):
            ill.append(True)
            return HttpResponse(status=503)
        return drawn(self, request)

    monkeypatch.setattr(AnsweredMiddleware, "__call__", not_drawn)
    held.ready(held.step(20, "/count"))
    held.tell(held.step(20, "/count"), good="3", shots="4", open_cavities="2")
    until(lambda: counted(3), "counted")
    assert len(ill) > 1
    ill.clear()
    held.tell(held.step(20, "/count"), good="4", shots="4", open_cavities="2")
    until(lambda: counted(3, 4), "both counted")
    assert held.entries() == []
