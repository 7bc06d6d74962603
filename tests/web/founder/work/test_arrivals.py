"""The founder's page of arrivals without papers: an unknown tote matched, goods astray sent on, rests settled."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests import cast, factory
from tests.globe import Globe, everything_agrees, make_globe, ok
from tests.web.operator.floor import html_of, text_of
from traveller.batches.actions.receive import arrived_unannounced
from traveller.batches.actions.unknown import arrived_unknown
from traveller.journal.models import Parked
from traveller.ledger.models import Account, Condition, Lot

pytestmark = pytest.mark.django_db


@pytest.fixture
def globe(db: None) -> Globe:
    made = make_globe()
    made.report(20, 100)
    made.report(30, 100)
    return made


@pytest.fixture
def founder(globe: Globe) -> Client:
    return cast.founder_client()


def _tote(globe: Globe, quantity: int = 40) -> Parked:
    reported = {"site_id": globe.bench.pk, "words": "no label", "quantity": quantity, "part_id": globe.part.pk}
    return ok(arrived_unknown(event_context=globe.event_context(), **reported))  # type: ignore[arg-type]


def _post(founder: Client, path: str, n: object = 1, **typed: Any) -> Any:
    return founder.post(path, {"news_id": str(factory.uid(f"arrivals {n}")), **typed})


def test_an_unknown_tote_is_matched_with_a_lot_on_the_road_there(globe: Globe, founder: Client) -> None:
    ok(globe.send(40))
    parked = _tote(globe)
    home = html_of(founder.get("/"))
    path = f"/consignments/arrivals/{parked.pk}"
    assert f'href="{path}"' in home and "Say what it is" in home
    assert "A tote of an unknown lot, 40, arrived. no label" in text_of(founder.get("/consignments/arrivals"))
    page = founder.get(path)
    assert "40 Globe" in text_of(page)
    nothing = _post(founder, path, reason="seen")
    assert nothing.status_code == 422 and "Choose a lot, type its code" in text_of(nothing)
    wrong = _post(founder, path, lot="7K3M9QA", reason="seen")
    assert wrong.status_code == 422 and "No lot has this code." in text_of(wrong)
    for _ in range(2):
        answer = _post(founder, path, 2, road=str(globe.lot().pk), reason="seen on a photo")
        assert answer.status_code == 302, text_of(answer)
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 40
    late = _post(founder, path, 3, road="", lot=globe.lot().code, reason="again")
    assert late.status_code == 409 and "Somebody has said before what this is." in text_of(late)
    assert everything_agrees()


def test_an_unknown_tote_is_matched_by_a_code_or_is_a_lot_of_its_own(globe: Globe, founder: Client) -> None:
    first, second = _tote(globe), _tote(globe)
    answer = _post(founder, f"/consignments/arrivals/{first.pk}", lot=globe.lot().code.lower(), reason="asked")
    assert answer.status_code == 302
    assert "arrived that nobody has told were sent" in text_of(founder.get("/consignments/arrivals"))
    answer = _post(founder, f"/consignments/arrivals/{second.pk}", 2, part=str(globe.part.pk), reason="old stock")
    assert answer.status_code == 302
    lot = Lot.objects.filter(origin="provisional").latest("id")
    assert factory.balance(lot, globe.bench) == 40
    page = text_of(founder.get(f"/lots/{lot.code}"))
    assert "provisional: it came without a label" in page and "old stock" in page
    assert everything_agrees()


def test_goods_astray_are_shown_with_the_way_on(globe: Globe, founder: Client) -> None:
    printer = factory.make_site("printer")
    ok(globe.send(60))
    reported = {"site_id": printer.pk, "lot_id": globe.lot().pk, "quantity": 60}
    ok(arrived_unannounced(event_context=globe.event_context(), **reported))  # type: ignore[arg-type]
    page = founder.get("/consignments/arrivals")
    assert "arrived at the wrong site" in text_of(page) and "Send it on" in text_of(page)
    way = f"/consignments/new?origin=printer&amp;purpose=processing&amp;find={globe.lot().code}"
    assert way in html_of(page)
    shown = founder.get(f"/consignments/new?origin=printer&to=bench&purpose=processing&find={globe.lot().code}")
    account = Account.objects.get(lot=globe.lot(), site=printer, condition=Condition.STOCK)
    assert f'name="a{account.pk}"' in html_of(shown)
    sent = _post(
        founder,
        f"/consignments/new?origin=printer&to=bench&purpose=processing&find={globe.lot().code}",
        **{f"a{account.pk}": "60", "method": "hand", "note": "went to the printer first"},
    )
    assert sent.status_code == 302, text_of(sent)
    assert "Everything that arrived is booked." in text_of(founder.get("/consignments/arrivals"))
    assert "went to the printer first" in text_of(founder.get(sent["Location"]))


def test_what_nobody_can_explain_is_settled_with_a_reason(globe: Globe, founder: Client) -> None:
    globe.moved(100)
    globe.report(40, 92)
    globe.finish(40, lost=8)
    account = Account.objects.get(condition=Condition.UNEXPLAINED)
    path = f"/consignments/rests/{account.pk}"
    assert f'href="{path}"' in html_of(founder.get("/"))
    assert "8 Globe" in text_of(founder.get("/consignments/arrivals"))
    bare = _post(founder, path, finding="lost")
    assert bare.status_code == 422
    odd = _post(founder, path, finding="never_counted", reason="x")
    assert odd.status_code == 422
    for _ in range(2):
        assert _post(founder, path, 5, finding="lost", reason="swept up").status_code == 302
    assert globe.at(globe.bench, Condition.SCRAP, 40) == 8
    assert "Every piece is accounted for." in text_of(founder.get("/consignments/arrivals"))
    assert founder.get(path).status_code == 404
    assert "8 unexplained settled, lost: swept up." in text_of(founder.get(f"/batches/{globe.batch.code}"))
    assert everything_agrees()


def test_a_consignment_shows_its_papers_its_rest_and_who_saw_what(globe: Globe, founder: Client) -> None:
    consignment = ok(
        globe.send(100, owner="Lumen Works", returnables="4 totes", note="two wet", shown=True, carrier="van")
    )
    globe.receive(consignment, 60, more_to_come=True, rest_due=factory.MONDAY.date())
    words = text_of(founder.get(f"/consignments/{consignment.code}"))
    for part in ("Lumen Works", "4 totes", "two wet", "yes: the receipt counts as seen", "40 still to come, 2 Mar"):
        assert part in words, part
    assert "the sender’s figure was seen before" in words
    assert "40 still to come (2 Mar)" in text_of(founder.get("/consignments"))


def test_the_page_of_arrivals_asks_as_often_for_thirty_as_for_three(
    globe: Globe, founder: Client, django_assert_max_num_queries: Any
) -> None:
    for _ in range(3):
        _tote(globe, 3)
    founder.get("/consignments/arrivals")
    with django_assert_max_num_queries(14):
        founder.get("/consignments/arrivals")
    for _ in range(27):
        _tote(globe, 3)
    with django_assert_max_num_queries(14):
        founder.get("/consignments/arrivals")
