"""Something else happened: each rarer thing has its page at the shop, reached from the step."""

from __future__ import annotations

from typing import Any

import pytest

from tests import cast
from tests.web.operator.floor import Floor, events, html_of, moved, text_of
from traveller.batches.models import Batch, OwnNumber, TravellerPrint
from traveller.dispatches.models import Consignment
from traveller.journal.models import Event
from traveller.ledger.models import Hold

pytestmark = pytest.mark.django_db


def test_the_step_leads_to_what_may_have_happened_besides(floor: Floor) -> None:
    floor.moulded(240)
    step = floor.phone.get(floor.path(20, "")[:-1])
    assert "Something else happened" in text_of(step)
    page = text_of(floor.phone.get(floor.path(20, "else")))
    assert "A cavity is blocked" in page and "Set some apart" in page
    assert "Scrap was found good" not in page, "there is none"


def test_a_cavity_is_blocked_in_mid_run_and_free_again(floor: Floor) -> None:
    floor.moulded(240)
    page = text_of(floor.phone.get(floor.path(20, "cavities")))
    assert "2 of 2 run now" in page
    back = moved(floor.post(floor.path(20, "cavities"), open_cavities="1", shots="30", reason="gate torn"))
    assert back.startswith(f"/here/step/{floor.step(20).pk}?told=")
    assert floor.step(20).open_cavities == 1
    count = text_of(floor.phone.get(floor.path(20, "count")))
    assert "Before that, 30 shots with 2 open: count their pieces too." in count
    moved(floor.post(floor.path(20, "cavities"), open_cavities="2", shots="", reason="mended"))
    assert floor.step(20).open_cavities == 2
    reported = Event.objects.filter(kind="cavities changed").order_by("id")
    assert [event.data["told"]["shots"] for event in reported] == [30, 0]
    wrong = floor.post(floor.path(20, "cavities"), open_cavities="3")
    assert wrong.status_code == 409 and "This mould has 2 cavities" in text_of(wrong)


def test_pieces_are_set_apart_under_a_code_of_their_own(floor: Floor) -> None:
    floor.moulded(240)
    wrong = floor.post(floor.path(30, "apart"), place="in_process:30", quantity="240", reason="all")
    assert wrong.status_code == 409 and "fewer than all" in text_of(wrong)
    there = moved(floor.post(floor.path(30, "apart"), place="in_process:30", quantity="40", reason="to be polished"))
    child = Batch.objects.get(parent=floor.batch)
    assert there.startswith(f"/here/t/{child.code}")
    assert "Is this it?" in text_of(floor.phone.get(there))
    assert floor.at(floor.moulder, "in_process", 30) == 200


def test_scrap_found_good_is_counted_again_at_its_step(floor: Floor) -> None:
    floor.moulded(240)
    moved(floor.count(30, 20, scrap__dirty=4))
    page = text_of(floor.phone.get(floor.path(30, "found")))
    assert "4 were told as scrap here" in page
    more = floor.post(floor.path(30, "found"), quantity="5", reason="wiped")
    assert more.status_code == 409 and "Type at most 4" in text_of(more)
    moved(floor.post(floor.path(30, "found"), quantity="3", reason="wiped"))
    assert floor.at(floor.moulder, "rework", 30) == 3
    assert "Count rework" in text_of(floor.phone.get(floor.path(30, "")[:-1]))


def test_a_lot_is_found_by_the_number_in_the_shops_own_books(floor: Floor) -> None:
    floor.moulded(240)
    assert floor.post(floor.path(20, "own-number"), number=" ").status_code == 409
    moved(floor.post(floor.path(20, "own-number"), number="WK 2211/7"))
    moved(floor.post(floor.path(20, "own-number"), number="WK 2211/7"))
    assert OwnNumber.objects.count() == events("own number told") == 1
    assert "Is this it?" in text_of(floor.phone.get("/here/scan", {"code": "wk 2211/7"}))
    founder = cast.founder_client()
    answer = founder.get("/find", {"code": "WK 2211/7"})
    assert answer["Location"] == f"/batches/{floor.batch.code}"
    assert "The shop calls it WK 2211/7." in text_of(founder.get(answer["Location"]))
    stranger = cast.pass_client(floor.bench, person="Bruno")
    assert stranger.get("/here/scan", {"code": "WK 2211/7"}).status_code == 404, "another shop's number is not ours"


def test_the_number_is_told_with_a_count_and_with_an_arrival(floor: Floor) -> None:
    floor.tested(48)
    moved(floor.count(20, 2, {"sure:step_was_done": "yes"}, own_number="WK 9", shots=1))
    assert OwnNumber.objects.get().number == "WK 9"
    moved(floor.send_all())
    bench = cast.pass_client(floor.bench, person="Bruno")
    consignment = Consignment.objects.get()
    path = f"/here/arrival/{consignment.code}"
    page: Any = bench.get(path)
    assert "Our own lot number" in html_of(page)
    field = page.context["rows"][0]["field"]
    moved(floor.post(path, {field: "48"}, client=bench, own_number="B 3"))
    assert {(row.site.code, row.number) for row in OwnNumber.objects.all()} == {("moulder", "WK 9"), ("bench", "B 3")}
    assert "Is this it?" in text_of(bench.get("/here/scan", {"code": "b 3"}))


def test_a_lost_traveller_is_found_by_picture_and_printed_again(floor: Floor, settings: object) -> None:
    settings.PUBLIC_ADDRESS = "https://lanterns.example.org"  # type: ignore[attr-defined]
    floor.moulded(240)
    assert "A tote without its paper" in text_of(floor.phone.get("/here/"))
    listed = floor.phone.get("/here/lost")
    assert "Globe, amber" in text_of(listed) and "/picture/" in html_of(listed)
    path = f"/here/paper/{floor.batch.code}"
    assert path in html_of(listed)
    first = floor.post(path)
    assert first["Content-Type"] == "application/pdf"
    floor.post(path)
    assert list(TravellerPrint.objects.values_list("serial", flat=True)) == [1, 2]
    assert Event.objects.filter(kind="traveller printed", site=floor.moulder).count() == 2
    # The old print carries the same address: it opens, and says which print counts.
    scanned = text_of(floor.phone.get(f"/here/t/{floor.batch.code}"))
    assert "Print 2, of" in scanned and "is the one that counts" in scanned


def test_the_same_print_asked_twice_is_one_print(floor: Floor, settings: object) -> None:
    settings.PUBLIC_ADDRESS = "https://lanterns.example.org"  # type: ignore[attr-defined]
    path = f"/here/paper/{floor.batch.code}"
    news = "22222222-2222-4222-8222-222222222222"
    assert floor.post(path, news_id=news).status_code == floor.post(path, news_id=news).status_code == 200
    assert TravellerPrint.objects.count() == 1


def test_none_of_it_exists_for_another_shop(floor: Floor) -> None:
    floor.moulded(240)
    rival = cast.pass_client(floor.bench, person="Bruno")
    for tail in ("else", "apart", "found", "cavities", "own-number"):
        assert rival.get(floor.path(20, tail)).status_code == 404
        assert floor.post(floor.path(20, tail), client=rival).status_code == 404


@pytest.mark.both
def test_a_nul_in_a_text_is_dropped_and_the_news_is_taken(floor: Floor) -> None:
    floor.tested(48)
    moved(floor.post(f"/here/problem/{floor.batch.code}", reason="\U0001f9ef specks\0 on all"))
    (hold,) = Hold.objects.filter(lot=floor.lot(), closed_at=None)
    assert hold.figures["reason"] == "\U0001f9ef specks on all"
    assert Event.objects.get(pk=hold.opened_event_id).data["told"]["reason"] == "\U0001f9ef specks on all"
