"""The packer's way in the real browser, on a phone and at a desk: the list, a line, scans right and wrong, packed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from pytest_django.live_server_helper import LiveServer

from sites.models import PassKind, Site
from tests import cast
from tests.browser.looking import DESK, PHONE, Screen, screen
from tests.shipping.packing import Bench, make_bench
from traveller.products.models import Part
from traveller.shipping.models import Carton

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PERSON = "Maximiliano Aguirre-Castellanos"


@pytest.fixture
def bench() -> Bench:
    """Names as long as they come: what fits with short ones proves nothing."""
    made = make_bench()
    Site.objects.filter(pk=made.lamps.bench.pk).update(name="Tamarack Lantern Bench and Packing Room")
    Part.objects.filter(pk=made.lamps.lamp.pk).update(name="Camp lantern with polycarbonate globe", variant="amber")
    made.line.order.ship_to = "Harbour & Heath Outfitters\nDock 3, 55 Quay Road"
    made.line.order.save()
    return made


@pytest.fixture(params=[PHONE, DESK])
def seen(request: pytest.FixtureRequest, browser: Browser, live_server: LiveServer, bench: Bench) -> Iterator[Screen]:
    client = cast.pass_client(bench.lamps.bench, PassKind.PACKING, PERSON)
    with screen(browser, live_server.url, request.param, client) as opened:
        yield opened


def scan(seen: Screen, code: str) -> None:
    """A wedge types into the field and ends with Enter."""
    seen.page.locator("#scan-code").fill(code)
    seen.page.locator("#scan-code").press("Enter")
    seen.page.wait_for_load_state("load")


def test_from_the_list_to_a_packed_and_shipped_carton(seen: Screen, bench: Bench) -> None:
    seen.go("/pack/")
    seen.says("One order line can be packed now.")
    seen.look("list")
    seen.follow("Pack 50 for order 1001")
    seen.look("line")
    seen.page.get_by_label("How many in this carton?").fill("10")
    scan(seen, bench.lot.code)
    seen.says("Yes")
    seen.says("10 of 10")
    seen.look("right lot")
    scan(seen, bench.lamps.globe.lots.get().code)
    seen.says("STOP")
    seen.look("wrong lot")
    seen.follow("Set it apart; go on")
    seen.says("10 of 10")
    scan(seen, bench.leaflets.code)
    seen.press("Pack 10 in a carton")
    seen.says("10 packed in this carton.")
    carton = Carton.objects.get()
    assert carton.quantity == 10 and {row.lot_id for row in carton.lots.all()} == {bench.lot.pk, bench.leaflets.pk}
    seen.look("carton")
    seen.follow("Ship order 1001")
    seen.look("ship")
    seen.press("They have left: ship")
    seen.says("10 shipped for order 1001.")
    seen.look("shipment")
    seen.all_is_well()


def test_codes_that_are_damaged_or_unknown_stop_in_words_and_the_page_fits(seen: Screen, bench: Bench) -> None:
    wrong = bench.lot.code[:-1] + ("2" if bench.lot.code[-1] != "2" else "3")
    for path, status in ((f"/pack/scan?code={wrong}", 422), (f"/pack/scan?code={bench.batch.code}", 200)):
        assert seen.go(path) == status
        seen.look(path)
    seen.go("/pack/")
    names = seen.page.locator(".where .home, .where .person")
    right = names.evaluate_all("all => all.map(e => e.getBoundingClientRect().right)")
    assert len(right) == 2 and max(right) <= seen.width, (
        "the names in the header are cut short, not the page made wider"
    )
    seen.all_is_well()
