"""What was only released is at no shop, and what is used up or in stock where it is wanted is not late."""

from __future__ import annotations

import pytest

from tests import factory
from tests.web.founder import scene
from tests.web.founder.scene import done
from traveller.batches.actions.start_step import start_step
from traveller.batches.models import Batch
from traveller.batches.reads.begun import begun, has_begun, is_unfinished, starts_at, unfinished
from traveller.batches.reads.queries import whereabouts

pytestmark = pytest.mark.django_db


@pytest.fixture
def played() -> scene.Scene:
    return scene.stage(factory.MONDAY)


def names(played: scene.Scene, rows: object) -> set[str]:
    pks = {row.pk for row in rows}  # type: ignore[attr-defined]
    return {name for name, batch in played.batches.items() if batch.pk in pks}


def test_a_released_batch_has_not_begun_and_starts_at_a_shop(played: scene.Scene) -> None:
    assert names(played, Batch.objects.filter(begun())) == set()
    assert names(played, starts_at(played.sites["moulder"].pk)) == {"globe"}
    assert names(played, starts_at(played.sites["printer"].pk)) == {"band"}


def test_it_begins_with_its_first_step_or_its_first_piece(played: scene.Scene) -> None:
    done(start_step(event_context=played.by("moulder", 1), step_id=played.step("globe", 10).pk))
    played.report("band", 10, 1, 20)
    assert names(played, Batch.objects.filter(begun())) == {"globe", "band"}
    assert names(played, starts_at(played.sites["moulder"].pk)) == set()


def test_what_is_not_begun_at_work_or_on_the_road_is_unfinished(played: scene.Scene) -> None:
    assert names(played, Batch.objects.filter(unfinished())) == {"globe", "band", "lantern"}
    for number in (10, 20, 30):
        played.report("globe", number, number / 10, 100)
    assert "globe" in names(played, Batch.objects.filter(unfinished()))
    sent = played.send("globe", "moulder", "bench", 4, 100)
    assert "globe" in names(played, Batch.objects.filter(unfinished()))
    played.receive(sent, "bench", 5, 100)
    assert names(played, Batch.objects.filter(unfinished())) == {"band", "lantern"}


def test_what_is_used_up_is_finished_although_it_was_never_said_to_be_done(played: scene.Scene) -> None:
    played.report("globe", 10, 1, 20)
    played.report("globe", 20, 2, 0, scrap={"dirty": 20})
    assert names(played, Batch.objects.filter(unfinished())) == {"band", "lantern"}


def test_rows_that_were_read_say_the_same_as_the_database() -> None:
    played = scene.play(factory.MONDAY)
    scene.trouble(played, 10)
    every = whereabouts(Batch.objects.all())
    assert {row.batch.pk for row in every if has_begun(row)} == set(
        Batch.objects.filter(begun()).values_list("pk", flat=True)
    )
    assert {row.batch.pk for row in every if is_unfinished(row)} == set(
        Batch.objects.filter(unfinished()).values_list("pk", flat=True)
    )
