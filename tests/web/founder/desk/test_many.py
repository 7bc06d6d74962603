"""Hundreds of batches: lists come in pages, drawings stay readable, and no page asks the database more often."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from tests import cast, factory
from tests.web.founder import scene
from tests.web.founder.signed_in import queries_of, text_of
from tests.web.one_line import one_line
from traveller.batches.actions.hold import hold_lot
from traveller.orders.kits import kits_now
from traveller.orders.models import BatchShare
from traveller.web.founder.orders.order_reads import TOLD_MOST, telling_batches

pytestmark = pytest.mark.django_db


@pytest.fixture
def played() -> scene.Scene:
    return scene.play(timezone.now() - timedelta(days=12))


def more(played: scene.Scene, many: int, first: int = 0) -> None:
    """Batches of globes for the same order, moulded some days ago."""
    for n in range(first, first + many):
        name = f"more {n}"
        batch = factory.make_batch(
            played.parts["globe"], wanted=100, destination=played.sites["bench"], due_on=played.line.due_on, name=name
        )
        BatchShare.objects.create(batch=batch, line=played.line, quantity=100)
        played.batches[name] = batch
        played.report(name, 10, 1 + n / 1000, 90, scrap={"short": 10})


def rows_in(page: str) -> int:
    """Lines of the table of batches: each has its batch's code with a link."""
    return page.count('<a href="/batches/')


def test_the_first_page_and_the_order_list_fifty_batches_a_page_and_lead_on(played: scene.Scene) -> None:
    more(played, 60)
    client = cast.founder_client()
    for path in ("/", "/orders/1042"):
        first = client.get(path)
        assert "1 to 50 of 64" in text_of(first), path
        assert 'href="?page=2">After</a>' in one_line(first.content.decode())
        second = client.get(f"{path}?page=2")
        assert "51 to 64 of 64" in text_of(second) and 'href="?page=1">Before</a>' in one_line(second.content.decode())
        assert rows_in(second.content.decode()) < rows_in(first.content.decode())
    every = client.get("/orders/1042").content.decode() + client.get("/orders/1042?page=2").content.decode()
    assert all(f'href="/batches/{batch.code}"' in every for batch in played.batches.values())


def test_a_filter_is_kept_from_page_to_page_and_an_impossible_page_is_the_last(played: scene.Scene) -> None:
    more(played, 60)
    client = cast.founder_client()
    page = client.get("/?q=globe").content.decode()
    assert 'href="?q=globe&amp;page=2"' in page
    for asked in ("99", "-1", "x"):
        assert client.get(f"/orders/1042?page={asked}").status_code == 200


@pytest.mark.parametrize("path", ["/", "/orders/1042", "/orders", "/kits", "/stock", "/holds", "/sites", "/quality"])
def test_no_page_asks_more_often_for_ten_times_as_many(played: scene.Scene, path: str) -> None:
    more(played, 4)
    client = cast.founder_client()
    few = queries_of(client, path)
    more(played, 40, first=4)
    assert queries_of(client, path) == few


def test_an_order_of_many_batches_is_told_from_its_held_ones_first_and_then_its_largest(played: scene.Scene) -> None:
    more(played, TOLD_MOST + 5)
    held = played.batches[f"more {TOLD_MOST + 4}"]
    assert held.lot is not None
    scene.done(hold_lot(event_context=played.by("moulder", 9), lot_id=held.lot.pk, reason="cracked"))
    reported = telling_batches(played.order.pk)
    assert len(reported) == TOLD_MOST and held.pk in {batch.pk for batch in reported}
    assert {played.batches[name].pk for name in ("globe", "band", "lantern")} <= {batch.pk for batch in reported}
    assert [batch.pk for batch in reported] == sorted(batch.pk for batch in reported)


def test_kits_count_the_same_however_many_lots_the_pieces_lie_in(played: scene.Scene) -> None:
    """The database sums what lies alike: two lots of 50 are worth one of 100, a held one is apart."""

    def globes(kind: str) -> int:
        row = next(row for row in kits_now(on=played.at(11).date()) if row.part == played.parts["lantern"])
        return next(c.pieces.get(kind, 0) for c in row.components if c.part == played.parts["globe"])  # type: ignore[call-overload, no-any-return]

    here, held = globes("here"), globes("held")
    lots = [factory.make_stock(played.parts["globe"], played.sites["bench"], 50, name=f"two {n}") for n in range(2)]
    assert globes("here") == here + 100
    scene.done(hold_lot(event_context=played.by("bench", 11), lot_id=lots[0].pk, reason="scratched"))
    assert (globes("here"), globes("held")) == (here + 50, held + 50)
    factory.make_stock(played.parts["globe"], played.sites["bench"], 30, name="old", expires_on=played.at(10).date())
    assert (globes("here"), globes("held")) == (here + 50, held + 80)
    factory.make_stock(played.parts["globe"], played.sites["bench"], 20, name="new", expires_on=played.at(11).date())
    assert globes("here") == here + 70, "good to the end of its last day"
