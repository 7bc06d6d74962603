"""Longer than usual: measured where enough visits are over, else as agreed, in working days of that shop throughout."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from sites.models import Site
from tests import cast, factory
from tests.web.founder import scene
from tests.web.founder.signed_in import text_of
from traveller.batches.models import Batch
from traveller.rules.stays import StayLength, usual_stay
from traveller.web.founder.desk.frame import Desk
from traveller.web.founder.orders.order_line import order_graph
from traveller.web.founder.today import decisions
from traveller.web.founder.work.usual import bound_words, days_words, every_site, measured_words, usual_words

pytestmark = pytest.mark.django_db
# A Monday morning at the shop.
START = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)


def stays(*days: int, open_days: tuple[int, ...] = ()) -> list[StayLength]:
    return [StayLength(n) for n in days] + [StayLength(n, over=False) for n in open_days]


def test_what_is_told_says_whether_it_was_measured_or_agreed() -> None:
    few, five, ten = (usual_stay(stays(*[3] * n, 8), agreed=5) for n in (3, 4, 9))
    assert usual_words(few) == bound_words(few) == "5 working days agreed"
    assert usual_words(five) == usual_words(ten) == "3 working days"
    assert bound_words(five) == "usually 3 working days (5 visits measured), 5 agreed"
    assert bound_words(ten) == "usually 3 working days, 4 in 5 visits end within 3 (10 measured)"
    assert "assumed as agreed: 4 visits are over; it is told as measured from 5 on." in measured_words(few)
    assert measured_words(ten) == "How long a batch stays is measured: 10 visits are over."
    assert "of 1 more only the least length is known" in measured_words(usual_stay(stays(1, open_days=(2,)), agreed=5))


def test_less_than_a_day_is_no_zero() -> None:
    assert [days_words(n) for n in (0, 1, 2)] == ["under 1 working day", "1 working day", "2 working days"]


def through(played: scene.Scene, name: str, since: float, until: float) -> None:
    """A batch of globes that was at the moulder from one day to another."""
    batch = factory.make_batch(played.parts["globe"], destination=played.sites["bench"], name=name)
    played.batches[name] = batch
    for step, share in ((10, 0.0), (20, 0.5), (30, 0.9)):
        played.report(name, step, since + (until - since) * share, 20)
    played.send(name, "moulder", "bench", until, 20)


@pytest.fixture
def played() -> scene.Scene:
    return scene.stage(START)


def tags(played: scene.Scene, day: float) -> list[str]:
    now = played.at(day)
    desk = Desk(now, None, ZoneInfo("UTC"))
    return [row.text for row in decisions.silent(desk, every_site(now))]


def test_ten_quick_visits_make_a_shop_late_that_would_be_in_time_as_agreed(played: scene.Scene) -> None:
    """Agreed are 5 working days; it has always taken 1, and now one batch is there for 4."""
    for n in range(9):
        through(played, f"quick {n}", 0, 1)
    played.report("globe", 10, 7, 30)
    assert not tags(played, 11)
    through(played, "tenth", 0, 1)
    (text,) = tags(played, 11)
    assert "30 Globe, amber" in text
    assert "at Moulder for 4 working days; usually 1 working day, 4 in 5 visits end within 1 (10 measured)." in text


def test_ten_slow_visits_make_a_stay_usual_that_is_longer_than_agreed(played: scene.Scene) -> None:
    """Agreed are 5 working days; it has always taken 8, so that 7 are not too long, and 9 are."""
    for n in range(10):
        through(played, f"slow {n}", 0, 10)
    played.report("globe", 10, 14, 30)
    assert not tags(played, 23)
    (text,) = tags(played, 25.1)
    assert "for 9 working days; usually 8 working days" in text


def test_a_visit_is_as_long_as_all_its_steps_together(played: scene.Scene) -> None:
    """Since the last step 2 working days, since it came 9."""
    played.report("globe", 10, 0, 30)
    played.report("globe", 20, 9, 30)
    (text,) = tags(played, 11)
    assert "for 9 working days; 5 working days agreed." in text


def test_held_pieces_wait_for_the_founder_and_not_for_the_shop(played: scene.Scene) -> None:
    played.report("globe", 10, 0, 30)
    assert tags(played, 11)
    lot = Batch.objects.get(pk=played.batches["globe"].pk).lot
    assert lot is not None
    lot.holds.create(cause="founder", code="founder", opened_event=factory.make_event("held"), opened_at=played.at(1))
    assert not tags(played, 11)


def test_a_closed_week_is_no_time_at_the_shop(played: scene.Scene) -> None:
    played.report("globe", 10, 0, 30)
    moulder: Site = played.sites["moulder"]
    assert every_site(played.at(11))[moulder.pk].worked(played.at(0), played.at(11)) == 9
    factory.make_closure(moulder, date(2026, 3, 9), date(2026, 3, 13))
    assert every_site(played.at(11))[moulder.pk].worked(played.at(0), played.at(11)) == 4
    assert not tags(played, 11)


def drawn_silences(played: scene.Scene, destination: str) -> int:
    """How many silences an order's line graph draws for bands that were all printed and lie at the printer."""
    name = f"to {destination}"
    batch = factory.make_batch(played.parts["band"], destination=played.sites[destination], name=name)
    played.batches[name] = batch
    for number in (10, 20, 30):
        played.report(name, number, number / 20, 50)
    now = played.at(30)
    graph = order_graph(Desk(now, None, ZoneInfo("UTC")), [played.batches[name]], every_site(now), "bands", None)
    assert graph is not None
    return sum(len(trip.silences) for trip in graph.trips)


def test_a_line_falls_silent_where_something_is_to_be_done_and_not_in_stock(played: scene.Scene) -> None:
    assert drawn_silences(played, "bench") == 1
    assert drawn_silences(played, "printer") == 0


def test_here_for_and_usually_stand_in_the_same_unit_on_the_pages() -> None:

    played = scene.play(timezone.now() - timedelta(days=30))
    batch = played.batches["globe"]
    page = text_of(cast.founder_client().get(f"/batches/{batch.code}"))
    here = page[page.index("Where the pieces lie") :]
    assert "working days" in here and "5 working days agreed" in here
    assert " 25 days" not in here and " 30 days" not in here
