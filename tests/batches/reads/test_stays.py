"""Visits: when the pieces of a batch came to a site, when the last good ones left it, and whether they did."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from tests import factory
from tests.web.founder import scene
from tests.web.founder.scene import done
from traveller.batches.actions.split import split
from traveller.batches.actions.start_step import start_step
from traveller.batches.actions.take_back_dispatch import take_back_dispatch
from traveller.batches.actions.undo import undo
from traveller.batches.models import Batch
from traveller.batches.reads.stays import of_late, visits_of
from traveller.journal.models import Event
from traveller.ledger.models import Condition
from traveller.ledger.post import Place
from traveller.orders.actions.adopt_batch import adopt_batch

pytestmark = pytest.mark.django_db


def days(played: scene.Scene, at: datetime | None) -> float | None:
    return None if at is None else round((at - played.start) / timedelta(days=1), 2)


def found(played: scene.Scene, name: str, site: str) -> list[tuple[float | None, float | None, bool]]:
    rows = visits_of(Batch.objects.filter(pk=played.batches[name].pk))
    here = [row for row in rows if row.site_id == played.sites[site].pk]
    return [(days(played, row.arrived), days(played, row.left), row.over) for row in here]


def shipped_globes() -> scene.Scene:
    """100 globes from the first shot to the bench: begun on day 0.5, sent on days 3 and 4, counted on day 5 and 6."""
    played = scene.stage(factory.MONDAY)
    done(start_step(event_context=played.by("moulder", 0.5), step_id=played.step("globe", 10).pk))
    played.report("globe", 10, 1, 100)
    played.report("globe", 20, 2, 100)
    played.report("globe", 30, 2.5, 100)
    return played


def test_a_visit_begins_with_the_first_work_and_ends_when_the_last_good_piece_leaves() -> None:
    played = shipped_globes()
    assert found(played, "globe", "moulder") == [(0.5, None, False)]
    played.send("globe", "moulder", "bench", 3, 40)
    assert found(played, "globe", "moulder") == [(0.5, None, False)]
    played.send("globe", "moulder", "bench", 4, 60)
    assert found(played, "globe", "moulder") == [(0.5, 4, True)]


def test_what_goes_into_stock_where_it_is_wanted_makes_no_visit_there() -> None:
    played = shipped_globes()
    played.receive(played.send("globe", "moulder", "bench", 4, 100), "bench", 5, 100)
    assert found(played, "globe", "bench") == []


def test_work_whose_pieces_go_into_stock_as_they_are_counted_is_a_visit() -> None:
    played = scene.stage(factory.MONDAY)
    done(start_step(event_context=played.by("bench", 1), step_id=played.step("lantern", 10).pk))
    assert found(played, "lantern", "bench") == [(1, None, False)]
    factory.make_stock(played.parts["globe"], played.sites["bench"], 50)
    played.report("lantern", 10, 2, 50)
    assert found(played, "lantern", "bench") == [(1, None, False)]
    scene.finish(played, "lantern", 10, 3)
    assert found(played, "lantern", "bench") == [(1, 3, True)]


def test_what_was_scrapped_to_the_last_piece_only_says_at_least() -> None:
    played = scene.stage(factory.MONDAY)
    played.report("globe", 10, 1, 30)
    played.report("globe", 20, 3, 0, scrap={"dirty": 30})
    assert found(played, "globe", "moulder") == [(1, 3, False)]


def test_scrap_after_the_good_ones_left_does_not_lengthen_a_visit() -> None:
    played = shipped_globes()
    played.send("globe", "moulder", "bench", 3, 95)
    played.report("globe", 10, 6, 4)
    played.report("globe", 20, 7, 0, scrap={"dirty": 4})
    played.send("globe", "moulder", "bench", 5, 5)
    assert found(played, "globe", "moulder") == [(0.5, 5, True), (6, 7, False)]


def test_rework_that_waits_keeps_a_visit_open() -> None:
    played = scene.play(factory.MONDAY)
    assert found(played, "globe", "moulder") == [(0.2, None, False)]


def test_what_was_split_off_came_when_its_parent_came() -> None:
    played = shipped_globes()
    lot = played.batches["globe"].lot
    assert lot is not None
    place = Place(lot.pk, played.sites["moulder"].pk, Condition.STOCK)
    event_context = played.by("moulder", 3.5)
    batch = played.batches["globe"]
    done(split(event_context=event_context, batch_id=batch.pk, place=place, quantity=60, reason="two customers"))
    played.send("globe", "moulder", "bench", 4, 40)
    rows = visits_of(Batch.objects.filter(part=batch.part))
    assert [(days(played, row.arrived), row.over) for row in rows] == [(0.5, True), (0.5, False)]


def test_what_was_taken_over_had_been_there_before_so_its_first_visit_only_says_at_least() -> None:
    played = scene.stage(factory.MONDAY)
    globe = played.parts["globe"]
    bench = played.sites["bench"].pk
    stamp = played.by("moulder", 1)
    batch = done(
        adopt_batch(event_context=stamp, reference="RUN-88", part_id=globe.pk, good={10: 40}, destination_id=bench)
    )
    played.batches["taken over"] = batch
    assert found(played, "taken over", "moulder") == [(1, None, False)]
    for number in (20, 30):
        played.report("taken over", number, 2, 40)
    played.send("taken over", "moulder", "bench", 3, 40)
    assert found(played, "taken over", "moulder") == [(1, 3, False)]


def test_a_count_that_was_taken_back_did_not_happen() -> None:
    played = scene.stage(factory.MONDAY)
    played.report("globe", 10, 1, 30)
    wrong = Event.objects.latest("id")
    done(undo(event_context=played.by("moulder", 1.001), event_id=wrong.pk))
    assert found(played, "globe", "moulder") == []


def test_goods_that_came_back_before_anybody_counted_them_had_not_left() -> None:
    played = shipped_globes()
    sent = played.send("globe", "moulder", "bench", 4, 100)
    assert found(played, "globe", "moulder") == [(0.5, 4, True)]
    done(take_back_dispatch(event_context=played.by("moulder", 4.1), consignment_id=sent.pk))
    assert found(played, "globe", "moulder") == [(0.5, None, False)]


def test_the_latest_batches_are_read_and_older_ones_that_still_lie_at_work(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("traveller.batches.reads.stays.BATCHES_MOST", 1)
    played = scene.stage(factory.MONDAY)
    assert set(of_late()) == {played.batches["lantern"]}
    played.report("globe", 10, 1, 30)
    assert set(of_late()) == {played.batches["lantern"], played.batches["globe"]}


def test_it_costs_the_same_for_many(django_assert_num_queries: object) -> None:
    played = scene.play(factory.MONDAY)
    with django_assert_num_queries(4):  # type: ignore[operator]
        few = visits_of(of_late())
    for n in range(9):
        name = f"n{n}"
        played.batches[name] = factory.make_batch(played.parts["globe"], destination=played.sites["bench"], name=name)
        played.report(name, 10, 2, 50)
    with django_assert_num_queries(4):  # type: ignore[operator]
        assert len(visits_of(of_late())) == len(few) + 9
