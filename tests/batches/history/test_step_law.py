"""In = good + scrap + rework + samples + still here + unexplained, whatever was played."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests import factory
from tests.factory import MONDAY, Op
from tests.globe import COOLING, everything_agrees, make_globe, ok
from tests.web.founder import scene
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.decide import decide
from traveller.batches.actions.finish_step import finish_step
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.report import report
from traveller.batches.history.step_law import StepAccount, step_accounts
from traveller.batches.models import Batch, Step
from traveller.batches.reads.queries import whereabouts
from traveller.journal.models import Event
from traveller.ledger.models import Hold

pytestmark = [pytest.mark.django_db, pytest.mark.both]


def _accounts(batch: Batch) -> list[StepAccount]:
    batch.refresh_from_db()
    return step_accounts(batch, whereabouts([batch])[0].steps)


def _three_steps(name: str) -> Batch:
    site = factory.make_bench(f"bench-{name}")
    part = factory.make_part(f"PART-{name}")
    factory.make_routing(part, [Op(10, site, "make", "make"), Op(20, site, "trim"), Op(30, site, "test")])
    return factory.make_batch(part, wanted=100, name=name)


def test_a_correction_after_the_pieces_went_on_is_told_as_arrived() -> None:
    batch = _three_steps("c")
    steps = list(batch.steps.order_by("number"))
    scene.done(report(event_context=factory.event_context(1), step_id=steps[0].pk, good=100))
    scene.done(report(event_context=factory.event_context(2), step_id=steps[1].pk, good=80, scrap={"short": 20}))
    wrong = Event.objects.get(uid=factory.event_context(2).uid)
    scene.done(
        correct_count(
            event_context=factory.event_context(3), event_id=wrong.pk, reason="miscounted", good=90, scrap={"short": 6}
        )
    )
    make, trim, check = _accounts(batch)
    assert (make.arrived, trim.arrived, trim.here, check.arrived, check.here) == (100, 100, 4, 90, 90)


def test_what_a_decision_took_away_is_told_apart() -> None:
    batch = _three_steps("d")
    scene.done(report(event_context=factory.event_context(1), step_id=batch.steps.get(number=10).pk, good=50))
    batch.refresh_from_db()
    assert batch.lot is not None
    scene.done(hold_lot(event_context=factory.event_context(2), lot_id=batch.lot.pk, reason="cloudy"))
    hold = Hold.objects.get(lot=batch.lot)
    scene.done(decide(event_context=factory.event_context(3), hold_id=hold.pk, disposition="scrap", reason="cloudy"))
    trim = _accounts(batch)[1]
    assert (trim.arrived, trim.decided, trim.here, trim.left_over) == (50, 50, 0, 0)


def test_pieces_counted_before_they_came_are_owed() -> None:
    batch = _three_steps("o")
    scene.done(report(event_context=factory.event_context(1), step_id=batch.steps.get(number=20).pk, good=30))
    assert (_accounts(batch)[1].arrived, _accounts(batch)[1].here) == (0, -30)
    scene.done(report(event_context=factory.event_context(2), step_id=batch.steps.get(number=10).pk, good=40))
    assert (_accounts(batch)[1].arrived, _accounts(batch)[1].here) == (40, 10)


def test_a_correction_of_a_load_that_was_split_off_is_told_with_what_was_set_apart() -> None:
    globe = make_globe(checks={30: (COOLING,)}, start=100)
    globe.report(20, 72)
    globe.cooled((24, 15), (24, 15))
    load = globe.put_in(24)
    counted = globe.report(30, 24, load=load.uid)
    globe.take_out(load, load.started_at + timedelta(minutes=9))
    (child,) = globe.children()
    ok(correct_count(event_context=globe.event_context(), event_id=counted.event.pk, reason="recounted", good=23))
    globe.batch.refresh_from_db()
    (parent,) = step_accounts(globe.batch, [globe.step(30)])
    (own,) = step_accounts(child, [globe.step(30, child)])
    assert (parent.arrived, parent.counted, parent.here, parent.set_apart) == (72, 71, 0, 1)
    assert (own.arrived, own.counted, own.here) == (1, 0, 1)
    assert everything_agrees()


_DEED = st.tuples(
    st.sampled_from(["count", "again", "correct", "lose"]),
    st.sampled_from([10, 20, 30]),
    st.integers(0, 60),
    st.integers(0, 9),
    st.integers(0, 9),
)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(deeds=st.lists(_DEED, min_size=1, max_size=9))
def test_the_law_holds_after_any_news(deeds: list[tuple[str, int, int, int, int]]) -> None:
    name = f"{Batch.objects.count()}-{Event.objects.count()}"
    batch = _three_steps(name)
    for n, (deed, number, good, scrap, rework) in enumerate(deeds):
        _tell(deed, batch.steps.get(number=number), f"{name} {n}", good, scrap, rework)
    for account in _accounts(batch):
        assert account.left_over == 0, (account, deeds)


def _tell(deed: str, step: Step, name: str, good: int, scrap: int, rework: int) -> None:
    """One piece of news; what is refused changes nothing."""
    event_context = factory.event_context(name, at=MONDAY)
    if deed == "lose":
        finish_step(event_context=event_context, step_id=step.pk, lost=scrap)
    elif deed == "correct":
        wrong = Event.objects.filter(kind="counted", counts__step=step).first()
        if wrong is not None:
            correct_count(
                event_context=event_context, event_id=wrong.pk, reason="miscounted", good=good, scrap={"short": scrap}
            )
    else:
        report(
            event_context=event_context, step_id=step.pk, good=good, scrap={"short": scrap},
            rework=0 if deed == "again" else rework,
            again=deed == "again",
        )  # fmt: skip
