"""The phone itself without a signal: taps, its clock, its storage, its reading of codes, and what it cannot do."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from django.utils import timezone
from playwright.sync_api import Error
from pytest_django.live_server_helper import LiveServer

from tests.browser.pocket import GO, Pocket, pocket, until
from traveller.batches.models import Count
from traveller.rules import codes
from traveller.web import keeper_files

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def held(browser: Browser, live_server: LiveServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[Pocket]:
    with pocket(browser, live_server.url, monkeypatch) as made:
        yield made
    assert made.faults == []


def test_a_label_needs_a_signal_and_says_so(held: Pocket) -> None:
    held.ready()
    held.go(f"/here/label/{held.floor.batch.code}")
    held.wire.be("down")
    held.page.locator(GO).last.click()
    held.page.get_by_role("heading", name="No signal, and this page is not on this phone").wait_for()


def test_a_phone_whose_clock_is_hours_off_is_corrected_and_marked(
    held: Pocket, monkeypatch: pytest.MonkeyPatch
) -> None:
    held.ready()
    held.wire.be("down")
    held.tell(held.step(20, "/count"), good="5", shots="4", open_cavities="2")
    true_now, ahead = timezone.now, timedelta(hours=3)
    # The server is right and three hours ahead of what the phone believes.
    monkeypatch.setattr("django.utils.timezone.now", lambda: true_now() + ahead)
    reported_at = true_now() + ahead
    held.wire.be("up")
    held.go("/here/unsent")
    held.all_sent()
    event = Count.objects.select_related("event").get(good=5).event
    assert abs(event.happened_at - reported_at) < timedelta(seconds=30)
    assert event.device_offset_ms is not None
    assert abs(abs(event.device_offset_ms) - ahead.total_seconds() * 1000) < 30_000


# What changes on the screen after the pointer is pressed down on the great button, in milliseconds of the page's clock.
PRESSED = """() => new Promise((resolve) => {
  const go = [...document.querySelectorAll('.thumb .go')].findLast((one) => one.checkVisibility());
  addEventListener('pointerup', (event) => { window.down = event.timeStamp; }, { capture: true, once: true });
  new MutationObserver((found, watch) => {
    watch.disconnect();
    sessionStorage.setItem('answered', String(performance.now() - window.down));
  }).observe(document.body, { attributes: true, childList: true, subtree: true });
  resolve(Boolean(go));
})"""


def read(page: Page, what: str) -> Any:
    """What the page says, or None while it goes over into the next."""
    try:
        return page.evaluate(what)
    except Error:
        return None


@pytest.mark.parametrize("state", ["up", "down", "silent"])
def test_a_tap_changes_the_page_at_once_whatever_the_network_does(held: Pocket, state: Any) -> None:
    page, found = held.page, []
    held.ready()
    for path in ("/here/t/" + held.floor.batch.code, held.step(30), held.step(20, "/count")):
        held.wire.be("up")
        held.go(path)
        page.wait_for_load_state("networkidle")
        held.wire.be(state)
        assert page.evaluate(PRESSED)
        page.locator(GO).last.tap(no_wait_after=True)
        page.wait_for_timeout(300)
        held.wire.be("up")
        found.append(float(until(lambda: read(page, "sessionStorage.getItem('answered')"), "something changed")))
    print(f"wire {state}: the page changed after {[round(ms, 1) for ms in found]} ms")
    # The figure to hold is 100 ms; two busy cores are given three times that before the test calls it a fault.
    assert max(found) < 300, found


def test_a_browser_that_refuses_storage_works_while_there_is_a_signal(
    browser: Browser, live_server: LiveServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    script = keeper_files.keeper_script()
    refusing = "IDBFactory.prototype.open = () => { throw new Error('refused'); };\n"
    monkeypatch.setattr(keeper_files, "keeper_script", lambda: refusing + script)
    with pocket(browser, live_server.url, monkeypatch) as held:
        held.go("/here/")
        held.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        held.page.reload()
        held.tell(held.step(20, "/count"), good="5", shots="4", open_cavities="2")
        until(lambda: Count.objects.filter(good=5).count() == 1, "told as ever")
        held.go(held.step(20, "/count"))
        held.wire.be("down")
        held.tell(good="6", shots="4", open_cavities="2")
        held.page.get_by_text("this phone keeps nothing").wait_for()
        assert held.faults == []


def test_on_plain_http_the_list_says_that_it_needs_a_signal(held: Pocket) -> None:
    words = held.page.get_by_text("To work without one, open it by https.")
    held.ready()
    assert not words.is_visible()
    held.context.add_init_script("Object.defineProperty(window, 'isSecureContext', { value: false })")
    held.go("/here/")
    words.wait_for()
    held.go(held.step(30))
    assert not words.is_visible()


TYPED = (
    "{code}", "{lower}", "{shown}", " {shown} ", "]C0{code}", "https://trace.example/t/{code}",
    "https://trace.example/t/{code}/30", "HTTPS://TRACE.EXAMPLE/T/{code}/30?x=1", "/t/{lower}/20", "{swapped}",
    "{wrong}", "{code}7", "", "   ", "{alike}", "https://trace.example/x/{code}", "{wide}",
)  # fmt: skip


def test_the_phone_reads_a_code_as_the_server_does(held: Pocket) -> None:
    source = (keeper_files.SCRIPTS / "keeper_codes.js").read_text("utf-8")
    numbers = (0, 1, 42, 31, 32, 987_654_321, 2**30 - 1)
    typed = []
    for code in map(codes.from_number, numbers):
        wrong = next(c for c in codes.ALPHABET if c != code[3])
        forms = {
            "code": code,
            "lower": code.lower(),
            "shown": codes.show_code(code),
            "swapped": code[1] + code[0] + code[2:],
            "wrong": code[:3] + wrong + code[4:],
            "alike": code.replace("0", "O").replace("1", "l").replace("V", "u"),
            "wide": "".join(chr(ord(c) + 0xFEE0) for c in code),
        }
        typed += [one.format(**forms) for one in TYPED]
    found = held.page.evaluate(f"(all) => {{ {source}; return all.map(readCode); }}", typed)
    for text, read in zip(typed, found, strict=True):
        scan = codes.read(text)
        if isinstance(scan, codes.Scan):
            assert read == {"code": scan.code, "step": scan.step}, text
        else:
            assert "code" not in read, text


def test_the_next_to_go_keep_their_order_and_files_go_alone(held: Pocket) -> None:
    source = (keeper_files.SCRIPTS / "keeper_send.js").read_text("utf-8")
    entries = [{"seq": n, "files": [1] if n in (2, 5) else []} for n in range(1, 8)]
    run = (
        "(all) => { const found = []; while (all.length) { const one = nextBatch(all, 2);"
        " found.push(one.map((entry) => entry.seq)); all = all.slice(one.length); } return found; }"
    )
    found = held.page.evaluate(f"(all) => {{ {source}; return ({run})(all); }}", entries)
    assert found == [[1], [2], [3, 4], [5], [6, 7]]
