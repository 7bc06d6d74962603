"""Goods on the phone: sent to one site at a time, counted unseen on arrival, then both figures side by side."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client

from tests import cast, factory
from tests.web.operator.floor import Floor, events, field_of, html_of, moved, text_of
from traveller.batches.actions.send import send
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment
from traveller.journal.models import Parked
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Hold

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(floor: Floor) -> Client:
    return cast.pass_client(floor.bench, person="Tomas")


def sent(floor: Floor, quantity: int = 47, **typed: Any) -> Consignment:
    """Globes on the road to the bench, by the page."""
    floor.batch.refresh_from_db()
    if floor.batch.lot is None:
        floor.tested(48)
    page: Any = floor.phone.get("/here/send")
    field = page.context["rows"][0]["field"]
    moved(floor.post("/here/send", {field: quantity, "to": floor.bench.pk}, **typed))
    return Consignment.objects.latest("id")


def counted(floor: Floor, bench: Client, consignment: Consignment, quantity: object, **typed: Any) -> Any:
    line = consignment.lines.get()
    return floor.post(
        f"/here/arrival/{consignment.code}", {f"line:{line.pk}": quantity, "method": "hand"}, client=bench, **typed
    )


def test_the_page_proposes_all_and_what_was_sent_is_on_the_road(floor: Floor) -> None:
    floor.tested(48)
    page: Any = floor.phone.get("/here/send")
    assert "To Own bench: how many?" in text_of(page)
    assert field_of(page, page.context["rows"][0]["field"]) == "48"
    to = moved(floor.send_all(carrier="Own van"))
    reported = floor.phone.get(to)
    assert (
        "On the road to Own bench" in text_of(reported) and "Own van" in text_of(reported) and "48" in text_of(reported)
    )
    assert floor.at(floor.moulder, "on_the_road", 60) == 48


@pytest.mark.parametrize("quantity", ["-1", "2.5", "x", "99999999999"])
def test_a_quantity_that_cannot_be_sent_is_refused_with_what_was_typed(floor: Floor, quantity: str) -> None:
    floor.tested(48)
    page: Any = floor.phone.get("/here/send")
    field = page.context["rows"][0]["field"]
    answer = floor.post("/here/send", {field: quantity, "to": floor.bench.pk, "carrier": "Own van"})
    assert answer.status_code == 422 and field_of(answer, field) == quantity
    assert field_of(answer, "carrier") == "Own van" and "“" in text_of(answer) and events("sent") == 0


def test_more_than_lies_there_and_nothing_at_all_are_refused_in_words(floor: Floor) -> None:
    floor.tested(48)
    page: Any = floor.phone.get("/here/send")
    field = page.context["rows"][0]["field"]
    short = floor.post("/here/send", {field: "49", "to": floor.bench.pk})
    assert short.status_code == 409 and "Only 48 of Globe, amber" in text_of(short)
    assert field_of(short, field) == "49"
    nothing = floor.post("/here/send", {field: "0", "to": floor.bench.pk})
    assert nothing.status_code == 409 and "Nothing was chosen to be sent." in text_of(nothing)
    assert events("sent") == 0


def test_the_same_sending_twice_is_one_consignment(floor: Floor) -> None:
    floor.tested(48)
    page: Any = floor.phone.get("/here/send")
    field, uid = page.context["rows"][0]["field"], factory.uid("sent once")
    ways = {moved(floor.post("/here/send", {field: "20", "to": floor.bench.pk}, news_id=uid)) for _ in range(2)}
    assert len(ways) == 1 and Consignment.objects.count() == 1
    assert floor.at(floor.moulder, "on_the_road", 60) == 20


def test_what_is_held_stays_and_is_shown_apart(floor: Floor) -> None:
    floor.tested(48)
    moved(floor.post(f"/here/problem/{floor.batch.code}", reason="specks"))
    assert "stays here" in text_of(floor.phone.get("/here/send"))
    listed = text_of(floor.phone.get("/here/"))
    assert "Stays here, not to be sent yet" in listed and "HELD: do not use" in listed


def test_what_is_not_proved_yet_says_why_and_may_be_sent_with_the_proof_that_is_under_way(floor: Floor) -> None:
    floor.batch.refresh_from_db()
    # Every step of the moulder's is counted and nothing was measured: the bore blocks sending.
    moved(floor.post(floor.path(10, "start"), already="yes"))
    moved(floor.count(20, 24, shots=12))
    load = floor.load(24, 15)
    moved(floor.post(floor.path(30, "count"), stage="good", good=24, load=load.uid))
    floor.count(40, 24)
    floor.count(50, 24)
    lot = floor.lot()
    Hold.objects.filter(lot=lot).delete()
    page: Any = floor.phone.get("/here/send")
    (row,) = page.context["rows"]
    assert "Waits for proof" in text_of(page) and "is not proved" in text_of(page) and not row["blocked"]
    assert "Stays here, not to be sent yet" in text_of(floor.phone.get("/here/"))
    answer = floor.post("/here/send", {row["field"]: "24", "to": floor.bench.pk})
    assert answer.status_code == 409 and "is not proved" in text_of(answer)
    assert "Waits for proof" in text_of(floor.phone.get(f"/here/t/{floor.batch.code}"))


def test_where_goods_go_is_asked_first_when_there_are_two_ways(floor: Floor) -> None:
    floor.tested(48)
    printer = factory.make_site("printer", name="Printer")
    part = factory.make_part("PLATE", name="Plate")
    factory.make_routing(part, [factory.Op(10, floor.moulder, "mould", "make"), factory.Op(20, printer, "print")])
    plates = factory.make_batch(part, destination=floor.bench)
    moved(floor.count(10, 30, batch=plates, shots=30))
    page = floor.phone.get("/here/send")
    assert "Where do the goods go?" in text_of(page)
    assert "Own bench: Globe, amber" in text_of(page) and "Printer: Plate" in text_of(page)
    there = floor.phone.get(f"/here/send?to={printer.pk}")
    assert "To Printer: how many?" in text_of(there) and "Globe" not in text_of(there)


def test_the_note_is_printed_by_the_sender_alone(floor: Floor, bench: Client) -> None:
    consignment = sent(floor)
    path = f"/here/sent/{consignment.code}"
    pdf = floor.post(f"{path}/note")
    assert pdf["Content-Type"] == "application/pdf" and getattr(pdf, "content", b"")[:4] == b"%PDF"
    assert bench.get(path).status_code == 404
    assert floor.post(f"{path}/note", client=bench).status_code == 404
    assert events("note printed") == 1


def test_the_sender_figure_is_shown_nowhere_to_the_receiver_before_the_count(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 47)
    pages = {
        path: bench.get(path)
        for path in (
            "/here/",
            f"/here/arrival/{consignment.code}",
            f"/here/t/{floor.batch.code}",
            f"/here/unannounced?code={floor.batch.code}",
        )
    }
    pages["wrong"] = counted(floor, bench, consignment, "4.5")
    pages["asked"] = counted(floor, bench, consignment, "0")
    for path, page in pages.items():
        # Not in the words, not in a field, not behind a key of the pad.
        bare = re.sub(r'name="csrfmiddlewaretoken" value="\w+"|[0-9a-f-]{36}|[0-9a-f]{64}', "", html_of(page))
        assert not re.search(r"(?<![\w-])47(?![\w-])", bare), path
    assert pages["wrong"].status_code == 422 and events("received") == 0


def test_after_the_count_both_figures_stand_side_by_side_with_what_counting_resolves(
    floor: Floor, bench: Client
) -> None:
    consignment = sent(floor, 47)
    words = text_of(bench.get(moved(counted(floor, bench, consignment, "45"))))
    assert "You counted 45 by hand They sent 47 by hand" in words
    assert "They differ 2 fewer than were sent. Such counts tell a single piece apart" in words
    assert "Your count is booked; Own bench settles the difference." in words
    assert floor.at(floor.bench, "in_process", 60) == 45


def test_a_count_by_weight_that_cannot_tell_the_difference_agrees_and_books_the_finer(
    floor: Floor, bench: Client
) -> None:
    floor.tested(480)
    consignment = sent(floor, 480)
    line = consignment.lines.get()
    answer = floor.post(
        f"/here/arrival/{consignment.code}",
        {f"line:{line.pk}": "477", "method": "weight", "sample": "10"},
        client=bench,
    )
    words = text_of(bench.get(moved(answer)))
    # 2 x 480 x 1 % x sqrt(1/10 + 1/477) = 3.05 pieces: the scale cannot tell 3 apart (rules.counts).
    assert "You counted 477 on a scale, 10 weighed They sent 480 by hand" in words
    assert "They differ by 3; such counts cannot tell less than 3 apart" in words and "480 are booked." in words
    assert floor.at(floor.bench, "in_process", 60) == 480


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("-1", "is below zero"),
        ("4.5", "is not whole"),
        ("", "Type a number"),
        ("9" * 12, "more than anybody can count"),
    ],
)
def test_an_arrival_that_cannot_be_a_count_is_refused_with_what_was_typed(
    floor: Floor, bench: Client, typed: str, sentence: str
) -> None:
    consignment = sent(floor)
    answer = counted(floor, bench, consignment, typed, seen="yes")
    assert answer.status_code == 422 and sentence in text_of(answer)
    assert field_of(answer, f"line:{consignment.lines.get().pk}") == typed and events("received") == 0


def test_the_same_arrival_twice_is_booked_once(floor: Floor, bench: Client) -> None:
    consignment = sent(floor)
    uid = factory.uid("arrived once")
    for _ in range(2):
        answer = counted(floor, bench, consignment, "47", news_id=uid)
        assert answer.status_code in (200, 302)
    assert events("received") == 1 and floor.at(floor.bench, "in_process", 60) == 47


def test_a_part_that_arrived_leaves_the_rest_open(floor: Floor, bench: Client) -> None:
    consignment = sent(floor, 47)
    page = bench.get(moved(counted(floor, bench, consignment, "20", more="yes")))
    assert "20 counted before" in text_of(page) and "They sent" not in text_of(page)
    words = text_of(bench.get(moved(counted(floor, bench, consignment, "27"))))
    assert "You counted 47 by hand They sent 47 by hand Agreed" in words


def test_resin_is_counted_in_kilograms(floor: Floor, bench: Client) -> None:
    resin = factory.make_stock(floor.resin, floor.bench, 25_000, name="free issue")
    answer = send(
        event_context=factory.event_context("resin", at=floor.clock.now, actor=factory.founder()),
        origin_id=floor.bench.pk, destination_id=floor.moulder.pk, lines=[SendLine(resin.pk, 25_000)],
        purpose="free issue",
    )  # fmt: skip
    assert not isinstance(answer, Refusal)
    page = floor.phone.get(f"/here/arrival/{answer.code}")
    assert "kg" in text_of(page)
    line = answer.lines.get()
    wrong = floor.post(f"/here/arrival/{answer.code}", {f"line:{line.pk}": "24 gallons"})
    assert wrong.status_code == 422 and "“gallons” is not a unit that is known here. Use g." in text_of(wrong)
    reported = floor.phone.get(moved(floor.post(f"/here/arrival/{answer.code}", {f"line:{line.pk}": "24,5"})))
    assert "You counted 24.5 kg" in text_of(reported) and "They sent 25 kg" in text_of(reported)


def test_goods_that_nobody_told_of_are_taken_and_booked_when_the_sender_tells(floor: Floor, bench: Client) -> None:
    floor.tested(48)
    path = "/here/unannounced"
    wrong = floor.post(path, code="nonsense", quantity="-2", client=bench)
    words = text_of(wrong)
    assert wrong.status_code == 422 and "No batch that comes here has this code." in words and "below zero" in words
    assert (field_of(wrong, "code"), field_of(wrong, "quantity")) == ("nonsense", "-2") and not Parked.objects.exists()
    reported = bench.get(moved(floor.post(path, code=floor.batch.code.lower(), quantity="40", client=bench)))
    assert "arrived that nobody has told were sent" in text_of(reported)
    assert Parked.objects.get().settled_by is None
    sent(floor, 40)
    assert Parked.objects.get().settled_by is not None and floor.at(floor.bench, "in_process", 60) == 40


def test_a_scan_at_the_receiver_leads_to_the_count_of_what_is_on_the_road(floor: Floor, bench: Client) -> None:
    consignment = sent(floor)
    page = bench.get(f"/here/t/{floor.batch.code}")
    assert "Some of it is on the road from Moulder." in text_of(page)
    assert f'href="/here/arrival/{consignment.code}">Yes: count it in' in html_of(page)
    assert moved(bench.get(f"/here/t/{consignment.code}")) == f"/here/arrival/{consignment.code}"
    assert moved(floor.phone.get(f"/here/t/{consignment.code}")) == f"/here/sent/{consignment.code}"


def test_labels_want_whole_pieces_in_each_tote(floor: Floor) -> None:
    floor.tested(48)
    path = f"/here/label/{floor.batch.code}"
    for typed in ("", "24 x", "0", "24.5", "1 " * 61):
        answer = floor.post(path, floor.totes(typed))
        assert answer.status_code == 422 and "Type the pieces in each tote" in text_of(answer)
        (field,) = floor.totes(typed)
        assert field_of(answer, field) == typed
    more = floor.post(path, floor.totes("24 25"))
    assert more.status_code == 409 and "Labels for 49 were asked for, and 48 lie there" in text_of(more)
    assert floor.post(path, floor.totes("24 24"))["Content-Type"] == "application/pdf"
