"""A phone in the operator's hand: the real browser at 360 x 640, and what it complained of."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from tests.web.operator.floor import Floor

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

SMALL = {"width": 360, "height": 640}


@dataclass
class Phone:
    """A phone at the moulder's, how often it was tapped, and what its browser complained of."""

    page: Page
    floor: Floor
    address: str
    faults: list[str]
    taps: list[str] = field(default_factory=list)

    def go(self, path: str) -> None:
        self.page.goto(self.address + path)

    def next(self) -> None:
        """Tap the great button."""
        great = self.page.locator(".thumb .go").last
        self.taps.append(great.inner_text())
        great.click()

    def tap(self, words: str) -> None:
        """Tap a button, a link or a plate by its words, whole."""
        self.taps.append(words)
        self.page.get_by_text(words, exact=True).locator("visible=true").last.click()

    def type(self, digits: str) -> None:
        """Type on the pad that is shown: digits are not counted as taps."""
        for digit in digits:
            self.page.locator(".pad:visible").get_by_role("button", name=digit, exact=True).click()


def phone_of(browser: Browser, address: str, floor: Floor) -> Phone:
    """A phone with the floor's pass, in a browser context of its own."""
    # The keeper has tests of its own: here every request is the page's.
    context = browser.new_context(
        viewport=SMALL,  # type: ignore[arg-type]
        has_touch=True,
        is_mobile=True,
        service_workers="block",
        locale="en-GB",
    )
    cookies = [{"name": name, "value": row.value, "url": address} for name, row in floor.phone.cookies.items()]
    context.add_cookies(cookies)  # type: ignore[arg-type]
    page, faults = context.new_page(), list[str]()

    def hear(message: Any) -> None:
        # Chromium calls every page with a status of 400 and more an error; those pages are what is tested.
        if message.type == "error" and "Failed to load resource" not in message.text:
            faults.append(message.text)

    page.on("console", hear)
    page.on("pageerror", lambda error: faults.append(str(error)))
    return Phone(page, floor, address, faults)
