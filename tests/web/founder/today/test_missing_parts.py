"""What is missing stands first on the founder's page, and a batch for it is two taps away."""

from __future__ import annotations

import pytest
from django.test import Client

from tests import cast, factory
from tests.globe import Globe, make_globe
from tests.web.founder.signed_in import assert_costs_the_same, assert_for_the_founder_alone, text_of
from traveller.batches.models import Batch
from traveller.orders.models import BatchShare, OrderLine
from traveller.rules.codes import show_code

pytestmark = pytest.mark.django_db


def _two_orders(globe: Globe) -> list[OrderLine]:
    """Thirty for one order, twenty for another, of one batch."""
    lines = []
    for number, quantity in (("1001", 30), ("1002", 20)):
        line = factory.make_line(factory.make_order(number), globe.part, quantity, released=quantity)
        BatchShare.objects.create(batch=globe.batch, line=line, quantity=quantity)
        lines.append(line)
    return lines


def _fallen_short(good: int = 37) -> Globe:
    """Fifty wanted, the moulder says done with thirty-seven."""
    globe = make_globe(start=60)
    _two_orders(globe)
    globe.report(20, good, done=True)
    return globe


def _page(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return text_of(answer)


def test_the_first_tag_of_the_first_page_says_what_is_missing_while_the_batch_is_open() -> None:
    globe = _fallen_short()
    page = _page(cast.founder_client(), "/")
    code = show_code(globe.batch.code)
    said = f"Missing 13 Globe for order 1002. Batch {code} yields 37 of the 50 it was released for."
    assert said in page
    assert page.index("Missing 13") < page.index("Every batch")


def test_two_orders_are_named_with_their_figures() -> None:
    _fallen_short(good=20)
    page = _page(cast.founder_client(), "/orders")
    assert "pieces are missing for 1001, 1002." in page
    assert "30 Globe: 10 for order 1001, 20 for order 1002." in _page(cast.founder_client(), "/")
    assert "20 missing" in _page(cast.founder_client(), "/orders/1002")


def test_the_sentence_of_the_late_order_is_about_its_own_line() -> None:
    globe = _fallen_short()
    OrderLine.objects.filter(order__number="1002").update(due_on=factory.MONDAY.date())
    OrderLine.objects.filter(order__number="1001").update(due_on=factory.MONDAY.date().replace(year=2190))
    page = _page(cast.founder_client(), "/")
    # Promises are kept in the order in which lines are due: the late line has its twenty, the other lacks thirteen.
    assert "1002 is late (due " in page
    assert "Globe: 20 being worked on." in page
    assert "Missing 13 Globe for order 1001." in page
    assert globe.batch.pk


def test_the_new_batch_is_shown_before_it_is_opened_and_then_covers_what_was_missing() -> None:
    globe = _fallen_short()
    client = cast.founder_client()
    page = _page(client, f"/missing/{globe.part.pk}")
    assert "13 pieces are started, so that 13 come out good" in page
    answer = client.post(f"/missing/{globe.part.pk}", {"missing": "13", "news_id": str(factory.uid("again"))})
    fresh = Batch.objects.latest("pk")
    assert answer.status_code == 302 and answer["Location"].startswith(f"/batches/{fresh.code}?told=")
    assert fresh.wanted == 13
    assert "Missing" not in _page(client, "/")
    assert "No Globe is missing." in _page(client, f"/missing/{globe.part.pk}")


@pytest.mark.parametrize("shown", ["12", "", "thirteen", "-13", "99999999999"])
def test_another_figure_than_the_one_shown_opens_nothing(shown: str) -> None:
    globe = _fallen_short()
    answer = cast.founder_client().post(
        f"/missing/{globe.part.pk}", {"missing": shown, "news_id": str(factory.uid("again"))}
    )
    assert answer.status_code == 409
    assert "now it is 13. Look again, then start." in text_of(answer)
    assert Batch.objects.count() == 1


def test_only_the_founder_sees_it() -> None:
    globe = _fallen_short()
    assert_for_the_founder_alone(f"/missing/{globe.part.pk}", globe.bench)


def test_many_shortages_cost_as_many_queries_as_one() -> None:
    globe = _fallen_short()

    def more() -> None:
        for n in range(12):
            batch = factory.make_batch(globe.part, wanted=50, name=f"more {n}")
            line = factory.make_line(factory.make_order(f"2{n:03}"), globe.part, 70, released=70)
            BatchShare.objects.create(batch=batch, line=line, quantity=50)

    client = cast.founder_client()
    assert_costs_the_same(client, "/orders", more)


def test_many_missing_parts_are_a_few_tags_and_a_count() -> None:
    bench = factory.make_bench()
    for n in range(6):
        part = factory.make_part(f"PART-{n}", name=f"Part {n}")
        factory.make_routing(part, [factory.Op(10, bench, "make", "make")])
        factory.make_line(factory.make_order(f"300{n}"), part, 5, released=5)
    page = _page(cast.founder_client(), "/")
    assert page.count("Start a new batch of 5") == 3
    assert "3 more of this kind." in page
