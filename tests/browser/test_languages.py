"""Every page of the operator in the other languages at 360 x 640: within reach, no wider, nothing for axe.

The languages take turns over the pages, so that the walk costs what it costs in English; what they share (one
template, one style sheet) is the same in all. Both right-to-left and the longest words come by in it.
"""

from __future__ import annotations

from itertools import cycle

import pytest
from django.conf import settings

from tests.browser.every_page import every_page
from tests.browser.handheld import Phone
from tests.browser.test_operator import reach_and_axe

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
OTHERS = [code for code, _ in settings.LANGUAGES if code != "en"]


def read_in(held: Phone, language: str) -> None:
    cookie = {"name": settings.LANGUAGE_COOKIE_NAME, "value": language, "url": held.address}
    held.page.context.add_cookies([cookie])  # type: ignore[list-item]


@pytest.mark.long
def test_in_other_languages_the_great_button_is_in_reach_and_axe_finds_nothing(held: Phone) -> None:
    wrong = []
    pages = {**every_page(held.floor), "who are you": "/person", "languages": "/language?next=/here/"}
    for (name, path), language in zip(pages.items(), cycle(OTHERS), strict=False):
        read_in(held, language)
        held.go(path)
        assert held.page.locator("html").get_attribute("lang") == language
        found = reach_and_axe(held.page, f"{name} in {language}")
        wrong += [line for line in found if path != "/person" or "out of reach" not in line]
    assert not wrong, "\n".join(wrong)
    assert held.faults == []


def test_a_tap_changes_the_language_and_leads_back(held: Phone) -> None:
    page = held.page
    held.go("/here/unannounced")
    page.locator(".tongue").click()
    page.get_by_role("button", name="العربية").click()
    page.wait_for_url("**/here/unannounced")
    assert page.locator("html").get_attribute("dir") == "rtl"
    # Codes and figures stay from left to right, the pad as on every telephone.
    held.go(f"/here/t/{held.floor.batch.code}")
    assert page.locator(".code").first.evaluate("e => getComputedStyle(e).direction") == "ltr"
    held.go("/here/scan?code=NOTHING")
    assert page.locator(".thumb .go").is_visible() and held.faults == []


def test_arabic_is_counted_on_the_pad_and_recorded(held: Phone) -> None:
    page, floor = held.page, held.floor
    floor.moulded(48)
    read_in(held, "ar")
    held.go(floor.path(30, "count"))
    assert page.locator(".pad").first.evaluate("e => getComputedStyle(e).direction") == "ltr"
    held.type("48")
    held.next()
    page.get_by_text("سُجّل").first.wait_for()
    assert floor.step(30).good == 48 and held.faults == []
