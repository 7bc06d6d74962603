"""What the quality page reads: runs by batch, values in the check's own unit, yields of enough pieces only."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest

from tests import factory as f
from tests.globe import ok
from traveller.batches.actions.measure import measure
from traveller.batches.actions.report import report
from traveller.batches.models import Batch, Step
from traveller.batches.proof.readings import ReadingTold
from traveller.batches.reads import quality
from traveller.batches.reads.quality import Measured, OperationQuality, Run
from traveller.products.models import Part

pytestmark = pytest.mark.django_db

BORE = f.CheckRow(
    "bore", "dimension", {"name": "bore", "nominal": "2", "tolerance": "0.005", "unit": "in"}, "lot", "nothing"
)


def moulded(number: str = "GLOBE", *, batches: int = 3, start: int = 0, scrap: Sequence[int] = (0, 1, 2, 3)) -> Part:
    """A part made in so many batches of 40: of batch n `scrap` says how many, over and over; three bores each."""
    part = Part.objects.filter(number=number).first()
    if part is None:
        site = f.make_site(f"mould-{number.lower()}")
        part = f.make_part(number)
        f.make_routing(part, [f.Op(10, site, "mould", "make", checks=[BORE]), f.Op(20, site, "deburr")])
    bench = f.make_bench(f"bench{number.lower()}{start}")
    for n in range(start, start + batches):
        batch = f.make_batch(part, wanted=40, destination=bench, name=f"{number} {n}")
        first = Step.objects.get(batch=batch, number=10)
        bad = scrap[n % len(scrap)]
        ok(
            report(
                event_context=f.event_context(f"{number} c{n}"), step_id=first.pk, good=40 - bad, scrap={"short": bad}
            )
        )
        readings = [ReadingTold("bore", "bore", f"{2 + (n + k) % 3 / 1000:.3f}", "in", piece=k) for k in (1, 2, 3)]
        ok(measure(event_context=f.event_context(f"{number} m{n}"), step_id=first.pk, readings=readings))
        second = Step.objects.get(batch=batch, number=20)
        ok(
            report(
                event_context=f.event_context(f"{number} d{n}"),
                step_id=second.pk,
                good=38 - bad,
                scrap={"cut": 1},
                rework=1,
            )
        )
    return part


def test_runs_are_first_entries_by_batch_oldest_first() -> None:
    part = moulded()
    mould, deburr = quality.of_part(part.pk)
    assert [(run.entered, run.good, run.scrap) for run in mould.runs] == [(40, 40, 0), (40, 39, 1), (40, 38, 2)]
    assert [run.code for run in mould.runs] == list(Batch.objects.order_by("id").values_list("code", flat=True))
    assert mould.first_pass == Fraction(117, 120)
    assert deburr.first_pass == Fraction(38 + 37 + 36, 40 + 39 + 38)


def test_samples_are_left_out() -> None:
    part = moulded(batches=1)
    before = quality.of_part(part.pk)[0].entered
    step = Step.objects.get(number=10)
    ok(report(event_context=f.event_context("samples"), step_id=step.pk, samples=5))
    assert quality.of_part(part.pk)[0].entered == before


def test_rolled_yield_is_the_product_and_waits_for_enough_batches() -> None:
    part = moulded(batches=2)
    assert quality.rolled(quality.of_part(part.pk)) is None
    moulded(batches=1, start=2)
    found = quality.rolled(quality.of_part(part.pk))
    assert found is not None
    assert float(found) == pytest.approx(117 / 120 * 111 / 117, abs=2e-6)


@pytest.mark.parametrize(("batches", "units", "enough"), [(3, 20, True), (2, 20, False), (3, 19, False)])
def test_enough_is_three_batches_and_twenty_pieces(batches: int, units: int, enough: bool) -> None:
    runs = [Run("A", units - batches + 1, 0, 0, 0), *[Run("B", 1, 0, 0, 0)] * (batches - 1)]
    assert OperationQuality(10, "mould", runs).is_enough is enough


def test_values_come_in_the_checks_own_unit_and_words_and_struck_ones_do_not() -> None:
    part = moulded(batches=1)
    step = Step.objects.get(number=10)
    more = [ReadingTold("bore", "bore", "50.8", "mm"), ReadingTold("bore", "bore", "wide", "in")]
    ok(measure(event_context=f.event_context("mm"), step_id=step.pk, readings=more))
    struck = step.readings.order_by("id").first()
    assert struck is not None
    struck.struck_by = struck.event
    struck.save()
    measured: Measured = quality.of_part(part.pk)[0].measured[0]
    assert sorted(value.value for value in measured.values) == pytest.approx([2.0, 2.0, 2.002])
    assert (measured.low, measured.high, measured.unit) == (1.995, 2.005, "in")


def test_only_the_part_and_the_operation_asked_for_are_read() -> None:
    globe, band = moulded(batches=1), moulded("BAND", batches=2)
    assert {part.number for part in quality.parts_counted()} == {"GLOBE", "BAND"}
    assert quality.latest_part() == band.pk
    assert len(quality.of_part(globe.pk)[0].runs) == 1
    assert [one.number for one in quality.of_part(band.pk, operation=20)] == [20]
