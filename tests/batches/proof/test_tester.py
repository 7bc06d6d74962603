"""The test master belongs to the tester: one batch's try makes another batch's pieces suspect, or proves them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from sites.models import Site
from tests import factory
from tests.globe import everything_agrees, ok
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.decide import decide
from traveller.batches.actions.hold import hold_part
from traveller.batches.actions.loads import end_load, start_load
from traveller.batches.actions.measure import measure
from traveller.batches.actions.report import report
from traveller.batches.actions.start_step import start_step
from traveller.batches.actions.undo import undo
from traveller.batches.models import Batch, Load, Reading, Verdict
from traveller.batches.proof.gates import closed
from traveller.batches.proof.readings import ReadingTold
from traveller.ledger.models import Condition, Hold
from traveller.ledger.post import Place

pytestmark = pytest.mark.django_db

DAY = datetime(2026, 3, 3, tzinfo=UTC)
WATER = factory.CheckRow("water", "every_piece", {"name": "water test", "master": "yes"}, "piece", "sending")


@dataclass
class Tub:
    """A shop with a tester, and parts that are moulded and tested there."""

    shop: Site
    reported: int = 0

    def at(self, clock: str, day: int = 0) -> datetime:
        hour, minute = map(int, clock.split(":"))
        return (DAY + timedelta(days=day)).replace(tzinfo=self.shop.zone) + timedelta(hours=hour, minutes=minute)

    def event_context(self, clock: str, day: int = 0) -> Any:
        self.reported += 1
        return factory.event_context(f"tub {self.reported}", at=self.at(clock, day))

    def batch(
        self, number: str = "GLOBE", pieces: int = 1000, *, test_step: int = 20, shop: Site | None = None
    ) -> Batch:
        from traveller.products.models import Part

        part = Part.objects.filter(number=number).first() or factory.make_part(number)
        if not part.routings.exists():
            site = shop or self.shop
            ops = [
                factory.Op(10, site, "mould", "make"),
                factory.Op(test_step, site, "water test", checks=(WATER,)),
                factory.Op(90, site, "pack"),
            ]
            factory.make_routing(part, ops)
        made = factory.make_batch(part, wanted=pieces, name=f"{self.reported}")
        ok(
            report(
                event_context=self.event_context("05:00"), step_id=made.steps.get(number=10).pk, good=pieces, done=True
            )
        )
        return made

    def test(self, batch: Batch) -> int:
        return batch.steps.exclude(number__in=(10, 90)).get().pk

    def start(self, batch: Batch, clock: str, day: int = 0) -> None:
        ok(start_step(event_context=self.event_context(clock, day), step_id=self.test(batch)))

    def count(self, batch: Batch, clock: str, good: int, day: int = 0, **more: Any) -> Any:
        return ok(report(event_context=self.event_context(clock, day), step_id=self.test(batch), good=good, **more))

    def leak(self, batch: Batch, clock: str, found: bool = True, day: int = 0) -> None:
        reading = ReadingTold("water", "master", "1" if found else "0")
        ok(measure(event_context=self.event_context(clock, day), step_id=self.test(batch), readings=[reading]))

    def says(self, batch: Batch) -> tuple[str, str]:
        row = Verdict.objects.get(step=self.test(batch), latest=True, load=None)
        return row.outcome, row.code.removeprefix("every_piece.")

    def figures(self, batch: Batch) -> dict[str, Any]:
        return dict(Verdict.objects.get(step=self.test(batch), latest=True, load=None).figures)

    def held(self, batch: Batch) -> list[str]:
        batch.refresh_from_db()
        return list(Hold.objects.filter(lot=batch.lot, closed_at=None).values_list("code", flat=True))


def make_tub(shifts: str = "Mo-Su 06:00-14:00 14:00-22:00 22:00-06:00", zone: str = "UTC") -> Tub:
    return Tub(factory.make_site(shifts=shifts, timezone=zone))


def two_batches(tub: Tub) -> tuple[Batch, Batch]:
    """One tested until 10:00, the other from 10:05 on, of different parts whose routings number the test otherwise."""
    first, second = tub.batch("GLOBE"), tub.batch("RED", test_step=50)
    tub.start(first, "06:00")
    tub.leak(first, "06:05")
    tub.count(first, "10:00", 1000, done=True)
    tub.start(second, "10:05")
    tub.count(second, "13:50", 1000, done=True)
    return first, second


def test_a_good_try_at_the_end_of_the_shift_proves_what_every_batch_tested_in_it() -> None:
    tub = make_tub()
    first, second = two_batches(tub)
    assert tub.says(first) == tub.says(second) == ("missing", "no_master_at_end")
    assert tub.held(first) == tub.held(second) == ["every_piece.no_master_at_end"]
    tub.leak(second, "13:55")
    assert tub.says(first) == tub.says(second) == ("passed", "passed")
    assert tub.held(first) == tub.held(second) == [] and closed(first, "send") == []
    assert everything_agrees()


def test_a_failed_try_told_with_one_batch_holds_the_other_whose_pieces_it_makes_suspect() -> None:
    tub = make_tub()
    first, second = two_batches(tub)
    tub.leak(second, "13:55", found=False)
    assert tub.says(first) == tub.says(second) == ("failed", "master_failed")
    assert tub.held(first) == tub.held(second) == ["every_piece.master_failed"]
    reported = tub.figures(first)
    assert (reported["suspect"], reported["tellings"]) == (1000, 1)
    assert reported["since"] == tub.at("06:05").isoformat() and reported["failed_at"] == tub.at("13:55").isoformat()
    assert everything_agrees()


def test_only_what_was_tested_since_the_last_good_try_is_suspect() -> None:
    tub = make_tub()
    first, second = two_batches(tub)
    tub.leak(first, "10:02")
    tub.leak(second, "13:55", found=False)
    assert tub.says(first) == ("passed", "passed") and tub.held(first) == []
    assert tub.says(second) == ("failed", "master_failed")
    assert tub.figures(second)["since"] == tub.at("10:02").isoformat()
    assert everything_agrees()


def test_a_later_good_try_heals_nothing_that_was_tested_before_it() -> None:
    tub = make_tub()
    first, second = two_batches(tub)
    tub.leak(second, "12:00", found=False)
    tub.leak(second, "12:10")
    tub.leak(second, "13:55")
    assert tub.says(first)[0] == tub.says(second)[0] == "failed"
    assert tub.held(first) and tub.held(second) and everything_agrees()


def test_a_good_try_told_late_takes_others_out_of_suspicion_but_the_hold_is_the_founders() -> None:
    tub = make_tub()
    first, second = two_batches(tub)
    tub.leak(second, "13:55", found=False)
    tub.leak(first, "10:02")
    assert tub.says(first) == ("passed", "passed")
    assert tub.held(first) == ["every_piece.master_failed"], "once failed, the founder decides"
    (hold,) = Hold.objects.filter(lot=first.lot, closed_at=None)
    ok(
        decide(
            event_context=tub.event_context("15:00"),
            hold_id=hold.pk,
            disposition="release",
            reason="the good try was told late",
        )
    )
    assert tub.held(first) == [] and everything_agrees()


def test_another_tester_or_another_shop_is_not_concerned() -> None:
    tub = make_tub()
    first, _second = two_batches(tub)
    elsewhere = Tub(factory.make_site("elsewhere", shifts="Mo-Su 06:00-14:00"), reported=500)
    other = elsewhere.batch("AMBER")
    elsewhere.start(other, "06:00")
    elsewhere.count(other, "13:50", 1000)
    elsewhere.leak(other, "13:55", found=False)
    assert elsewhere.says(other)[0] == "failed" and tub.says(first)[0] == "missing"


def test_two_shifts_and_midnight() -> None:
    tub = make_tub()
    batch = tub.batch()
    tub.start(batch, "14:00")
    tub.leak(batch, "14:05")
    tub.count(batch, "21:50", 400)
    tub.leak(batch, "21:55")
    tub.leak(batch, "22:05")
    tub.count(batch, "23:50", 200)
    tub.count(batch, "05:50", 400, day=1, done=True)
    assert tub.says(batch) == ("missing", "no_master_at_end")
    tub.leak(batch, "05:55", day=1)
    assert tub.says(batch) == ("passed", "passed") and everything_agrees()


def test_a_failed_try_after_midnight_leaves_the_shift_before_alone() -> None:
    tub = make_tub()
    batch = tub.batch()
    tub.start(batch, "14:00")
    tub.leak(batch, "14:05")
    tub.count(batch, "21:50", 400)
    tub.leak(batch, "21:55")
    tub.count(batch, "23:50", 200)
    tub.count(batch, "02:00", 100, day=1)
    tub.leak(batch, "02:05", found=False, day=1)
    reported = tub.figures(batch)
    assert (reported["suspect"], reported["tellings"], reported["since"]) == (300, 2, tub.at("21:55").isoformat())


def test_by_day_where_the_site_has_no_hours() -> None:
    tub = make_tub(shifts="")
    batch = tub.batch()
    tub.start(batch, "20:00")
    tub.leak(batch, "20:00")
    tub.count(batch, "23:50", 400)
    tub.leak(batch, "23:55")
    assert tub.figures(batch)["open"] == 600
    tub.count(batch, "04:00", 600, day=1, done=True)
    assert tub.says(batch) == ("missing", "no_master_at_end")
    tub.leak(batch, "00:10", day=1)
    tub.leak(batch, "04:01", day=1)
    assert tub.says(batch) == ("passed", "passed")


def test_a_night_shift_across_a_clock_change_is_one_shift() -> None:
    """29 March 2026: clocks go from 02:00 to 03:00 in Berlin (IANA time zone database)."""
    tub = make_tub(zone="Europe/Berlin")
    batch = tub.batch()
    tub.start(batch, "22:00", day=25)
    tub.leak(batch, "22:05", day=25)
    tub.count(batch, "05:50", 1000, day=26, done=True)
    tub.leak(batch, "05:55", day=26)
    assert tub.says(batch) == ("passed", "passed")


def test_loads_are_suspect_by_their_own_times() -> None:
    tub = make_tub()
    batch = tub.batch(pieces=120)
    tub.start(batch, "06:00")
    tub.leak(batch, "06:00")
    for hour in (6, 7, 8):
        ok(start_load(event_context=tub.event_context(f"{hour:02}:00"), step_id=tub.test(batch), quantity=40))
        load = Load.objects.latest("id")
        ok(end_load(event_context=tub.event_context(f"{hour:02}:50"), load_id=load.pk))
        # Told at the end of the day: the load's own times count.
        tub.count(batch, "13:00", 40, load=load.uid)
    tub.leak(batch, "07:55")
    tub.leak(batch, "09:00", found=False)
    reported = tub.figures(batch)
    assert (reported["suspect"], reported["loads"]) == (40, ["3"])
    assert tub.says(batch) == ("failed", "master_failed_in_loads")


def test_a_correction_counts_at_the_time_of_what_it_corrects() -> None:
    tub = make_tub()
    batch = tub.batch()
    tub.start(batch, "06:00")
    tub.leak(batch, "06:00")
    wrong = tub.count(batch, "10:00", 400)
    tub.leak(batch, "10:01")
    tub.count(batch, "13:00", 100)
    ok(
        correct_count(
            event_context=tub.event_context("13:10"), event_id=wrong.event.pk, reason="typed wrongly", good=350
        )
    )
    tub.leak(batch, "13:55", found=False)
    assert tub.figures(batch)["suspect"] == 100 and everything_agrees()


def test_what_was_scrapped_before_the_test_was_not_tested() -> None:
    tub = make_tub()
    batch = tub.batch()
    tub.start(batch, "06:00")
    tub.leak(batch, "06:00")
    tub.count(batch, "10:00", 400, scrap={"before test": 20, "seam": 5})
    tub.leak(batch, "13:55", found=False)
    assert tub.figures(batch)["suspect"] == 405


def test_what_was_made_of_suspect_pieces_and_set_apart_from_them_is_held_with_them() -> None:
    tub = make_tub()
    first, second = two_batches(tub)
    first.refresh_from_db()
    assert first.lot_id
    place = Place(first.lot_id, tub.shop.pk, Condition.IN_PROCESS, 90)
    part = ok(
        hold_part(
            event_context=tub.event_context("13:52"), batch_id=first.pk, place=place, quantity=200, reason="sample"
        )
    )
    (child,) = part.children or Batch.objects.filter(parent=first)
    tub.leak(second, "13:55", found=False)
    assert "every_piece.master_failed" in tub.held(child) and everything_agrees()


def test_rework_of_one_batch_unsays_no_try_of_the_tester() -> None:
    tub = make_tub()
    first, second = two_batches(tub)
    tub.leak(second, "13:55")
    hold = Hold.objects.filter(lot=first.lot, closed_at=None)
    assert not hold.exists()
    Reading.objects.filter(step=tub.test(second)).update(struck_by=None)
    from traveller.batches.actions.hold import hold_lot

    second.refresh_from_db()
    assert second.lot_id
    ok(hold_lot(event_context=tub.event_context("14:30"), lot_id=second.lot_id, reason="scratched"))
    (own,) = Hold.objects.filter(lot=second.lot, closed_at=None)
    answer = decide(
        event_context=tub.event_context("14:40"), hold_id=own.pk, disposition="rework", reason="polish", to_step=50
    )
    assert ok(answer)
    tub.count(first, "13:58", 0, scrap={"dirty": 0}, shots=1)
    assert tub.says(first) == ("passed", "passed"), "the try at 13:55 did happen"
    assert everything_agrees()


def test_a_try_costs_a_constant_number_of_questions_for_each_batch_that_it_concerns() -> None:
    def cost(batches: int) -> int:
        tub = Tub(factory.make_site(f"shop{batches}", shifts="Mo-Su 06:00-14:00"), reported=1000 * batches)
        made = [tub.batch(f"P{batches}-{n}", pieces=10) for n in range(batches)]
        tub.start(made[0], "06:00")
        tub.leak(made[0], "06:00")
        for n, batch in enumerate(made):
            tub.count(batch, f"{7 + n // 10:02}:{5 * (n % 10) + 10}", 10)
        with CaptureQueriesContext(connection) as reported:
            tub.leak(made[0], "13:59")
        assert all(tub.says(batch) == ("passed", "passed") for batch in made)
        return len(reported)

    # From two on: what is asked of other batches at all, and only once, is in each of them.
    two, three, five = cost(2), cost(3), cost(5)
    assert five - three == 2 * (three - two) > 0


def test_a_try_taken_back_is_as_if_it_had_never_been_told_for_the_other_batch_too() -> None:
    tub = make_tub()
    first, second = two_batches(tub)
    reading = ReadingTold("water", "master", "0")
    actor = factory.operator(tub.shop)
    wrong = factory.event_context("slip", at=tub.at("13:55"), actor=actor)
    reported = ok(measure(event_context=wrong, step_id=tub.test(second), readings=[reading]))
    assert tub.says(first)[0] == "failed"
    ok(undo(event_context=factory.event_context("back", at=tub.at("13:56"), actor=actor), event_id=reported.event.pk))
    assert tub.says(first) == tub.says(second) == ("missing", "no_master_at_end")
    assert tub.held(first) == tub.held(second) == ["every_piece.no_master_at_end"] and everything_agrees()
