"""The look in the real browser, under the real policy, on plain http with a host name (so without randomUUID)."""

from __future__ import annotations

import mimetypes
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.template.loader import render_to_string
from django.test import RequestFactory, override_settings
from playwright.sync_api import expect

from tests.web import gallery

if TYPE_CHECKING:
    from playwright.sync_api import Browser, ConsoleMessage, Page, Route

STATIC = Path(__file__).parents[2] / "traveller" / "web" / "static"
POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'"
HOST = "http://look.test"
FAULTS: dict[Page, list[str]] = {}
Opener = Callable[[str, int, int], "Page"]


def page_at(path: str) -> str:
    """Return a gallery page by its address."""
    with override_settings(ROOT_URLCONF="tests.web.gallery_urls", TEMPLATES=gallery.templates()):
        if path == "/founder":
            return gallery.founder_page()
        if path.startswith("/done/"):
            return render_to_string(
                "web/phone.html", {"confirmed": path.removeprefix("/done/")}, request=RequestFactory().get("/")
            )
        return gallery.phone_page()


@pytest.fixture
def opened(browser: Browser) -> Opener:
    """Open a gallery page at a size; any refusal by the policy or fault of a script fails the test."""

    def answer(route: Route) -> None:
        path = route.request.url.removeprefix(HOST)
        file = STATIC / path.removeprefix("/static/")
        if path.startswith("/static/") and file.is_file():
            kind = mimetypes.guess_type(file.name)[0] or "text/plain"
            route.fulfill(body=file.read_bytes(), content_type=kind)
        else:
            route.fulfill(body=page_at(path), content_type="text/html", headers={"Content-Security-Policy": POLICY})

    def go(path: str, width: int, height: int) -> Page:
        page = browser.new_page(viewport={"width": width, "height": height})
        reported = FAULTS[page] = []

        def hear_error(error: object) -> None:
            reported.append(str(error))

        def hear_word(message: ConsoleMessage) -> None:
            if message.type == "error":
                reported.append(message.text)

        page.on("pageerror", hear_error)
        page.on("console", hear_word)
        page.route("**/*", answer)
        page.goto(HOST + path)
        return page

    return go


def faults(page: Page) -> list[str]:
    """Return what the browser complained of."""
    return FAULTS[page]


@pytest.mark.parametrize("width", [360, 1280])
def test_the_founders_page_never_scrolls_sideways_and_axe_finds_nothing(opened: Opener, width: int) -> None:
    page = opened("/founder", width, 900)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert faults(page) == []
    page.close()


def test_the_operators_page_shows_all_at_360_by_640_with_targets_of_48(opened: Opener) -> None:
    page = opened("/count", 360, 640)
    assert page.evaluate("document.documentElement.scrollHeight") <= 640
    sizes = page.evaluate(
        "[...document.querySelectorAll('button, .where a')].filter(e => e.checkVisibility())"
        ".map(e => e.getBoundingClientRect().height)"
    )
    assert len(sizes) == 15 and min(sizes) >= 48
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert faults(page) == []
    page.close()


def test_the_pad_types_and_the_great_button_says_what_comes_next(opened: Opener) -> None:
    page = opened("/count", 360, 640)
    go = page.locator(".go")
    expect(go).to_have_text("Next: 1 missing, why?")
    page.get_by_role("button", name="2", exact=True).click()  # the first key replaces what was proposed
    page.get_by_role("button", name="5", exact=True).click()
    expect(page.locator("#good")).to_have_value("25")
    expect(go).to_have_text("1 more than arrived: really?")
    page.get_by_role("button", name="all 24").click()
    expect(page.locator("#good")).to_have_value("24")
    expect(go).to_have_text("All 24 good: done")
    page.get_by_role("button", name="Rub out the last figure").click()
    assert page.locator("#good").input_value() == "2"
    page.close()


def test_what_was_typed_and_its_id_stay_until_the_server_confirms_that_id(opened: Opener) -> None:
    page = opened("/count", 360, 640)
    assert page.evaluate("typeof crypto.randomUUID") == "undefined"
    page.locator("#good").fill("19")
    first = page.locator("[name=news_id]").input_value()
    assert re.fullmatch(r"[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", first)
    page.goto(HOST + "/count")
    assert page.locator("#good").input_value() == "19" and page.locator("[name=news_id]").input_value() == first
    page.goto(f"{HOST}/done/other")
    page.goto(HOST + "/count")
    assert page.locator("#good").input_value() == "19"
    page.goto(f"{HOST}/done/{first}")
    page.goto(HOST + "/count")
    assert page.locator("#good").input_value() == "23" and page.locator("[name=news_id]").input_value() != first
    page.close()


def test_a_second_press_sends_nothing(opened: Opener) -> None:
    page = opened("/count", 360, 640)
    sent = page.evaluate(
        "() => { const form = document.querySelector('form'); let n = 0;"
        "form.addEventListener('submit', e => { if (!e.defaultPrevented) n += 1; e.preventDefault(); });"
        "form.requestSubmit(); form.requestSubmit(); return n; }"
    )
    assert sent == 1
    page.close()


def test_a_timer_past_its_time_says_so(opened: Opener) -> None:
    page = opened("/count", 360, 640)
    assert re.fullmatch(r"15:4\d", page.locator(".timer-clock").inner_text())
    assert page.locator(".timer").get_attribute("data-state") == "reached"
    assert "Time is up" in page.locator(".timer-reached").inner_text()
    page.close()


def test_a_wedge_scanner_types_into_the_field_although_nothing_has_the_focus(opened: Opener) -> None:
    page = opened("/founder", 1280, 900)
    page.keyboard.type("2HV-0TB-R")
    assert page.locator("[data-scan]").input_value() == "2HV-0TB-R"
    page.close()
