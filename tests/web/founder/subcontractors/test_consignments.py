"""Consignments: on the road, counted, differing; settled with a reason; counted for a shop that phoned."""

from __future__ import annotations

import pytest

from sites.models import Site
from tests import factory
from tests.cast import founder_client
from tests.web.founder.signed_in import assert_costs_the_same, assert_for_the_founder_alone, news_id, text_of
from traveller.batches.actions.receive import receive
from traveller.batches.actions.send import send
from traveller.batches.actions.take_back_dispatch import take_back_dispatch
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Condition, Lot
from traveller.rules.codes import TravellerCode, show_code

pytestmark = pytest.mark.django_db


def on_the_road(sent: int = 1060, name: str = "FOOT", **how: object) -> Consignment:
    """Feet on their way from the rubber shop to the own bench."""
    bench = Site.objects.filter(kind="own").first() or factory.make_bench(name="Own bench")
    rubber = Site.objects.filter(code="rubber").first() or factory.make_site("rubber", name="Rubber shop")
    lot = factory.make_stock(factory.make_part(name), rubber, sent)
    line = SendLine(lot.pk, sent, **how)  # type: ignore[arg-type]
    event_context = factory.event_context(f"send {name}", at=factory.MONDAY)
    answer = send(
        event_context=event_context,
        origin_id=rubber.pk,
        destination_id=bench.pk,
        lines=[line],
        purpose="stock",
        carrier="Own van",
    )
    assert not isinstance(answer, Refusal), answer
    return answer


def counted(consignment: Consignment, quantity: int, **how: object) -> ConsignmentLine:
    line = consignment.lines.get()
    answer = receive(event_context=factory.event_context(f"count {line.pk}"), line_id=line.pk, quantity=quantity, **how)  # type: ignore[arg-type]
    assert not isinstance(answer, Refusal), answer
    return answer.line


def balance_at(code: str, site_code: str, condition: str = Condition.STOCK) -> int:
    return factory.balance(Lot.objects.get(code=code), Site.objects.get(code=site_code), condition)


def test_only_the_founder_sees_them() -> None:
    consignment = on_the_road()
    line = consignment.lines.get()
    page = f"/consignments/{consignment.code}"
    assert_for_the_founder_alone("/consignments", consignment.origin)
    assert_for_the_founder_alone(page, consignment.origin)
    for deed in ("note", f"lines/{line.pk}/settle", f"lines/{line.pk}/count"):
        assert_for_the_founder_alone(f"{page}/{deed}", consignment.origin, "post")


def test_without_any_it_says_so() -> None:
    factory.make_bench()
    page = text_of(founder_client().get("/consignments"))
    assert "Nothing has been sent from one site to another yet." in page


def test_what_is_on_the_road_too_long_is_a_tag() -> None:
    on_the_road()
    page = text_of(founder_client().get("/consignments"))
    assert "1 consignment is on the road. No count waits to be settled." in page
    assert "1,060 Foot left Rubber shop for Own bench" in page and "the way takes 1." in page


def test_an_unknown_consignment_is_not_found() -> None:
    factory.make_bench()
    assert founder_client().get("/consignments/ABCDEFG").status_code == 404


def test_a_code_may_be_written_in_groups() -> None:
    consignment = on_the_road()
    written = show_code(TravellerCode(consignment.code))
    assert founder_client().get(f"/consignments/{written}").status_code == 200


def test_a_difference_is_explained_by_method_spread_and_coverage_and_settled_with_a_reason() -> None:
    consignment = on_the_road(1060, method="weight", sample=50)
    line = counted(consignment, 1000)
    client = founder_client()
    page = text_of(client.get(f"/consignments/{consignment.code}"))
    # 1,060 pieces by weight, piece weight from 50, 1 % spread: 1060 * 0.01 * sqrt(1/50 + 1/1060) = 1.53.
    assert "Sent: 1,060, by weight, piece weight from 50 pieces; spread 1.5 pieces (one standard deviation)." in page
    assert "Counted on arrival: 1,000, by hand, piece by piece." in page
    assert "Together they resolve ± 3 (2 standard deviations of both counts)." in page
    assert "The difference of 60 is outside that: the receiver's count was booked." in page
    settle = f"/consignments/{consignment.code}/lines/{line.pk}/settle"
    form = {"news_id": news_id(), f"l{line.pk}-finding": "lost", f"l{line.pk}-reason": "  torn bag  "}
    answer = client.post(settle, form)
    assert answer.status_code == 302 and form["news_id"] in answer["Location"]
    line.refresh_from_db()
    assert line.settled_event is not None and line.settled_event.data["told"]["reason"] == "torn bag"
    assert balance_at(line.lot.code, "rubber", Condition.SCRAP) == 60
    shown = client.get(answer["Location"])
    assert f'data-confirmed="{form["news_id"]}"' in shown.content.decode()
    assert "Settled" in text_of(shown)
    assert Event.objects.filter(kind="difference settled").count() == 1


def test_the_same_settling_sent_twice_is_one() -> None:
    consignment = on_the_road()
    line = counted(consignment, 1050)
    client = founder_client()
    form = {"news_id": news_id(), f"l{line.pk}-finding": "lost", f"l{line.pk}-reason": "torn bag"}
    for _ in range(2):
        assert client.post(f"/consignments/{consignment.code}/lines/{line.pk}/settle", form).status_code == 302
    assert Event.objects.filter(kind="difference settled").count() == 1


def test_settling_needs_a_reason_and_keeps_what_was_chosen() -> None:
    consignment = on_the_road()
    line = counted(consignment, 1050)
    form = {"news_id": news_id(), f"l{line.pk}-finding": "at_sender", f"l{line.pk}-reason": ""}
    answer = founder_client().post(f"/consignments/{consignment.code}/lines/{line.pk}/settle", form)
    html = answer.content.decode()
    assert answer.status_code == 422 and "Nothing was recorded yet" in html
    assert form["news_id"] in html and 'value="at_sender"' in html and "checked" in html


def test_a_surplus_is_never_said_to_be_lost() -> None:
    consignment = on_the_road()
    line = counted(consignment, 1070)
    form = {"news_id": news_id(), f"l{line.pk}-finding": "lost", f"l{line.pk}-reason": "x"}
    client = founder_client()
    assert client.post(f"/consignments/{consignment.code}/lines/{line.pk}/settle", form).status_code == 422
    form[f"l{line.pk}-finding"] = "never_counted"
    assert client.post(f"/consignments/{consignment.code}/lines/{line.pk}/settle", form).status_code == 302


def test_the_founder_counts_for_a_shop_and_it_is_marked_so() -> None:
    consignment = on_the_road()
    Site.objects.filter(code="bench").update(kind="subcontractor")  # the receiver is another's shop
    factory.make_bench("home")
    line = consignment.lines.get()
    p = f"l{line.pk}-"
    form = {"news_id": news_id(), f"{p}quantity": "1,060", f"{p}method": "hand", f"{p}sample": ""}
    client = founder_client()
    answer = client.post(f"/consignments/{consignment.code}/lines/{line.pk}/count", form)
    assert answer.status_code == 302
    event = Event.objects.get(kind="received")
    assert event.on_behalf
    assert balance_at(line.lot.code, "bench") == 1060
    again = client.post(f"/consignments/{consignment.code}/lines/{line.pk}/count", {**form, "news_id": news_id()})
    assert again.status_code == 409 and "this line was counted before" in text_of(again)


@pytest.mark.parametrize("typed", ["-5", "ten", "12.5", "", "9" * 29, "3 kg"])
def test_an_odd_count_is_said_in_words_and_kept(typed: str) -> None:
    consignment = on_the_road()
    line = consignment.lines.get()
    p = f"l{line.pk}-"
    form = {"news_id": news_id(), f"{p}quantity": typed, f"{p}method": "hand", f"{p}seen": "on"}
    answer = founder_client().post(f"/consignments/{consignment.code}/lines/{line.pk}/count", form)
    html = answer.content.decode()
    assert answer.status_code == 422 and 'class="errors"' in html
    assert not typed or f'value="{typed}"' in html
    assert not Event.objects.filter(kind="received").exists()


def test_more_than_was_sent_is_asked_before_it_is_recorded_for_a_shop() -> None:
    consignment = on_the_road(78)
    line = consignment.lines.get()
    founder, path = founder_client(), f"/consignments/{consignment.code}/lines/{line.pk}/count"
    typed = {"news_id": news_id(), f"l{line.pk}-quantity": "110", f"l{line.pk}-method": "hand"}
    asked = founder.post(path, typed)
    assert "110 counted, 78 were sent: 32 more." in text_of(asked) and "32 more came: record it so" in text_of(asked)
    assert not Event.objects.filter(kind="received").exists()
    other = founder.post(path, {**typed, f"l{line.pk}-quantity": "120", "over": "110"})
    assert "120 counted" in text_of(other), "the yes was to another figure"
    for _ in range(2):
        assert founder.post(path, {**typed, "over": "110"}).status_code == 302
    line.refresh_from_db()
    assert (line.received, line.difference) == (110, -32)


def test_counts_stand_side_by_side_and_the_founder_records_one_made_again() -> None:
    consignment = on_the_road(78)
    Site.objects.filter(code="bench").update(kind="subcontractor")  # the receiver is another's shop
    factory.make_bench("home")
    line = counted(consignment, 110, method="weight", sample=10)
    founder, path = founder_client(), f"/consignments/{consignment.code}"
    words = text_of(founder.get(path))
    assert "Counts of Foot" in words and "110 by weight, piece weight from 10 pieces, unseen" in words
    typed = {f"l{line.pk}-quantity": "78", f"l{line.pk}-method": "hand", f"l{line.pk}-seen": "on"}
    again = {"news_id": news_id(), "again": "yes", **typed}
    for _ in range(2):
        assert founder.post(f"{path}/lines/{line.pk}/count", again).status_code == 302
    event = Event.objects.get(kind="counted again")
    assert event.on_behalf and event.site == consignment.destination
    words = text_of(founder.get(path))
    assert "110 by weight, piece weight from 10 pieces, unseen" in words
    assert "78 by hand, piece by piece, reported by phone, counted again, the sender’s figure was known" in words
    assert balance_at(line.lot.code, "rubber", Condition.UNEXPLAINED) == 0


def test_a_dispatch_that_was_taken_back_says_so_and_is_on_no_road() -> None:
    consignment = on_the_road()
    taken = take_back_dispatch(event_context=factory.event_context("back"), consignment_id=consignment.pk)
    assert not isinstance(taken, Refusal), taken
    founder = founder_client()
    assert "was taken back by its sender: it never left." in text_of(founder.get(f"/consignments/{consignment.code}"))
    listed = text_of(founder.get("/consignments"))
    assert "Taken back" in listed and "Nothing is on the road." in listed
    assert balance_at(consignment.lines.get().lot.code, "rubber") == 1060


def test_the_note_prints_and_its_prints_are_counted() -> None:
    consignment = on_the_road()
    answer = founder_client().post(f"/consignments/{consignment.code}/note", {"news_id": news_id()})
    assert answer["Content-Type"] == "application/pdf" and answer.content.startswith(b"%PDF")
    consignment.refresh_from_db()
    assert consignment.note_serial == 1


def test_without_a_public_address_no_note_is_printed(settings: object) -> None:
    settings.PUBLIC_ADDRESS = None  # type: ignore[attr-defined]
    consignment = on_the_road()
    answer = founder_client().post(f"/consignments/{consignment.code}/note", {"news_id": news_id()})
    assert answer.status_code == 409 and "TRAVELLER_ADDRESS" in text_of(answer)


def test_the_filter_narrows() -> None:
    first, second = on_the_road(100, "FOOT"), on_the_road(200, "BAND")
    counted(second, 190)
    client = founder_client()
    for query, there, gone in (
        ("state=differs", "200 Band", "100 Foot"),
        ("state=road", "100 Foot", "200 Band"),
        ("find=foot", "100 Foot", "200 Band"),
        (f"find={first.code}", "100 Foot", "200 Band"),
    ):
        table = text_of(client.get(f"/consignments?{query}")).split("Every consignment")[1]
        assert there in table and gone not in table, query


def test_they_cost_the_same_with_many() -> None:
    for name in ("A", "B", "C"):
        on_the_road(10, name)
    assert_costs_the_same(founder_client(), "/consignments", lambda: [on_the_road(10, f"P{i}") for i in range(27)])
