"""A count on the phone: read kindly, questioned before it is news, recorded once, nothing typed lost."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from tests import factory
from tests.web.operator.floor import Floor, events, field_of, html_of, moved, text_of
from traveller.batches.models import Count
from traveller.journal.models import Event
from traveller.ledger.holds import open_hold
from traveller.ledger.models import Hold, Link, Lot
from traveller.rules.codes import show_code

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("-3", "“-3” is below zero. Nobody counts fewer than none."),
        ("−3", "is below zero"),
        ("2.5", "“2.5” is not whole."),
        (".5", "is not whole"),
        ("2,5", "“2,5” is not whole."),
        ("99999999999999", "is more than anybody can count here"),
        ("10000001", "is more than anybody can count here"),
        ("twelve", "“twelve” is not a number. Use digits only."),
        ("1e3", "“1e3” is a shortened number. Type all its figures."),
        ("+-5", "“+-5” has two signs. Type one in front, or none."),
        ("--5", "has two signs"),
        ("5-", "“5-” has its sign behind it."),
        ("½", "has a fraction or a raised figure in it"),
        ("1 5", "its marks do not part groups of three figures"),
        ("2,500.", "“2,500.” ends with a mark."),
        ("", "Type a number; 0 if there are none."),
    ],
)
def test_a_figure_that_cannot_be_a_count_is_refused_in_words_with_what_was_typed(
    floor: Floor, typed: str, sentence: str
) -> None:
    floor.moulded(48)
    before = events()
    for stage in ("good", "rest"):
        answer = floor.post(floor.path(30, "count"), stage=stage, good=typed, scrap__short="1")
        assert answer.status_code == 422 and sentence in text_of(answer)
        assert field_of(answer, "good") == typed and field_of(answer, "scrap:short") == "1"
    assert events() == before


def test_the_rest_is_read_as_strictly_as_the_good(floor: Floor) -> None:
    floor.moulded(48)
    before = events()
    answer = floor.count(30, 40, scrap__short="-8", rework="1.5", note="edge chipped")
    words = text_of(answer)
    assert answer.status_code == 422 and "“-8” is below zero" in words and "“1.5” is not whole" in words
    kept = {name: field_of(answer, name) for name in ("good", "scrap:short", "rework", "note")}
    assert kept == {"good": "40", "scrap:short": "-8", "rework": "1.5", "note": "edge chipped"}
    assert events() == before


@pytest.mark.parametrize("typed", ["1 132", "1,132", "1'132", "1.132"])
def test_thousands_marks_are_no_fault(floor: Floor, typed: str) -> None:
    assert moved(floor.count(20, typed, shots="566", open_cavities="2"))
    assert Count.objects.get().good == 1132


def test_a_scrap_reason_that_the_step_does_not_know_counts_nothing(floor: Floor) -> None:
    floor.moulded(48)
    moved(floor.count(30, 40, {"scrap:invented": "8"}))
    assert Count.objects.latest("id").scrap == 0


def test_all_good_is_recorded_with_one_page(floor: Floor) -> None:
    floor.moulded(24)
    load = floor.load(24, 15)
    reported = moved(floor.post(floor.path(30, "count"), stage="good", good=24, load=load.uid))
    assert reported.startswith("/here/told/") and "Recorded · 24 good" in text_of(floor.phone.get(reported))


def test_fewer_than_are_there_asks_for_the_rest_and_records_nothing_yet(floor: Floor) -> None:
    floor.moulded(48)
    before = events()
    answer = floor.post(floor.path(50, "count"), stage="good", good=0)
    answer = floor.post(floor.path(30, "count"), stage="good", good=40)
    assert "40 good. And the other 8?" in text_of(answer) and field_of(answer, "good") == "40"
    assert events() == before
    reported = moved(floor.count(30, 40, scrap__short=3, rework=1))
    assert "40 good, 3 scrap, 1 for rework" in text_of(floor.phone.get(reported))
    assert floor.at(floor.moulder, "in_process", 30) == 4 and floor.at(floor.moulder, "rework", 30) == 1


def test_more_than_are_there_is_a_question_and_a_plain_yes_is_news(floor: Floor) -> None:
    floor.moulded(48)
    before = events()
    typed = {"stage": "rest", "good": "1400", "scrap:short": "2", "note": "two totes"}
    asked = floor.post(floor.path(30, "count"), typed, news_id="11111111-1111-4111-8111-111111111111")
    assert asked.status_code == 200 and "You typed 1,402; only 48 are here." in text_of(asked)
    assert {name: field_of(asked, name) for name in typed} == typed
    assert field_of(asked, "news_id") == "11111111-1111-4111-8111-111111111111" and events() == before
    no = floor.post(floor.path(30, "count"), {**typed, "sure:more_than_there": "no"})
    assert no.status_code == 200 and field_of(no, "note") == "two totes" and events() == before
    moved(floor.post(floor.path(30, "count"), {**typed, "sure:more_than_there": "yes"}))
    assert floor.at(floor.moulder, "unreported", 30) == -(1402 - 48)


def test_each_question_needs_its_own_yes(floor: Floor) -> None:
    floor.moulded(48)
    moved(floor.post(floor.path(30, "done"), rest="lost"))
    before = events()
    answer = floor.count(30, 5, {"sure:more_than_there": "yes"})
    assert "Step 30, cool on the fixture, was reported done. Add this count all the same?" in text_of(answer)
    assert events() == before
    moved(floor.count(30, 5, {"sure:more_than_there": "yes", "sure:step_was_done": "yes"}))
    assert events() > before


def test_far_too_many_are_asked_about(floor: Floor) -> None:
    assert "1,501 good, where 500 were planned. Is that right?" in text_of(floor.count(20, 1501, shots=751))
    assert events("counted") == 0


def test_the_same_form_sent_twice_is_stored_once_and_answers_the_same(floor: Floor) -> None:
    floor.moulded(48)
    uid = factory.uid("twice")
    first = floor.post(floor.path(30, "count"), stage="good", good=48, news_id=uid)
    before = events()
    again = floor.post(floor.path(30, "count"), stage="good", good=48, news_id=uid)
    assert moved(first) == moved(again) == f"/here/told/{uid}" and events() == before
    assert floor.step(30).good == 48


def test_a_last_count_that_ended_the_step_answers_the_same_when_it_is_sent_again(floor: Floor) -> None:
    floor.moulded(24)
    moved(floor.post(floor.path(20, "done")))
    load = floor.load(24, 15)
    uid = factory.uid("last")
    for _ in range(2):
        answer = floor.post(floor.path(30, "count"), stage="good", good=24, load=load.uid, news_id=uid)
        assert moved(answer) == f"/here/told/{uid}"
    assert (floor.step(30).state, floor.step(30).good) == ("done", 24)


def test_the_same_form_with_other_figures_is_refused_and_the_first_stand(floor: Floor) -> None:
    floor.moulded(48)
    uid = factory.uid("other")
    moved(floor.count(30, 20, news_id=uid))
    before = events()
    answer = floor.count(30, 21, news_id=uid)
    assert answer.status_code == 409 and "the first ones stand" in text_of(answer)
    assert field_of(answer, "good") == "21" and events() == before and floor.step(30).good == 20


def test_the_same_figure_soon_after_is_asked_about_with_time_and_person(floor: Floor) -> None:
    floor.moulded(48)
    moved(floor.count(30, 20))
    floor.clock.go(minutes=10)
    answer = floor.count(30, 20)
    assert "20 good already recorded at 16:00 by Ines. More pieces, or the same?" in text_of(answer)
    assert floor.step(30).good == 20
    floor.clock.go(hours=3)
    moved(floor.count(30, 20))
    assert floor.step(30).good == 40


def test_a_form_without_its_id_records_nothing(floor: Floor) -> None:
    answer = floor.count(20, 10, shots=5, news_id="")
    assert answer.status_code == 422 and "The page lost its number on the way" in text_of(answer)
    assert field_of(answer, "good") == "10" and events("counted") == 0


def test_a_time_that_has_not_come_is_refused_with_all_that_was_typed(floor: Floor) -> None:
    typed = {"at": "2026-11-24T18:30", "late_reason": "phone was flat", "shots": "12"}
    answer = floor.count(20, 24, typed)
    assert answer.status_code == 422 and "2026-11-24 18:30 has not come yet" in text_of(answer)
    assert {name: field_of(answer, name) for name in ("good", *typed)} == {"good": "24", **typed}
    assert events("counted") == 0


@pytest.mark.parametrize(
    ("at", "sentence"),
    [
        ("yesterday", "is not a date and time"),
        ("0001-01-01T00:00", "0001-01-01"),
        ("2026-13-40T99:00", "is not a date"),
    ],
)
def test_a_time_that_is_none_is_refused_in_words(floor: Floor, at: str, sentence: str) -> None:
    answer = floor.count(20, 24, {"at": at, "late_reason": "x"})
    assert answer.status_code == 422 and sentence in html_of(answer)
    assert field_of(answer, "good") == "24" and field_of(answer, "at") == at and events("counted") == 0


def test_an_earlier_time_needs_a_reason_and_then_stands_in_the_record(floor: Floor) -> None:
    asked = floor.count(20, 24, {"at": "2026-11-24T09:15"})
    assert asked.status_code == 422 and "Say why the time is told late." in text_of(asked)
    assert events("counted") == 0
    reported = moved(floor.count(20, 24, {"at": "2026-11-24T09:15", "late_reason": "no signal"}))
    event = Event.objects.get(kind="counted")
    assert (f"{event.happened_at:%H:%M}", f"{event.recorded_at:%H:%M}") == ("09:15", "12:00")
    assert event.data["told"]["note"] == "no signal"
    assert "Told for Tue 24 Nov, 09:15" in text_of(floor.phone.get(reported))


@pytest.mark.parametrize("number", ["{code}", "{shown}", "pc-77120", "https://trace.example/t/{code}"])
def test_the_resin_used_is_known_by_its_code_or_by_its_makers_number(floor: Floor, number: str) -> None:
    text = number.format(code=floor.resin_lot.code.lower(), shown=floor.resin_lot.code)
    moved(floor.count(20, 100, {f"lot:{floor.resin.pk}:0": text}, shots=50))
    link = Link.objects.get()
    assert (link.parent, link.inferred, link.quantity) == (floor.resin_lot, False, 5820)


@pytest.mark.parametrize(
    ("lot", "sentence"),
    [("nobody's", "No lot here has this code"), ("insert", "This is Insert. Scan a lot of the right part.")],
)
def test_a_wrong_lot_is_refused_in_words_with_all_that_was_typed(floor: Floor, lot: str, sentence: str) -> None:
    name = f"lot:{floor.resin.pk}:0"
    text = floor.insert_lot.code if lot == "insert" else lot
    answer = floor.count(20, 100, {name: text}, shots="50")
    assert answer.status_code == 422 and sentence in text_of(answer)
    assert (field_of(answer, name), field_of(answer, "shots")) == (text, "50") and events("counted") == 0


def test_a_lot_that_never_was_at_this_shop_does_not_exist_here(floor: Floor) -> None:
    other = factory.make_stock(floor.resin, floor.bench, 5_000, name="other")
    answer = floor.count(20, 100, {f"lot:{floor.resin.pk}:0": other.code})
    assert answer.status_code == 422 and "No lot here has this code" in text_of(answer)


def test_a_held_lot_is_asked_about_and_what_was_made_of_it_is_held(floor: Floor) -> None:
    open_hold(factory.make_event("stop"), floor.resin_lot, cause="held", code="held", figures={"reason": "wet"})
    name = f"lot:{floor.resin.pk}:0"
    asked = floor.count(20, 100, {name: floor.resin_lot.code})
    assert "A lot among these is held." in text_of(asked) and events("counted") == 0
    moved(floor.count(20, 100, {name: floor.resin_lot.code, "sure:held_lot_used": "yes"}))
    assert Hold.objects.filter(lot=floor.lot(), closed_at=None).exists()


def test_a_lot_that_is_too_old_is_not_offered_and_is_asked_about_when_it_is_scanned(floor: Floor) -> None:
    name = f"lot:{floor.resin.pk}:0"
    code = floor.resin_lot.code
    Lot.objects.filter(pk=floor.resin_lot.pk).update(expires_on=floor.clock.now.date() - timedelta(days=1))
    asked = floor.count(20, 100, {name: code})
    assert "expired on" in text_of(asked) and "Was it used all the same?" in text_of(asked)
    assert events("counted") == 0
    moved(floor.count(20, 100, {name: code, "sure:stopped_lot_used": "yes"}))
    assert events("counted") == 1


def test_a_mould_has_no_more_open_cavities_than_it_has(floor: Floor) -> None:
    for typed in ("3", "0"):
        answer = floor.count(20, 10, open_cavities=typed)
        assert answer.status_code == 422 and "The mould has 2 cavities" in text_of(answer)
    assert events("counted") == 0


def test_rework_is_counted_apart_on_its_own_page(floor: Floor) -> None:
    floor.moulded(48)
    moved(floor.count(30, 40, rework=8))
    page = floor.phone.get(floor.path(30, "count") + "?again=1")
    assert "How many are good after rework?" in text_of(page) and "8 wait for rework" in text_of(page)
    reported = moved(floor.count(30, 6, again="1", scrap__short=2))
    assert "out of rework, counted apart" in text_of(floor.phone.get(reported))
    step = floor.step(30)
    assert (step.good, step.rework, step.again_good, step.again_scrap) == (40, 8, 6, 2)


def test_a_wrong_figure_is_put_right_and_the_first_stays_in_the_record(floor: Floor) -> None:
    floor.moulded(48)
    reported = moved(floor.count(30, 40, scrap__short=8))
    page = floor.phone.get(f"{reported}/correct")
    assert (field_of(page, "good"), field_of(page, "scrap:short")) == ("40", "8")
    refused = floor.post(f"{reported}/correct", good="44", scrap__short="4")
    assert refused.status_code == 422 and "Say why" in text_of(refused) and field_of(refused, "good") == "44"
    moved(floor.post(f"{reported}/correct", good="44", scrap__short="4", reason="counted a tote twice"))
    assert (floor.step(30).good, floor.step(30).scrap) == (44, 4)
    assert events("counted") == 2 and events("count corrected") == 1


def test_the_page_that_asks_for_the_rest_still_shows_the_good_to_be_changed(floor: Floor) -> None:
    floor.moulded(48)
    answer = floor.post(floor.path(30, "count"), stage="good", good=40, scrap__short="8")
    assert "How many are good?" in text_of(answer) and "And the other 8?" in text_of(answer)
    assert (field_of(answer, "good"), field_of(answer, "scrap:short")) == ("40", "8")
    assert (field_of(answer, "stage"), events("counted")) == ("rest", 1)


def test_without_its_script_the_first_page_asks_for_the_good_alone(floor: Floor) -> None:
    floor.moulded(48)
    first = html_of(floor.phone.get(floor.path(30, "count")))
    asked = re.findall(r'<section class="card" data-card="(\w+)"(?: data-due="no")?( hidden)?', first)
    assert asked == [("good", ""), ("rest", " hidden")]
    rest = html_of(floor.post(floor.path(30, "count"), stage="good", good=40))
    assert re.findall(r'<section class="card" data-card="(\w+)"[^>]*( hidden)', rest) == []


def test_the_lot_used_is_asked_for_only_where_several_lie_and_none_was_told(floor: Floor) -> None:
    card = f'data-card="lot{floor.resin.pk}"'
    assert f'{card} data-due="no"' in html_of(floor.phone.get(floor.path(20, "count"))), "a single lot lies here"
    other = factory.make_stock(floor.resin, floor.moulder, 50_000, name="other")
    page = html_of(floor.phone.get(floor.path(20, "count")))
    assert f'{card} data-due="no"' not in page and card in page and f'data-text="{show_code(other.code)}"' in page
    moved(floor.count(20, 100, {f"lot:{floor.resin.pk}:0": other.code}, shots=50))
    again = floor.phone.get(floor.path(20, "count"))
    assert f'{card} data-due="no"' in html_of(again)
    assert field_of(again, f"lot:{floor.resin.pk}:0") == show_code(other.code)


def test_nothing_at_all_is_asked_about_and_never_recorded(floor: Floor) -> None:
    before = events()
    asked = floor.count(20, 0)
    assert "No piece and no shot stands on this form" in text_of(asked) and "Nothing to record" in text_of(asked)
    uid = factory.uid("nothing")
    to = moved(floor.count(20, 0, {"sure:nothing_counted": "yes"}, news_id=uid))
    page = floor.phone.get(to)
    assert "Nothing was recorded. The step stays open." in text_of(page) and f'data-confirmed="{uid}"' in html_of(page)
    assert events() == before
    moved(floor.count(20, 0, {"note": "the mould is stuck"}))
    moved(floor.count(20, 0, done="yes"))
    assert events("counted") == 2, "a word or the end of the step is news"
