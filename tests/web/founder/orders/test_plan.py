"""The plan before release: everything it rests on, and a release of exactly what was shown."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from sites.models import Site
from tests import factory
from tests.cast import founder_client
from tests.factory import Op
from tests.web.founder.signed_in import (
    assert_costs_the_same,
    assert_for_the_founder_alone,
    news_id,
    queries_of,
    text_of,
)
from traveller.batches.models import Batch
from traveller.orders.models import OrderLine, Release

pytestmark = pytest.mark.django_db


def worked_example() -> OrderLine:
    """A thousand wanted: mould .97 in two cavities, deburr .995, water test .96, two prints .98, assembly .995."""
    moulder, bench = factory.make_site(name="Moulder"), factory.make_bench(name="Own bench")
    factory.make_lane(moulder, bench, 2)
    globe = factory.make_part(name="Globe")
    resin = factory.make_part("RESIN", "material", unit="GRM", name="Resin")
    factory.make_stock(resin, bench, 10_000)
    factory.make_routing(
        globe,
        [
            Op(10, moulder, "mould", "make", 0.97, cavities=2),
            Op(20, moulder, "deburr", yield_=0.995),
            Op(30, moulder, "water test", yield_=0.96),
            Op(40, moulder, "print first colour", yield_=0.98),
            Op(50, moulder, "print second colour", yield_=0.98),
            Op(60, bench, "assemble", yield_=0.995),
        ],
    )
    factory.make_bill(globe, resin, each=60, step=10)
    return factory.make_line(factory.make_order(), globe, 1000)


def digest_on(page: object) -> str:
    found = re.search(r'name="digest" value="([0-9a-f]{64})"', page.content.decode())  # type: ignore[attr-defined]
    assert found
    return found[1]


def shown_plan(client: Client, line: OrderLine) -> str:
    return digest_on(client.get(f"/founder/plan?line={line.pk}"))


def test_what_leaves_a_batch_by_plan_is_named_apart() -> None:
    bench, globe = factory.make_bench(name="Own bench"), factory.make_part(name="Globe")
    factory.make_routing(globe, [Op(10, bench, "mould", "make", destroyed=3, kept=1)])
    line = factory.make_line(factory.make_order(), globe, 100)
    words = text_of(founder_client().get(f"/founder/plan?line={line.pk}"))
    assert "step 10, mould: 3 destroyed by a test, 1 kept." in words


def test_only_the_founder_plans() -> None:
    line = worked_example()
    site = Site.objects.get(code="moulder")
    assert_for_the_founder_alone(f"/founder/plan?line={line.pk}", site)
    assert_for_the_founder_alone("/founder/plan", site, "post")


def test_it_shows_start_quantities_shots_and_assumptions() -> None:
    line = worked_example()
    page = text_of(founder_client().get(f"/founder/plan?line={line.pk}"))
    # By hand: 1006, 1027, 1048, 1092, 1098, 1132; 566 shots on two cavities.
    assert "Globe 1,000 1,132 566" in page
    for enters, leaves in ((1132, 1098), (1098, 1092), (1092, 1048), (1048, 1027), (1027, 1006), (1006, 1000)):
        assert f"{enters:,} {leaves:,}" in page
    assert "order 1001 line 1: 1,000" in page
    assert "GLOBE, step 10, mould: 97 % good, 2 open cavities." in page
    assert re.search(r"Moulder to Own bench[^.]*working days[^.]*: 2\.", page)
    assert "Yields are means" in page


def test_what_is_short_asks_to_be_bought_and_what_is_there_to_be_sent() -> None:
    line = worked_example()
    answer = founder_client().get(f"/founder/plan?line={line.pk}")
    page = text_of(answer)
    # 1,132 mouldings of 60 g are 67.92 kg; 10 kg lie at the bench.
    assert "57.92 kg Resin are neither here nor on order" in page and "1 bought part is short." in page
    html = answer.content.decode()
    assert "/purchases/new?part=RESIN&amp;quantity=57920" in html
    assert "/consignments/new?origin=bench&amp;to=moulder&amp;purpose=free+issue&amp;find=RESIN" in html


def test_released_as_shown_once() -> None:
    line = worked_example()
    client = founder_client()
    form = {"news_id": news_id(), "line": line.pk, "digest": shown_plan(client, line)}
    for _ in range(2):
        answer = client.post("/founder/plan", form)
        assert answer.status_code == 302 and answer["Location"].startswith("/orders/1001?told=")
    assert Release.objects.count() == 1
    batch = Batch.objects.get()
    assert (batch.wanted, batch.start) == (1000, 1132)


def test_a_plan_that_changed_since_is_shown_anew_and_asked_again() -> None:
    line = worked_example()
    client = founder_client()
    digest = shown_plan(client, line)
    OrderLine.objects.filter(pk=line.pk).update(quantity=500)
    form = {"news_id": news_id(), "line": line.pk, "digest": digest}
    again = client.post("/founder/plan", form)
    assert again.status_code == 409 and not Batch.objects.exists()
    # By hand: 503, 514, 525, 547, 550, 568.
    assert "Globe 500 568 284" in text_of(again)
    assert digest_on(again) != digest
    assert client.post("/founder/plan", {**form, "digest": digest_on(again)}).status_code == 302
    assert Batch.objects.get().wanted == 500


def test_a_released_line_has_nothing_to_plan() -> None:
    line = worked_example()
    client = founder_client()
    client.post("/founder/plan", {"news_id": news_id(), "line": line.pk, "digest": shown_plan(client, line)})
    answer = client.get(f"/founder/plan?line={line.pk}")
    assert answer.status_code == 200 and "This cannot be planned yet." in text_of(answer)
    assert "Release this plan" not in text_of(answer)


@pytest.mark.parametrize("query", ["line=999999", "line=x", "line=-1", "line=" + "9" * 40, "line=%00"])
def test_a_line_that_is_none_is_said(query: str) -> None:
    worked_example()
    assert founder_client().get(f"/founder/plan?{query}").status_code == 200


def test_without_lines_the_unreleased_ones_are_offered() -> None:
    line = worked_example()
    page = founder_client().get("/founder/plan")
    assert "Order 1001, line 1: 1,000 Globe" in text_of(page) and f'value="{line.pk}"' in page.content.decode()


def test_it_costs_the_same_for_many_lines_of_one_product() -> None:
    line = worked_example()
    order = line.order
    for number in (2, 3):
        factory.make_line(order, line.part, 100, number=number)
    few = "&".join(f"line={pk}" for pk in OrderLine.objects.values_list("pk", flat=True))

    def more() -> None:
        for number in range(4, 31):
            factory.make_line(order, line.part, 100, number=number)

    client = founder_client()
    assert_costs_the_same(client, "/founder/plan", more)
    many = "&".join(f"line={pk}" for pk in OrderLine.objects.values_list("pk", flat=True))
    assert queries_of(client, f"/founder/plan?{few}") == queries_of(client, f"/founder/plan?{many}")
