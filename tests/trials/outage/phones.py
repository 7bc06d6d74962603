"""The phones of the trial.

Ten are the keeper's own sender and store (keeper_store.js, keeper_send.js, IndexedDB) in pages of ten Chromium
contexts, without the shop's pages around them: so many whole keepers would draw more than two processors can. Three
are whole phones, which tell by the pages: Chromium, Chromium without what Safari 15.4 lacks, and WebKit.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol, cast
from uuid import UUID, uuid5

from tests.browser.pocket import SMALL, Pocket
from tests.browser.webkit import hand_over, missing, webkit
from tests.browser.webkit_phone import WebkitPhone
from tests.conftest import CHROMIUM, CHROMIUM_FLAGS
from tests.trials.outage.line import Line
from traveller.web.keeper_files import SCRIPTS

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

_SPACE = UUID("6e0c9a52-1f0e-4a6b-9a53-7d2f5b8c4e10")
# Enough that no page asks how so many pieces came of so few.
SHOTS = "2000"
# A page that stands open: it taps, asks as often as unsent.js does, and notes when nothing was left.
AROUND = """
  const changed = async () => {}, refresh = async () => {};
  let wanted = false;
  self.phone = {
    emptyAt: 0, faults: [],
    async tap(entries) {
      for (const entry of entries) {
        await addEntry({ ...entry, at: Date.now(), files: [], about: {}, state: "waiting" });
        wanted = true;
        send(false);
      }
    },
    entries: async () => (await allEntries()).map(({ id, state, words }) => ({ id, state, words })),
  };
  setInterval(() => send(false).catch((error) => self.phone.faults.push(String(error))), 4000);
  setInterval(async () => {
    if (wanted && !(await waiting()).length) { wanted = false; self.phone.emptyAt = Date.now(); }
  }, 100);
"""


class Phone(Protocol):
    """What the trial asks of each of them."""

    name: str
    person: str
    goods: list[int]

    def tap(self, goods: Sequence[int]) -> None:
        """Tell these counts."""

    def left(self) -> int:
        """How many wait."""

    def empty_at(self) -> float:
        """When the last of them was gone, by this machine's clock; only after `left` said none."""

    def refused(self) -> list[Any]:
        """What the server would not take, which should be nothing."""


@dataclass
class SenderAlone:
    """The sender and the store in a page of their own."""

    name: str
    person: str
    page: Page
    site: int
    path: str
    goods: list[int] = field(default_factory=list)

    def start(self, address: str) -> None:
        source = "\n".join((SCRIPTS / name).read_text("utf-8") for name in ("keeper_store.js", "keeper_send.js"))
        self.page.goto(f"{address}/pass")
        self.page.evaluate(f"() => {{ {source}\n{AROUND} }}")

    def tap(self, goods: Sequence[int]) -> None:
        entries = []
        for good in goods:
            fields = [["stage", "rest"], ["good", str(good)], ["shots", "1"]]
            one = str(uuid5(_SPACE, f"{self.name} {good}"))
            entries.append({"id": one, "site": self.site, "person": self.person, "path": self.path, "fields": fields})
        self.goods += goods
        self.page.evaluate("(entries) => self.phone.tap(entries)", entries)

    def left(self) -> int:
        return len([one for one in self._entries() if one["state"] == "waiting"])

    def empty_at(self) -> float:
        return float(self.page.evaluate("self.phone.emptyAt")) / 1000

    def refused(self) -> list[Any]:
        return [one for one in self._entries() if one["state"] != "waiting"]

    def _entries(self) -> list[Any]:
        found: list[Any] = self.page.evaluate("self.phone.entries()")
        return found


@dataclass
class WholePhone:
    """A phone with its keeper and its pages, in one of the two engines; it keeps to the order of its taps."""

    name: str
    person: str
    held: Pocket | WebkitPhone
    path: str
    goods: list[int] = field(default_factory=list)
    _empty_at: float = 0.0

    def tap(self, goods: Sequence[int]) -> None:
        for good in goods:
            self.held.tell(self.path, good=str(good), shots=SHOTS, open_cavities="2")
            self.goods.append(good)

    def left(self) -> int:
        left: int = len([one for one in self.held.entries() if one["state"] == "waiting"])
        self._empty_at = time.time()
        return left

    def empty_at(self) -> float:
        return self._empty_at

    def refused(self) -> list[Any]:
        return [one for one in self.held.entries() if one["state"] != "waiting"]


@contextmanager
def chromium() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(CHROMIUM_FLAGS))
        yield browser
        browser.close()


def _context(browser: Browser, address: str, cookies: Mapping[str, str]) -> Any:
    context = browser.new_context(viewport=SMALL, has_touch=True, is_mobile=True)  # type: ignore[arg-type]
    kept = [{"name": name, "value": value, "url": address} for name, value in cookies.items()]
    context.add_cookies(kept)  # type: ignore[arg-type]
    return context


def whole_in_chromium(name: str, person: str, browser: Browser, line: Line, made: Mapping[str, Any]) -> WholePhone:
    """A whole phone in Chromium; where the line puts lines before the keeper, its pages lack the same."""
    context = _context(browser, line.address, made["cookies"])
    if line.keeper_head:
        context.add_init_script(line.keeper_head)
    held = Pocket(context.new_page(), context, cast(Any, None), cast(Any, line))
    held.ready(made["path"])
    return WholePhone(name, person, held, made["path"])


@contextmanager
def phones(lines: Sequence[Line], made: Mapping[str, Any], senders: int, *, whole: bool) -> Iterator[list[Phone]]:
    """All phones, ready to be tapped: `lines` are one for most, and one for the browser that lacks something."""
    with ExitStack() as stack:
        browser = stack.enter_context(chromium())
        found: list[Phone] = []
        for number, cookies in enumerate(made["cookies"][:senders]):
            page = _context(browser, lines[0].address, cookies).new_page()
            alone = SenderAlone(f"sender {number}", f"P{number}", page, made["site"], made["path"])
            alone.start(lines[0].address)
            found.append(alone)
        if whole:
            for number, (name, line) in enumerate(zip(("Chromium", "Chromium as Safari 15.4"), lines, strict=True)):
                own = {**made, "cookies": made["cookies"][senders + number]}
                found.append(whole_in_chromium(name, f"P{senders + number}", browser, line, own))
            if not missing():
                driver = stack.enter_context(webkit())
                hand_over(driver, lines[0].address, made["cookies"][senders + 2])
                held = WebkitPhone(driver, lines[0].address)
                held.ready(made["path"])
                found.append(WholePhone("WebKit", f"P{senders + 2}", held, made["path"]))
        yield found
