"""A batch keeps the bill that it was released with, whatever is changed later."""

from __future__ import annotations

from pathlib import Path

import pytest

from sites.models import Site
from tests import factory
from tests.exchange.books import SMALL, write
from traveller.batches.actions.report import report
from traveller.batches.models import Batch, Step
from traveller.exchange.workbook.apply import import_workbook
from traveller.exchange.workbook.problems import Report, stopped_by
from traveller.ledger.models import Lot
from traveller.products import frozen
from traveller.products.models import Part, Routing
from traveller.products.queries import present_bill, present_routings

pytestmark = pytest.mark.django_db


def _imported(folder: Path, n: int) -> None:
    found = import_workbook(folder, event_context=factory.event_context(n))
    assert isinstance(found, Report), [problem.text() for problem in stopped_by(found)]


def _made(batch: Batch, n: int, good: int) -> int:
    """Report cups; how much clay they took."""
    clay, mill = Lot.objects.get(outside_number="C-9"), Site.objects.get(code="mill")
    before = factory.balance(clay, mill)
    # As a process does that was started since.
    frozen.forget()
    report(event_context=factory.event_context(n), step_id=Step.objects.get(batch=batch, number=10).pk, good=good)
    return before - factory.balance(clay, mill)


def test_a_batch_consumes_by_the_bill_of_its_release_and_the_next_one_by_the_new_bill(tmp_path: Path) -> None:
    _imported(write(tmp_path / "first"), 1)
    cup = Part.objects.get(number="CUP")
    old = factory.make_batch(cup, name="old")
    assert "250,kg" in SMALL["bills"]
    _imported(write(tmp_path / "second", bills=SMALL["bills"].replace("250,kg", "260,kg")), 2)
    new = factory.make_batch(cup, name="new")
    assert (_made(old, 3, 10), _made(new, 4, 10)) == (2_500, 2_600)
    assert _made(old, 5, 10) == 2_500


def test_a_line_taken_off_the_bill_stays_on_that_of_batches_under_way(tmp_path: Path) -> None:
    _imported(write(tmp_path / "first"), 1)
    cup, clay = Part.objects.get(number="CUP"), Part.objects.get(number="CLAY")
    old = factory.make_batch(cup, name="old")
    lines = SMALL["bills"].splitlines(keepends=True)
    _imported(write(tmp_path / "second", bills="".join(line for line in lines if "CLAY" not in line)), 2)
    new = factory.make_batch(cup, name="new")
    assert frozen.bill_at(old.routing_id, 10) == ((clay.pk, 250_000),)
    assert frozen.bill_at(new.routing_id, 10) == ()
    assert (_made(old, 3, 10), _made(new, 4, 10)) == (2_500, 0)


def test_the_present_bill_is_that_of_the_latest_revision_alone() -> None:
    bench = factory.make_bench()
    lamp, screw, clip = factory.make_part("LAMP"), factory.make_part("SCREW"), factory.make_part("CLIP")
    factory.make_routing(lamp, [factory.Op(10, bench, "assemble", "make")])
    factory.make_bill(lamp, screw, each=2, step=10)
    second = factory.make_routing(lamp, [factory.Op(10, bench, "assemble", "make")], revision=2)
    factory.make_bill(lamp, clip, each=1, step=10)
    assert [line.component for line in present_bill()] == [clip]
    assert list(present_routings()) == [second]
    assert Routing.objects.count() == 2
