"""The quality page: charts with their tables, counts while few, one part and operation at a time."""

from __future__ import annotations

import pytest

from tests import factory as f
from tests.batches.reads.test_quality import moulded
from tests.cast import founder_client
from tests.globe import ok
from tests.web.founder.signed_in import assert_costs_the_same, assert_for_the_founder_alone, text_of
from tests.web.one_line import one_line
from traveller.batches.actions.report import report
from traveller.batches.models import Step

pytestmark = pytest.mark.django_db


def test_only_the_founder_sees_it() -> None:
    assert_for_the_founder_alone("/quality", f.make_site("moulder"))


def test_before_anything_was_counted_it_says_so() -> None:
    f.make_bench()
    assert "Nothing was counted yet." in text_of(founder_client().get("/quality"))


def test_two_batches_are_counts_without_a_percentage_or_a_chart() -> None:
    moulded(batches=2)
    answer = founder_client().get("/quality")
    page = text_of(answer)
    assert "1 of 80" in page and "Only counts: a chart needs 3 batches and 20 pieces." in page
    assert "%" not in page
    assert 'role="img"' not in answer.content.decode()


def test_enough_batches_have_charts_tables_and_capability() -> None:
    moulded(batches=8)
    answer = founder_client().get("/quality")
    page, html = text_of(answer), answer.content.decode()
    assert "10 mould: Scrap by batch" in page and "12 of 320 scrapped, 3.8 %." in page
    assert "bore (in)" in page and "Mean of 3 values a batch, and their range. Nominal 2." in page
    assert "Cpk" in page and "from 24 values" in page
    assert "pass every operation at once (rolled yield)" in page
    # Scrap of two operations, mean and range: each wide and narrow, each beside a table.
    assert html.count('role="img"') == 8 and html.count("<table") == 4
    assert "style=" not in html


def test_a_run_rule_is_marked_in_drawing_table_and_sentence() -> None:
    part = moulded(batches=8)
    batch = f.make_batch(part, wanted=40, destination=f.make_bench("last"), name="last")
    step = Step.objects.get(batch=batch, number=10)
    ok(report(event_context=f.event_context("bad"), step_id=step.pk, good=20, scrap={"short": 20}))
    answer = founder_client().get("/quality")
    page = text_of(answer)
    assert "1: beyond the limits" in page and "1 point stands out, at mould." in page
    assert "1 point stands out: point 9, beyond the limits." in page
    assert answer.content.decode().count('fill="#fffefb" stroke="#8c1c13"') == 2


def test_eight_in_a_row_stand_out_where_the_older_rules_are_chosen() -> None:
    """Scrap of the first eight batches is 1 of 40, of the last eight 3 of 40: no longer run than eight."""
    moulded(batches=16, scrap=[1] * 8 + [3] * 8)
    client = founder_client()
    assert "eight in a row on one side of the centre" not in text_of(client.get("/quality?operation=10"))
    page = text_of(client.get("/quality?operation=10&rules=1956"))
    assert "2 points stand out: point 8, eight in a row on one side of the centre; point 16" in page
    assert client.get("/quality?rules=1492").status_code == 200


def test_part_and_operation_are_asked_for_by_the_address() -> None:
    moulded(batches=3)
    moulded("BAND", batches=3)
    client = founder_client()
    assert "Yield, Band" in text_of(client.get("/quality"))
    page = text_of(client.get("/quality?part=GLOBE&operation=20"))
    assert "Yield, Globe" in page and "20 deburr: Scrap" in page and "10 mould: Scrap" not in page
    assert client.get("/quality?part=nothing&operation=x").status_code == 200


def test_each_operation_and_each_batch_is_one_tap_away() -> None:
    part = moulded(batches=14)
    html = founder_client().get("/quality").content.decode()
    assert 'href="#op-10"' in html and 'id="op-10"' in html and 'href="#op-20"' in html and 'id="op-20"' in html
    assert all(f'href="/batches/{batch.code}"' in html for batch in part.batches.all())
    assert one_line(html).count("<details><summary>The same in figures</summary>") == 3, "two operations and the bore"


def test_three_batches_or_thirty_cost_the_same_queries() -> None:
    moulded(batches=3)
    assert_costs_the_same(founder_client(), "/quality", lambda: moulded(batches=27, start=3))


def test_the_way_there_stands_in_the_head() -> None:
    f.make_bench()
    assert 'href="/quality"' in founder_client().get("/").content.decode()
