"""The operator's pages in the real browser at phone size: scan, yes, all good, next, recorded; all within reach."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests import cast, factory
from tests.browser.every_page import every_page
from tests.browser.handheld import SMALL, Phone
from tests.web.operator.floor import moved
from traveller.batches.models import Batch, Count, Load

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Request

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# What the thumb must reach: the great button, both answers of a question, both of "is this it?".
REACH = ".thumb .go, .answers button, .scan-way .go"


def test_scan_yes_all_good_next_recorded(held: Phone) -> None:
    page, floor = held.page, held.floor
    floor.moulded(48)
    held.go("/here/")
    page.keyboard.type(floor.batch.code)  # a wedge types where the focus is nowhere
    page.keyboard.press("Enter")
    page.get_by_text("Is this it?").wait_for()
    assert page.get_by_text("amber", exact=True).is_visible()
    held.next()
    held.next()  # Load in
    page.get_by_role("button", name="all 24").click()
    expect(page.locator(".go")).to_have_text("In: all 24")
    held.next()
    page.locator(".timer-clock").wait_for()
    floor.clock.go(minutes=9)
    page.reload()
    assert page.locator(".timer-clock").inner_text().startswith("09:0")
    held.next()  # Load 1 out
    held.next()  # Out now: too early
    assert "15:00 are needed" in page.locator(".question").inner_text()
    page.get_by_role("button", name="It is out already").click()
    assert page.get_by_text("Set these 24 apart now").is_visible()
    held.next()  # Next: count these 24
    page.get_by_role("button", name="all 24").click()
    expect(page.locator(".go")).to_have_text("All 24 good: record")
    held.next()
    assert page.get_by_text("Recorded · 24 good").is_visible()
    child = Batch.objects.get(parent=floor.batch)
    assert floor.step(30, child).good + floor.step(30).good == 24 and held.faults == []


def test_the_pad_types_the_rest_shares_out_and_a_double_click_sends_once(held: Phone) -> None:
    page, floor = held.page, held.floor
    floor.moulded(48)
    held.go(floor.path(30, "count"))
    for key in "41":
        page.get_by_role("button", name=key, exact=True).click()
    expect(page.locator(".go")).to_have_text("Next: 7 missing, why?")
    page.get_by_role("button", name="Rub out the last figure").click()
    page.get_by_role("button", name="0", exact=True).click()
    expect(page.locator(".go")).to_have_text("Next: 8 missing, why?")
    held.next()
    balance = page.locator("[data-balance]")
    expect(balance).to_have_text("8 stay here, to be counted later.")
    expect(page.locator(".go")).to_have_text("Record: 8 stay here")
    plate = page.locator(".plate", has_text="short")
    plate.click()  # takes all that is left; the pad then says how many
    expect(page.get_by_label("Scrap: short")).to_have_value("8")
    page.get_by_role("button", name="3", exact=True).click()
    expect(balance).to_have_text("5 stay here, to be counted later.")
    page.locator(".plate", has_text="dirty").click()
    expect(page.get_by_label("Scrap: dirty")).to_have_value("5")
    expect(balance).to_have_text("Even: all are told of.")
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.method) if request.method == "POST" else None)
    page.locator(".go").dblclick()
    page.get_by_text("Recorded · 40 good, 8 scrap").wait_for()
    assert sent == ["POST"] and Count.objects.filter(step=floor.step(30)).count() == 1
    assert held.faults == []


def test_a_second_load_is_news_of_its_own_though_the_phone_kept_the_first(held: Phone) -> None:
    page, floor = held.page, held.floor
    floor.moulded(48)
    for number in (1, 2):
        held.go(floor.path(30, "load"))
        assert page.locator("#id_quantity").input_value() == ""
        page.get_by_role("button", name="all 24").click()
        held.next()
        page.get_by_text("Recorded.").wait_for()
        assert Load.objects.filter(step=floor.step(30)).count() == number


def test_going_back_and_counting_again_is_news_of_its_own(held: Phone) -> None:
    page, floor = held.page, held.floor
    floor.moulded(48)
    held.go(floor.path(30, "count"))
    first = page.locator("[name=news_id]").input_value()
    page.locator("#id_good").fill("20")
    held.next()
    page.get_by_text("20 good. And the other 28?").wait_for()
    held.next()
    page.get_by_text("Recorded · 20 good").wait_for()
    page.go_back()
    page.go_back()
    assert page.locator("#id_good").input_value() == "" and page.locator("[name=news_id]").input_value() != first
    page.locator("#id_good").fill("28")
    held.next()
    page.get_by_text("Recorded · 28 good").wait_for()
    assert floor.step(30).good == 48


def test_the_enter_of_a_wedge_leads_on_from_a_lots_field_and_sends_nothing(held: Phone) -> None:
    page, floor = held.page, held.floor
    factory.make_stock(floor.resin, floor.moulder, 50_000, name="another lot")
    held.go(floor.path(20, "count"))
    page.locator("#id_good").fill("10")
    held.next()
    page.locator("#id_shots").fill("5")
    held.next()
    field = page.get_by_label("Lot used: Polycarbonate resin, amber")
    field.focus()
    page.keyboard.type(floor.resin_lot.code)
    page.keyboard.press("Enter")
    assert field.input_value() == floor.resin_lot.code and Count.objects.count() == 0
    held.next()
    page.get_by_text("Recorded · 10 good").wait_for()
    assert held.faults == []


@pytest.fixture
def many(held: Phone) -> dict[str, str]:
    return every_page(held.floor)


def reach_and_axe(page: Page, name: str) -> list[str]:
    """What is wrong with the page that stands open: nothing out of reach, nothing wider, nothing that axe finds."""
    found = []
    boxes = page.evaluate(
        "query => [...document.querySelectorAll(query)].filter(e => e.checkVisibility())"
        ".map(e => e.getBoundingClientRect()).map(r => [r.top, r.bottom, r.height])",
        REACH,
    )
    if not boxes or any(top < 0 or bottom > SMALL["height"] or height < 48 for top, bottom, height in boxes):
        found.append(f"{name}: out of reach {boxes}")
    width = page.evaluate("document.documentElement.scrollWidth")
    if width > SMALL["width"]:
        found.append(f"{name}: {width} wide")
    axe = Axe().run(page)
    if axe.violations_count:
        found.append(f"{name}: {axe.generate_report()}")
    return found


def test_every_page_has_its_great_button_in_reach_and_axe_finds_nothing(held: Phone, many: dict[str, str]) -> None:
    wrong = []
    for name, path in many.items():
        held.go(path)
        wrong += reach_and_axe(held.page, name)
    assert not wrong, "\n".join(wrong)
    assert held.faults == []


def test_pages_that_come_back_with_words_have_their_great_button_in_reach(held: Phone) -> None:
    page, floor, wrong = held.page, held.floor, []
    floor.moulded(48)
    for typed in ("400", "-4", "40"):
        held.go(floor.path(30, "count"))
        page.locator("#id_good").fill(typed)
        held.next()
        wrong += reach_and_axe(page, f"count of {typed}")
    held.go(floor.path(30, "load"))
    page.locator("#id_quantity").fill("24")
    page.locator(".late summary").click()
    page.locator("#id_at").fill("2031-01-01T10:00")
    page.locator("#id_late").fill("flat")
    held.next()
    wrong += reach_and_axe(page, "a time to come")
    assert "has not come yet" in page.locator("[role=alert]").inner_text()
    assert page.locator("#id_quantity").input_value() == "24" and page.locator("#id_late").input_value() == "flat"
    assert not wrong, "\n".join(wrong)


def test_the_receivers_page_before_and_after_the_count(held: Phone) -> None:
    page, floor = held.page, held.floor
    floor.tested(48)
    moved(floor.send_all())
    bench = cast.pass_client(floor.bench, person="Tomas")
    cookies = [{"name": name, "value": row.value, "url": held.address} for name, row in bench.cookies.items()]
    page.context.add_cookies(cookies)  # type: ignore[arg-type]
    held.go(f"/here/t/{floor.batch.code}")
    held.next()  # Yes: count it in
    page.get_by_role("button", name="4", exact=True).wait_for()
    wrong = reach_and_axe(page, "arrival")
    for key in "47":
        page.get_by_role("button", name=key, exact=True).click()
    held.next()
    page.get_by_text("You counted").wait_for()
    wrong += reach_and_axe(page, "counted")
    assert not wrong, "\n".join(wrong)
    assert held.faults == []


def test_targets_are_48_pixels_on_the_pages_of_the_way(held: Phone) -> None:
    page, floor = held.page, held.floor
    floor.moulded(48)
    small = []
    targets = (
        "button, .button, .go, .where a, summary, a.row, .ticks label, main input:not([type=hidden], [type=checkbox])"
    )
    for path in ("/here/", f"/here/t/{floor.batch.code}", floor.path(30, "count"), floor.path(30, "load")):
        held.go(path)
        small += page.evaluate(
            "targets => [...document.querySelectorAll(targets)]"
            ".filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 48)"
            ".map(e => location.pathname + ' ' + e.outerHTML.slice(0, 90))",
            targets,
        )
    assert small == []


def kept_requests(page: Page) -> list[Request]:
    """The requests that a page finishes from now on."""
    finished: list[Request] = []

    def keep(request: Request) -> None:
        finished.append(request)

    page.on("requestfinished", keep)
    return finished


def test_the_first_load_of_an_operators_page_is_at_most_100_kilobytes(held: Phone, browser: Browser) -> None:
    floor, weights = held.floor, {}
    floor.moulded(48)
    for path in ("/here/", f"/here/t/{floor.batch.code}", floor.path(30, "count")):
        context = browser.new_context(viewport=SMALL)  # type: ignore[arg-type]
        context.add_cookies(held.page.context.cookies())  # type: ignore[arg-type]
        page = context.new_page()
        finished = kept_requests(page)
        page.goto(held.address + path)
        page.wait_for_load_state("networkidle")
        sizes = [request.sizes() for request in finished]
        weights[path] = sum(size["responseBodySize"] + size["responseHeadersSize"] for size in sizes)
        assert len(sizes) > 5, "the page, its styles and its scripts"
        context.close()
    print("bytes over the wire, uncompressed:", weights)
    assert max(weights.values()) <= 100_000, weights
