"""A batch's page, its deeds and papers, a correction, a hold, a lot, a code, a shop that phones."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from sites.actions.make_pass import make_pass
from tests import cast, factory
from tests.kept import standing
from tests.web.founder import scene
from traveller.batches.actions.report import report
from traveller.batches.history.step_law import step_accounts
from traveller.batches.models import Batch, TravellerPrint
from traveller.batches.reads.queries import whereabouts
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.ledger.models import Condition, Hold, Lot
from traveller.rules.codes import ALPHABET, is_valid
from traveller.web.who import BEHALF_KEY, PASS_COOKIE

if TYPE_CHECKING:
    from pytest_django.plugin import DjangoDbBlocker

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def kept(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[scene.Scene]:
    yield from standing(django_db_blocker, lambda: scene.play(timezone.now() - timedelta(days=12)))


@pytest.fixture
def played(kept: scene.Scene, db: None) -> scene.Scene:
    return deepcopy(kept)


@pytest.fixture
def client() -> Client:
    return cast.founder_client()


def _text(answer: Any, status: int = 200) -> str:
    assert answer.status_code == status, answer.content.decode()[:2000]
    return str(answer.content.decode())


def _page(client: Client, played: scene.Scene, batch: str = "globe") -> str:
    return _text(client.get(f"/batches/{played.batches[batch].code}"))


def _hold(played: scene.Scene) -> Hold:
    return Hold.objects.get(lot=played.batches["short bake"].lot, root=None)


def _send(client: Client, address: str, name: object, **reported: object) -> HttpResponse:
    return client.post(address, {"news_id": str(factory.uid(name)), **reported})  # type: ignore[return-value]


def test_the_page_opens_with_where_the_batch_is(client: Client, played: scene.Scene) -> None:
    text = _page(client, played)
    assert "Globe, amber: 960 in stock at Own bench; 12 in rework at Moulder, before water test." in text


def test_the_steps_account_for_every_piece(client: Client, played: scene.Scene) -> None:
    text = _page(client, played)
    for figures in ("1,057", "1,023", "1,018", "970"):
        assert f'<td class="n" data-label="Good">{figures}</td>' in text or f'data-label="In">{figures}</td>' in text


def test_a_percentage_needs_twenty_pieces(client: Client, played: scene.Scene) -> None:
    assert "96.8 %" in _page(client, played)
    few = factory.make_batch(played.parts["globe"], destination=played.sites["bench"], name="few")
    played.batches["few"] = few
    played.report("few", 10, 8, 18, scrap={"short": 1})
    assert "18 of 19" in _page(client, played, "few")


def test_the_law_of_the_step_holds_for_every_batch_played(played: scene.Scene) -> None:
    scene.trouble(played, 10)
    scene.finish(played, "band", 30, 11, lost=7)
    for batch in Batch.objects.all():
        row = whereabouts([batch])[0]
        for account in step_accounts(batch, row.steps):
            assert account.left_over == 0, (batch.code, account)


def test_what_arrived_at_a_step_is_what_the_step_before_gave(played: scene.Scene) -> None:
    batch = played.batches["globe"]
    mould, deburr, water = step_accounts(batch, whereabouts([batch])[0].steps)
    assert (mould.arrived, deburr.arrived, water.arrived) == (1057, 1023, 1018)
    band = played.batches["band"]
    _first, oven, second = step_accounts(band, whereabouts([band])[0].steps)
    assert (oven.arrived, oven.set_apart, oven.here, second.arrived) == (1000, 210, 190, 600)


def test_pieces_that_cannot_be_found_stand_as_unexplained(played: scene.Scene) -> None:
    scene.finish(played, "band", 30, 11, lost=7)
    band = played.batches["band"]
    account = step_accounts(band, whereabouts([band])[0].steps)[2]
    assert (account.unexplained, account.here, account.arrived) == (7, 5, 600)


def test_checks_stand_with_their_verdict_in_figures_and_what_they_block(client: Client, played: scene.Scene) -> None:
    text = _page(client, played, "short bake")
    assert "Load 3: 14 min, at least 20 min needed." in text
    assert "sending on" in text
    assert "All of it is held" in text


def test_the_history_says_who_told_it_and_how_late(client: Client, played: scene.Scene) -> None:
    step = played.step("band", 30)
    at = timezone.now() - timedelta(hours=5)
    actor = factory.operator(played.sites["printer"], "Inés")
    event_context = EventContext(uid=factory.uid("late"), at=at, recorded_at=at + timedelta(hours=3), actor=actor)
    scene.done(report(event_context=event_context, step_id=step.pk, good=4))
    text = _page(client, played, "band")
    assert "30, print second colour: 4 good." in text
    assert "told 3 hours later" in text
    assert "Inés, Printer" in text


def test_a_correction_strikes_the_old_count_and_keeps_its_reason(client: Client, played: scene.Scene) -> None:
    wrong = Event.objects.filter(
        kind="counted", data__number=10, about__subject=played.batches["globe"].subject
    ).first()
    assert wrong is not None
    address = f"/events/{wrong.pk}/correct"
    shown = _text(client.get(address))
    assert "500 good, 9 scrap (short 9), told by Ines" in shown
    reported = {"good": "498", "scrap_0": "11", "rework": "0", "samples": "0", "reason": "two were short"}
    answer = _send(client, address, "correct", **reported)
    assert answer.status_code == 302
    text = _page(client, played)
    assert 'class="struck"' in text
    assert "corrected: two were short" in text
    assert "the count was 498 good, 11 scrap (short 11): two were short." in text
    assert played.step("globe", 10).good == 1021


@pytest.mark.parametrize(
    ("reported", "status", "words"),
    [
        ({"good": "12", "rework": "0", "samples": "0", "reason": ""}, 422, "This field is required."),
        ({"good": "-1", "rework": "0", "samples": "0", "reason": "x"}, 422, "is below zero"),
        ({"good": "1.5", "rework": "0", "samples": "0", "reason": "x"}, 422, "is not whole"),
        ({"good": "1", "rework": "0", "samples": "0", "reason": " "}, 422, "This field is required."),
    ],
)
def test_a_correction_that_cannot_be_read_keeps_what_was_typed(
    client: Client, played: scene.Scene, reported: dict[str, str], status: int, words: str
) -> None:
    wrong = Event.objects.filter(kind="counted").order_by("id").first()
    assert wrong is not None
    text = _text(_send(client, f"/events/{wrong.pk}/correct", "bad", **reported), status)
    assert words in text
    assert f'value="{reported["good"]}"' in text
    assert not Event.objects.filter(kind="count corrected").exists()


def test_only_a_count_can_be_corrected(client: Client, played: scene.Scene) -> None:
    sent = Event.objects.get(kind="sent", data__told__lines__0__1=400)
    assert client.get(f"/events/{sent.pk}/correct").status_code == 404


def test_the_hold_page_shows_figures_limits_and_pieces(client: Client, played: scene.Scene) -> None:
    text = _text(client.get(f"/holds/{_hold(played).pk}"))
    assert "Load 3: 14 min, at least 20 min needed." in text
    assert "210 at Printer, before oven" in text
    assert "Use as is, by concession" in text
    assert "Release: nothing is wrong" not in text


def test_a_concession_frees_the_lot_with_its_reason(client: Client, played: scene.Scene) -> None:
    hold = _hold(played)
    address = f"/holds/{hold.pk}"
    answer = _send(client, address, "decide", disposition="concession", reason="adhesion tested, holds")
    assert answer.status_code == 302
    text = _text(client.get(address))
    assert "Decided: use as is, by concession" in text
    assert "adhesion tested, holds" in text
    hold.refresh_from_db()
    assert hold.closed_at is not None


def test_the_same_decision_sent_twice_is_one(client: Client, played: scene.Scene) -> None:
    reported = {"disposition": "scrap", "reason": "scorched"}
    for _ in range(2):
        assert _send(client, f"/holds/{_hold(played).pk}", "twice", **reported).status_code == 302
    assert Event.objects.filter(kind="decided").count() == 1
    lot = played.batches["short bake"].lot
    assert lot is not None
    assert factory.balance(lot, played.sites["printer"], Condition.SCRAP, 20) == 210


def test_rework_needs_its_step(client: Client, played: scene.Scene) -> None:
    address = f"/holds/{_hold(played).pk}"
    text = _text(_send(client, address, "r1", disposition="rework", reason="bake again"), 422)
    assert "Choose the step to go back to." in text
    assert _send(client, address, "r2", disposition="rework", to_step="20", reason="bake again").status_code == 302
    lot = played.batches["short bake"].lot
    assert lot is not None
    assert factory.balance(lot, played.sites["printer"], Condition.REWORK, 20) == 210


def test_a_hold_decided_before_refuses_in_words(client: Client, played: scene.Scene) -> None:
    address = f"/holds/{_hold(played).pk}"
    assert _send(client, address, "first", disposition="scrap", reason="scorched").status_code == 302
    text = _text(_send(client, address, "second", disposition="concession", reason="no"), 409)
    assert "This hold was decided before" in text


def test_a_decision_without_an_id_is_not_recorded(client: Client, played: scene.Scene) -> None:
    address = f"/holds/{_hold(played).pk}"
    text = _text(client.post(address, {"disposition": "scrap", "reason": "scorched"}), 422)
    assert "The page lost its number on the way." in text
    assert "scorched" in text


def test_a_batch_is_held_whole(client: Client, played: scene.Scene) -> None:
    code = played.batches["globe"].code
    assert _send(client, f"/batches/{code}/hold", "h", reason="cracks at the rim").status_code == 302
    text = _page(client, played)
    assert "All of it is held: Held by the founder: cracks at the rim" in text


def test_a_part_of_a_batch_is_held_as_a_batch_of_its_own(client: Client, played: scene.Scene) -> None:
    batch = played.batches["globe"]
    bench = played.sites["bench"]
    reported = {"place": f"{bench.pk}:stock:0", "quantity": "100", "part_reason": "cloudy"}
    answer = _send(client, f"/batches/{batch.code}/part", "p", **reported)
    assert answer.status_code == 302
    child = Batch.objects.get(parent=batch)
    assert child.code in answer["Location"]
    assert "Held by the founder: cloudy" in _text(client.get(f"/batches/{child.code}"))
    assert f"100 pieces go on as batch {child.code}." in _page(client, played)


def test_more_than_a_part_is_refused_in_words(client: Client, played: scene.Scene) -> None:
    batch = played.batches["globe"]
    reported = {"place": f"{played.sites['bench'].pk}:stock:0", "quantity": "5000", "part_reason": "cloudy"}
    text = _text(_send(client, f"/batches/{batch.code}/part", "p", **reported), 409)
    assert "960 lie there. A part is at least 1 and fewer than all" in text
    assert 'value="5000"' in text


def test_each_print_of_the_traveller_replaces_the_one_before(client: Client, played: scene.Scene) -> None:
    address = f"/batches/{played.batches['globe'].code}/traveller"
    first = _send(client, address, "print 1")
    assert first["Content-Type"] == "application/pdf"
    assert first.content.startswith(b"%PDF")
    again = _send(client, address, "print 1")
    assert again.content == first.content
    _send(client, address, "print 2")
    assert list(TravellerPrint.objects.values_list("serial", flat=True)) == [1, 2]
    assert "print 3 replaces print 2" in _page(client, played)


def test_a_lot_page_traces_both_ways(client: Client, played: scene.Scene) -> None:
    lantern = played.batches["lantern"]
    scene.send_and_receive(played, "band", "printer", "bench", 8.5, 400)
    played.report("lantern", 10, 10, 300)
    globe = played.batches["globe"].lot
    assert globe is not None
    text = _text(client.get(f"/lots/{globe.code}"))
    went = text[text.index("Where it went") :]
    assert f'href="/lots/{lantern.code}"' in went
    assert "Lantern, amber, 300" in went
    came = _text(client.get(f"/lots/{lantern.code}"))
    came = came[came.index("Where it came from") : came.index("Where it went")]
    for part in ("Globe, amber, 300", "Band, printed, amber, 300", "Light puck, 300"):
        assert part in came


def test_a_bought_lot_can_be_held(client: Client, played: scene.Scene) -> None:
    puck = Lot.objects.get(part=played.parts["puck"])
    assert "Light puck: 700 in stock, Own bench." in _text(client.get(f"/lots/{puck.code}"))
    assert _send(client, f"/lots/{puck.code}/hold", "lot", reason="flickers").status_code == 302
    text = _text(client.get(f"/lots/{puck.code}"))
    assert "It is held: Held by the founder: flickers" in text
    decide = _text(client.get(f"/holds/{Hold.objects.get(lot=puck).pk}"))
    assert "Release: nothing is wrong with it" in decide
    assert "Rework" not in decide[decide.index('id="decide"') :]


def test_any_code_leads_to_its_page(client: Client, played: scene.Scene) -> None:
    batch = played.batches["globe"].code
    puck = Lot.objects.get(part=played.parts["puck"]).code
    for text, target in (
        (batch, f"/batches/{batch}"),
        (batch.lower(), f"/batches/{batch}"),
        (f"{batch[:3]}-{batch[3:6]}-{batch[6:]}", f"/batches/{batch}"),
        (f"https://trace.example/t/{batch}", f"/batches/{batch}"),
        (f"https://trace.example/t/{batch}/30", f"/batches/{batch}#step-30"),
        (puck, f"/lots/{puck}"),
        ("1042", "/orders/1042"),
        (str(played.order.subject.code), "/orders/1042"),
        ("", "/"),
    ):
        answer = client.get("/find", {"code": text})
        assert (answer.status_code, answer["Location"]) == (302, target), text


def test_a_damaged_code_gets_the_nearest_with_its_site(client: Client, played: scene.Scene) -> None:
    code = played.batches["globe"].code
    wrong = next(c for c in ALPHABET if c != code[2])
    damaged = code[:2] + wrong + code[3:]
    assert not is_valid(damaged)
    text = _text(client.get("/find", {"code": damaged}), 404)
    assert "has a slip in it: one of its characters is wrong. Is it one of these?" in text
    assert f'href="/batches/{code}"' in text
    assert "Moulder, Own bench" in text


@pytest.mark.parametrize("text", ["0000001", "x" * 400, "<script>", "%00", "１０４２"])
def test_nonsense_gets_words_and_no_fault(client: Client, played: scene.Scene, text: str) -> None:
    answer = client.get("/find", {"code": text})
    assert answer.status_code in (302, 404)
    assert b"<script>alert" not in answer.content


def test_a_shop_that_phones_is_spoken_for_until_the_call_ends(client: Client, played: scene.Scene) -> None:
    batch = played.batches["globe"]
    reported = {"site": str(played.sites["moulder"].pk), "code": batch.code}
    answer = client.post("/founder/behalf", reported)
    assert (answer.status_code, answer["Location"]) == (302, f"/here/t/{batch.code}")
    assert client.session[BEHALF_KEY] == played.sites["moulder"].pk
    assert "You speak for Moulder, by phone." in _page(client, played)
    client.post("/pass-off")
    assert BEHALF_KEY not in client.session
    assert client.post("/founder/behalf", {"site": "no"}).status_code == 404
    assert client.get("/founder/behalf").status_code == 405


def test_the_order_page_shows_lines_and_batches(client: Client, played: scene.Scene) -> None:
    text = _text(client.get("/orders/1042"))
    assert "Order 1042 is due " in text
    assert "Lantern, amber: 1,000 not made yet; 28 Globe, amber are missing." in text
    for batch in ("globe", "band", "short bake", "lantern"):
        assert f'href="/batches/{played.batches[batch].code}"' in text
    assert client.get("/orders/none").status_code == 404


def test_the_list_of_orders_says_which_are_late(client: Client, played: scene.Scene) -> None:
    late = factory.make_order("1001")
    factory.make_line(late, played.parts["lantern"], 50, due_on=timezone.now().date() - timedelta(days=3))
    text = _text(client.get("/orders"))
    assert "Two orders are open; 1001 is late; pieces are missing for 1042." in text
    assert "50 not released, late" in text
    assert "1 line waits to be planned and released." in text
    assert "0 orders are closed." in _text(client.get("/orders?only=closed"))


def _addresses(played: scene.Scene) -> list[str]:
    code = played.batches["globe"].code
    event = Event.objects.filter(kind="counted").first()
    assert event is not None
    return [
        "/",
        "/orders",
        "/orders/1042",
        f"/batches/{code}",
        f"/batches/{code}/labels",
        f"/lots/{code}",
        f"/holds/{_hold(played).pk}",
        f"/events/{event.pk}/correct",
        f"/find?code={code}",
    ]


def test_the_pages_are_the_founders_alone(played: scene.Scene) -> None:
    token = "S" * 16
    make_pass(site=played.sites["moulder"], kind="operator", token=token, at=timezone.now())
    for address in _addresses(played):
        answer = Client().get(address)
        assert answer.status_code == 302, address
        assert answer["Location"].startswith("/sign-in"), address
        shop = Client()
        shop.cookies[PASS_COOKIE] = token
        found = shop.get(address)
        if address == "/":
            # The bare host, typed on a shop's phone, is that shop's own first page.
            assert (found.status_code, found["Location"]) == (302, "/here/")
        else:
            assert found.status_code == 404, address
