"""The plan: what to start, where and until when, and what is missing."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from sites.models import Site
from tests import factory
from tests.factory import Op
from traveller.orders.models import OrderLine
from traveller.orders.plan import make_plan
from traveller.products.models import Part

pytestmark = pytest.mark.django_db

ON = factory.MONDAY.date()


def worked_example(wanted: int = 1000) -> OrderLine:
    """PRACTICE 1.4: mould .97 in two cavities, deburr .995, water test .96, two prints .98, assembly .995."""
    moulder, bench = factory.make_site(), factory.make_bench()
    globe = factory.make_part()
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
    return factory.make_line(factory.make_order(), globe, wanted)


def test_a_thousand_wanted_are_1132_mouldings_and_566_shots() -> None:
    # PRACTICE 1.4, worked backward by hand: 1006, 1027, 1048, 1092, 1098, 1132.
    line = worked_example()
    plan = make_plan([line.pk], on=ON)
    (batch,) = plan.batches
    assert (batch.wanted, batch.start, batch.shots) == (1000, 1132, 566)
    assert [step.enters for step in batch.steps] == [1132, 1098, 1092, 1048, 1027, 1006]
    assert batch.steps[-1].leaves == 1000
    assert [(share.line_id, share.quantity) for share in batch.shares] == [(line.pk, 1000)]
    assert plan.problems == ()


@pytest.mark.parametrize(("destroyed", "kept", "start"), [(0, 0, 200), (3, 0, 206), (0, 1, 202), (3, 1, 208)])
def test_what_a_test_uses_up_and_what_is_kept_are_both_started_as_well(destroyed: int, kept: int, start: int) -> None:
    """A hundred wanted of a step at which half come out good."""
    bench, globe = factory.make_bench(), factory.make_part()
    factory.make_routing(globe, [Op(10, bench, "mould", "make", 0.5, destroyed=destroyed, kept=kept)])
    line = factory.make_line(factory.make_order(), globe, 100)
    assert [batch.start for batch in make_plan([line.pk], on=ON).batches] == [start]


def lantern(bench: Site, moulder: Site) -> tuple[Part, Part, Part, Part, Part]:
    """A lantern assembled at the bench of a moulded globe and a bought puck, packed with a leaflet."""
    lamp, globe = factory.make_part("LAMP"), factory.make_part("GLOBE")
    puck, leaflet = factory.make_part("PUCK", "bought"), factory.make_part("LEAFLET", "bought")
    resin = factory.make_part("RESIN", "material", unit="GRM")
    factory.make_routing(globe, [Op(10, moulder, "dry", "prepare"), Op(20, moulder, "mould", "make", 0.8)])
    factory.make_routing(lamp, [Op(10, bench, "assemble", "make", 0.95)])
    factory.make_bill(globe, resin, each=30, step=10)
    factory.make_bill(lamp, globe, step=10)
    factory.make_bill(lamp, puck, step=10)
    factory.make_bill(lamp, leaflet, step=0)
    return lamp, globe, puck, leaflet, resin


def test_components_are_exploded_from_what_enters_and_packing_from_what_is_packed() -> None:
    bench, moulder = factory.make_bench(), factory.make_site()
    lamp, *_ = lantern(bench, moulder)
    plan = make_plan([factory.make_line(factory.make_order(), lamp, 95).pk], on=ON)
    assert {row.part: (row.wanted, row.start) for row in plan.batches} == {"LAMP": (95, 100), "GLOBE": (100, 125)}
    assert {row.part: row.short for row in plan.shortages} == {"PUCK": 100, "LEAFLET": 95, "RESIN": 125 * 30}


def test_free_stock_is_used_before_anything_is_made_and_first_expired_is_kept_first() -> None:
    bench, moulder = factory.make_bench(), factory.make_site()
    lamp, globe, *_ = lantern(bench, moulder)
    late = factory.make_stock(globe, bench, 60, name="late", expires_on=ON + timedelta(days=90))
    soon = factory.make_stock(globe, bench, 30, name="soon", expires_on=ON + timedelta(days=9))
    factory.make_stock(globe, bench, 500, name="gone", expires_on=ON - timedelta(days=1))
    line = factory.make_line(factory.make_order(), lamp, 95)
    plan = make_plan([line.pk], on=ON)
    kept = [(row.lot_id, row.quantity) for row in plan.reservations]
    assert kept == [(soon.pk, 30), (late.pk, 60)]
    assert {row.part: row.wanted for row in plan.batches} == {"LAMP": 95, "GLOBE": 10}


def test_expiring_on_the_day_itself_is_still_free() -> None:
    bench, moulder = factory.make_bench(), factory.make_site()
    lamp, globe, *_ = lantern(bench, moulder)
    factory.make_stock(globe, bench, 40, expires_on=ON)
    plan = make_plan([factory.make_line(factory.make_order(), lamp, 95).pk], on=ON)
    assert sum(row.quantity for row in plan.reservations) == 40


def test_held_stock_is_not_counted_on() -> None:
    from traveller.ledger import holds

    bench, moulder = factory.make_bench(), factory.make_site()
    lamp, globe, *_ = lantern(bench, moulder)
    lot = factory.make_stock(globe, bench, 100)
    holds.open_hold(factory.make_event("hold", kind="held"), lot, cause="founder", code="founder_says")
    plan = make_plan([factory.make_line(factory.make_order(), lamp, 95).pk], on=ON)
    assert plan.reservations == ()
    assert {row.part: row.wanted for row in plan.batches} == {"LAMP": 95, "GLOBE": 100}


def test_an_open_batch_that_no_line_has_a_share_in_is_counted_on() -> None:
    bench, moulder = factory.make_bench(), factory.make_site()
    lamp, globe, *_ = lantern(bench, moulder)
    under_way = factory.make_batch(globe, wanted=70)
    line = factory.make_line(factory.make_order(), lamp, 95)
    plan = make_plan([line.pk], on=ON)
    assert [(row.batch_id, row.line_id, row.quantity) for row in plan.under_way] == [(under_way.pk, line.pk, 70)]
    assert {row.part: row.wanted for row in plan.batches} == {"LAMP": 95, "GLOBE": 30}


def test_one_batch_serves_two_lines_with_a_share_each() -> None:
    bench, moulder = factory.make_bench(), factory.make_site()
    lamp, *_ = lantern(bench, moulder)
    order = factory.make_order()
    first = factory.make_line(order, lamp, 57, number=1)
    second = factory.make_line(order, lamp, 38, number=2)
    plan = make_plan([second.pk, first.pk], on=ON)
    shares = {row.part: [(share.line_id, share.quantity) for share in row.shares] for row in plan.batches}
    assert shares == {"LAMP": [(first.pk, 57), (second.pk, 38)], "GLOBE": [(first.pk, 60), (second.pk, 40)]}


def test_resin_at_the_bench_is_on_the_free_issue_list_of_the_moulder() -> None:
    bench, moulder = factory.make_bench(), factory.make_site()
    lamp, _, _, _, resin = lantern(bench, moulder)
    factory.make_stock(resin, bench, 3000, name="bench")
    factory.make_stock(resin, moulder, 500, name="moulder")
    plan = make_plan([factory.make_line(factory.make_order(), lamp, 95).pk], on=ON)
    (issue,) = [issue for issue in plan.issues if issue.purpose == "free issue"]
    assert (issue.part, issue.site, issue.needed, issue.there) == ("RESIN", "moulder", 3750, 500)
    assert (issue.to_send, issue.sources, issue.to_come) == (3000, (("bench", 3000),), 250)
    assert {row.part: row.deliver for row in plan.shortages}["RESIN"] == (("moulder", 250),)


def test_dates_go_backward_over_turnaround_transit_weekends_and_closures() -> None:
    bench = factory.make_bench(turnaround_days=2)
    moulder = factory.make_site(turnaround_days=3)
    factory.make_lane(moulder, bench, days=2)
    lamp, *_ = lantern(bench, moulder)
    # Friday the 20th; the bench starts two working days before, on Wednesday the 18th.
    line = factory.make_line(factory.make_order(), lamp, 95, due_on=date(2026, 3, 20))
    plan = make_plan([line.pk], on=ON)
    lamps, globes = plan.batches
    assert (lamps.part, lamps.start_on, lamps.due_on) == ("LAMP", date(2026, 3, 18), date(2026, 3, 20))
    # Two working days on the road: leaves Monday the 16th, three days at the moulder: since Wednesday the 11th.
    assert (globes.destination, globes.due_on, globes.start_on) == ("bench", date(2026, 3, 18), date(2026, 3, 11))
    factory.make_closure(moulder, date(2026, 3, 12), date(2026, 3, 13))
    assert make_plan([line.pk], on=ON).batches[1].start_on == date(2026, 3, 9)


def test_a_plan_that_should_have_begun_already_says_so() -> None:
    bench, moulder = factory.make_bench(), factory.make_site()
    lamp, *_ = lantern(bench, moulder)
    line = factory.make_line(factory.make_order(), lamp, 95, due_on=ON + timedelta(days=4))
    assert [row.late for row in make_plan([line.pk], on=ON).batches] == [False, True]


def test_the_plan_of_another_day_is_the_same_until_stock_changes() -> None:
    bench, moulder = factory.make_bench(), factory.make_site()
    lamp, globe, *_ = lantern(bench, moulder)
    line = factory.make_line(factory.make_order(), lamp, 95)
    shown = make_plan([line.pk], on=ON).digest
    assert make_plan([line.pk], on=ON + timedelta(days=1)).digest == shown
    factory.make_stock(globe, bench, 1)
    assert make_plan([line.pk], on=ON).digest != shown


@pytest.mark.parametrize("missing", ["routing", "bench", "step"])
def test_what_can_not_be_planned_is_named(missing: str) -> None:
    bench = factory.make_bench() if missing != "bench" else factory.make_site("shop")
    lamp, screw = factory.make_part("LAMP"), factory.make_part("SCREW", "bought")
    if missing != "routing":
        factory.make_routing(lamp, [Op(10, bench, "assemble", "make")])
    if missing == "step":
        factory.make_bill(lamp, screw, step=15)
    plan = make_plan([factory.make_line(factory.make_order(), lamp, 10).pk], on=ON)
    codes = {"routing": "no_routing", "bench": "no_own_bench", "step": "bill_step_unknown"}
    assert [problem.code for problem in plan.problems] == [codes[missing]]
    assert plan.batches == ()


def test_a_bill_that_contains_itself_is_spelled_out() -> None:
    bench = factory.make_bench()
    lamp, cap = factory.make_part("LAMP"), factory.make_part("CAP")
    for part, component in ((lamp, cap), (cap, lamp)):
        factory.make_routing(part, [Op(10, bench, "assemble", "make")])
        factory.make_bill(part, component, step=10)
    (problem,) = make_plan([factory.make_line(factory.make_order(), lamp, 10).pk], on=ON).problems
    assert problem.code == "bill_loop"
    assert set(problem.figures["parts"]) == {"LAMP", "CAP"}  # type: ignore[arg-type]


def test_nothing_to_release_is_said() -> None:
    line = worked_example()
    OrderLine.objects.update(released=1000)
    assert [problem.code for problem in make_plan([line.pk], on=ON).problems] == ["nothing_to_release"]


def test_a_plan_takes_as_many_queries_for_forty_parts_as_for_four() -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    bench = factory.make_bench()

    def queries(count: int) -> int:
        lamp = factory.make_part(f"LAMP{count}")
        factory.make_routing(lamp, [Op(10, bench, "assemble", "make")])
        for n in range(count):
            screw = factory.make_part(f"SCREW{count}-{n}", "bought")
            factory.make_bill(lamp, screw, step=10)
            factory.make_stock(screw, bench, 3)
        line = factory.make_line(factory.make_order(str(count)), lamp, 10)
        with CaptureQueriesContext(connection) as captured:
            make_plan([line.pk], on=ON)
        return len(captured)

    assert queries(4) == queries(40)


def test_the_assumptions_name_yields_turnarounds_and_ways() -> None:
    plan = make_plan([worked_example().pk], on=ON)
    codes = [row.code for row in plan.assumptions]
    assert codes.count("step_yield") == 6
    assert {"mean_yield", "turnaround", "transit_unknown", "bench"} <= set(codes)
    assert plan.as_json()["batches"][0]["due_on"] == plan.batches[0].due_on.isoformat()
