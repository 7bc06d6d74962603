"""Goods between sites in the real browser at phone size: totes scanned one after another, weighed, counted unseen."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest
import segno
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from playwright.sync_api import expect
from pytest_django.live_server_helper import LiveServer

from tests import cast
from tests.web.operator.floor import Floor, make_floor, moved
from traveller.dispatches.models import Consignment, ConsignmentLine

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Shop:
    """A phone of one site, and what its browser complained of."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address, self.faults = page, address, list[str]()
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("console", self._hear)

    def _hear(self, message: Any) -> None:
        if message.type == "error" and "Failed to load resource" not in message.text:
            self.faults.append(message.text)

    def go(self, path: str) -> None:
        self.page.goto(self.address + path)

    def next(self) -> None:
        self.page.locator(".thumb .go").last.click()

    def keys(self, text: str) -> None:
        """Tapped on the number pad that is to be seen."""
        for key in text:
            name = {"+": "+ next tote", ".": "Decimal point"}.get(key, key)
            self.page.locator(".pad:visible").get_by_role("button", name=name, exact=True).click()

    def axe(self) -> None:
        found = Axe().run(self.page).response["violations"]
        assert found == [], [(one["id"], [node["html"] for node in one["nodes"]]) for one in found]
        assert self.page.evaluate("document.documentElement.scrollWidth") <= 360
        assert not self.faults


@pytest.fixture
def floor(live_server: LiveServer, monkeypatch: pytest.MonkeyPatch) -> Floor:
    made = make_floor()
    monkeypatch.setattr("django.utils.timezone.now", made.clock)
    made.tested(48)
    return made


@pytest.fixture
def shops(browser: Browser, live_server: LiveServer, floor: Floor) -> Iterator[tuple[Shop, Shop]]:
    """The moulder's phone and the bench's."""
    contexts = []
    phones = []
    for client in (floor.phone, cast.pass_client(floor.bench, person="Tomas")):
        context = browser.new_context(viewport={"width": 360, "height": 640}, has_touch=True, is_mobile=True)
        _carry(context, client, live_server.url)
        contexts.append(context)
        phones.append(Shop(context.new_page(), live_server.url))
    yield phones[0], phones[1]
    for context in contexts:
        context.close()


def code_photo(text: str) -> bytes:
    """A sharp picture of a QR code."""
    picture = io.BytesIO()
    segno.make(text, error="m").save(picture, kind="png", scale=8, border=4)
    return picture.getvalue()


def _carry(context: Any, client: Client, address: str) -> None:
    context.add_cookies([{"name": name, "value": row.value, "url": address} for name, row in client.cookies.items()])


def test_totes_are_scanned_one_after_another_and_a_wrong_scan_is_taken_off(
    floor: Floor, shops: tuple[Shop, Shop]
) -> None:
    shop, _ = shops
    page = shop.page
    shop.go("/here/send")
    shop.axe()
    scan = page.locator("[data-tote]")
    scan.fill("7K3M9QA")
    scan.press("Enter")
    expect(page.locator("[data-tote-said]")).to_contain_text("not on the list below")
    scan.fill(f"https://example.org/t/{floor.batch.code.lower()}/50")
    scan.press("Enter")
    expect(page.locator("[data-tote-title]")).to_contain_text("Globe, amber")
    shop.axe()
    shop.keys("20")
    expect(page.locator(".go")).to_have_text("Add this tote")
    shop.next()
    expect(page.locator("[data-totes] li")).to_have_count(1)
    scan.fill(floor.batch.code)
    scan.press("Enter")
    expect(page.get_by_text("A label of this lot was scanned before: 20.")).to_be_visible()
    shop.axe()
    page.get_by_role("button", name="The same one").click()
    expect(page.locator("[data-totes] li")).to_have_count(1)
    photo = code_photo(f"https://example.org/t/{floor.batch.code}")
    page.locator("[data-tote-photo]").set_input_files({"name": "code.png", "mimeType": "image/png", "buffer": photo})
    page.get_by_role("button", name="Another tote").wait_for()
    for quantity in ("18", "9"):
        scan.fill(floor.batch.code)
        scan.press("Enter")
        page.get_by_role("button", name="Another tote").click()
        shop.keys(quantity)
        shop.next()
    scan.fill(floor.batch.code)
    scan.press("Enter")
    page.get_by_role("button", name="Another tote").click()
    page.get_by_role("button", name="9 again").click()
    shop.axe()
    shop.next()
    page.get_by_role("button", name="Take tote 18 off the list").click()
    expect(page.locator("[data-totes] li")).to_have_count(3)
    shop.axe()
    shop.next()
    page.get_by_text("On the road to Own bench").wait_for()
    line = ConsignmentLine.objects.get()
    assert (line.sent, line.totes) == (38, [20, 9, 9])
    shop.axe()


def test_an_arrival_is_weighed_tote_by_tote_and_the_page_reckons(floor: Floor, shops: tuple[Shop, Shop]) -> None:
    _, shop = shops
    page = shop.page
    sending: Any = floor.phone.get("/here/send")
    moved(floor.post("/here/send", {sending.context["rows"][0]["field"]: "48", "to": floor.bench.pk}))
    shop.go(f"/here/arrival/{Consignment.objects.get().code}")
    shop.axe()
    assert page.locator(".thumb .go").bounding_box()["y"] + 40 < 640  # type: ignore[index]
    page.locator('[data-go="how"]').click()
    page.get_by_text("on a scale").last.click()
    page.locator("#id_sample").fill("25")
    page.locator("#id_sample_weight").fill("100")
    page.locator("#id_sample_step").fill("0.5")
    page.locator("#id_step").fill("0.001")
    page.locator("#id_tare").fill("0.1")
    shop.axe()
    shop.next()
    expect(page.locator("[data-by=weight]").first).to_be_visible()
    shop.keys("0.18+0.212")
    expect(page.locator("[data-makes]:visible")).to_have_text("= 48 pieces, give or take 1")
    shop.axe()
    shop.next()
    page.get_by_text("You counted").wait_for()
    line = ConsignmentLine.objects.get()
    assert (line.received, line.closed, line.difference) == (48, True, 0)
    shop.axe()


def test_goods_go_back_one_question_at_a_time(floor: Floor, shops: tuple[Shop, Shop]) -> None:
    _, shop = shops
    page = shop.page
    sending: Any = floor.phone.get("/here/send")
    moved(floor.post("/here/send", {sending.context["rows"][0]["field"]: "48", "to": floor.bench.pk}))
    consignment = Consignment.objects.get()
    shop.go(f"/here/arrival/{consignment.code}")
    shop.keys("48")
    shop.next()
    page.get_by_text("Agreed").wait_for()
    shop.go("/here/return")
    shop.axe()
    page.locator("[data-quantity]").first.click()
    shop.keys("6")
    shop.next()
    shop.axe()
    page.get_by_label("Why does it go back?").fill("insert loose")
    shop.next()
    page.get_by_text("On the road to Moulder").wait_for()
    assert Consignment.objects.latest("id").note == "insert loose"


def test_a_tote_without_a_label_is_told_in_two_questions(floor: Floor, shops: tuple[Shop, Shop]) -> None:
    _, shop = shops
    page = shop.page
    shop.go("/here/unannounced")
    shop.axe()
    page.get_by_text("No label, or not to be read").click()
    page.get_by_text("Globe, amber").click()
    shop.axe()
    shop.next()
    shop.keys("12")
    shop.axe()
    shop.next()
    page.get_by_text("A tote of an unknown lot, 12, arrived.").wait_for()
    shop.axe()


def test_goods_are_put_right_by_both_sides_with_a_thumb(floor: Floor, shops: tuple[Shop, Shop]) -> None:
    sender, shop = shops
    sending: Any = floor.phone.get("/here/send")
    moved(floor.post("/here/send", {sending.context["rows"][0]["field"]: "40", "to": floor.bench.pk}))
    consignment = Consignment.objects.get()
    shop.go(f"/here/arrival/{consignment.code}")
    shop.keys("46")
    shop.next()
    shop.page.get_by_text("46 counted, 40 were sent: 6 more.").wait_for()
    shop.axe()
    shop.page.get_by_role("button", name="Count again").click()
    shop.page.get_by_text("40 were sent; count again").wait_for()
    shop.keys("39")
    shop.next()
    shop.page.get_by_text("1 fewer than were sent").wait_for()
    shop.axe()
    shop.page.get_by_role("link", name="Count again").click()
    shop.page.get_by_text("You counted 39, they sent 40.").wait_for()
    shop.axe()
    shop.keys("40")
    shop.next()
    shop.page.get_by_text("Agreed").wait_for()
    sender.go(f"/here/sent/{consignment.code}")
    sender.page.get_by_text("40 of your 40 counted.").wait_for()
    sender.axe()
    sender.go("/here/")
    sender.axe()
    moved(floor.post("/here/send", {sending.context["rows"][0]["field"]: "8", "to": floor.bench.pk}))
    sender.go(f"/here/sent/{Consignment.objects.latest('id').code}")
    sender.page.get_by_role("link", name="It has not left: take it back").click()
    sender.axe()
    sender.next()
    sender.page.get_by_text("Taken back: not sent to Own bench").wait_for()
    sender.axe()
    assert floor.at(floor.moulder, "on_the_road", 60) == 0
