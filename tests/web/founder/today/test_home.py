"""The founder's first page."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests import cast, factory
from tests.web.founder import scene
from tests.web.one_line import one_line
from traveller.batches.actions.hold import hold_lot
from traveller.batches.models import Batch
from traveller.orders.models import BatchShare

pytestmark = pytest.mark.django_db


def _page(address: str = "/") -> str:
    answer = cast.founder_client().get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def _played() -> scene.Scene:
    played = scene.play(timezone.now() - timedelta(days=12))
    scene.trouble(played, 10)
    return played


def test_the_page_opens_with_a_computed_sentence() -> None:
    scene.play(timezone.now() - timedelta(days=12))
    text = _page()
    assert "One order is open, none late; 1042 is due next" in text
    assert "Lantern, amber: 1,000 not made yet; 28 Globe, amber are missing." in text


def test_a_late_order_is_named_with_its_reason() -> None:
    scene.play(timezone.now() - timedelta(days=25))
    text = _page()
    assert "One order is open; 1042 is late (due " in text
    assert "). Lantern, amber: 1,000 not made yet; 28 Globe, amber are missing." in text


def test_without_orders_the_page_says_so() -> None:
    text = _page()
    assert "No order is open. Nothing needs a decision." in text
    assert "No batch fits." in text


def test_each_thing_that_needs_a_decision_has_a_tag_with_a_deed() -> None:
    played = _played()
    text = _page()
    for words in (
        "14 min, at least 20 min needed",
        "Decide what happens to it",
        "Moulder sent 570 Globe, amber, Own bench counted 560: 10 missing.",
        "Settle the difference",
        "60 of lot",
        "30 Globe, amber",
        "were counted at step 20 (Moulder) before anybody told that they came there",
    ):
        assert words in text
    lot = played.batches["short bake"].lot
    assert lot is not None
    assert f'href="/holds/{lot.holds.get(root=None).pk}"' in text


def test_silence_longer_than_the_sites_usual_days_is_told_with_whom_to_call() -> None:
    scene.play(timezone.now() - timedelta(days=30))
    text = _page()
    assert "Longer than usual" in text
    assert "; 4 working days agreed. Inés +52 614 555 0142" in text


def test_what_stays_longer_than_usual_can_be_listed() -> None:
    played = scene.play(timezone.now() - timedelta(days=30))
    text = _page("/?only=long")
    table = text[text.index("Every batch") :]
    assert "Printer · " in table and "Moulder · rework before 30" in table and "Not begun" not in table
    for batch in played.batches.values():
        if batch.lot:
            hold_lot(event_context=factory.event_context(f"h {batch}"), lot_id=batch.lot.pk, reason="founder's turn")
    assert "No batch fits." in _page("/?only=long")


def test_a_site_not_heard_of_for_longer_than_usual_is_flagged() -> None:
    scene.play(timezone.now() - timedelta(days=30))
    text = _page()
    assert '<li class="overdue">Printer' in one_line(text)


def test_what_can_be_assembled_is_told_with_what_limits() -> None:
    played = scene.play(timezone.now() - timedelta(days=12))
    there = scene.send_and_receive(played, "band", "printer", "bench", 8.5, 400)
    assert there == 400
    text = _page()
    assert "400 of 1,000 Lantern, amber: every part is here and free. Band, printed, amber limits." in text


def test_finished_pieces_of_an_open_line_can_be_packed() -> None:
    played = scene.play(timezone.now() - timedelta(days=12))
    factory.make_stock(played.parts["lantern"], played.sites["bench"], 120)
    assert "120 of 1,000 Lantern, amber for order 1042 lie finished and free." in _page()


def test_the_line_graph_shows_sites_scrap_and_the_hold_in_words() -> None:
    scene.play(timezone.now() - timedelta(days=12))
    text = _page()
    for words in ("400 sent ahead", "scrap 75", "held: Load 3: 14 min", "promised", "Own bench"):
        assert words in text


def test_every_batch_has_a_row_for_each_place_where_it_lies() -> None:
    scene.play(timezone.now() - timedelta(days=12))
    text = _page()
    assert "Own bench · in stock" in text
    assert "Moulder · rework before 30, water test" in text
    assert "Not begun: starts at Own bench with 10, assemble" in text


@pytest.mark.parametrize(
    ("asked", "there", "gone"),
    [
        ("?q=globe", "Moulder · rework before 30", "Printer · 20, oven"),
        ("?q=1042", "Printer · 20, oven", "No batch fits"),
        ("?only=held", "210", "Not begun: starts at Own bench"),
        ("?only=late", "No batch fits.", "Moulder · rework before 30"),
        ("?only=waiting", "Not begun: starts at Own bench", "Moulder · rework before 30"),
        ("?q=nothing-like-it", "No batch fits.", "Moulder · rework before 30"),
        ("?site=nonsense&page=99", "Own bench · in stock", "No batch fits."),
    ],
)
def test_the_table_is_filtered(asked: str, there: str, gone: str) -> None:
    scene.play(timezone.now() - timedelta(days=12))
    text = _page("/" + asked)
    table = text[text.index("Every batch") :]
    assert there in table
    assert gone not in table


def test_the_table_is_filtered_by_site() -> None:
    played = scene.play(timezone.now() - timedelta(days=12))
    text = _page(f"/?site={played.sites['printer'].pk}")
    table = text[text.index("Every batch") :]
    assert "Printer · 20, oven" in table
    assert "rework before 30, water test" not in table
    text = _page(f"/?site={played.sites['bench'].pk}")
    table = text[text.index("Every batch") :]
    # Globes lie there; the lanterns have not begun, and nothing of the globes' rework is there.
    assert "Own bench · in stock" in table and "Moulder · rework" not in table and "Not begun" not in table
    assert "1 more batch was released to start there and has not begun." in one_line(table)
    waiting = _page(f"/?site={played.sites['bench'].pk}&only=waiting")
    assert "Not begun: starts at Own bench with 10, assemble" in waiting[waiting.index("Every batch") :]


def test_what_is_used_up_or_in_stock_where_it_is_wanted_is_not_late() -> None:
    played = scene.play(timezone.now() - timedelta(days=25))
    assert played.batches["globe"].due_on is not None and played.batches["globe"].due_on < timezone.now().date()
    text = _page("/?q=globe&only=late")
    # Twelve in rework at the moulder make the globes late.
    assert "Moulder · rework before 30" in text
    played.report("globe", 30, 20, 0, scrap={"short": 12}, again=True)
    text = _page("/?q=globe&only=late")
    assert "No batch fits." in text
    stock = _page("/?q=globe")
    stock = stock[stock.index("Every batch") :]
    assert "Own bench · in stock" in stock and 'class="mark mark-late"' not in stock


def test_fifty_batches_stand_on_a_page() -> None:
    played = scene.stage(timezone.now())
    for n in range(52):
        factory.make_batch(played.parts["globe"], destination=played.sites["bench"], name=f"more {n}")
    text = _page()
    assert "1 to 50 of 55" in text
    assert "page=2" in text
    assert "51 to 55 of 55" in _page("/?page=2")


def _queries(client: Client, address: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as reported:
        assert client.get(address).status_code == 200
    return len(reported)


def _more(played: scene.Scene, batches: range) -> None:
    for n in batches:
        batch = factory.make_batch(
            played.parts["globe"],
            wanted=100,
            destination=played.sites["bench"],
            due_on=timezone.now().date(),
            name=f"n{n}",
        )
        played.batches[f"n{n}"] = batch
        BatchShare.objects.create(batch=batch, line=played.line, quantity=100)
        played.report(f"n{n}", 10, 1 + n / 100, 90, scrap={"short": 10})


@pytest.mark.parametrize("address", ["/", "/orders", "/orders/1042"])
def test_a_page_asks_as_often_with_thirty_batches_as_with_three(address: str) -> None:
    played = scene.play(timezone.now() - timedelta(days=12))
    client = cast.founder_client()
    # One of the many is among the few: what is to be said of such a one is asked for in both.
    _more(played, range(1))
    client.get(address)
    few = _queries(client, address)
    _more(played, range(1, 27))
    assert _queries(client, address) == few


def test_a_stranger_is_asked_to_sign_in() -> None:
    answer = Client().get("/")
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in")


def test_many_of_one_kind_are_counted_in_words() -> None:
    played = scene.stage(timezone.now() - timedelta(days=12))
    for n in range(11):
        lot = factory.make_stock(played.parts["puck"], played.sites["bench"], 50, name=str(n))
        scene.done(hold_lot(event_context=factory.event_context(f"hold {n}"), lot_id=lot.pk, reason="flickers"))
    text = _page()
    assert text.count("Held by the founder: flickers") == 3
    assert "8 more of this kind." in text
    assert "Eleven things need you." in text


def test_the_drawing_stands_in_figures_beside_it() -> None:
    scene.play(timezone.now() - timedelta(days=12))
    text = _page()
    figures = text[text.index("The same in figures") :]
    for words in ("Globe, amber 1,023", "400 sent ahead", "still there", "scrap 75"):
        assert words in figures


def test_a_gate_without_evidence_is_told_once_pieces_were_counted_good() -> None:
    played = scene.play(timezone.now() - timedelta(days=12))
    factory.make_batch(played.parts["band"], destination=played.sites["bench"], name="quick")
    played.batches["quick"] = Batch.objects.latest("id")
    played.report("quick", 10, 9, 40)
    assert "Check waits" not in _page()
    played.report("quick", 20, 9.2, 40)
    text = _page()
    assert "Check waits" in text
    assert "step 20, oven (Printer): No load was recorded." in text
