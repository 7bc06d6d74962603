"""The shop's list: constant in queries, for its people only; by phone it says so on every page."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from sites.models import PassKind
from tests import cast, factory
from tests.web.operator.floor import Floor, html_of, moved, text_of
from traveller.batches.actions.report import report
from traveller.journal.models import Event

pytestmark = pytest.mark.django_db


def more_batches(floor: Floor, many: int, name: str) -> None:
    for number in range(many):
        batch = factory.make_batch(floor.part, wanted=50, destination=floor.bench, name=f"{name} {number}")
        step = floor.step(20, batch)
        stamp = factory.stamp(f"{name} {number}", at=floor.clock.now, actor=factory.operator(floor.moulder))
        report(stamp=stamp, step_id=step.pk, good=40 + number, shots=20)


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
    assert text_of(floor.phone.get("/here/")).count("cool on the fixture") == 30


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
    told = moved(floor.count(30, 48, client=founder))
    assert "By phone, from Moulder" in text_of(founder.get(told))
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
