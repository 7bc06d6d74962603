"""The shop's list: constant in queries, for its people only; by phone it says so on every page."""

from __future__ import annotations

from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from sites.models import PassKind
from tests import cast, factory
from tests.web.operator.floor import Floor, html_of, moved, text_of
from traveller.batches.actions.report import report
from traveller.batches.models import Batch, Load, Step
from traveller.dispatches.models import Consignment
from traveller.journal.models import Event
from traveller.web.templatetags.look import moment_words

pytestmark = pytest.mark.django_db


def more_batches(floor: Floor, many: int, name: str) -> None:
    for number in range(many):
        batch = factory.make_batch(floor.part, wanted=50, destination=floor.bench, name=f"{name} {number}")
        step = floor.step(20, batch)
        event_context = factory.event_context(
            f"{name} {number}", at=floor.clock.now, actor=factory.operator(floor.moulder)
        )
        report(event_context=event_context, step_id=step.pk, good=40 + number, shots=20)


def queries_of(client: Client, path: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as captured:
        assert client.get(path).status_code == 200
    return len(captured)


def test_the_list_costs_the_same_queries_with_3_and_with_30_batches(floor: Floor) -> None:
    more_batches(floor, 3, "few")
    queries_of(floor.phone, "/here/")
    few = queries_of(floor.phone, "/here/")
    more_batches(floor, 27, "more")
    assert queries_of(floor.phone, "/here/") == few
    pages = [text_of(floor.phone.get(f"/here/?page={number}")) for number in (1, 2, 3)]
    assert sum(words.count("cool on the fixture") for words in pages) == 30
    assert queries_of(floor.phone, "/here/?page=2") <= few
    assert "1 to 40 of 91 After" in pages[0] and "Before 41 to 80 of 91 After" in pages[1]


def test_a_page_that_is_none_shows_the_nearest_that_is(floor: Floor) -> None:
    for number in ("0", "-1", "99", "x", ""):
        assert "dry the resin" in text_of(floor.phone.get(f"/here/?page={number}"))


def test_the_overdue_come_first_and_say_since_when(floor: Floor) -> None:
    for name, due in (("later", date(2026, 12, 1)), ("late", date(2026, 11, 20)), ("nobody knows", None)):
        batch = factory.make_batch(floor.part, wanted=50, destination=floor.bench, name=name)
        batch.due_on = due
        batch.save()
    Batch.objects.filter(pk=floor.batch.pk).update(due_on=date(2026, 11, 24))
    page = floor.phone.get("/here/")
    order = [row["due_on"] for row in page.context["rows"]]
    assert order == [date(2026, 11, 20), date(2026, 11, 24), date(2026, 12, 1), None]
    words = text_of(page)
    assert words.count("overdue") == 1 and "overdue · 20 Nov" in words, "what is due today is not overdue"


def test_the_list_says_what_each_waits_for(floor: Floor) -> None:
    assert "here for" not in text_of(floor.phone.get("/here/"))
    moved(floor.post(floor.path(10, "load"), place="dryer 2"))
    assert "dry the resin until 16:00" in text_of(floor.phone.get("/here/"))
    floor.clock.go(hours=4)
    assert "load 1: time is up" in text_of(floor.phone.get("/here/"))
    moved(floor.post(f"/here/load/{Load.objects.get().pk}/out"))
    moved(floor.post(floor.path(10, "done")))
    moved(floor.count(20, 48, shots=26, open_cavities=2))
    floor.clock.go(hours=2)
    assert "here for 2 hours" in text_of(floor.phone.get("/here/"))
    moved(floor.post(floor.path(30, "load"), quantity=24))
    assert "cool on the fixture until 18:15" in text_of(floor.phone.get("/here/"))
    floor.clock.go(minutes=15)
    moved(floor.post(f"/here/load/{Load.objects.latest('id').pk}/out"))
    assert "waits for the count of load 1" in text_of(floor.phone.get("/here/"))


def test_a_time_of_tomorrow_says_its_day(floor: Floor) -> None:
    floor.clock.go(hours=10)
    moved(floor.post(floor.path(10, "load")))
    assert "dry the resin until Wed 25 Nov, 02:00" in text_of(floor.phone.get("/here/"))


def test_a_step_whose_start_a_gate_keeps_says_which_proof_it_waits_for(floor: Floor) -> None:
    moved(floor.count(20, 48, {"already": "yes"}, shots=26))
    Step.objects.filter(pk=floor.step(20).pk).update(state="waiting")
    assert "waits for the proof of step 10, dry the resin" in text_of(floor.phone.get("/here/"))


def test_goods_on_the_road_say_since_when(floor: Floor) -> None:
    floor.tested(48)
    moved(floor.send_all())
    words = text_of(cast.pass_client(floor.bench, person="Tomas").get("/here/"))
    assert "from Moulder" in words and f"On the road since {moment_words(Consignment.objects.get().sent_at)}" in words


def test_this_phone_has_its_switches_on_the_list_alone(floor: Floor) -> None:
    page = html_of(floor.phone.get("/here/"))
    assert 'role="switch" data-sense="sound"' in page and 'data-sense="vibration"' in page
    assert "data-sense" not in html_of(floor.phone.get("/here/send"))


def test_the_list_shows_what_waits_what_comes_and_what_is_to_be_sent(floor: Floor) -> None:
    floor.tested(48)
    words = text_of(floor.phone.get("/here/"))
    assert "Done, to be sent Globe, amber" in words and "Nothing waits here." in words
    moved(floor.send_all())
    coming = text_of(cast.pass_client(floor.bench, person="Tomas").get("/here/"))
    assert "On the way here Globe, amber from Moulder" in coming and "48" not in coming


def test_a_person_taps_a_name_before_anything_else(floor: Floor) -> None:
    nobody = cast.pass_client(floor.moulder, person="")
    assert moved(nobody.get(f"/here/t/{floor.batch.code}/30")) == f"/person?next=/here/t/{floor.batch.code}/30"
    assert moved(floor.post(floor.path(20, "start"), client=nobody)) == "/person?next=/here/"
    page = html_of(floor.phone.get("/here/"))
    assert "Tap to change:" in page and 'href="/person?next=/here/"' in page


def test_strangers_and_revoked_passes_find_nothing(floor: Floor) -> None:
    for client in (Client(), cast.pass_client(floor.moulder, person="Odile", revoked=True)):
        assert client.get("/here/").status_code == 404
        assert floor.post(floor.path(20, "count"), good="5", client=client).status_code == 404
    assert not Event.objects.filter(kind="counted").exists()


def test_the_founder_by_phone_is_told_so_on_every_page_and_can_stop(floor: Floor) -> None:
    floor.moulded(48)
    founder = cast.on_behalf(cast.founder_client(), floor.moulder)
    step = f"/here/step/{floor.step(30).pk}"
    for path in (
        "/here/",
        f"/here/t/{floor.batch.code}",
        step,
        f"{step}/count",
        f"{step}/load",
        f"{step}/done",
        f"/here/step/{floor.step(40).pk}/measure",
        f"/here/problem/{floor.batch.code}",
        f"/here/label/{floor.batch.code}",
        "/here/send",
        "/here/unannounced",
    ):
        page = founder.get(path)
        assert "By phone, from Moulder" in text_of(page), path
        assert 'action="/pass-off"' in html_of(page) and 'form="stop-by-phone"' in html_of(page), path
    reported = moved(floor.count(30, 48, client=founder))
    assert "By phone, from Moulder" in text_of(founder.get(reported))
    event = Event.objects.filter(kind="counted").latest("id")
    assert (event.on_behalf, event.site, event.person) == (True, floor.moulder, cast.FOUNDER)
    moved(founder.post("/pass-off"))
    assert founder.get("/here/").status_code == 404


def test_a_shop_is_never_told_that_it_is_by_phone(floor: Floor) -> None:
    assert "By phone" not in text_of(floor.phone.get("/here/"))


def test_the_packer_finds_the_way_to_packing(floor: Floor) -> None:
    packer = cast.pass_client(floor.bench, PassKind.PACKING, "Tomas")
    assert 'href="/pack/"' in html_of(packer.get("/here/"))
    assert 'href="/pack/"' not in html_of(floor.phone.get("/here/"))


def test_no_page_of_a_shop_is_kept_by_the_phone(floor: Floor) -> None:
    assert floor.phone.get("/here/")["Cache-Control"] == "no-store"
