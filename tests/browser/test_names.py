"""The shop's main way in the browser for people whose names are not Latin: with a signal, and while nobody answers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest
from django.test import Client
from pytest_django.live_server_helper import LiveServer

from sites.models import Person
from tests.browser.looking import PHONE, screen
from tests.browser.pocket import GO, Pocket, pocket, until
from traveller.journal.models import Event
from traveller.web.readable_cookies import MADE_READABLE

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
MARKED: Any = {MADE_READABLE: True}
# As long as the field takes: a browser counts a lantern as two.
LONG = "🏮" * 39 + "Bé"


@pytest.fixture
def held(browser: Browser, live_server: LiveServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[Pocket]:
    with pocket(browser, live_server.url, monkeypatch) as made:
        yield made
    assert made.faults == []


def is_called(held: Pocket, name: str) -> None:
    """Tap the present name and type another."""
    page = held.page
    page.locator("a.person").click()
    page.locator("[name=new_name]").fill(name)
    page.locator("form:has([name=new_name]) button").click()
    page.locator("a.person", has_text=name).wait_for()


def reported_by() -> list[tuple[str, str]]:
    rows = Event.objects.filter(kind__in=("load started", "load ended", "counted"), on_behalf=False)
    return list(rows.order_by("id").values_list("kind", "person"))


@pytest.mark.long
@pytest.mark.parametrize(("name", "other"), [("张伟", "O'Brien"), ("محمد", LONG)])
def test_the_shops_main_way_by_somebody_whose_name_is_not_latin(held: Pocket, name: str, other: str) -> None:
    page, before = held.page, len(reported_by())
    held.ready(held.step(30, "/out"))
    is_called(held, name)
    held.ready(held.step(30, "/out"))
    held.tell(held.step(30, "/load"), quantity="24")
    until(lambda: reported_by()[before:] == [("load started", name)], "told with a signal")
    cookies = held.context.cookies()
    assert {cookie["name"] for cookie in cookies} >= {"site_pass", "person"}
    assert all(cookie["value"].isascii() for cookie in cookies)
    # Silent: the server takes what is sent and never answers.
    held.go("/here/")
    held.wire.be("silent")
    held.tell(held.step(30, "/load"), quantity="12")
    held.says_kept()
    held.go("/here/")
    page.locator("a.person", has_text=name).wait_for()
    assert page.locator("body").get_attribute("data-person") == name
    is_called(held, other)
    held.tell(held.step(30, "/load"), quantity="6")
    held.says_kept()
    held.wire.be("up")
    page.locator(GO).last.click()
    held.all_sent()
    until(lambda: len(reported_by()) == before + 3, "all of it arrived")
    assert reported_by()[before:] == [("load started", name), ("load started", name), ("load started", other)]
    # Tapped once more with a signal, the server knows the name too.
    held.go("/here/")
    if "/person" not in page.url:
        page.locator("a.person").click()
    page.locator("[name=new_name]").fill(other)
    page.locator("form:has([name=new_name]) button").click()
    until(lambda: Person.objects.filter(site=held.floor.moulder, name=other).exists(), "the site knows the name")
    held.go("/here/")
    page.locator("a.person", has_text=other).wait_for()


def test_a_script_deletes_the_cookie_that_hides_all_others_and_asks_once_more(
    browser: Browser, live_server: LiveServer
) -> None:
    body = Client().get("/here/?cookies=again", **MARKED).content.decode()
    with screen(browser, live_server.url, PHONE) as seen:
        seen.go("/sign-in")
        seen.page.evaluate("document.cookie = 'thème=noël; path=/'; document.cookie = 'mine=1; path=/'")
        seen.page.route("**/here/?cookies=again", lambda route: route.fulfill(body=body, content_type="text/html"))
        seen.go("/here/?cookies=again")
        seen.page.wait_for_url("**/here/")
        assert seen.page.evaluate("document.cookie") == "mine=1"
        seen.all_is_well()
