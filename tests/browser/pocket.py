"""A phone in somebody's pocket for the tests without a signal: a shop's floor, a wire that can be cut, a browser."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from django.utils import timezone

from tests.browser.wire import Wire, wire_to
from tests.web.operator.floor import Floor, make_floor

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

SMALL = {"width": 360, "height": 640}
WITHIN_S = 20.0
# What the keeper has on this phone, read without making a store of its own where there is none yet.
STORE = """async (name) => {
  if (!(await indexedDB.databases()).some((one) => one.name === "traveller")) return [];
  const answer = (request) => new Promise((resolve) => { request.onsuccess = () => resolve(request.result); });
  const database = await answer(indexedDB.open("traveller"));
  const store = database.transaction(name).objectStore(name);
  const found = name === "entries" ? await answer(store.getAll()) : await answer(store.getAllKeys());
  database.close();
  const shown = ({ id, seq, at, path, state, code = "", words = "" }) => ({ id, seq, at, path, state, code, words });
  return name === "entries" ? found.map(shown) : found;
}"""
COPY = """async (path) => {
  const answer = (request) => new Promise((resolve) => { request.onsuccess = () => resolve(request.result); });
  const database = await answer(indexedDB.open("traveller"));
  const found = await answer(database.transaction("pages").objectStore("pages").get(path));
  database.close();
  return found?.html;
}"""
GO = ".thumb .go:visible"


def until(what: Callable[[], Any], why: str, within_s: float = WITHIN_S) -> Any:
    """The first true answer; a failure that says what was waited for."""
    end = time.monotonic() + within_s
    while time.monotonic() < end:
        found = what()
        if found:
            return found
        time.sleep(0.05)
    raise AssertionError(f"{why}: not within {within_s} s")


@dataclass
class Pocket:
    """The phone at the moulder's, and what its browser complained of."""

    page: Page
    context: BrowserContext
    floor: Floor
    wire: Wire
    faults: list[str] = field(default_factory=list)

    def go(self, path: str) -> None:
        self.page.goto(self.wire.address + path)

    def step(self, number: int, tail: str = "") -> str:
        """The address of a step of the floor's batch, and of what stands below it."""
        return f"/here/step/{self.floor.step(number).pk}{tail}"

    def store(self, name: str) -> list[Any]:
        found: list[Any] = self.page.evaluate(STORE, name)
        return found

    def entries(self) -> list[Any]:
        return self.store("entries")

    def kept(self, path: str) -> str:
        """The kept copy of a page; nothing where there is none."""
        found = self.page.evaluate(COPY, path)
        return str(found or "")

    def ready(self, *paths: str) -> None:
        """Open the list and wait until the pages of the open tasks are kept."""
        self.go("/here/")
        self.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        wanted = {"/here/", "/here/unsent", *paths}
        until(lambda: wanted <= set(self.store("pages")), f"kept pages {sorted(wanted)}")
        until(lambda: self.page.evaluate("Boolean(navigator.serviceWorker.controller)"), "the keeper took over")

    def tell(self, path: str | None = None, **fields: str) -> None:
        """Fill in a form and go through its questions to the end: the page that follows."""
        page = self.page
        if path:
            self.go(path)
        for name, value in fields.items():
            page.evaluate(
                "([name, value]) => { const el = document.querySelector(`main [name='${name}']`);"
                " el.value = value; el.dispatchEvent(new Event('input', { bubbles: true })); }",
                [name.replace("__", ":"), value],
            )
        form = page.url
        for _question in range(12):
            page.locator(GO).last.click()
            page.wait_for_timeout(250)
            if page.url != form or page.locator("form[data-sent]").count() or not page.locator(GO).count():
                break
        page.wait_for_load_state("load")

    def says_kept(self) -> None:
        self.page.get_by_role("heading", name="Kept on this phone, not sent yet").wait_for()

    def in_order(self) -> None:
        """Nothing wider than the screen, the great button in reach, and axe finds nothing."""
        page = self.page
        assert page.evaluate("document.documentElement.scrollWidth") <= SMALL["width"]
        box = page.locator(GO).last.bounding_box()
        assert box is not None and box["y"] + box["height"] <= SMALL["height"] and box["height"] >= 48
        axe = Axe().run(page)
        assert not axe.violations_count, axe.generate_report()

    def number(self, words: str) -> None:
        """What the header says of what is not sent."""
        self.page.locator("[data-unsent]", has_text=words).wait_for()

    def all_sent(self) -> None:
        until(lambda: not [e for e in self.entries() if e["state"] == "waiting"], "everything sent")


@contextmanager
def pocket(browser: Browser, url: str, monkeypatch: pytest.MonkeyPatch, moulded: int = 48) -> Iterator[Pocket]:
    """Resin dried and globes moulded some hours ago by the server's clock; from now on the clock is the real one."""
    floor = make_floor()
    floor.clock.now = timezone.now() - timedelta(hours=6)
    with monkeypatch.context() as then:
        then.setattr("django.utils.timezone.now", floor.clock)
        floor.moulded(moulded)
    with wire_to(url) as wire:
        context = browser.new_context(viewport=SMALL, has_touch=True, is_mobile=True)  # type: ignore[arg-type]
        hand_over(context, wire, floor.phone)
        made = Pocket(context.new_page(), context, floor, wire)
        made.page.on("pageerror", lambda error: made.faults.append(str(error)))
        yield made
        context.close()


def hand_over(context: BrowserContext, wire: Wire, client: Client) -> None:
    """Give the browser what the door left on a phone."""
    cookies = [{"name": name, "value": row.value, "url": wire.address} for name, row in client.cookies.items()]
    context.add_cookies(cookies)  # type: ignore[arg-type]
