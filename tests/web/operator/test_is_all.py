""" "500 planned, 80 recorded: is that all?" is asked once when a step is said to be done; a queue marks it instead."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from tests import cast
from tests.web.operator.floor import Floor, moved, text_of
from tests.web.queueing import Phone
from traveller.batches.models import StepState
from traveller.batches.steps.short_of_plan import ShortOfPlan, short_of_plan, still_to_come
from traveller.journal.models import Event
from traveller.web.who import BEHALF_KEY

pytestmark = pytest.mark.django_db

NOT_ASKED = {"sure:is_that_all": ""}


def done(floor: Floor, number: int, typed: dict[str, str] | None = None, **more: Any) -> Any:
    return floor.post(floor.path(number, "done"), {**NOT_ASKED, **(typed or {})}, **more)


def short_in(kind: str) -> Any:
    return Event.objects.filter(kind=kind).latest("id").data.get("short")


def history(floor: Floor) -> str:
    return text_of(cast.founder_client().get(f"/batches/{floor.batch.code}"))


def test_far_below_plan_the_page_asks_with_two_buttons_and_no_further_tap(floor: Floor) -> None:
    floor.moulded(80)
    page = floor.phone.get(floor.path(20, "done"))
    said, html = text_of(page), page.content.decode()
    assert "500 planned, 80 recorded: is that all?" in said and "Yes, 80 is all More" not in said
    assert said.index("More will come") < said.index("Yes, 80 is all") and "Yes, the step is done" not in said
    assert f'href="/here/step/{floor.step(20).pk}"' in html and 'name="sure:is_that_all"' in html
    moved(done(floor, 20, {"sure:is_that_all": "yes"}))
    assert floor.step(20).state == StepState.DONE
    assert short_in("step done") == {"planned": 500, "recorded": 80, "said": True}
    assert "500 planned, 80 recorded: asked, the shop says that is all" in history(floor)


def test_a_form_that_does_not_answer_is_asked_and_more_will_come_leaves_it_open(floor: Floor) -> None:
    floor.moulded(80)
    asked = done(floor, 20)
    assert "500 planned, 80 recorded: is that all?" in text_of(asked) and floor.step(20).state == StepState.RUNNING
    assert "More will come" in text_of(asked) and "Change it" in text_of(asked)
    to = moved(done(floor, 20, {"sure:is_that_all": "more"}))
    assert "Nothing was recorded. The step stays open." in text_of(floor.phone.get(to))
    assert floor.step(20).state == StepState.RUNNING


def test_a_last_count_far_below_plan_is_recorded_and_the_step_stays_open_if_more_will_come(floor: Floor) -> None:
    floor.moulded(80)
    form = {**NOT_ASKED, "done": "yes"}
    assert "500 planned, 90 recorded: is that all?" in text_of(floor.count(20, 10, form, shots=5))
    moved(floor.count(20, 10, {**form, "sure:is_that_all": "more"}, shots=5))
    assert (floor.step(20).good, floor.step(20).state) == (90, StepState.RUNNING)
    moved(floor.count(20, 12, {**form, "sure:is_that_all": "yes"}, shots=6))
    assert (floor.step(20).good, floor.step(20).state) == (102, StepState.DONE)
    assert short_in("counted") == {"planned": 500, "recorded": 102, "said": True}


def test_about_what_was_planned_nobody_is_asked(floor: Floor) -> None:
    floor.moulded(455)
    assert short_of_plan(floor.step(20)) is None
    assert "Yes, the step is done" in text_of(floor.phone.get(floor.path(20, "done")))
    moved(done(floor, 20))
    assert short_in("step done") is None


def test_from_the_queue_it_is_taken_as_done_and_marked_for_the_founder(floor: Floor) -> None:
    floor.moulded(80)
    phone = Phone(floor.phone, floor.moulder)
    phone.tap(floor.path(20, "done"), floor.clock.now)
    assert phone.send(floor.clock.now)[0]["state"] == "stored" and floor.step(20).state == StepState.DONE
    assert short_in("step done") == {"planned": 500, "recorded": 80, "said": False}
    assert "500 planned, only 80 recorded, and nobody was asked whether that is all" in history(floor)


def test_from_the_queue_the_answer_of_the_form_counts(floor: Floor) -> None:
    floor.moulded(80)
    kept = {path: text for _group, path, text in floor.phone.get("/here/keep").json()["pages"]}
    page = kept[floor.path(20, "done")]
    assert "500 planned. Is all of it recorded?" in page and "Yes, that is all" in page
    assert "80 recorded" not in page, "the phone may have counted more meanwhile"
    phone = Phone(floor.phone, floor.moulder)
    phone.tap(floor.path(20, "done"), floor.clock.now, {"sure:is_that_all": "yes"})
    phone.send(floor.clock.now)
    assert short_in("step done") == {"planned": 500, "recorded": 80, "said": True}


def test_the_founder_on_the_telephone_is_asked_likewise(floor: Floor) -> None:
    floor.moulded(80)
    founder = Client()
    founder.force_login(cast.make_founder())
    session = founder.session
    session[BEHALF_KEY] = floor.moulder.pk
    session.save()
    assert "is that all?" in text_of(founder.get(floor.path(20, "done")))
    assert "is that all?" in text_of(done(floor, 20, client=founder))


def test_a_later_step_is_compared_with_what_can_still_come_there(floor: Floor) -> None:
    floor.moulded(100)
    moved(floor.count(30, 48))
    moved(floor.post(floor.path(40, "measure"), r__bore__bore__0__0="50.8"))
    moved(floor.count(40, 48, {"sure:same_again": "yes"}))
    assert still_to_come(floor.step(40)) == 52 + 400, "those that cool, and those that are still to be moulded"
    assert short_of_plan(floor.step(40)) == ShortOfPlan(planned=500, recorded=48)
    assert short_of_plan(floor.step(30), lost=52) == ShortOfPlan(planned=500, recorded=48), "lost is not recorded"
    moved(done(floor, 20, {"sure:is_that_all": "yes"}))
    assert still_to_come(floor.step(40)) == 52
    # Half of what came there is lost: said above the question, and no piece that was recorded.
    page = text_of(floor.phone.get(floor.path(30, "done")))
    assert "The 52 cannot be found" in page and "is that all?" not in page
    moved(done(floor, 30, {"sure:is_that_all": "yes"}, rest="lost"))
    assert short_of_plan(floor.step(40)) is None, "the shop has said what became of the others"
    moved(done(floor, 40))


def test_what_was_scrapped_or_split_off_before_is_not_expected_any_more(floor: Floor) -> None:
    floor.moulded(100)
    moved(done(floor, 20, {"sure:is_that_all": "yes"}))
    moved(floor.post(floor.path(30, "apart"), place="in_process:30", quantity=30, reason="rush"))
    moved(floor.count(30, 40, scrap__short=30))
    assert floor.step(30).state == StepState.DONE and short_in("counted") is None
    assert short_of_plan(floor.step(30)) is None


def test_a_step_is_not_done_by_itself_while_pieces_are_still_on_their_way(floor: Floor) -> None:
    floor.tested(48)
    moved(floor.send_all())
    bench = cast.pass_client(floor.bench, person="Tomas")
    line = next(iter(bench.get("/here/").context["coming"])).lines.get()
    path = f"/here/arrival/{line.consignment.code}"
    typed = {"method": "hand", f"line:{line.pk}": 20, "more": "yes", "sure:lines_left": "yes"}
    moved(floor.post(path, typed, client=bench))
    for number in (40, 50):
        if floor.step(number).state != StepState.DONE:
            moved(done(floor, number))
    moved(floor.count(60, 20, client=bench))
    assert floor.step(60).state == StepState.RUNNING and still_to_come(floor.step(60)) == 28
    asked = done(floor, 60, client=bench)
    assert "48 planned, 20 recorded: is that all?" in text_of(asked)
