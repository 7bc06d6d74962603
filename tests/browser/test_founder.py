"""The founder's way in the real browser, on a phone and at a desk; and every page of hers, on both."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from django.utils import timezone
from pytest_django.live_server_helper import LiveServer

from sites.models import Site
from tests import cast, factory
from tests.browser.looking import DESK, PHONE, Screen, screen
from tests.web.founder import scene
from tests.web.route_table import TABLE
from tests.web.route_world import make_world
from traveller.dispatches.models import ConsignmentLine
from traveller.ledger.models import Hold
from traveller.products.models import Part

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LONG_NAMES = {
    "moulder": "Ridgeback Moulding and Precision Finishing",
    "printer": "Tampografía del Álamo, Chihuahua",
    "bench": "Tamarack Lantern Bench",
}


def name_them_long() -> None:
    """Names as long as shops and parts have them: what fits with short ones proves nothing."""
    for code, name in LONG_NAMES.items():
        Site.objects.filter(code=code).update(name=name, contact="Inés Robledo-Castillo")
    for part in Part.objects.all():
        Part.objects.filter(pk=part.pk).update(name=f"{part.name} with polypropylene insert")


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_from_the_sign_in_to_a_decision_and_a_settled_count(
    browser: Browser, live_server: LiveServer, width: int
) -> None:
    cast.make_founder()
    played = scene.play(timezone.now() - timedelta(days=12))
    scene.trouble(played, 10)
    name_them_long()
    with screen(browser, live_server.url, width) as seen:
        _sign_in(seen)
        _order_to_batch(seen)
        _decide(seen)
        _settle(seen)
        seen.all_is_well()


def _sign_in(seen: Screen) -> None:
    seen.go("/")
    seen.look("sign in")
    seen.page.get_by_label("Name").fill(cast.FOUNDER)
    seen.page.get_by_label("Password").fill(cast.PASSWORD)
    seen.press("Sign in")
    seen.says("One order is open")
    seen.look("home")


def _order_to_batch(seen: Screen) -> None:
    seen.page.locator("nav").get_by_role("link", name="Orders").click()
    seen.look("orders")
    seen.page.locator("main").get_by_role("link", name="1042").first.click()
    seen.says("What has happened so far")
    seen.look("order")
    seen.page.locator("a[href^='/batches/']").first.click()
    seen.says("Print the traveller")
    seen.look("batch")


def _decide(seen: Screen) -> None:
    """Fourteen minutes in the oven instead of twenty: use as is, with a reason."""
    hold = Hold.objects.filter(root=None, closed_at=None).get()
    seen.go("/")
    seen.page.locator(f"a[href='/holds/{hold.pk}']").first.click()
    seen.says("at least 20 min needed")
    seen.look("hold")
    seen.page.get_by_label("Use as is, by concession").check()
    seen.page.get_by_label("Why").fill("Tape test on ten pieces held.")
    seen.press("Decide")
    assert Hold.objects.get(pk=hold.pk).closed_at is not None
    seen.look("after the decision")


def _settle(seen: Screen) -> None:
    """Ten globes fewer than were sent: lost on the way."""
    line = ConsignmentLine.objects.exclude(difference=0).select_related("consignment").get(settled_event=None)
    seen.go("/")
    seen.page.locator(f"a[href*='/consignments/{line.consignment.code}']").first.click()
    seen.says("Settle the difference")
    seen.look("consignment")
    seen.page.get_by_role("radio").first.check()
    seen.page.get_by_label("Why").fill("One tray fell off the van.")
    seen.press("Settle the difference")
    line.refresh_from_db()
    assert line.settled_event is not None
    seen.look("settled")


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_no_page_of_the_founders_is_wider_than_the_screen_and_axe_finds_nothing(
    browser: Browser, live_server: LiveServer, width: int
) -> None:
    world = make_world()
    more = factory.make_line(factory.make_order("1002"), world.globe.part, 40)
    name_them_long()
    figures = world.figures()
    paths = [rule.url(route, figures) for route, rule in TABLE.items() if rule.reader == "founder"]
    paths += [
        f"/founder/plan?line={more.pk}",
        "/consignments/new?origin=bench&to=moulder&purpose=free+issue&find=",
        "/find?code=NOSUCHCODE",
        f"/lots/{world.globe.batch.code}",
        f"/consignments/{world.incoming.code}",
    ]
    shown = 0
    with screen(browser, live_server.url, width, world.people.founder) as seen:
        for path in paths:
            answer = world.people.founder.get(path)
            if answer.status_code in (200, 404) and answer["Content-Type"].startswith("text/html"):
                seen.go(path)
                # The names and roles that axe judges are the same at every width; the walk to a decision looks at both.
                seen.look(path, axe=width == PHONE)
                shown += 1
        seen.all_is_well()
    assert shown > 15
