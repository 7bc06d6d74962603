"""The first piece: approved once for a set-up, carried over to later batches, reopened by what changes."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from sites.models import Site
from tests import factory
from tests.globe import everything_agrees, ok, refused
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.decide_first_piece import decide_first_piece
from traveller.batches.actions.loads import start_load
from traveller.batches.actions.measure import measure
from traveller.batches.actions.report import report
from traveller.batches.actions.set_cavities import set_cavities
from traveller.batches.actions.start_step import start_step
from traveller.batches.actions.undo import undo
from traveller.batches.models import Batch, FirstPiece, Load, Verdict
from traveller.batches.proof.cap import cap_of
from traveller.batches.proof.gates import closed
from traveller.batches.proof.readings import ReadingTold
from traveller.ledger.models import Hold
from traveller.products.models import Operation, Part

pytestmark = pytest.mark.django_db

AT = factory.MONDAY


@dataclass
class Mould:
    """A part made at one step, whose first piece is capped at 20 pieces; batches of it one after another."""

    shop: Site
    part: Part
    resin: Part
    check: dict[str, str]
    reported: int = 0
    at: datetime = AT
    batches: list[Batch] = field(default_factory=list)

    def event_context(self, **lapse: float) -> Any:
        self.reported += 1
        self.at += timedelta(**(lapse or {"minutes": 1}))
        return factory.event_context(f"mould {self.reported}", at=self.at)

    def routing(self, revision: int = 1, *, cavities: int = 2, **changes: str) -> None:
        check = factory.CheckRow("first-off", "approval", self.check, "step", "sending")
        op = factory.Op(10, self.shop, "mould", "make", cavities=cavities, checks=(check,))
        routing = factory.make_routing(self.part, [op], revision=revision)
        Operation.objects.filter(routing=routing).update(**({"tool": "M-7"} | changes))
        factory.make_bill(self.part, self.resin, per_thousand=1, step=10)

    def batch(self, **lapse: float) -> Batch:
        made = factory.make_batch(self.part, wanted=5000, name=f"{len(self.batches)}")
        self.batches.append(made)
        ok(start_step(event_context=self.event_context(**lapse), step_id=made.steps.get().pk))
        return made

    def count(self, batch: Batch, good: int, **reported: Any) -> Any:
        return ok(report(event_context=self.event_context(), step_id=batch.steps.get().pk, good=good, **reported))

    def decide(self, batch: Batch, approved: bool = True, **lapse: float) -> Any:
        event_context = self.event_context(**lapse)
        return decide_first_piece(
            event_context=event_context, step_id=batch.steps.get().pk, approved=approved, reason="looked at it"
        )

    def measure(self, batch: Batch, *cavities: int) -> None:
        readings = [ReadingTold("rim", "rim", "79.4", "mm", cavity=cavity) for cavity in cavities]
        ok(measure(event_context=self.event_context(), step_id=batch.steps.get().pk, readings=readings))

    def says(self, batch: Batch) -> tuple[str, str]:
        row = Verdict.objects.get(step__batch=batch, latest=True, load=None)
        return row.outcome, row.code.removeprefix("approval.")

    def changes(self, batch: Batch) -> Any:
        return Verdict.objects.get(step__batch=batch, latest=True).figures.get("changes")

    def cap(self, batch: Batch) -> int | None:
        return cap_of(batch.steps.get(), self.at)


def make_mould(**check: str) -> Mould:
    resin = factory.make_part("PC-1", "material", unit="GRM")
    mould = Mould(factory.make_site(), factory.make_part("GLOBE"), resin, {"cap": "20", **check})
    mould.routing()
    return mould


def test_before_the_approval_the_quantity_is_capped_and_more_is_taken_and_held() -> None:
    mould = make_mould()
    batch = mould.batch()
    assert mould.says(batch) == ("missing", "waiting") and mould.cap(batch) == 20
    mould.count(batch, 20)
    assert mould.says(batch) == ("missing", "waiting") and mould.cap(batch) == 0
    assert not Hold.objects.exists()
    mould.count(batch, 1)
    assert mould.says(batch) == ("failed", "over_cap") and mould.cap(batch) == 0
    assert [hold.code for hold in Hold.objects.filter(closed_at=None)] == ["approval.over_cap"]
    assert everything_agrees()


def test_an_approval_carries_over_to_the_next_batch_of_the_same_operation() -> None:
    mould = make_mould()
    first = mould.batch()
    mould.count(first, 20)
    ok(mould.decide(first))
    assert mould.says(first) == ("passed", "passed") and mould.cap(first) is None
    assert closed(first, "send") == []
    second = mould.batch()
    mould.count(second, 3000)
    assert mould.says(second) == ("passed", "passed") and mould.cap(second) is None
    assert FirstPiece.objects.count() == 1 and everything_agrees()


def test_a_name_a_reason_and_the_set_up_stand_in_the_journal() -> None:
    mould = make_mould()
    batch = mould.batch()
    answer = ok(mould.decide(batch))
    assert (answer.event.kind, answer.event.person) == ("first-off decided", "Mara Lind")
    assert answer.event.data["told"]["reason"] == "looked at it"
    made = answer.event.data["made_with"]
    assert (made["tool"], made["cavities"], made["material"], made["place"]) == ("M-7", [1, 2], "PC-1 A", "moulder")
    again = decide_first_piece(
        event_context=factory.event_context(f"mould {mould.reported}", at=mould.at),
        step_id=batch.steps.get().pk,
        approved=True,
        reason="looked at it",
    )
    assert ok(again).repeated and FirstPiece.objects.count() == 1
    no_reason = decide_first_piece(
        event_context=mould.event_context(), step_id=batch.steps.get().pk, approved=True, reason=" "
    )
    assert refused(no_reason).code == "reason_needed"


@pytest.mark.parametrize("what", ["design", "operation", "tool", "cavities", "material", "place"])
def test_a_change_reopens_it_for_the_next_batch(what: str) -> None:
    mould = make_mould()
    ok(mould.decide(mould.batch()))
    if what == "design":
        Part.objects.filter(pk=mould.part.pk).update(revision="B")
    if what == "material":
        mould.resin = factory.make_part("PC-2", "material", unit="GRM")
    if what == "place":
        mould.shop = factory.make_site("other")
    changed = {"tool": {"tool": "M-8"}, "operation": {"instruction": "gate on the other side"}}.get(what, {})
    mould.routing(2, cavities=4 if what == "cavities" else 2, **changed)
    batch = mould.batch()
    mould.count(batch, 5)
    assert mould.says(batch) == ("missing", "reopened") and mould.cap(batch) == 15
    # A mould of other cavities is another operation, too.
    wanted = {"operation": ["design"], "cavities": ["design", "cavities"]}.get(what, [what])
    assert mould.changes(batch) == wanted
    ok(mould.decide(batch))
    assert mould.says(batch) == ("passed", "passed") and everything_agrees()


def test_what_makes_no_other_piece_reopens_nothing() -> None:
    mould = make_mould()
    ok(mould.decide(mould.batch()))
    mould.routing(2, setup_minutes="90", yield_ppm="970000")
    batch = mould.batch()
    mould.count(batch, 100)
    assert mould.says(batch) == ("passed", "passed")


def test_a_batch_under_way_keeps_its_own_approval_when_the_part_is_revised() -> None:
    mould = make_mould()
    batch = mould.batch()
    ok(mould.decide(batch))
    Part.objects.filter(pk=mould.part.pk).update(revision="B")
    mould.count(batch, 100)
    assert mould.says(batch) == ("passed", "passed")


def test_a_cavity_blocked_in_mid_run_stops_it_until_it_is_approved_again() -> None:
    """Common practice, no source: a blocked cavity runs the mould otherwise, so the first piece is looked at again."""
    mould = make_mould()
    batch = mould.batch()
    mould.count(batch, 20, open_cavities=2)
    ok(mould.decide(batch))
    mould.count(batch, 2000, open_cavities=2)
    mould.count(batch, 15, open_cavities=1)
    assert mould.says(batch) == ("missing", "reopened") and mould.cap(batch) == 5
    assert mould.changes(batch) == ["cavities"] and not Hold.objects.exists()
    mould.count(batch, 6)
    assert mould.says(batch) == ("failed", "over_cap")
    assert Verdict.objects.get(step__batch=batch, latest=True).figures["made"] == 21
    ok(mould.decide(batch))
    assert mould.says(batch) == ("passed", "passed") and mould.cap(batch) is None
    assert everything_agrees()


def test_shots_made_before_a_cavity_was_blocked_do_not_count_against_the_cap() -> None:
    """Told when it happens, with the shots since the last count: they were made as approved."""
    mould = make_mould()
    batch = mould.batch()
    step = batch.steps.get().pk
    ok(mould.decide(batch))
    ok(
        set_cavities(
            event_context=mould.event_context(), step_id=step, open_cavities=1, shots=200, reason="gate frozen"
        )
    )
    assert mould.says(batch) == ("missing", "reopened") and mould.cap(batch) == 20
    mould.count(batch, 412, shots=12)
    assert mould.says(batch) == ("missing", "reopened") and mould.cap(batch) == 8
    mould.count(batch, 9)
    assert mould.says(batch) == ("failed", "over_cap") and everything_agrees()


def test_a_blocked_cavity_taken_back_is_as_if_it_had_not_been_told() -> None:
    mould = make_mould()
    batch = mould.batch()
    ok(mould.decide(batch))
    actor = factory.operator(mould.shop)
    at = mould.at + timedelta(minutes=1)
    step = batch.steps.get().pk
    reported = ok(
        set_cavities(
            event_context=factory.event_context("slip", at=at, actor=actor), step_id=step, open_cavities=1, shots=200
        )
    )
    assert mould.says(batch) == ("missing", "reopened")
    ok(undo(event_context=factory.event_context("back", at=at, actor=actor), event_id=reported.event.pk))
    assert mould.says(batch) == ("passed", "passed")
    ok(set_cavities(event_context=mould.event_context(), step_id=step, open_cavities=1))
    mould.count(batch, 15)
    assert mould.cap(batch) == 5 and everything_agrees()


def test_a_correction_of_an_older_count_is_of_the_cavities_of_then() -> None:
    mould = make_mould()
    batch = mould.batch()
    ok(mould.decide(batch))
    before = mould.count(batch, 2000, open_cavities=2)
    mould.count(batch, 15, open_cavities=1)
    ok(correct_count(event_context=mould.event_context(), event_id=before.event.pk, reason="typed twice", good=1000))
    assert mould.cap(batch) == 5 and everything_agrees()


def test_a_machine_that_was_not_approved_is_counted_by_itself() -> None:
    mould = make_mould()
    batch = mould.batch()
    step = batch.steps.get().pk
    presses = []
    for press in ("press 1", "press 2"):
        load = ok(start_load(event_context=mould.event_context(), step_id=step, quantity=500, place=press))
        presses.append(load.event.uid)
        if press == "press 1":
            mould.count(batch, 18, load=presses[0])
            ok(mould.decide(batch))
            mould.count(batch, 400, load=presses[0])
            assert mould.says(batch) == ("passed", "passed")
    mould.count(batch, 7, load=presses[1])
    assert mould.changes(batch) == ["machines"] and mould.cap(batch) == 13
    assert Load.objects.count() == 2 and everything_agrees()


@pytest.mark.parametrize(("days", "code"), [(29, "passed"), (30, "passed"), (31, "lapsed")])
def test_a_long_lapse_since_the_last_run_reopens_it(days: int, code: str) -> None:
    mould = make_mould(lapse="30")
    first = mould.batch()
    ok(mould.decide(first))
    mould.at += timedelta(days=20)
    mould.count(first, 10)
    second = mould.batch(days=days)
    mould.count(second, 5)
    assert mould.says(second)[1] == code


def test_every_open_cavity_is_measured_before_it_is_approved() -> None:
    mould = make_mould(every_cavity="yes")
    batch = mould.batch()
    mould.measure(batch, 1)
    answer = refused(mould.decide(batch))
    assert (answer.code, answer.figures["cavities"]) == ("first_off_not_measured", ["2"])
    ok(mould.decide(batch, approved=False))
    assert mould.says(batch) == ("failed", "refused")
    mould.measure(batch, 2)
    ok(mould.decide(batch))
    assert mould.says(batch) == ("passed", "passed")
    # What was measured on the first piece is measured for the batches that it carries over to.
    later = mould.batch()
    mould.count(later, 500)
    assert mould.says(later) == ("passed", "passed") and everything_agrees()


def test_a_decision_is_judged_in_every_open_batch_that_waits_for_it() -> None:
    mould = make_mould()
    waiting, other = mould.batch(), mould.batch()
    for batch in (waiting, other):
        mould.count(batch, 10, done=True)
    assert len(Hold.objects.filter(closed_at=None)) == 2
    ok(mould.decide(other))
    assert mould.says(waiting) == mould.says(other) == ("passed", "passed")
    assert not Hold.objects.filter(closed_at=None).exists() and everything_agrees()


def test_a_refusal_holds_its_own_batch_and_only_stops_the_others() -> None:
    mould = make_mould()
    earlier, running = mould.batch(), mould.batch()
    ok(mould.decide(earlier))
    mould.count(earlier, 500, done=True)
    mould.count(running, 500)
    last = mould.batch()
    mould.count(last, 10)
    ok(mould.decide(last, approved=False))
    assert mould.says(last) == ("failed", "refused")
    assert mould.says(earlier) == ("passed", "passed"), "what was done before has its own approval"
    assert mould.says(running) == ("missing", "refused_elsewhere") and mould.cap(running) == 20
    mould.count(running, 21)
    assert mould.says(running) == ("failed", "over_cap"), "what ran under the approval before does not count"
    fresh = mould.batch()
    mould.count(fresh, 3)
    assert mould.says(fresh) == ("missing", "refused_elsewhere") and mould.cap(fresh) == 17
    assert everything_agrees()


def test_after_a_refusal_a_new_first_off_may_be_made() -> None:
    mould = make_mould()
    batch = mould.batch()
    mould.count(batch, 20)
    ok(mould.decide(batch, approved=False))
    assert mould.cap(batch) == 20
    mould.count(batch, 12)
    assert mould.cap(batch) == 8


def test_where_no_first_off_is_asked_there_is_none_to_approve() -> None:
    part = factory.make_part("PLAIN")
    factory.make_routing(part, [factory.Op(10, factory.make_site(), "turn", "make")])
    step = factory.make_batch(part).steps.get()
    answer = decide_first_piece(event_context=factory.event_context("x"), step_id=step.pk, approved=True, reason="fine")
    assert refused(answer).code == "no_first_off_asked" and cap_of(step, AT) is None


def test_judging_asks_no_more_however_many_batches_and_decisions_there_were() -> None:
    mould = make_mould(every_cavity="yes", lapse="30")

    def statements() -> int:
        batch = mould.batch()
        mould.count(batch, 5)
        with CaptureQueriesContext(connection) as reported:
            mould.count(batch, 5)
        return len(reported)

    first = mould.batch()
    mould.measure(first, 1, 2)
    ok(mould.decide(first))
    few = statements()
    for _ in range(10):
        batch = mould.batch()
        mould.measure(batch, 1, 2)
        ok(mould.decide(batch))
    assert statements() == few
