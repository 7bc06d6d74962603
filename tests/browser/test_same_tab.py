"""One form after the other in the same tab: each answer lets its form go, and what got no answer stays as typed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from pytest_django.live_server_helper import LiveServer

from sites.models import Site
from tests import factory
from tests.browser.handheld import Phone
from tests.browser.looking import DESK, Screen, screen
from tests.cast import founder_client
from tests.web.founder.orders.test_plan import worked_example
from tests.web.operator.floor import moved
from traveller.batches.models import TravellerPrint
from traveller.journal.models import Event
from traveller.orders.models import Purchase, Release
from traveller.products.models import Part

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Route

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PURCHASE = "form[data-once=purchase]"


def news_id(seen: Screen, form: str) -> str:
    return seen.page.locator(f"{form} [name=news_id]").input_value()


def kept(page: Page) -> list[str]:
    found: list[str] = page.evaluate("Object.keys(sessionStorage).filter(key => key.startsWith('once:'))")
    return found


def order(seen: Screen, quantity: str) -> None:
    seen.go("/purchases/new?part=RESIN")
    seen.page.locator("[name=quantity]").fill(quantity)
    seen.page.locator("[name=supplier]").select_option("resins")
    seen.page.locator("[name=deliver_to]").select_option("bench")


def lose(seen: Screen, *, heard: bool) -> None:
    """Send the purchase over a network that loses it, or loses the answer; then open the page anew."""

    def lost(route: Route) -> None:
        if heard:
            route.fetch(max_redirects=0)
        route.abort()

    seen.page.route("**/purchases/new*", lost)
    with seen.page.expect_event("requestfailed"):
        seen.page.locator(f"{PURCHASE} button.button-main").click()
    seen.page.unroute_all()
    seen.go("/purchases/new")


def test_the_founder_releases_two_plans_buys_twice_and_holds_twice_in_one_tab(
    browser: Browser, live_server: LiveServer
) -> None:
    first = worked_example()
    second = factory.make_line(factory.make_order("1002"), first.part, 40)
    factory.make_site("resins", "supplier", name="Maumee")
    lot = factory.make_stock(Part.objects.get(number="RESIN"), Site.objects.get(code="moulder"), 900)
    with screen(browser, live_server.url, DESK, founder_client()) as seen:
        for line in (first, second):
            seen.go(f"/founder/plan?line={line.pk}")
            seen.press("Release")
            seen.says("Released: 1 batch is open.")
            assert kept(seen.page) == []
        for quantity in ("25 kg", "30 kg"):
            order(seen, quantity)
            seen.page.locator(f"{PURCHASE} button.button-main").click()
            seen.page.wait_for_url("**/purchases/*told=*")
            assert kept(seen.page) == []
        for reason in ("a torn bag", "a second torn bag"):
            seen.go(f"/lots/{lot.code}")
            form = seen.page.locator("form[data-once=hold]")
            seen.page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
            form.locator("[name=reason]").fill(reason)
            form.locator("button").click()
            seen.page.wait_for_url("**/lots/*told=*")
            assert kept(seen.page) == []
        seen.all_is_well()
    assert Release.objects.count() == 2
    assert sorted(Purchase.objects.values_list("quantity", flat=True)) == [25_000, 30_000]
    assert Event.objects.filter(kind="held").count() == 2


def test_what_got_no_answer_stays_as_typed_under_its_id_and_counts_once(
    browser: Browser, live_server: LiveServer
) -> None:
    worked_example()
    factory.make_site("resins", "supplier", name="Maumee")
    with screen(browser, live_server.url, DESK, founder_client()) as seen:
        order(seen, "25 kg")
        uid = news_id(seen, PURCHASE)
        lose(seen, heard=False)
        assert seen.page.locator("[name=quantity]").input_value() == "25 kg" and news_id(seen, PURCHASE) == uid
        # Now the server hears it, and it is the answer that is lost on the way.
        lose(seen, heard=True)
        assert seen.page.locator("[name=quantity]").input_value() == "25 kg" and news_id(seen, PURCHASE) == uid
        assert Purchase.objects.count() == 1
        # Changed by then: other figures under the same id are refused once, and the page opened anew is free.
        seen.page.locator("[name=quantity]").fill("30 kg")
        seen.page.locator(f"{PURCHASE} button.button-main").click()
        seen.says("the first ones stand. Open the page anew.")
        assert kept(seen.page) == []
        seen.page.locator("[name=quantity]").fill("31 kg")
        seen.go("/purchases/new")
        assert news_id(seen, PURCHASE) != uid
    assert list(Purchase.objects.values_list("quantity", flat=True)) == [25_000]


def test_a_page_out_of_the_browsers_memory_gets_a_new_id(browser: Browser, live_server: LiveServer) -> None:
    worked_example()
    factory.make_site("resins", "supplier", name="Maumee")
    with screen(browser, live_server.url, DESK, founder_client()) as seen:
        order(seen, "25 kg")
        uid = news_id(seen, PURCHASE)
        page = seen.page.content()
        seen.page.locator(f"{PURCHASE} button.button-main").click()
        seen.page.wait_for_url("**/purchases/*told=*")
        seen.page.route(
            "**/purchases/new*",
            lambda route: route.fulfill(body=page, content_type="text/html"),
        )
        seen.go("/purchases/new?part=RESIN")
        assert f'value="{uid}"' in page and news_id(seen, PURCHASE) != uid


def test_a_shop_takes_back_twice_and_prints_twice_in_one_tab(held: Phone) -> None:
    floor, page = held.floor, held.page
    ids = set()
    for _ in range(2):
        moved(floor.count(20, 12, {"sure:same_again": "yes"}, shots=6))
        held.go(f"/here/told/{Event.objects.filter(kind='counted').latest('id').uid}")
        page.locator("form[data-once=undo] button").click()
        page.wait_for_url("**/here/told/**")
        assert kept(page) == []
    for _ in range(2):
        held.go(f"/here/paper/{floor.batch.code}")
        ids.add(page.locator("form[data-once=paper] [name=news_id]").input_value())
        with page.expect_response(lambda answer: answer.request.method == "POST") as printed:
            page.locator("form[data-once=paper] .go").click()
        assert printed.value.headers["content-type"] == "application/pdf"
        page.wait_for_timeout(300)
    assert len(ids) == 2 and TravellerPrint.objects.count() == 2
    held.go(f"/here/problem/{floor.batch.code}")
    assert kept(page) == [] and held.faults == []
