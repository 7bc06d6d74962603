"""Sites: whom to call, what lies there, who is silent; passes are made, shown once, printed and revoked."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from sites.actor import Actor
from sites.models import Person, Site, SitePass
from tests import factory
from tests.cast import founder_client
from tests.paper.reading import pages, squares_on
from tests.web.founder.signed_in import assert_costs_the_same, assert_for_the_founder_alone, news_id, text_of
from traveller.batches.actions.start_step import start_step
from traveller.journal.record import record
from traveller.rules.codes import show_code

pytestmark = pytest.mark.django_db


def shops() -> tuple[Site, Site]:
    bench = factory.make_bench(name="Own bench", phone="+1 330 555 0110")
    moulder = factory.make_site(name="Ridgeback", contact="Dale", phone="+1 260 555 0124", turnaround_days=5)
    factory.make_lane(moulder, bench, 2)
    return bench, moulder


def made(client: Client, code: str = "moulder", kind: str = "operator", **form: str) -> HttpResponse:
    reported = {"news_id": news_id(), "kind": kind, "label": "press hall", **form}
    answer: HttpResponse = client.post(f"/sites/{code}/passes", reported)  # type: ignore[assignment]
    return answer


def token_on(page: HttpResponse) -> str:
    found = re.search(r'name="token" value="([0-9A-Z]{16})"', page.content.decode())
    assert found
    return found[1]


def test_only_the_founder_sees_them() -> None:
    _bench, moulder = shops()
    for path in ("/sites", "/sites/moulder"):
        assert_for_the_founder_alone(path, moulder)
    for deed in ("passes", "card", "passes/1/revoke"):
        assert_for_the_founder_alone(f"/sites/moulder/{deed}", moulder, "post")


def test_without_any_it_says_where_they_come_from() -> None:
    assert "Import a workbook that names them." in text_of(founder_client().get("/sites"))


def test_a_shop_with_goods_that_was_never_heard_is_a_tag() -> None:
    _bench, moulder = shops()
    factory.make_stock(factory.make_part(), moulder, 40)
    page = text_of(founder_client().get("/sites"))
    assert "Ridgeback has not been heard from yet, and goods have lain there for" in page
    assert "; 5 working days agreed." in page
    assert "Silent" in page and "Call them" in page


def test_a_site_not_heard_from_yet_is_no_tag_while_nothing_has_lain_there_for_long() -> None:
    _bench, moulder = shops()
    client = founder_client()
    assert "not heard from yet" in text_of(client.get("/sites"))
    assert "Silent" not in text_of(client.get("/sites"))
    stock = factory.make_stock(factory.make_part(), moulder, 40)
    stock.accounts.update(since=timezone.now() - timedelta(hours=1))
    page = text_of(client.get("/sites"))
    assert "None of them has been silent for longer than usual." in page and "Silent" not in page


def test_desk_work_does_not_make_a_silent_shop_heard() -> None:
    """A purchase delivered there, a stock opened there: the founder's own clicks."""
    _bench, moulder = shops()
    factory.make_stock(factory.make_part(), moulder, 40)
    long_ago = factory.event_context("counted", at=timezone.now() - timedelta(days=40), actor=factory.operator(moulder))
    record(event_context=long_ago, kind="counted", subjects=[], reported={}, site_id=moulder.pk)
    phoned = Actor(kind="founder", person="Mara", site_id=moulder.pk, on_behalf=True)
    for kind in ("delivered", "difference settled", "stock opened"):
        now = factory.event_context(kind, at=timezone.now() - timedelta(minutes=3), actor=phoned)
        record(event_context=now, kind=kind, subjects=[], reported={}, site_id=moulder.pk)
    client = founder_client()
    assert "Ridgeback has not been heard for" in text_of(client.get("/sites"))
    assert "Ridgeback has not been heard for" in text_of(client.get("/sites/moulder"))
    assert "Ridgeback: heard 40 days ago" in text_of(client.get("/"))
    now = factory.event_context("at last", at=timezone.now() - timedelta(minutes=3), actor=phoned)
    record(event_context=now, kind="counted", subjects=[], reported={}, site_id=moulder.pk)
    assert "Silent" not in text_of(client.get("/sites"))
    assert "Ridgeback: heard 3 minutes ago" in text_of(client.get("/"))


def test_a_site_lists_what_was_released_to_start_there_and_has_not_begun() -> None:
    bench, moulder = shops()
    globe = factory.make_part(name="Globe")
    factory.make_routing(globe, [factory.Op(10, moulder, "mould", "make"), factory.Op(20, bench, "look")])
    client = founder_client()
    assert "not begun" not in text_of(client.get("/sites/moulder"))
    batch = factory.make_batch(globe, wanted=120)
    page = text_of(client.get("/sites/moulder"))
    assert "Released to start here, not begun" in page and f"{show_code(batch.code)}" in page.replace(" - ", "-")
    assert "not begun" not in text_of(client.get("/sites/bench"))
    started = factory.event_context("started", actor=factory.operator(moulder))
    start_step(event_context=started, step_id=batch.steps.get(number=10).pk)
    assert "not begun" not in text_of(client.get("/sites/moulder"))


def test_how_long_a_batch_stays_is_agreed_until_five_visits_are_over() -> None:
    _bench, _moulder = shops()
    client = founder_client()
    words = "assumed as agreed: 0 visits are over; it is told as measured from 5 on."
    assert words in text_of(client.get("/sites/moulder"))
    assert "Mon to Fri 08:00 to 16:30" in text_of(client.get("/sites/moulder"))


def test_a_site_shows_contact_calendar_lanes_people_and_what_is_there() -> None:
    _bench, moulder = shops()
    ahead = timezone.now().date() + timedelta(days=90)
    factory.make_closure(moulder, ahead, ahead + timedelta(days=4), "plant closed")
    Person.objects.create(site=moulder, name="Ines Robledo", initials="IR")
    factory.make_stock(factory.make_part(name="Globe"), moulder, 1006)
    reported = factory.event_context("phoned", at=timezone.now() - timedelta(hours=30))
    record(event_context=reported, kind="stock opened", subjects=[], reported={}, site_id=moulder.pk)
    client = founder_client()
    page = text_of(client.get("/sites/moulder"))
    for words in ("Dale", "+1 260 555 0124", "plant closed", "Own bench in 2 working days", "Ines Robledo (IR)"):
        assert words in page, words
    assert "Globe 1,006" in page and "Report for this shop" in page
    assert client.get("/sites/nobody").status_code == 404


def test_a_pass_is_shown_once_as_link_and_square_and_opens_the_shop() -> None:
    shops()
    client = founder_client()
    page = made(client)
    token = token_on(page)
    html = page.content.decode()
    assert page["Cache-Control"] == "no-store" and "<svg" in html
    assert f"https://trace.example/pass/{token}" in html and "style=" not in html
    assert token not in client.get("/sites/moulder").content.decode()
    assert token not in str(SitePass.objects.values_list())
    phone = Client()
    assert phone.post(f"/pass/{token}", {"open": "yes"}).status_code == 302
    assert phone.get("/here/").status_code in (200, 302)


def test_the_same_form_again_makes_no_second_key() -> None:
    shops()
    client = founder_client()
    reported = news_id()
    made(client, news_id=reported)
    again = made(client, news_id=reported)
    assert again.status_code == 409 and "its key was shown only then" in text_of(again)
    assert SitePass.objects.count() == 1


def test_the_card_prints_the_square_that_opens_the_pass() -> None:
    shops()
    client = founder_client()
    token = token_on(made(client))
    paper = client.post("/sites/moulder/card", {"token": token})
    assert paper["Content-Type"] == "application/pdf" and paper["Cache-Control"] == "no-store"
    (image,) = pages(paper.content, 203, black_and_white=True)
    assert list(squares_on(image)) == [f"https://trace.example/pass/{token}"]
    assert client.post("/sites/bench/card", {"token": token}).status_code == 404
    assert client.post("/sites/moulder/card", {"token": "X" * 16}).status_code == 404


def test_a_packing_pass_belongs_to_the_own_bench_alone() -> None:
    shops()
    client = founder_client()
    assert made(client, "moulder", "packing").status_code == 422
    assert made(client, "bench", "packing").status_code == 200


def test_without_a_public_address_no_pass_is_made(settings: object) -> None:
    settings.PUBLIC_ADDRESS = None  # type: ignore[attr-defined]
    shops()
    answer = made(founder_client())
    assert answer.status_code == 409 and not SitePass.objects.exists()


def test_a_revoked_pass_opens_nothing() -> None:
    shops()
    client = founder_client()
    token = token_on(made(client))
    row = SitePass.objects.get()
    assert client.post(f"/sites/bench/passes/{row.pk}/revoke").status_code == 404
    for _ in range(2):
        assert client.post(f"/sites/moulder/passes/{row.pk}/revoke").status_code == 302
    assert Client().post(f"/pass/{token}", {"open": "yes"}).status_code == 404
    assert "revoked" in text_of(client.get("/sites/moulder"))


def test_a_supplier_takes_no_pass() -> None:
    shops()
    factory.make_site("resins", "supplier", name="Maumee")
    client = founder_client()
    assert "Make a pass" not in text_of(client.get("/sites/resins"))
    assert made(client, "resins").status_code == 404


def test_they_cost_the_same_with_many() -> None:
    bench, _moulder = shops()

    def more(name: str, n: int) -> None:
        for i in range(n):
            site = factory.make_site(f"{name}{i}")
            factory.make_lane(site, bench)
            factory.make_stock(factory.make_part(f"{name}{i}"), bench, 4)

    more("a", 2)
    client = founder_client()
    assert_costs_the_same(client, "/sites", lambda: more("b", 27))
    assert_costs_the_same(client, "/sites/bench", lambda: more("c", 15))
