"""Loads on the phone: in, out at their time or told late; one that failed gets a code of its own at once."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from tests import cast, factory
from tests.web.operator.floor import Floor, events, field_of, html_of, moved, text_of
from traveller.batches.models import Batch, Load

pytestmark = pytest.mark.django_db


def test_fourteen_minutes_fifty_nine_fails_and_its_pieces_get_a_code_of_their_own(floor: Floor) -> None:
    floor.moulded(48)
    moved(floor.post(floor.path(30, "load"), quantity=24))
    load = Load.objects.latest("id")
    floor.clock.go(minutes=14, seconds=59)
    asked = floor.post(f"/here/load/{load.pk}/out")
    assert "Load 1 was in for 14:59, and 15:00 are needed. Is it out already?" in text_of(asked)
    assert events("load ended") == 1, "only that of the dryer"

    reported = floor.phone.get(moved(floor.post(f"/here/load/{load.pk}/out", {"sure:out_too_early": "yes"})))
    child = Batch.objects.get(parent=floor.batch)
    words = text_of(reported)
    assert "Set these 24 apart now" in words and "They are load 1." in words
    assert f"{child.code[:3]} - {child.code[3:6]} - {child.code[6:]}" in words
    assert "failed Load 1: 14.98 min, at least 15 min needed." in words
    assert f'href="/here/label/{child.code}">Print their label' in html_of(reported)
    assert "Next: count these 24" in words

    label = floor.phone.get(f"/here/label/{child.code}")
    (field,) = floor.totes("24", child)
    assert field_of(label, field) == "24"
    pdf = floor.post(f"/here/label/{child.code}", floor.totes("24", child))
    assert pdf["Content-Type"] == "application/pdf" and getattr(pdf, "content", b"").startswith(b"%PDF")

    # Counted as what they are now, even by a phone that still knows the first batch's page.
    moved(floor.post(floor.path(30, "count"), stage="good", good=24, load=load.uid))
    assert floor.step(30, child).good + floor.step(30).good == 24
    assert floor.at(floor.moulder, "in_process", 40, child) == 24
    # The rest of the batch goes on, and is free.
    good = floor.load(24, 15)
    moved(floor.post(floor.path(30, "count"), stage="good", good=24, load=good.uid))
    assert floor.at(floor.moulder, "in_process", 40) == 24
    assert "HELD: do not use" in text_of(floor.phone.get(f"/here/t/{child.code}"))
    assert "HELD: do not use" not in text_of(floor.phone.get(f"/here/t/{floor.batch.code}"))


def test_fifteen_minutes_pass_and_lead_straight_to_the_count(floor: Floor) -> None:
    floor.moulded(24)
    moved(floor.post(floor.path(30, "load"), quantity=24))
    load = Load.objects.latest("id")
    floor.clock.go(minutes=15)
    to = moved(floor.post(f"/here/load/{load.pk}/out"))
    page = floor.phone.get(to)
    assert "24 were in this load" in text_of(page) and field_of(page, "load") == str(load.uid)
    assert not Batch.objects.filter(parent=floor.batch).exists()


def test_the_page_of_a_load_shows_its_timer_and_what_it_needs(floor: Floor) -> None:
    floor.moulded(24)
    moved(floor.post(floor.path(30, "load"), quantity=24, place="fixture B"))
    floor.clock.go(minutes=3)
    page = floor.phone.get(f"/here/load/{Load.objects.latest('id').pk}/out", follow=True)
    assert 'data-need-s="900"' in html_of(page) and "15:00 needed" in text_of(page)
    assert "fixture B" in text_of(page)
    step = floor.phone.get(f"/here/step/{floor.step(30).pk}")
    assert "Load 1 out" in text_of(step) and 'data-need-s="900"' in html_of(step)


def test_a_load_told_late_is_judged_by_its_own_times_and_says_why(floor: Floor) -> None:
    floor.moulded(48)
    at = floor.clock.now
    late = {"at": f"{at:%Y-%m-%dT%H:%M}", "late_reason": "gloves on"}
    floor.clock.go(hours=1)
    moved(floor.post(floor.path(30, "load"), late, quantity=24))
    load = Load.objects.latest("id")
    assert load.started_at == at.replace(second=0)
    out = f"{at:%Y-%m-%dT}{at.hour:02}:20"
    asked = floor.post(f"/here/load/{load.pk}/out", at=out)
    assert asked.status_code == 422 and "Say why the time is told late." in html_of(asked)
    moved(floor.post(f"/here/load/{load.pk}/out", at=out, late_reason="phone was flat"))
    load.refresh_from_db()
    assert load.ended_at == at.replace(minute=20) and load.late_reason == "phone was flat"


def test_the_start_of_a_load_can_be_told_late_with_its_end(floor: Floor) -> None:
    floor.moulded(24)
    moved(floor.post(floor.path(30, "load"), quantity=24))
    load = Load.objects.latest("id")
    floor.clock.go(minutes=5)
    typed = {"started_at": f"{floor.clock.now:%Y-%m-%dT}15:40", "late_reason": "pressed late"}
    moved(floor.post(f"/here/load/{load.pk}/out", typed))
    load.refresh_from_db()
    assert (load.started_at, load.ended_at) == (
        floor.clock.now.replace(hour=15, minute=40),
        floor.clock.now,
    )


def test_times_are_those_of_the_site(floor: Floor) -> None:
    floor.moulder.timezone = "America/New_York"
    floor.moulder.save()
    floor.moulded(24)
    moved(floor.post(floor.path(30, "load"), quantity=24, at="2026-11-24T10:30", late_reason="late"))
    assert Load.objects.latest("id").started_at == datetime(2026, 11, 24, 15, 30, tzinfo=UTC)
    page = floor.phone.get(f"/here/load/{Load.objects.latest('id').pk}/out", follow=True)
    assert "Tue 24 Nov, 10:30" in text_of(page)


@pytest.mark.parametrize(
    ("quantity", "sentence"),
    [("-1", "is below zero"), ("1.5", "is not whole"), ("", "Type a number"), ("1e9", "is a shortened number")],
)
def test_a_load_of_no_possible_quantity_is_refused_with_what_was_typed(
    floor: Floor, quantity: str, sentence: str
) -> None:
    floor.moulded(48)
    before = events()
    answer = floor.post(floor.path(30, "load"), quantity=quantity, place="fixture B")
    assert answer.status_code == 422 and sentence in text_of(answer)
    assert (field_of(answer, "quantity"), field_of(answer, "place")) == (quantity, "fixture B")
    assert events() == before and not Load.objects.filter(step=floor.step(30)).exists()


def test_more_than_wait_and_more_than_fit_are_questions(floor: Floor) -> None:
    floor.moulded(20)
    path = floor.path(30, "load")
    assert "You typed 24; only 20 are here." in text_of(floor.post(path, quantity=24))
    asked = floor.post(path, {"sure:more_than_there": "yes"}, quantity=30)
    assert "30 in one load, where there is room for 24. Is that right?" in text_of(asked)
    assert field_of(asked, "quantity") == "30" and not Load.objects.filter(step=floor.step(30)).exists()
    assert "Nothing goes in: record an empty load?" in text_of(floor.post(path, quantity=0))


def test_a_load_in_twice_by_the_same_form_is_one_load(floor: Floor) -> None:
    floor.moulded(48)
    uid = factory.uid("one load")
    for _ in range(2):
        moved(floor.post(floor.path(30, "load"), quantity=24, news_id=uid))
    assert Load.objects.filter(step=floor.step(30)).count() == 1
    load = Load.objects.latest("id")
    floor.clock.go(minutes=15)
    out = factory.uid("one out")
    first = moved(floor.post(f"/here/load/{load.pk}/out", news_id=out))
    floor.clock.go(minutes=1)
    assert moved(floor.post(f"/here/load/{load.pk}/out", news_id=out)) == first and events("load ended") == 2


def test_a_load_that_was_out_is_asked_about_before_its_end_is_set_anew(floor: Floor) -> None:
    floor.moulded(48)
    load = floor.load(24, 15)
    assert "Load 1 was told to be out before." in text_of(floor.post(f"/here/load/{load.pk}/out"))
    ended = load.ended_at
    load.refresh_from_db()
    assert load.ended_at == ended


def test_the_next_load_proposes_what_is_left_and_the_place_of_the_last(floor: Floor) -> None:
    floor.moulded(40)
    moved(floor.post(floor.path(30, "load"), quantity=24, place="fixture B"))
    page = floor.phone.get(floor.path(30, "load"))
    assert "16 wait here · room for 24" in text_of(page)
    assert 'data-all="16"' in html_of(page) and 'data-text="fixture B"' in html_of(page)


def test_another_shops_load_does_not_exist(floor: Floor) -> None:
    floor.moulded(24)
    moved(floor.post(floor.path(30, "load"), quantity=24))
    rival = cast.pass_client(factory.make_site("rival"), person="Bruno")
    path = f"/here/load/{Load.objects.latest('id').pk}/out"
    assert rival.get(path).status_code == 404
    assert floor.post(path, client=rival).status_code == 404 and events("load ended") == 1


def test_a_reading_outside_its_limits_is_asked_about_and_then_holds(floor: Floor) -> None:
    floor.moulded(24)
    path = floor.path(40, "measure")
    asked = floor.post(path, r__bore__bore__0__0="5.08")
    assert "5.08 mm, where 50.673 to 50.927 mm is allowed. Is that right?" in text_of(asked)
    assert field_of(asked, "r:bore:bore:0:0") == "5.08" and events("measured") == 0
    reported = floor.phone.get(moved(floor.post(path, {"sure:outside_limits": "yes"}, r__bore__bore__0__0="50,5")))
    assert "Set it apart: it may not go on until the maker decides." in text_of(reported)


@pytest.mark.parametrize(("typed", "sentence"), [("50.8mm", "is not a number"), ("", "Nothing was typed")])
def test_a_reading_that_is_no_number_is_refused_with_what_was_typed(floor: Floor, typed: str, sentence: str) -> None:
    answer = floor.post(floor.path(40, "measure"), r__bore__bore__0__0=typed)
    assert answer.status_code == 422 and sentence in text_of(answer)
    assert field_of(answer, "r:bore:bore:0:0") == typed and events("measured") == 0


def test_the_step_page_shows_limits_cautions_and_what_stops_it(floor: Floor) -> None:
    page = text_of(floor.phone.get(f"/here/step/{floor.step(20).pk}"))
    assert "STOP Not before this is shown: Batch" in page and "is not proved. Nothing was recorded for it yet." in page
    assert "follow your shop's own procedures, your local codes and licensed practice" in page
    refused = floor.post(floor.path(20, "start"))
    assert refused.status_code == 409 and "is not proved" in text_of(refused) and events("step started") == 0
    moved(floor.post(floor.path(20, "start"), already="yes"))
    assert floor.step(20).state == "running"


def test_a_step_ends_only_when_what_is_left_is_explained(floor: Floor) -> None:
    floor.moulded(48)
    moved(floor.count(30, 40))
    refused = floor.post(floor.path(30, "done"), note="end of shift")
    assert refused.status_code == 422 and "8 are still here by the record." in text_of(refused)
    assert field_of(refused, "note") == "end of shift" and floor.step(30).state == "running"
    uid = factory.uid("done")
    for _ in range(2):
        assert moved(floor.post(floor.path(30, "done"), rest="lost", news_id=uid)) == f"/here/told/{uid}"
    assert floor.at(floor.moulder, "unexplained", 30) == 8 and floor.step(30).state == "done"


def test_a_problem_holds_the_batch_at_once(floor: Floor) -> None:
    floor.moulded(48)
    path = f"/here/problem/{floor.batch.code}"
    empty = floor.post(path, reason=" ")
    assert empty.status_code == 422 and "Say why in a few words" in text_of(empty)
    reported = floor.phone.get(moved(floor.post(path, reason="black specks")))
    assert "Held" in text_of(reported) and "Set all of it apart" in text_of(reported)
    step = text_of(floor.phone.get(f"/here/step/{floor.step(30).pk}"))
    assert "A problem was reported: black specks" in step
