"""Goods put right by the shops themselves: sent and taken back, counted and counted again; both sides see it."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests import cast
from tests.globe import everything_agrees
from tests.web.operator.floor import Floor, events, field_of, html_of, moved, text_of
from tests.web.operator.test_goods import counted, sent
from tests.web.queueing import Phone
from traveller.dispatches.models import Consignment
from traveller.journal.models import Event, Parked

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(floor: Floor) -> Client:
    return cast.pass_client(floor.bench, person="Tomas")


def _take_back(floor: Floor, consignment: Consignment, **typed: Any) -> Any:
    return floor.post(f"/here/sent/{consignment.code}/back", **typed)


def test_a_dispatch_that_has_not_left_is_taken_back_by_one_button(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 47)
    page = floor.phone.get(f"/here/sent/{consignment.code}")
    assert f'href="/here/sent/{consignment.code}/back"' in html_of(page)
    assert "47" in text_of(floor.phone.get(f"/here/sent/{consignment.code}/back"))
    words = text_of(floor.phone.get(moved(_take_back(floor, consignment))))
    assert "Taken back: not sent to Own bench" in words and "The note of this number no longer counts" in words
    assert floor.at(floor.moulder, "on_the_road", 60) == 0
    assert "On the way here" not in text_of(bench.get("/here/"))
    scanned = text_of(floor.phone.get(f"/here/t/{consignment.code}", follow=True))
    assert "Taken back · Tue 24 Nov" in scanned and "take it back" not in scanned
    assert "has taken this back: by the record it never left" in text_of(
        bench.get(f"/here/t/{consignment.code}", follow=True)
    )


def test_only_the_sender_takes_back_and_only_what_nobody_has_counted(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 47)
    assert bench.get(f"/here/sent/{consignment.code}/back").status_code == 404
    assert floor.post(f"/here/sent/{consignment.code}/back", client=bench).status_code == 404
    assert _take_back(floor, consignment, line="77777").status_code == 404
    moved(counted(floor, bench, consignment, "45"))
    answer = _take_back(floor, consignment)
    assert answer.status_code == 409 and "Own bench has counted 45 of it" in text_of(answer)
    assert events("dispatch taken back") == 0


def test_the_sender_reads_that_it_arrived_and_how_many_were_counted(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 12)
    assert "Sent from here" in text_of(floor.phone.get("/here/"))
    moved(counted(floor, bench, consignment, "10"))
    words = text_of(floor.phone.get(f"/here/sent/{consignment.code}"))
    assert "Arrived at Own bench" in words and "On the road" not in words
    assert ": 10 of your 12 counted." in words and "2 missing" in words
    assert "Own bench settles the difference." in words
    listed = text_of(floor.phone.get("/here/"))
    assert ": 10 of your 12 counted." in listed and "2 missing" in listed


def test_the_receiver_finds_what_it_has_counted_on_its_own_list(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 12)
    assert "Counted here lately" not in text_of(bench.get("/here/"))
    moved(counted(floor, bench, consignment, "4", more="yes"))
    assert "Counted here lately" not in text_of(bench.get("/here/")), "nothing is said of a line that is open"
    moved(counted(floor, bench, consignment, "6"))
    page = bench.get("/here/")
    assert "2 missing · 10 counted, 12 sent." in text_of(page)
    assert f'href="/here/arrival/{consignment.code}"' in html_of(page)


def test_after_the_reveal_it_is_counted_again_and_both_counts_stand_on_both_sides(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 47)
    page = bench.get(moved(counted(floor, bench, consignment, "45")))
    again = f"/here/arrival/{consignment.code}/again/{consignment.lines.get().pk}"
    assert f'href="{again}"' in html_of(page)
    assert "You counted 45, they sent 47." in text_of(bench.get(again))
    typed = {"counted": "46", "method": "hand", "note": "one under the lid"}
    words = text_of(bench.get(moved(floor.post(again, typed, client=bench))))
    assert "You counted 46 by hand They sent 47 by hand" in words and "1 fewer than were sent" in words
    assert "45 by hand" in words and "46 by hand" in words and "knew the sender’s figure" in words
    assert floor.at(floor.bench, "in_process", 60) == 46
    seen = text_of(floor.phone.get(f"/here/sent/{consignment.code}"))
    assert "46 of your 47 counted" in seen and "45 by hand" in seen and "1 missing" in seen
    assert everything_agrees()


def test_counted_again_after_the_pieces_were_used_both_read_how_many(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 12)
    moved(counted(floor, bench, consignment, "12"))
    moved(floor.count(60, 12, client=bench))
    again = f"/here/arrival/{consignment.code}/again/{consignment.lines.get().pk}"
    words = text_of(bench.get(moved(floor.post(again, {"counted": "10", "method": "hand"}, client=bench))))
    assert "2 more had been used here by then than this count has" in words
    seen = text_of(floor.phone.get(f"/here/sent/{consignment.code}"))
    assert "2 more had been used there by then than the last count has" in seen
    assert everything_agrees()


@pytest.mark.parametrize(("counted_again", "status"), [("", 422), ("4.5", 422), ("-1", 422)])
def test_a_count_again_that_is_no_count_is_refused(
    floor: Floor, bench: Client, counted_again: str, status: int
) -> None:
    consignment = sent(floor, 47)
    moved(counted(floor, bench, consignment, "45"))
    again = f"/here/arrival/{consignment.code}/again/{consignment.lines.get().pk}"
    answer = floor.post(again, {"counted": counted_again, "method": "hand"}, client=bench)
    assert answer.status_code == status and field_of(answer, "counted") == counted_again
    assert events("counted again") == 0 and floor.post(again, {"counted": "3"}).status_code == 404


def test_more_than_was_sent_is_asked_with_one_button_for_each_meaning(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 47)
    line = consignment.lines.get()
    asked = counted(floor, bench, consignment, "60")
    assert "60 counted, 47 were sent: 13 more." in text_of(asked) and events("received") == 0
    assert "13 more came: record 60" in text_of(asked) and "Count again" in text_of(asked)
    moved(counted(floor, bench, consignment, "60", **{"sure:over_sent": "yes"}))
    line.refresh_from_db()
    assert (line.received, line.difference, line.seen) == (60, -13, False)


def test_counted_again_at_once_the_first_figure_is_kept_and_the_second_knew_the_senders(
    floor: Floor, bench: Client
) -> None:
    consignment = sent(floor, 47)
    line = consignment.lines.get()
    page = counted(floor, bench, consignment, "60", **{"sure:over_sent": "no"})
    assert "47 were sent; count again" in text_of(page) and field_of(page, f"line:{line.pk}") == ""
    assert field_of(page, f"first:{line.pk}") == "60"
    words = text_of(bench.get(moved(counted(floor, bench, consignment, "47", **{f"first:{line.pk}": "60"}))))
    assert "60 by hand" in words and "not recorded: counted again" in words and "knew the sender’s figure" in words
    assert Event.objects.get(kind="received").data["told"]["first"] == 60
    line.refresh_from_db()
    assert (line.received, line.difference, line.seen) == (47, 0, True)


def test_far_above_any_sensible_count_is_asked_before_a_word_about_what_was_sent(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 47)
    floor.batch.refresh_from_db()
    most = 2 * floor.batch.start
    asked = text_of(counted(floor, bench, consignment, str(most + 1)))
    assert "far above any sensible count of this batch" in asked and "47" not in asked
    assert "far above" not in text_of(counted(floor, bench, consignment, str(most)))


def test_a_typed_nought_means_nothing_came_or_not_yet(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 47)
    asked = text_of(counted(floor, bench, consignment, "0"))
    assert "None of it came: record 0" in asked and "Not here yet: it stays on the road" in asked
    moved(counted(floor, bench, consignment, "0", **{"sure:nothing_arrived": "road"}))
    assert consignment.lines.get().closed is False and floor.at(floor.moulder, "on_the_road", 60) == 47
    moved(counted(floor, bench, consignment, "0", **{"sure:nothing_arrived": "yes"}))
    line = consignment.lines.get()
    assert (line.closed, line.difference) == (True, 47)
    assert everything_agrees()


# --- Without a signal -------------------------------------------------------------------------------------------


def _waited(floor: Floor, bench: Client, consignment: Consignment, quantity: int) -> Phone:
    phone = Phone(bench, floor.bench, "Tomas")
    line = consignment.lines.get()
    phone.tap(f"/here/arrival/{consignment.code}", floor.clock.now, {f"line:{line.pk}": quantity, "method": "hand"})
    return phone


def test_more_than_was_sent_told_without_a_signal_is_booked_and_its_difference_stands_open(
    floor: Floor, bench: Client
) -> None:
    consignment = sent(floor, 47)
    (answer,) = _waited(floor, bench, consignment, 60).send(floor.clock.now)
    assert answer["state"] == "stored"
    line = consignment.lines.get()
    assert (line.received, line.difference, line.settled_event) == (60, -13, None)


def test_a_nought_told_without_a_signal_is_for_review_since_it_means_two_things(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 47)
    (answer,) = _waited(floor, bench, consignment, 0).send(floor.clock.now)
    assert (answer["state"], answer["code"]) == ("parked", "nothing_arrived")
    assert consignment.lines.get().closed is False and Parked.objects.get().event.data["told"]["fields"]


def test_counted_without_a_signal_while_the_sender_took_it_back_nothing_is_lost(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 47)
    phone = _waited(floor, bench, consignment, 46)
    moved(_take_back(floor, consignment))
    (answer,) = phone.send(floor.clock.now)
    assert answer["state"] == "stored"
    parked = Parked.objects.get()
    assert parked.reason == "came_all_the_same" and parked.figures["quantity"] == 46
    told = text_of(floor.phone.get(f"/here/sent/{consignment.code}"))
    assert "46 of lot" in told and "Own bench decides." in told
    matters = text_of(cast.founder_client().get("/consignments/arrivals"))
    assert "46 of lot" in matters and "though the sender has taken dispatch" in matters
    assert floor.at(floor.bench, "in_process", 60) == 0
    anew = sent(floor, 46)
    parked.refresh_from_db()
    assert parked.settled_by is not None and anew.lines.get().received == 46
    assert everything_agrees()


def test_counted_at_the_page_after_it_was_taken_back_is_asked_first(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 47)
    moved(_take_back(floor, consignment))
    page = bench.get(f"/here/arrival/{consignment.code}")
    assert 'href="?here=yes"' in html_of(page) and "line:" not in html_of(page)
    assert "How many arrived?" in text_of(bench.get(f"/here/arrival/{consignment.code}?here=yes"))
    asked = counted(floor, bench, consignment, "46")
    assert "Is it here all the same?" in text_of(asked) and not Parked.objects.exists()
    moved(counted(floor, bench, consignment, "46", **{"sure:taken_back_there": "yes"}))
    assert Parked.objects.get().reason == "came_all_the_same"


def test_two_phones_of_the_receiver_the_later_count_is_for_review_and_taken_it_counts_again(
    floor: Floor, bench: Client
) -> None:
    consignment = sent(floor, 47)
    phone = _waited(floor, bench, consignment, 46)
    moved(counted(floor, bench, consignment, "45"))
    (answer,) = phone.send(floor.clock.now)
    assert (answer["state"], answer["code"]) == ("parked", "already_received")
    parked = Parked.objects.get()
    founder = cast.founder_client()
    form = {"news_id": "0b6d4f9e-5a53-4a4e-8f0a-5f3c2d8f9a12"}
    moved(founder.post(f"/phone-entries/{parked.event_id}", {**form, "deed": "take"}))
    again = Event.objects.get(kind="counted again")
    assert (again.data["told"]["quantity"], again.data["told"]["seen"], again.person) == (46, False, "Tomas")
    assert consignment.lines.get().received == 46
    assert everything_agrees()
