"""One number of pieces that wait: on the list, "is this it?", the step and its count; those in a load stand apart."""

from __future__ import annotations

import pytest

from tests import factory
from tests.web.operator.floor import Floor, moved, text_of
from traveller.batches.models import Load
from traveller.batches.reads.waiting import Inside, Waiting, waiting_at

pytestmark = pytest.mark.django_db


def pages(floor: Floor) -> dict[str, str]:
    """Each page that says how many wait at the cooling."""
    code = floor.batch.code
    paths = {"is this it": f"/here/t/{code}/30", "step": floor.path(30, "")[:-1], "count": floor.path(30, "count")}
    return {name: text_of(floor.phone.get(path)) for name, path in paths.items()}


def on_the_list(floor: Floor) -> str:
    said = text_of(floor.phone.get("/here/"))
    return said[said.index("cool on the fixture") : said.index("On the way") if "On the way" in said else None]


def test_all_pages_say_what_waits_and_name_apart_what_is_in_the_fixture(floor: Floor) -> None:
    floor.moulded(114)
    moved(floor.post(floor.path(30, "load"), quantity=19, place="Fixture 2"))
    for name, said in pages(floor).items():
        assert "95 wait here , 19 are in load 1 (Fixture 2)" in said.replace("here, ", "here , "), name
        assert "114" not in said, name
    listed = on_the_list(floor)
    assert "19 are in load 1 (Fixture 2)" in listed and " 95 " in listed and "114" not in listed


def test_nothing_waits_while_all_of_it_stands_in_the_oven(floor: Floor) -> None:
    floor.moulded(48)
    for _ in range(2):
        moved(floor.post(floor.path(30, "load"), {"sure:same_load": "yes"}, quantity=24))
    for name, said in pages(floor).items():
        assert "48 wait here" not in said and "0 wait here" in said and "48 are in 2 loads" in said, name
    assert "48 are in 2 loads" in on_the_list(floor)


def test_what_came_out_and_is_not_counted_yet_waits_again(floor: Floor) -> None:
    floor.moulded(48)
    load = floor.load(24, 16)
    assert waiting_at(floor.step(30)) == Waiting(lying=48)
    moved(floor.count(30, 24, load=load.uid))
    assert all("24 wait here" in said for said in pages(floor).values())


def test_more_than_wait_while_a_load_holds_the_others_is_asked_about_in_figures(floor: Floor) -> None:
    floor.moulded(48)
    moved(floor.post(floor.path(30, "load"), quantity=24))
    answer = floor.count(30, 40)
    assert "You typed 40; 24 wait here, and 24 are still in a load." in text_of(answer)
    assert "40 is right" in text_of(answer)
    page = floor.phone.get(floor.path(30, "count"))
    assert 'data-more="more_than_wait"' in page.content.decode() and 'data-there="24"' in page.content.decode()
    moved(floor.count(30, 40, {"sure:more_than_wait": "yes"}))
    assert waiting_at(floor.step(30)).here == 0, "never below nothing"


def test_the_verdict_of_one_load_names_the_others_of_which_the_same_is_so(floor: Floor) -> None:
    floor.moulded(48)
    for _ in range(2):
        moved(floor.post(floor.path(30, "load"), {"sure:same_load": "yes"}, quantity=24))
    moved(floor.post(floor.path(30, "done"), rest="lost"))
    said = text_of(floor.phone.get(floor.path(30, "")[:-1]))
    assert "The same of load 2." in said, said


def test_loads_that_hold_more_than_lies_there_leave_nothing_waiting() -> None:
    waiting = Waiting(lying=10, loads=(Inside(1, "", 24),))
    assert (waiting.here, waiting.inside) == (0, 10)
    owed = Waiting(lying=-3, loads=(Inside(1, "", 24),))
    assert (owed.here, owed.inside) == (-3, 0)


def test_a_load_that_was_struck_or_holds_nothing_is_not_inside(floor: Floor) -> None:
    floor.moulded(48)
    uid = factory.uid("struck")
    moved(floor.post(floor.path(30, "load"), quantity=24, news_id=uid))
    assert waiting_at(floor.step(30)).here == 24
    moved(floor.post(f"/here/told/{uid}/undo"))
    assert waiting_at(floor.step(30)).here == 48 and Load.objects.filter(struck_by=None, step__number=30).count() == 0
