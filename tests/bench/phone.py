"""What a shop's phone takes over the wire: the first load with all that is kept for no signal, and a later one.

A real browser, the production server, a wire between them that counts every byte that comes to the phone, headers
included: the page, its files, the keeper, the pages and pictures that it keeps.
"""

from __future__ import annotations

import hashlib
import shutil
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from tests import factory
from tests.bench.figures import Figure, Size
from tests.bench.server import cookies_of, serving
from tests.browser.wire import Wire, wire_to
from tests.conftest import CHROMIUM_FLAGS
from tests.globe import COOLING, TESTING, Globe, make_globe
from traveller.products.models import Part

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

FIRST_KB_MAX, REPEAT_KB_MAX = 100, 15
BATCHES: dict[Size, int] = {"tiny": 8, "quick": 16, "full": 16}
PICTURE = Path(__file__).parents[2] / "fixtures" / "demo" / "pictures" / "globe-amber.png"
# Longer than the keeper waits before it asks again, so that a later load pays for that, too.
LATER_S, QUIET_S, WITHIN_S = 11.0, 1.5, 30.0
KEPT = """async () => {
  if (!(await indexedDB.databases()).some((one) => one.name === "traveller")) return 0;
  const answer = (request) => new Promise((resolve) => { request.onsuccess = () => resolve(request.result); });
  const database = await answer(indexedDB.open("traveller"));
  const count = await answer(database.transaction("pages").objectStore("pages").count());
  database.close();
  return count;
}"""


def measure(size: Size) -> list[Figure]:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        raise RuntimeError("Chromium is missing (on Debian: apt install chromium)")
    globe = _busy(BATCHES[size])
    step = globe.step(30).pk
    cookies = cookies_of(globe.moulder)
    from playwright.sync_api import sync_playwright

    with serving() as port, wire_to(f"http://127.0.0.1:{port}") as wire, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=list(CHROMIUM_FLAGS))
        context = browser.new_context(viewport={"width": 360, "height": 640}, has_touch=True, is_mobile=True)
        context.add_cookies([{"name": k, "value": v, "url": wire.address} for k, v in cookies.items()])
        figures = _loads(context, wire, step)
        browser.close()
    return figures


def _busy(batches: int) -> Globe:
    """A moulder with pictures and as many batches under way."""
    globe = make_globe(checks={30: (COOLING,), 40: (TESTING,)}, start=500)
    picture = PICTURE.read_bytes()
    Part.objects.filter(pk=globe.part.pk).update(
        picture=picture, picture_type="image/png", picture_digest=hashlib.sha256(picture).hexdigest()
    )
    for number in range(1, batches):
        factory.make_batch(globe.part, wanted=500, start=500, name=f"busy {number}")
    globe.report(20, 400, shots=200)
    return globe


def _loads(context: BrowserContext, wire: Wire, step: int) -> list[Figure]:
    page = context.new_page()
    first = _spent(wire, lambda: _first(page, wire.address))
    kept = int(page.evaluate(KEPT))
    time.sleep(LATER_S)
    again = {
        path: _spent(wire, lambda path=path: _again(page, wire.address + path))  # type: ignore[misc]
        for path in ("/here/", f"/here/step/{step}", f"/here/step/{step}/count")
    }
    notes = ", ".join(f"{path} {kb:.1f} kB" for path, kb in again.items())
    return [
        Figure(
            "operator's list, first load with all that is kept", first, "at most", FIRST_KB_MAX, "kB",
            f"{kept} pages kept for no signal",
        ),
        Figure("operator's page, a later load", max(again.values()), "at most", REPEAT_KB_MAX, "kB", notes),
    ]  # fmt: skip


def _spent(wire: Wire, do: Callable[[], None]) -> float:
    """Kilobytes that came to the phone until the wire was quiet."""
    before = wire.to_browser
    do()
    end = time.monotonic() + WITHIN_S
    seen, since = wire.to_browser, time.monotonic()
    while time.monotonic() < end and time.monotonic() - since < QUIET_S:
        time.sleep(0.1)
        if wire.to_browser != seen:
            seen, since = wire.to_browser, time.monotonic()
    return (wire.to_browser - before) / 1000


def _first(page: Page, address: str) -> None:
    page.goto(f"{address}/here/")
    end = time.monotonic() + WITHIN_S
    while not page.evaluate(KEPT):
        if time.monotonic() > end:
            raise RuntimeError("nothing was kept on the phone")
        time.sleep(0.1)


def _again(page: Page, url: str) -> None:
    page.goto(url)
    page.wait_for_load_state("networkidle")
