"""Age is judged at use: the lots that a step's counts used, the mix that its shop told of."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests import factory as f
from tests.globe import ok
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.measure import measure
from traveller.batches.actions.report import report
from traveller.batches.models import Batch, Step, Verdict
from traveller.batches.proof.readings import ReadingTold
from traveller.batches.steps.consume import Used
from traveller.ledger.models import Lot

pytestmark = pytest.mark.django_db

IN_DATE = f.CheckRow("ink", "age", {"name": "Ink"}, "step")
MIXED = f.CheckRow("ink", "age", {"name": "Ink", "pot_life": "8 h at 25 C", "doubling": "10"}, "step")


def printing(check: f.CheckRow, expires_on: date | None = None) -> tuple[Batch, Lot]:
    printer = f.make_site("printer")
    ink = f.make_part("INK", kind="material", name="Ink", unit="GRM")
    band = f.make_part("BAND")
    f.make_routing(band, [f.Op(10, printer, "print", "make", checks=[check])])
    f.make_bill(band, ink, per_thousand=500, step=10)
    lot = f.make_stock(ink, printer, 1000, expires_on=expires_on)
    return f.make_batch(band, wanted=20), lot


def step_of(batch: Batch) -> Step:
    return Step.objects.get(batch=batch)


def code_of(batch: Batch) -> str:
    return Verdict.objects.get(step__batch=batch, check_key="ink", load=None, latest=True).code


@pytest.mark.parametrize(("days", "code"), [(0, "age.passed_last"), (1, "age.expired")])
def test_a_lot_used_on_its_last_day_passes_and_a_day_later_fails(days: int, code: str) -> None:
    batch, lot = printing(IN_DATE, f.MONDAY.date())
    reported = f.event_context("count", at=f.MONDAY + timedelta(days=days))
    ok(report(event_context=reported, step_id=step_of(batch).pk, good=20, used=[Used(lot.pk)]))
    assert code_of(batch) == code


def test_nothing_used_yet_is_missing_and_a_use_taken_back_is_too() -> None:
    batch, lot = printing(IN_DATE, f.MONDAY.date())
    ok(report(event_context=f.event_context(1), step_id=step_of(batch).pk, shots=1))
    assert code_of(batch) == "age.none_used"
    reported = ok(report(event_context=f.event_context(2), step_id=step_of(batch).pk, good=20, used=[Used(lot.pk)]))
    assert code_of(batch) == "age.passed_last"
    ok(correct_count(event_context=f.event_context(3), event_id=reported.event.pk, reason="another batch"))
    assert code_of(batch) == "age.none_used"


def test_a_mix_is_judged_by_the_hours_since_mixing_at_the_warmth_of_the_room() -> None:
    batch, lot = printing(MIXED)
    ok(
        report(
            event_context=f.event_context("c", at=f.MONDAY + timedelta(hours=8)),
            step_id=step_of(batch).pk,
            good=20,
            used=[Used(lot.pk)],
        )
    )
    assert code_of(batch) == "age.no_mixing"
    reported = [
        ReadingTold("ink", "mixed_at", f.MONDAY.isoformat()),
        ReadingTold("ink", "room", "25", "C"),
    ]
    ok(
        measure(
            event_context=f.event_context("m", at=f.MONDAY + timedelta(hours=9)),
            step_id=step_of(batch).pk,
            readings=reported,
        )
    )
    assert code_of(batch) == "age.passed"
    # Ten degrees warmer the pot life is half: four hours, and eight had passed.
    warmer = [ReadingTold("ink", "room", "95", "F")]
    ok(
        measure(
            event_context=f.event_context("w", at=f.MONDAY + timedelta(hours=9)),
            step_id=step_of(batch).pk,
            readings=warmer,
        )
    )
    assert code_of(batch) == "age.past_pot_life"
