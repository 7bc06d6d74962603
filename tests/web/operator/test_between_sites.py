"""Goods between sites on the phone: totes, weights and shots, in parts, mixed, unknown, late, and back again."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from sites.models import Lane
from tests import cast, factory
from tests.web.operator.floor import Floor, events, field_of, html_of, moved, text_of
from tests.web.queueing import Phone
from traveller.batches.actions.send import send
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.journal.models import Event, Parked
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Lot

pytestmark = pytest.mark.django_db
SCALE = {
    "method": "weight",
    "sample": "25",
    "sample_weight": "100",
    "sample_unit": "g",
    "sample_step": "0.5",
    "weight_unit": "kg",
    "step": "0.001",
}


@pytest.fixture
def bench(floor: Floor) -> Client:
    return cast.pass_client(floor.bench, person="Tomas")


def _field(floor: Floor) -> str:
    page: Any = floor.phone.get("/here/send")
    return str(page.context["rows"][0]["field"])


def _sent(floor: Floor, quantity: object = 48, **typed: Any) -> Consignment:
    floor.batch.refresh_from_db()
    if floor.batch.lot is None:
        floor.tested(48)
    moved(floor.post("/here/send", {_field(floor): quantity, "to": floor.bench.pk}, **typed))
    return Consignment.objects.latest("id")


def _arrive(floor: Floor, bench: Client, consignment: Consignment, quantity: object, **typed: Any) -> Any:
    line = consignment.lines.get()
    return floor.post(f"/here/arrival/{consignment.code}", {f"line:{line.pk}": quantity, **typed}, client=bench)


def test_each_tote_stands_on_the_note_and_they_are_sent_together(floor: Floor) -> None:
    consignment = _sent(floor, "20 + 20 + 8", carrier="Own van", owner="Lumen Works", returnables="3 grey totes")
    line = consignment.lines.get()
    assert (line.sent, line.totes) == (48, [20, 20, 8])
    assert (consignment.owner, consignment.returnables) == ("Lumen Works", "3 grey totes")
    assert consignment.sent_event.person == "Ines"
    words = text_of(floor.phone.get(f"/here/sent/{consignment.code}"))
    assert "Lumen Works" in words and "3 grey totes" in words and "20 + 20 + 8" in words and "Ines" in words


def test_the_pieces_of_a_tote_follow_from_its_weight_and_are_shown_before_they_are_sent(floor: Floor) -> None:
    floor.tested(48)
    typed = {**SCALE, _field(floor): "0.292", "to": floor.bench.pk, "tare": "0.1"}
    asked = floor.post("/here/send", typed)
    # (292 g - 100 g) of 4 g each; 48 x 1 % x sqrt(1/25 + 1/48) = 0.12, 48 x 0.5/100/sqrt(12) = 0.07 by the steps of the
    # sample and 1/4 x sqrt(2/12) = 0.10 by those of the tote, full and empty: twice 0.17, rounded up to a piece.
    assert "48 pieces by weight, give or take 1 (two standard deviations)." in text_of(asked)
    assert events("sent") == 0
    moved(floor.post("/here/send", typed, sure__by_weight="yes"))
    line = ConsignmentLine.objects.get()
    assert (line.sent, line.sent_method, line.sent_sample) == (48, "weight", 25)
    how = Event.objects.get(kind="sent").data["told"]["lines"][0][7]
    scale = {"weight": "100 g", "sample_step": "0.5 g", "step": "0.001 kg", "readings": 2}
    assert how == {"gross": "0.292 kg", "sample": "25", "sample_weight": "100 g", "tare": "0.1 kg", "scale": scale}
    assert line.sent_scale == {**scale, "cv_ppm": 10_000, "pairs": 0}


def test_pounds_and_ounces_and_a_unit_typed_after_the_figure_are_read(floor: Floor) -> None:
    floor.tested(48)
    # 40 pieces of 4 g are 160 g: 5.643834 oz; the tare is nothing.
    typed = {**SCALE, _field(floor): "5.643834 oz", "to": floor.bench.pk, "weight_unit": "lb"}
    moved(floor.post("/here/send", typed, sure__by_weight="yes"))
    assert ConsignmentLine.objects.get().sent == 40
    floor.moulder.country = "US"
    floor.moulder.save()
    page = html_of(floor.phone.get("/here/send"))
    assert "<option selected>lb</option>" in page and "<option selected>oz</option>" in page


def test_few_weighed_pieces_are_questioned_and_bad_weights_are_refused_in_words(floor: Floor) -> None:
    floor.tested(48)
    base = {_field(floor): "0.1", "to": floor.bench.pk}
    few = floor.post("/here/send", {**SCALE, **base, "sample": "5", "sample_weight": "20"})
    assert "Only 5 weighed for the weight of one" in text_of(few)
    for wrong, sentence in (
        ({"sample": ""}, "Type how many pieces were weighed together"),
        ({"sample_weight": "heavy"}, "is no weight that can be read"),
        ({"tare": "2"}, "there is nothing left of"),
        ({"sample_weight": "0"}, "there is nothing left of"),
        ({_field(floor): "12 stones"}, "is no weight that can be read"),
    ):
        answer = floor.post("/here/send", {**SCALE, **base, **wrong})
        assert answer.status_code == 422 and sentence in text_of(answer), wrong
    assert events("sent") == 0


def test_a_scale_that_shows_pieces_and_shots_times_cavities_are_counts_too(floor: Floor, bench: Client) -> None:
    floor.tested(48)
    moved(floor.post("/here/send", {_field(floor): "30", "to": floor.bench.pk, "method": "weight", "sample": "50"}))
    assert ConsignmentLine.objects.get().sent == 30
    shots = {_field(floor): "9", "to": floor.bench.pk, "method": "shots", "cavities": "2"}
    asked = floor.post("/here/send", shots)
    assert "9 shots with 2 cavities are 18 pieces." in text_of(asked)
    moved(floor.post("/here/send", shots, sure__by_shots="yes"))
    line = ConsignmentLine.objects.latest("id")
    assert (line.sent, line.sent_method) == (18, "shots")


def test_totes_counted_in_another_order_are_the_same_goods(floor: Floor, bench: Client) -> None:
    consignment = _sent(floor, "20 + 20 + 8")
    words = text_of(bench.get(moved(_arrive(floor, bench, consignment, "8 + 20 + 20"))))
    assert "You counted 48 by hand They sent 48 by hand Agreed" in words
    reported = Event.objects.get(kind="received").data["told"]
    assert reported["how"] == {"totes": [8, 20, 20]}


def test_an_arrival_weighed_tote_by_tote_needs_no_arithmetic(floor: Floor, bench: Client) -> None:
    consignment = _sent(floor)
    asked = _arrive(floor, bench, consignment, "0.18 + 0.212", **SCALE, tare="0.1")
    assert "48 pieces by weight, give or take 1" in text_of(asked) and events("received") == 0
    moved(_arrive(floor, bench, consignment, "0.18 + 0.212", **SCALE, tare="0.1", **{"sure:by_weight": "yes"}))
    line = consignment.lines.get()
    assert (line.received, line.received_method, line.received_sample) == (48, "weight", 25)
    assert Event.objects.get(kind="received").data["told"]["how"]["gross"] == "0.18 kg + 0.212 kg"


def test_a_receipt_of_totes_that_carry_their_quantity_is_marked_as_seen(floor: Floor, bench: Client) -> None:
    consignment = _sent(floor, shown="yes")
    assert 'name="seen" value="yes" checked' in html_of(bench.get(f"/here/arrival/{consignment.code}"))
    moved(_arrive(floor, bench, consignment, "48"))
    assert consignment.lines.get().seen is True


def test_sending_and_receiving_may_be_told_late_with_the_reason_in_the_record(floor: Floor, bench: Client) -> None:
    floor.tested(48)
    field = _field(floor)
    typed = {field: "48", "to": floor.bench.pk, "at": "2026-11-24T10:00"}
    assert "Say why the time is told late" in text_of(floor.post("/here/send", typed))
    floor.clock.go(days=1)
    moved(floor.post("/here/send", {**typed, "late_reason": "no signal", "note": "two wet"}))
    consignment = Consignment.objects.get()
    assert (consignment.sent_at.hour, consignment.note) == (10, "two wet; no signal")
    moved(
        _arrive(floor, bench, consignment, "48", at="2026-11-24T15:30", late_reason="phone left at home", note="torn")
    )
    event = Event.objects.get(kind="received")
    assert (event.happened_at.hour, event.data["told"]["note"]) == (15, "torn; phone left at home")


def test_the_rest_of_a_part_delivery_has_its_day(floor: Floor, bench: Client) -> None:
    consignment = _sent(floor)
    moved(_arrive(floor, bench, consignment, "30", more="yes", rest_due="2026-11-30"))
    assert "the rest is to come on 30 Nov" in text_of(bench.get(f"/here/arrival/{consignment.code}"))
    assert floor.at(floor.moulder, "on_the_road", 60) == 18
    moved(_arrive(floor, bench, consignment, "18", rest_due="nonsense"))
    assert consignment.lines.get().closed is True


def _two_lots(floor: Floor) -> Consignment:
    """Two lots of resin on the road to the moulder on one note."""
    lots = [factory.make_stock(floor.resin, floor.bench, 9_000, name=name) for name in ("a", "b")]
    answer = send(
        event_context=factory.event_context("two lots", at=floor.clock.now), origin_id=floor.bench.pk,
        destination_id=floor.moulder.pk, lines=[SendLine(lot.pk, 5_000) for lot in lots], purpose="free issue",
    )  # fmt: skip
    assert not isinstance(answer, Refusal)
    return answer


def test_a_line_without_a_count_is_asked_about_and_stays_on_the_road(floor: Floor) -> None:
    consignment = _two_lots(floor)
    first, second = consignment.lines.order_by("id")
    path = f"/here/arrival/{consignment.code}"
    asked = floor.post(path, {f"line:{first.pk}": "5"})
    assert "Lines without a count: 1 of 2." in text_of(asked) and events("received") == 0
    moved(floor.post(path, {f"line:{first.pk}": "5"}, sure__lines_left="yes"))
    second.refresh_from_db()
    assert second.closed is False and events("received") == 1
    nothing = floor.post(path, {})
    assert nothing.status_code == 422 and "Type a number; 0 if there are none." in text_of(nothing)


def test_lots_mixed_in_one_tote_are_counted_together(floor: Floor) -> None:
    consignment = _two_lots(floor)
    first, second = consignment.lines.order_by("id")
    path = f"/here/arrival/{consignment.code}"
    assert "mixed in one tote?" in text_of(floor.phone.get(path))
    wrong = floor.post(path, {f"mix:{first.pk}": "many"})
    assert wrong.status_code == 422 and field_of(wrong, f"mix:{first.pk}") == "many"
    page = floor.phone.get(moved(floor.post(path, {f"mix:{first.pk}": "10"})))
    assert "data-confirmed" in html_of(page)
    mixed = Lot.objects.get(origin="mixed")
    assert factory.balance(mixed, floor.moulder) == 10_000
    assert {link.parent_id for link in mixed.made_of.all()} == {first.lot_id, second.lot_id}


def test_a_tote_without_a_label_is_taken_in_as_a_part_or_in_words(floor: Floor, bench: Client) -> None:
    floor.tested(48)
    path = "/here/unannounced"
    bare = floor.post(path, quantity="4", client=bench)
    assert bare.status_code == 422 and "Choose which part it is, or say in a few words" in text_of(bare)
    reported = bench.get(moved(floor.post(path, quantity="4", part=str(floor.part.pk), client=bench)))
    assert "A tote of an unknown lot, 4, arrived." in text_of(reported)
    provisional = Lot.objects.get(origin="provisional")
    assert factory.balance(provisional, floor.bench) == 4
    moved(floor.post(path, quantity="9", words="blue lids", client=bench))
    assert Parked.objects.latest("id").figures["words"] == "blue lids"


def test_goods_of_others_are_taken_in_words_and_nothing_is_told_of_them(floor: Floor, bench: Client) -> None:
    """A rival who guesses a code learns nothing: the real one and an invented one give the same page."""
    floor.tested(48)
    printer = cast.pass_client(factory.make_site("printer", name="Printer"), person="Bruno")
    consignment = _sent(floor)
    pages = []
    for code in (floor.batch.code, "7K3M9QA"):
        typed = {"code": code, "quantity": "48", "words": "amber"}
        refused = floor.post("/here/unannounced", {"code": code, "quantity": "48"}, client=printer)
        assert refused.status_code == 422 and "No batch that comes here has this code." in text_of(refused)
        reported = text_of(printer.get(moved(floor.post("/here/unannounced", typed, client=printer))))
        pages.append(reported.replace(code, "CODE"))
    assert pages[0] == pages[1] and "Globe" not in pages[0]
    assert consignment.lines.get().closed is False


def test_goods_go_back_to_a_named_step_with_a_reason(floor: Floor, bench: Client) -> None:
    consignment = _sent(floor)
    moved(_arrive(floor, bench, consignment, "48"))
    page: Any = bench.get("/here/return")
    assert "Back to Moulder" in text_of(page) and "48 wait for step 60" in text_of(page)
    row = page.context["rows"][0]
    assert [step.number for step in row["steps"]] == [20, 30, 40, 50]
    typed = {"to": floor.moulder.pk, row["field"]: "6", row["step_field"]: "40"}
    bare = floor.post("/here/return", typed, client=bench)
    assert bare.status_code == 422 and "Say why it goes back" in text_of(bare)
    moved(floor.post("/here/return", {**typed, "note": "insert loose"}, client=bench))
    back = Consignment.objects.latest("id")
    assert (back.purpose, back.note, back.lines.get().to_step) == ("return", "insert loose", 40)
    moved(_arrive(floor, floor.phone, back, "6"))
    assert floor.at(floor.moulder, "rework", 40) == 6
    assert floor.at(floor.bench, "in_process", 60) == 42


def test_material_goes_back_to_where_it_came_from_and_nothing_else_is_offered(floor: Floor, bench: Client) -> None:
    assert "Nothing here came from another site" in text_of(bench.get("/here/return"))
    consignment = _two_lots(floor)
    first, second = consignment.lines.order_by("id")
    moved(floor.post(f"/here/arrival/{consignment.code}", {f"line:{first.pk}": "5", f"line:{second.pk}": "5"}))
    page: Any = floor.phone.get("/here/return")
    fields = {row["account"].lot_id: row["field"] for row in page.context["rows"]}
    assert set(fields) == {first.lot_id, second.lot_id}
    typed = {"to": floor.bench.pk, fields[first.lot_id]: "2.5 kg", "note": "wrong grade"}
    moved(floor.post("/here/return", typed))
    assert factory.balance(first.lot, floor.bench, "on_the_road") == 0
    assert factory.balance(first.lot, floor.moulder, "on_the_road") == 2_500


def test_a_label_may_leave_its_quantity_off_for_a_blind_count(floor: Floor) -> None:
    floor.tested(48)
    path = f"/here/label/{floor.batch.code}"
    assert "The receiver counts: leave the quantity off" in text_of(floor.phone.get(path))
    assert floor.post(path, {**floor.totes("24 24"), "blind": "yes"})["Content-Type"] == "application/pdf"


def test_goods_for_another_site_are_taken_in_from_the_scan_and_sent_on_once_the_maker_knows(floor: Floor) -> None:
    printer = factory.make_site("printer", name="Printer")
    phone = cast.pass_client(printer, person="Bruno")
    founder = cast.founder_client()
    _sent(floor)
    page = phone.get(f"/here/scan?code={floor.batch.code}")
    assert page.status_code == 404 and f"/here/unannounced?code={floor.batch.code}" in html_of(page)
    typed = {"code": floor.batch.code, "quantity": "48", "words": "amber globes"}
    moved(floor.post("/here/unannounced", typed, client=phone))
    parked = Parked.objects.get()
    reported = {"news_id": str(factory.uid("known")), "lot": floor.batch.code, "reason": "read on the label"}
    assert founder.post(f"/consignments/arrivals/{parked.pk}", reported).status_code == 302
    assert floor.at(printer, "stock", 50) == 48
    shelf: Any = phone.get("/here/send")
    assert "To Own bench: how many?" in text_of(shelf)
    moved(floor.post("/here/send", {shelf.context["rows"][0]["field"]: "48", "to": floor.bench.pk}, client=phone))
    assert floor.at(printer, "on_the_road", 60) == 48
    assert not Parked.objects.filter(settled_by=None).exists()


def test_goods_told_without_a_signal_are_sent_counted_and_sent_back_in_order(floor: Floor, bench: Client) -> None:
    floor.tested(48)
    field = _field(floor)
    moulder, receiver = Phone(floor.phone, floor.moulder), Phone(bench, floor.bench, "Tomas", name="bench")
    # The bench counts before the moulder's phone has a signal again; what was reckoned was shown on the page.
    receiver.tap("/here/unannounced", floor.clock.now, {"code": floor.batch.code, "quantity": "0.18 + 0.112", **SCALE})
    receiver.tap("/here/unannounced", floor.clock.now, {"quantity": "4", "words": "blue lids", "note": "torn label"})
    assert [one["state"] for one in receiver.send(floor.clock.now)] == ["stored", "stored"]
    moulder.tap("/here/send", floor.clock.now, {field: "40 + 8", "to": floor.bench.pk, "carrier": "Own van"})
    assert [one["state"] for one in moulder.send(floor.clock.now)] == ["stored"]
    line = ConsignmentLine.objects.get()
    # 292 g of 4 g each: 73 pieces, 25 more than were sent; the surplus stands before the founder.
    assert (line.received, line.difference, line.closed) == (73, -25, True)
    waiting = floor.at(floor.bench, "in_process", 60)
    page: Any = bench.get("/here/return")
    typed = {"to": floor.moulder.pk, page.context["rows"][0]["field"]: "6", "note": "loose"}
    entry = receiver.tap("/here/return", floor.clock.now, typed)
    for _ in range(2):
        assert receiver.send(floor.clock.now, [entry])[0]["state"] == "stored"
    assert floor.at(floor.bench, "in_process", 60) == waiting - 6
    assert Consignment.objects.filter(purpose="return").count() == 1


def test_a_surplus_over_the_tolerance_is_shown_with_its_own_lot_to_be_labelled(floor: Floor, bench: Client) -> None:
    Lane.objects.create(origin=floor.moulder, destination=floor.bench, over_ppm=50_000)
    floor.batch.start = 40
    floor.batch.save()
    consignment = _sent(floor)
    page = bench.get(moved(_arrive(floor, bench, consignment, "48")))
    words = text_of(page)
    surplus = floor.batch.children.get()
    assert "6 more came than the tolerance allows: 40 were ordered, 42 is the most." in words
    assert f'href="/here/label/{surplus.code}"' in html_of(page)
    assert bench.get(f"/here/label/{surplus.code}").status_code == 200
