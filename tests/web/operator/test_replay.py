"""Every form of a shop, told by its page and then once more from the queue because the answer was lost: one event.

And the other way about; and by a phone that sends it twice. Whatever the page shows by then, the phone may forget it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest

from tests import cast
from tests.web.operator.floor import Floor, moved
from tests.web.queueing import Phone
from traveller.batches.models import Load
from traveller.dispatches.models import Consignment
from traveller.journal.models import Event, Parked
from traveller.web.operator.urls import urlpatterns
from traveller.web.parts import inside

pytestmark = pytest.mark.django_db

# Which form, and what is typed into it; the floor is made ready for it.
Form = tuple[str, dict[str, object]]


def start(floor: Floor) -> Form:
    return floor.path(10, "start"), {}


def already(floor: Floor) -> Form:
    return floor.path(20, "start"), {"already": "yes"}


def load_in(floor: Floor) -> Form:
    floor.moulded(48)
    return floor.path(30, "load"), {"quantity": 24, "place": "B"}


def load_out(floor: Floor) -> Form:
    floor.moulded(48)
    moved(floor.post(floor.path(30, "load"), quantity=24))
    floor.clock.go(minutes=20)
    return f"/here/load/{Load.objects.latest('id').pk}/out", {}


def out_by_its_id(floor: Floor) -> Form:
    typed = load_out(floor)[1]
    return floor.path(30, f"out?load={Load.objects.latest('id').uid}"), typed


def count(floor: Floor) -> Form:
    return floor.path(20, "count"), {"stage": "rest", "good": 12, "scrap:other": 1, "shots": 7}


def count_all(floor: Floor) -> Form:
    """Nothing is left here afterwards."""
    floor.moulded(48)
    return floor.path(30, "count"), {"stage": "good", "good": 48}


def measure(floor: Floor) -> Form:
    return floor.path(40, "measure"), {"r:bore:bore:0:0": "50.8"}


def finish(floor: Floor) -> Form:
    floor.moulded(48)
    return floor.path(30, "done"), {"rest": "lost", "sure:is_that_all": "yes"}


def problem(floor: Floor) -> Form:
    return f"/here/problem/{floor.batch.code}", {"reason": "cracked"}


def correct(floor: Floor) -> Form:
    moved(floor.count(20, 12, shots=6))
    return f"/here/told/{Event.objects.get(kind='counted').uid}/correct", {"good": 11, "reason": "miscounted"}


def undo(floor: Floor) -> Form:
    moved(floor.count(20, 12, shots=6))
    return f"/here/told/{Event.objects.get(kind='counted').uid}/undo", {}


def send(floor: Floor) -> Form:
    """All that lies on the shelf, so that nothing is left to be sent."""
    floor.tested(48)
    page: Any = floor.phone.get("/here/send")
    return "/here/send", {"to": floor.bench.pk, "method": "hand", page.context["rows"][0]["field"]: 48}


def unannounced(floor: Floor) -> Form:
    floor.batch.refresh_from_db()
    return "/here/unannounced", {"code": floor.batch.code, "quantity": 12, "words": "a tote of globes"}


def apart(floor: Floor) -> Form:
    floor.moulded(48)
    return floor.path(30, "apart"), {"place": "in_process:30", "quantity": 10, "reason": "go ahead"}


def cavities(floor: Floor) -> Form:
    moved(floor.count(20, 12, shots=6))
    return floor.path(20, "cavities"), {"open": "1", "open_cavities": "1", "reason": "flash"}


def own_number(floor: Floor) -> Form:
    return floor.path(20, "own-number"), {"number": "M-77", "own_number": "M-77"}


FORMS: list[Callable[[Floor], Form]] = [
    start, already, load_in, load_out, out_by_its_id, count, count_all, measure, finish, problem, correct, undo,
    send, unannounced, apart, cavities, own_number,
]  # fmt: skip


def arrival(floor: Floor) -> Form:
    """Goods on the road to the bench, counted whole: no line is left open afterwards."""
    path, typed = send(floor)
    moved(floor.post(path, typed))
    consignment = Consignment.objects.get()
    return f"/here/arrival/{consignment.code}", {"method": "hand", f"line:{consignment.lines.get().pk}": 48}


def recount(floor: Floor) -> Form:
    """Counted, and one was missing: counted again."""
    path, typed = arrival(floor)
    line = Consignment.objects.get().lines.get()
    bench = cast.pass_client(floor.bench, person="Tomas")
    moved(floor.post(path, {**typed, f"line:{line.pk}": 47}, client=bench))
    return f"{path}/again/{line.pk}", {"method": "hand", "counted": 48}


def back_here(floor: Floor) -> Form:
    path, typed = send(floor)
    moved(floor.post(path, typed))
    return f"/here/sent/{Consignment.objects.get().code}/back", {}


def no_problem(floor: Floor) -> Form:
    path, typed = problem(floor)
    moved(floor.post(path, typed))
    return f"/here/told/{Event.objects.get(kind='problem reported').uid}/no-problem", {}


AT_THE_BENCH = (arrival, recount)


def reported_by(floor: Floor, form: Callable[[Floor], Form]) -> tuple[Phone, str, dict[str, object]]:
    path, typed = form(floor)
    if form in AT_THE_BENCH:
        return Phone(cast.pass_client(floor.bench, person="Tomas"), floor.bench, "Tomas"), path, typed
    return Phone(floor.phone, floor.moulder), path, typed


def journal() -> list[tuple[str, str]]:
    return [(str(uid), kind) for uid, kind in Event.objects.order_by("id").values_list("uid", "kind")]


@pytest.mark.parametrize("form", [*FORMS, arrival, recount, back_here, no_problem], ids=lambda form: form.__name__)
def test_told_by_its_page_and_again_from_the_queue_it_is_one_event(floor: Floor, form: Any) -> None:
    phone, path, typed = reported_by(floor, form)
    entry = phone.tap(path, floor.clock.now, typed)
    before = len(journal())
    moved(floor.post(path, typed, client=phone.client, news_id=entry["id"]))
    reported = journal()
    assert len(reported) > before
    answer = phone.send(floor.clock.now, [entry])[0]
    assert answer["state"] == "stored", answer
    assert journal() == reported and not Parked.objects.filter(event__kind="set aside").exists()


@pytest.mark.parametrize("form", [*FORMS, arrival, recount, back_here, no_problem], ids=lambda form: form.__name__)
def test_told_from_the_queue_and_again_it_is_one_event(floor: Floor, form: Any) -> None:
    phone, path, typed = reported_by(floor, form)
    entry = phone.tap(path, floor.clock.now, typed)
    before = len(journal())
    first = phone.send(floor.clock.now, [entry])[0]
    assert first["state"] == "stored", first
    reported = journal()
    assert len(reported) > before
    floor.clock.go(minutes=30)
    assert phone.send(floor.clock.now, [entry])[0]["state"] == "stored"
    assert moved(floor.post(path, typed, client=phone.client, news_id=entry["id"]))
    assert journal() == reported


def test_the_same_sending_with_other_figures_is_refused(floor: Floor) -> None:
    path, typed = send(floor)
    phone = Phone(floor.phone, floor.moulder)
    entry = phone.tap(path, floor.clock.now, typed)
    phone.send(floor.clock.now, [entry])
    fields = [[name, "47" if name.startswith("q:") else value] for name, value in entry["fields"]]
    answer = phone.send(floor.clock.now, [{**entry, "fields": fields}])[0]
    assert (answer["state"], answer["code"]) == ("refused", "told_otherwise")


def test_what_only_finds_or_prints_cannot_be_queued(floor: Floor) -> None:
    phone = Phone(floor.phone, floor.moulder)
    before = journal()
    figures = {"code": floor.batch.code, "step_id": floor.step(20).pk, "uid": uuid4(), "step": 20}
    for pattern in urlpatterns:
        if pattern.name in inside.NOT_NEWS:
            place = "/here/" + str(pattern.pattern)
            for name, value in figures.items():
                for kind in ("str", "int", "uuid"):
                    place = place.replace(f"<{kind}:{name}>", str(value))
            phone.tap(place, floor.clock.now, quantities="12")
    answers = phone.send(floor.clock.now)
    assert {(one["state"], one["code"]) for one in answers} == {("refused", "no_such_task")}
    assert len(answers) > 5 and journal() == before
