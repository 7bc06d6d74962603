"""The timer on the phone's own clock: over a reload, from a kept page, its call and its hush, the two switches."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.handheld import Phone
from tests.web.operator.floor import moved

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BEATS = """() => {
  window.called = [];
  const hear = (event) => window.called.push(event.type + (event.detail ? ' ' + event.detail : ''));
  for (const name of ['chime', 'buzz']) document.addEventListener(name, hear);
}"""


def test_the_timer_goes_on_over_a_reload_calls_when_time_is_up_and_is_hushed_by_a_touch(held: Phone) -> None:
    page, floor = held.page, held.floor
    floor.moulded(24)
    page.clock.install(time=floor.clock.now)
    moved(floor.post(floor.path(30, "load"), quantity=24, place="fixture B"))
    held.go(f"/here/step/{floor.step(30).pk}")
    face, reached = page.locator(".timer-clock"), page.locator(".timer-reached")
    page.clock.run_for(60_000)
    expect(face).to_have_text(re.compile("01:0."))
    assert page.evaluate("Object.keys(localStorage).filter((key) => key.startsWith('timer:')).length") == 1
    floor.clock.go(minutes=1)
    page.reload()
    expect(face).to_have_text(re.compile("01:[01]."))
    page.evaluate(BEATS)
    page.clock.run_for(14 * 60_000)
    expect(face).to_have_text(re.compile("15:[0-2]."))
    expect(reached).to_have_text("Time is up ✓")
    page.clock.run_for(8_000)
    called = page.evaluate("window.called")
    assert 2 <= called.count("chime") <= 10 and called.count("chime") == called.count("buzz 300,120,300"), called
    page.locator("main").click(position={"x": 3, "y": 3})
    heard = page.evaluate("window.called").count("chime")
    page.clock.run_for(60_000)
    assert page.evaluate("window.called").count("chime") == heard, "a touch says that it was heard"
    floor.clock.go(minutes=16)
    page.reload()
    page.evaluate(BEATS)
    page.clock.run_for(10_000)
    assert page.evaluate("window.called") == [], "and stays heard after a reload"
    assert held.faults == []


def test_the_timer_of_a_page_kept_for_no_signal_goes_on_from_when_it_was_kept(held: Phone) -> None:
    page, floor = held.page, held.floor
    floor.moulded(24)
    moved(floor.post(floor.path(30, "load"), quantity=24))
    floor.clock.go(minutes=3)
    page.clock.install(time=floor.clock.now)
    path = f"/here/step/{floor.step(30).pk}"
    kept = page.request.get(held.address + path).text()
    at = int(floor.clock.now.timestamp() * 1000)
    page.route(
        f"**{path}",
        lambda route: route.fulfill(body=kept.replace("<body", f'<body data-kept="{at}"', 1), content_type="text/html"),
    )
    page.clock.run_for(5 * 60_000)
    held.go(path)  # never seen before on this phone: three minutes then, five since
    expect(page.locator(".timer-clock")).to_have_text(re.compile("08:[0-2]."))
    page.clock.run_for(60_000)
    page.reload()
    expect(page.locator(".timer-clock")).to_have_text(re.compile("09:[0-3]."))


def test_sound_and_vibration_are_turned_off_on_this_phone_and_stay_off(held: Phone) -> None:
    page = held.page
    page.add_init_script(
        "navigator.vibrate = (pattern) => { (window.felt ??= []).push(String(pattern)); return true; };"
    )
    held.go("/here/")
    page.locator("#to-do").click()  # no buzz before the first touch
    buzz = "document.dispatchEvent(new CustomEvent('buzz', { detail: 12 })); "
    assert page.evaluate(buzz + "window.felt") == ["12"]
    page.get_by_label("Vibration").uncheck()
    page.get_by_label("Sound").uncheck()
    page.reload()
    page.locator("#to-do").click()
    assert not page.get_by_label("Vibration").is_checked() and not page.get_by_label("Sound").is_checked()
    assert page.evaluate(buzz + "window.felt ?? []") == []
    page.get_by_label("Vibration").check()
    assert page.evaluate("window.felt") == ["80,60,80"], "what is turned on is felt at once"
    assert held.faults == []
