"""What every page must be in the browser: no wider than the screen, without a fault, and axe finds nothing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from axe_playwright_python.sync_playwright import Axe
from django.test import Client

if TYPE_CHECKING:
    from playwright.sync_api import Browser, ConsoleMessage, Page

PHONE, DESK = 360, 1280
# What sticks out of what it stands in, to be named in the failure; what scrolls within a frame of its own may.
STICKING_OUT = """() => [...document.querySelectorAll('body *')]
    .filter(e => e.checkVisibility() && !e.closest('.table-frame *, .picture-wide *'))
    .filter(e => e.getBoundingClientRect().right > e.parentElement.getBoundingClientRect().right + 1)
    .slice(0, 3).map(e => e.outerHTML.slice(0, 120))"""


@dataclass
class Screen:
    """A page in the browser; `wrong` gathers what was found on all that was looked at."""

    page: Page
    address: str
    width: int
    wrong: list[str] = field(default_factory=list)

    def go(self, path: str) -> int:
        """Open an address and say how it was answered."""
        answer = self.page.goto(self.address + path)
        assert answer is not None
        return answer.status

    def press(self, words: str) -> None:
        self.page.get_by_role("button", name=words).last.click()
        self.page.wait_for_load_state("load")

    def follow(self, words: str) -> None:
        self.page.get_by_role("link", name=words).last.click()
        self.page.wait_for_load_state("load")

    def says(self, words: str) -> None:
        text = " ".join(self.page.locator("main").inner_text().split())
        assert words in text, f"{words!r} is not on {self.page.url}: {text}"

    def look(self, name: str, *, axe: bool = True) -> None:
        """Judge the page that stands open: its width, and unless it was judged at another width, what axe finds."""
        wide = self.page.evaluate("document.documentElement.scrollWidth")
        if wide > self.width:
            self.wrong.append(f"{name}: {wide} wide: {self.page.evaluate(STICKING_OUT)}")
        found = Axe().run(self.page) if axe else None
        if found and found.violations_count:
            self.wrong.append(f"{name}: {found.generate_report()}")

    def all_is_well(self) -> None:
        assert not self.wrong, "\n".join(self.wrong)


@contextmanager
def screen(browser: Browser, address: str, width: int, client: Client | None = None) -> Iterator[Screen]:
    """A browser of one width, with the cookies of a client that came in; faults of scripts count as wrong."""
    small = width == PHONE
    context = browser.new_context(
        viewport={"width": width, "height": 740 if small else 900}, has_touch=small, is_mobile=small
    )
    if client is not None:
        context.add_cookies([{"name": k, "value": row.value, "url": address} for k, row in client.cookies.items()])
    made = Screen(context.new_page(), address, width)

    def hear(message: ConsoleMessage) -> None:
        # Chromium calls every page with a status of 400 and more an error; some of those are what is tested.
        if message.type == "error" and "Failed to load resource" not in message.text:
            made.wrong.append(f"{made.page.url}: {message.text}")

    made.page.on("console", hear)
    made.page.on("pageerror", lambda error: made.wrong.append(f"{made.page.url}: {error}"))
    yield made
    context.close()
