"""A phone in WebKit: what a person does on a shop's pages, and what its keeper has."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tests.browser.pocket import STORE, until
from tests.browser.webkit import ask

if TYPE_CHECKING:
    from selenium.webdriver.webkitgtk.webdriver import WebDriver


@dataclass
class WebkitPhone:
    """A browser that the door left a pass on, and the address that its pages come from."""

    driver: WebDriver
    address: str

    def go(self, path: str) -> None:
        self.driver.get(self.address + path)

    def ask(self, script: str, *reported: Any) -> Any:
        found = ask(self.driver, script, *reported)
        assert len(found) == 1, found
        return found[0]

    def entries(self) -> list[Any]:
        found: list[Any] = self.ask(f"await ({STORE})(a)", "entries")
        return found

    def ready(self, *paths: str) -> None:
        self.go("/here/")
        wanted = {"/here/", "/here/unsent", *paths}
        until(lambda: wanted <= set(self.ask(f"await ({STORE})(a)", "pages")), f"kept pages {sorted(wanted)}")
        until(lambda: self.ask("Boolean(navigator.serviceWorker.controller)"), "the keeper took over")

    def shows(self, words: str) -> bool:
        return words in str(self.ask("document.body.innerText"))

    def said(self, words: str) -> None:
        until(lambda: self.shows(words), f"the page says {words!r}")

    def tell(self, path: str, **fields: str) -> None:
        """Fill in a form and go through its questions to the end: the page that follows."""
        self.go(path)
        for name, value in fields.items():
            self.ask(
                "(() => { const el = document.querySelector(`main [name='${a}']`); el.value = b;"
                " el.dispatchEvent(new Event('input', { bubbles: true })); })()",
                name,
                value,
            )
        form = self.driver.current_url
        for _question in range(12):
            self.ask("[...document.querySelectorAll('.thumb .go')].filter((el) => el.offsetParent).pop()?.click()")
            time.sleep(0.3)
            if self.driver.current_url != form:
                break
