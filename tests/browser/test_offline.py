"""No signal: pages open, what is told is kept and counted; everything arrives once, in order, at its own time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest
from django.utils import timezone
from pytest_django.live_server_helper import LiveServer

from sites.models import SitePass
from tests import cast
from tests.browser.pocket import GO, Pocket, hand_over, pocket, until
from tests.web.operator.floor import PICTURE, Floor, moved
from traveller.batches.models import Attachment, Count, Load, StepState
from traveller.dispatches.models import Consignment
from traveller.journal.models import Event
from traveller.rules import codes

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def held(browser: Browser, live_server: LiveServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[Pocket]:
    with pocket(browser, live_server.url, monkeypatch) as made:
        yield made
    assert made.faults == []


def test_the_list_and_the_pages_of_its_tasks_open_though_nobody_answers(held: Pocket) -> None:
    page, code = held.page, held.floor.batch.code
    held.ready()
    held.wire.be("down")
    page.reload()
    page.get_by_text("cool on the fixture").wait_for()
    page.get_by_text("No signal: this is how it stood at").wait_for()
    assert page.locator("img").first.evaluate("image => image.complete && image.naturalWidth > 0")
    typed = f"{code[:3].lower()}-{code[3:6].lower()}-{code[6].lower()}"
    page.locator("[data-scan]").fill(typed)
    page.keyboard.press("Enter")
    page.get_by_text("Is this it?").wait_for()
    held.go(f"/t/{code}/30")
    page.locator(GO).last.click()
    page.get_by_text("wait here").wait_for()
    assert page.url.endswith(held.step(30))


def test_a_page_that_is_not_kept_says_so_and_leads_back(held: Pocket) -> None:
    page, code = held.page, held.floor.batch.code
    held.ready()
    held.wire.be("down")
    held.go("/here/told/00000000-0000-4000-8000-000000000000")
    page.get_by_role("heading", name="No signal, and this page is not on this phone").wait_for()
    held.in_order()
    wrong = next(c for c in codes.ALPHABET if c != code[2])
    held.go(f"/here/scan?code={code[:2]}{wrong}{code[3:]}")
    page.get_by_text("Is it one of these?").wait_for()
    page.get_by_role("link", name=codes.show_code(code)).click()
    page.get_by_text("Is this it?").wait_for()


def reported_since(pk: int) -> list[Event]:
    """What phones told since, in the order in which it was recorded; verdicts that followed from it left out."""
    return list(Event.objects.filter(pk__gt=pk, actor_kind="operator").exclude(kind="judged").order_by("id"))


@contextmanager
def at_once(held: Pocket) -> Iterator[None]:
    """What is told in here goes by the floor's clock, which waits for nothing."""
    held.floor.clock.now = timezone.now() - timedelta(hours=1)
    with pytest.MonkeyPatch.context() as then:
        then.setattr("django.utils.timezone.now", held.floor.clock)
        yield


def through(floor: Floor, last: int) -> None:
    """All that was moulded, through the steps up to this one."""
    while floor.at(floor.moulder, "in_process", 30):
        load = floor.load(24, 15)
        moved(floor.count(30, 24, load=load.uid))
    for number in (30, 20):
        moved(floor.post(floor.path(number, "done")))
    if last >= 50:
        moved(floor.post(floor.path(40, "measure"), r__bore__bore__0__0="50.8"))
        moved(floor.count(40, 48))
        moved(floor.count(50, 48, {"sure:same_again": "yes"}))


def last_event() -> int:
    return Event.objects.latest("id").pk


def test_a_load_told_without_a_signal_arrives_once_in_order_at_its_own_time(held: Pocket) -> None:
    page, floor = held.page, held.floor
    held.ready(held.step(30, "/out"))
    before, started = last_event(), timezone.now()
    held.wire.be("down")
    held.tell(held.step(30, "/load"), quantity="24")
    held.says_kept()
    held.in_order()
    held.number("1 not sent")
    page.locator(GO).last.click()
    page.get_by_text("24 pieces").wait_for()
    held.in_order()
    page.reload()
    page.locator("[data-told-here] .timer-clock", has_text="00:").wait_for()
    page.locator("[data-told-here] [data-out]").click()
    page.get_by_text("24 pieces, told on this phone").wait_for()
    page.locator("[data-load-unsent] .timer-clock", has_text="00:").wait_for()
    held.tell()
    held.says_kept()
    held.number("2 not sent")
    page.locator(GO).last.click()
    page.get_by_text("How many are good?").wait_for()
    held.tell(good="24")
    held.says_kept()
    held.number("3 not sent")
    taps = [entry["at"] for entry in held.entries()]
    held.wire.be("up")
    held.go("/here/unsent")
    held.all_sent()
    page.get_by_text("Everything is sent.").wait_for()
    load = Load.objects.get(step__number=30)
    assert load.quantity == 24 and load.ended_at is not None and load.started_at >= started
    counts = list(Count.objects.filter(step__number=30))
    assert [count.good for count in counts] == [24]
    reported = [event.happened_at for event in reported_since(before) if event.device_offset_ms is not None]
    assert len(reported) == 3 and reported == sorted(reported)
    for tapped, happened in zip(taps, reported, strict=True):
        # The same machine, so the same clock: what is off is the way to the server.
        assert abs(happened - datetime.fromtimestamp(tapped / 1000, UTC)) < timedelta(seconds=3)
    assert floor.step(30).state != StepState.WAITING


def test_photos_and_problems_are_kept_too(held: Pocket) -> None:
    page, floor = held.page, held.floor
    held.ready(held.step(30, "/proof"))
    before = last_event()
    held.wire.be("down")
    held.tell(f"/here/problem/{floor.batch.code}", reason="black specks")
    held.says_kept()
    held.go(held.step(30, "/proof"))
    page.locator("main input[type=file]").set_input_files(PICTURE)
    held.tell()
    held.says_kept()
    page.locator("[data-kept-entry]", has_text=PICTURE.name).wait_for()
    held.number("2 not sent")
    held.wire.be("up")
    held.go("/here/")
    held.all_sent()
    kinds = [event.kind for event in reported_since(before)]
    assert len(kinds) == 2, kinds
    kept = Attachment.objects.select_related("file").get(step__number=30)
    assert bytes(kept.file.content) == PICTURE.read_bytes()


def test_two_tabs_and_two_taps_send_each_piece_of_news_once(held: Pocket) -> None:
    held.ready()
    before = last_event()
    held.wire.be("down")
    for good in ("3", "4", "5"):
        held.tell(held.step(20, "/count"), good=good, shots="4", open_cavities="2")
        held.says_kept()
    second = held.context.new_page()
    second.goto(held.wire.address + "/here/unsent")
    second.locator("[data-unsent]", has_text="3 not sent").wait_for()
    held.go("/here/unsent")
    held.wire.be("up")
    for page in (held.page, second, held.page, second):
        page.evaluate("document.querySelector('[data-send-now]').click()")
    held.all_sent()
    second.get_by_text("Everything is sent.").wait_for()
    goods = [count.good for count in Count.objects.filter(event__pk__gt=before).order_by("event_id")]
    assert goods == [3, 4, 5]


@pytest.mark.parametrize("state", ["deaf", "silent", "down"])
def test_a_form_whose_answer_never_comes_is_kept_and_counted_once(held: Pocket, state: Any) -> None:
    held.ready()
    held.go(held.step(20, "/count"))
    held.wire.be(state)
    held.tell(good="7", shots="4", open_cavities="2")
    held.says_kept()
    counts = Count.objects.filter(step__number=20, good=7)
    if state == "deaf":
        until(counts.exists, "the server heard it")
    held.wire.be("up")
    held.go("/here/")
    held.all_sent()
    assert counts.count() == 1


def test_the_answer_of_the_queue_lost_after_it_was_stored_is_harmless(held: Pocket) -> None:
    held.ready()
    held.wire.be("down")
    for good in ("3", "4"):
        held.tell(held.step(20, "/count"), good=good, shots="4", open_cavities="2")
    held.go("/here/unsent")
    held.wire.be("deaf")
    held.page.get_by_role("button", name="Send now").click()
    counts = Count.objects.filter(step__number=20, good__in=[3, 4])
    until(lambda: counts.count() == 2, "the server stored both")
    assert len(held.entries()) == 2
    held.wire.be("up")
    held.page.get_by_role("button", name="Send now").click()
    held.all_sent()
    assert counts.count() == 2


def test_a_pass_revoked_without_a_signal_keeps_the_queue_until_it_is_open_again(held: Pocket) -> None:
    page, floor = held.page, held.floor
    held.ready()
    held.wire.be("down")
    held.tell(held.step(20, "/count"), good="6", shots="4", open_cavities="2")
    held.says_kept()
    SitePass.objects.update(revoked_at=timezone.now())
    held.wire.be("up")
    held.go("/here/unsent")
    page.get_by_role("button", name="Send now").click()
    page.get_by_text("Open your pass again: then it is sent.").wait_for()
    held.go("/here/")
    page.get_by_role("heading", name="Open your pass again").wait_for()
    held.in_order()
    assert held.store("pages") == ["/here/unsent"], "what belongs to the site is gone from the phone"
    assert [entry["state"] for entry in held.entries()] == ["waiting"]
    assert not Count.objects.filter(good=6).exists()
    held.wire.be("down")
    held.go(f"/here/t/{floor.batch.code}")
    page.get_by_role("heading", name="No signal, and this page is not on this phone").wait_for()
    held.wire.be("up")
    hand_over(held.context, held.wire, cast.pass_client(floor.moulder))
    held.go("/here/")
    held.all_sent()
    assert Count.objects.filter(good=6).count() == 1


# A time to come: no page can know that the phone's clock is right, so only the server refuses it.
TO_COME = {"at": "2031-01-01T10:00", "late_reason": "the phone was flat"}


def test_what_is_refused_stays_with_its_words_and_blocks_nothing(held: Pocket) -> None:
    page = held.page
    held.ready()
    held.wire.be("down")
    held.tell(held.step(20, "/count"), good="9", shots="5", open_cavities="2", **TO_COME)
    held.says_kept()
    held.tell(held.step(20, "/count"), good="8", shots="4", open_cavities="2")
    held.number("2 not sent")
    held.wire.be("up")
    held.go("/here/unsent")
    until(lambda: Count.objects.filter(good=8).exists(), "the other went on")
    until(lambda: [entry["state"] for entry in held.entries()] == ["refused"], "the refused one stays")
    page.get_by_text("Not taken:").wait_for()
    held.number("1 not taken")
    held.in_order()
    page.get_by_role("button", name="Open again with what was typed").click()
    page.locator("[name=good]").wait_for()
    assert page.locator("[name=good]").input_value() == "9" and page.locator("[name=at]").input_value() == TO_COME["at"]
    held.tell(at="", late_reason="")
    until(lambda: Count.objects.filter(good=9).count() == 1, "told anew")
    until(lambda: [entry["state"] for entry in held.entries()] == ["aside"], "done with, and still to be seen")
    held.go("/here/unsent")
    page.get_by_text("told anew").wait_for()


def test_setting_aside_takes_two_taps_and_is_never_sent(held: Pocket) -> None:
    page = held.page
    held.ready()
    held.wire.be("down")
    held.tell(held.step(20, "/count"), good="9", shots="5", open_cavities="2", **TO_COME)
    held.wire.be("up")
    held.go("/here/unsent")
    for_review = page.locator('[data-way="aside"]:visible')
    for_review.click()
    assert for_review.inner_text() == "Really? It will never be sent"
    assert [entry["state"] for entry in held.entries()] == ["refused"]
    for_review.click()
    until(lambda: [entry["state"] for entry in held.entries()] == ["aside"], "set aside")
    page.get_by_text("Everything is sent.").wait_for()
    page.get_by_text("set aside, not sent").wait_for()


def test_another_shift_begins_without_a_signal_under_its_own_name(held: Pocket) -> None:
    page = held.page
    held.ready("/person")
    held.wire.be("down")
    page.locator(".where .person").click()
    page.get_by_role("heading", name="Who are you?").wait_for()
    page.locator("[name=new_name]").fill("Tomás <b>")
    page.get_by_role("button", name="That is me").click()
    page.locator(".where .person", has_text="Tomás <b>").wait_for()
    held.tell(held.step(20, "/count"), good="5", shots="4", open_cavities="2")
    held.says_kept()
    held.wire.be("up")
    held.go("/here/")
    page.get_by_role("heading", name="Who are you?").wait_for()
    held.all_sent()
    assert Count.objects.select_related("event").get(good=5).event.person == "Tomás <b>"
    page.get_by_role("button", name="Ines").click()
    page.locator(".where .person", has_text="Ines").wait_for()


def test_a_start_and_a_reading_are_kept_too(held: Pocket) -> None:
    page, floor = held.page, held.floor
    with at_once(held):
        through(floor, 30)
    held.ready(held.step(40), held.step(40, "/measure"))
    before = last_event()
    held.wire.be("down")
    held.go(held.step(40))
    if page.locator("form[data-once=start]").count():
        held.tell()
        held.says_kept()
    held.tell(held.step(40, "/measure"), r__bore__bore__0__0="50.81")
    held.says_kept()
    page.get_by_text("50.81").first.wait_for()
    kept = len(held.entries())
    held.wire.be("up")
    held.go("/here/")
    held.all_sent()
    assert "measured" in [event.kind for event in reported_since(before)] and len(reported_since(before)) == kept


def test_goods_are_sent_without_a_signal(held: Pocket) -> None:
    page = held.page
    with at_once(held):
        through(held.floor, 50)
    held.ready("/here/send")
    until(lambda: 'name="to"' in held.kept("/here/send"), "the page of what is to be sent is kept anew")
    held.wire.be("down")
    held.go("/here/send")
    page.get_by_text("No signal: this is how it stood at").wait_for()
    held.tell()
    held.says_kept()
    held.wire.be("up")
    held.go("/here/")
    held.all_sent()
    assert Consignment.objects.get().lines.get().sent == 48


def test_goods_that_arrive_are_counted_without_a_signal(held: Pocket) -> None:
    floor, page = held.floor, held.page
    with at_once(held):
        through(floor, 50)
        moved(floor.send_all())
    code = Consignment.objects.get().code
    hand_over(held.context, held.wire, cast.pass_client(floor.bench, person="Tomas"))
    held.ready(f"/here/arrival/{code}", f"/here/t/{code}")
    held.wire.be("down")
    held.go(f"/t/{code}")
    page.wait_for_url("**/here/arrival/**")
    held.tell(**{page.locator("main input[name^=line]").first.get_attribute("name") or "": "47"})
    held.says_kept()
    held.wire.be("up")
    held.go("/here/")
    held.all_sent()
    assert Consignment.objects.get().lines.get().received == 47


def test_the_browsers_own_offline_switch_and_its_way_back_send_by_themselves(held: Pocket) -> None:
    held.ready()
    held.context.set_offline(True)
    held.wire.be("down")
    held.tell(held.step(20, "/count"), good="5", shots="4", open_cavities="2")
    held.says_kept()
    held.wire.be("up")
    held.context.set_offline(False)
    held.all_sent()
    assert Count.objects.filter(step__number=20, good=5).count() == 1
