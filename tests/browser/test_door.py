"""At the door in a real browser: keys open it, and no request to anybody carries the address in which one stood."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from pytest_django.live_server_helper import LiveServer

from tests import cast, factory
from traveller.web.door_views import sign_in_link

if TYPE_CHECKING:
    from playwright.sync_api import Page, Request

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Watched:
    """A page whose requests and complaints are written down."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.sent: list[dict[str, str]] = []
        self.complaints: list[str] = []
        page.on("request", self.note)
        page.on("console", lambda message: self.complaints.append(message.text) if message.type != "log" else None)

    def note(self, request: Request) -> None:
        self.sent.append({"url": request.url, **request.all_headers()})

    def passed_on(self, key: str) -> list[str]:
        """Requests that name an address with this key as the one they come from."""
        return [each["url"] for each in self.sent if key in each.get("referer", "")]


def test_a_pass_opens_from_its_link_and_its_address_is_passed_on_to_nobody(
    phone: Page, live_server: LiveServer
) -> None:
    token = cast.make_pass(factory.make_site("moulder", name="Kolm Moulding"))[1]
    watched = Watched(phone)
    phone.goto(f"{live_server.url}/pass/{token}")
    phone.get_by_role("button", name="Use this phone here").click()
    phone.wait_for_url(re.compile(r"/(here|person)"))
    posted = [each for each in watched.sent if each["url"].endswith(token) and "origin" in each]
    assert [each["origin"] for each in posted] == [live_server.url], "the form says from which server it comes"
    assert len(watched.sent) > 5 and watched.passed_on(token) == []
    assert watched.complaints == []


def test_the_language_is_chosen_from_the_link_of_a_pass_and_leads_back_to_it(
    phone: Page, live_server: LiveServer
) -> None:
    token = cast.make_pass(factory.make_site("moulder"))[1]
    watched = Watched(phone)
    phone.goto(f"{live_server.url}/pass/{token}")
    phone.locator(".foot button").click()
    phone.get_by_role("button", name="Español").click()
    phone.wait_for_url(f"**/pass/{token}")
    assert phone.locator("html").get_attribute("lang") == "es"
    assert watched.passed_on(token) == [] and watched.complaints == []


def test_a_sign_in_link_signs_in_and_is_passed_on_to_nobody(desk: Page, live_server: LiveServer) -> None:
    link = sign_in_link(cast.make_founder())
    watched = Watched(desk)
    desk.goto(f"{live_server.url}{link}")
    desk.locator("main button").click()
    desk.wait_for_url(f"{live_server.url}/")
    assert watched.passed_on(link.rsplit("/", 1)[-1]) == [] and watched.complaints == []


def test_a_name_and_a_password_sign_in(desk: Page, live_server: LiveServer) -> None:
    cast.make_founder()
    watched = Watched(desk)
    desk.goto(f"{live_server.url}/sign-in?next=/holds")
    desk.get_by_label("Name").fill(cast.FOUNDER)
    desk.get_by_label("Password").fill(cast.PASSWORD)
    desk.locator("main button").click()
    desk.wait_for_url("**/holds")
    assert watched.complaints == []
