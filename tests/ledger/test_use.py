"""What a report uses up: scanned lots, the bill's share of what lies here, and what a correction gives back."""

from __future__ import annotations

from datetime import date

import pytest

from tests import factory
from tests.globe import Globe, everything_agrees, make_globe, refused
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.report import report
from traveller.batches.steps.consume import Used, due
from traveller.ledger import genealogy, holds
from traveller.ledger.models import Condition, Link, Lot
from traveller.products.models import Part

pytestmark = pytest.mark.django_db


def _at_fitting(pieces: int = 500) -> Globe:
    """Globes wait for their insert at the bench."""
    globe = make_globe(insert=True)
    globe.report(20, pieces)
    globe.report(30, pieces)
    globe.moved(pieces)
    globe.report(40, pieces)
    return globe


def _inserts(globe: Globe, quantity: int, name: str, expires_on: date | None = None) -> Lot:
    return factory.make_stock(globe.insert, globe.bench, quantity, name=name, expires_on=expires_on)


def test_the_bills_quantity_is_rounded_once_upward_at_the_total() -> None:
    assert due(1500, 3) == 5
    assert due(1, 1) == 1
    assert due(1000, 566) == 566
    # 7 per thousand over three reports of 50: 1.05 in all is 2, not three times 1.
    totals = [due(7, 50), due(7, 100) - due(7, 50), due(7, 150) - due(7, 100)]
    assert totals == [1, 0, 1]


def test_use_that_nobody_scanned_is_inferred_and_traces_to_every_candidate() -> None:
    globe = _at_fitting()
    late, soon = _inserts(globe, 400, "late", date(2027, 1, 1)), _inserts(globe, 300, "soon", date(2026, 6, 1))
    elsewhere = factory.make_stock(globe.insert, globe.moulder, 900, name="elsewhere")
    globe.report(50, 200)
    assert factory.balance(soon, globe.bench) == 100
    assert factory.balance(late, globe.bench) == 400
    assert genealogy.ancestors(globe.lot().pk) == {soon.pk, late.pk}
    assert factory.balance(elsewhere, globe.moulder) == 900
    assert set(Link.objects.values_list("inferred", flat=True)) == {True}
    globe.report(50, 150)
    assert (factory.balance(soon, globe.bench), factory.balance(late, globe.bench)) == (0, 350)
    assert everything_agrees()


def test_scanned_use_traces_only_to_the_scanned_lot() -> None:
    globe = _at_fitting()
    _inserts(globe, 400, "soon", date(2026, 6, 1))
    scanned = _inserts(globe, 300, "scanned", date(2027, 1, 1))
    globe.report(50, 200, used=[Used(scanned.pk)])
    assert factory.balance(scanned, globe.bench) == 100
    assert genealogy.ancestors(globe.lot().pk) == {scanned.pk}
    assert factory.balance(scanned, globe.bench, Condition.MADE_INTO) == 200
    assert everything_agrees()


def test_two_scanned_lots_are_both_traced_even_when_the_first_covers_the_bill() -> None:
    globe = _at_fitting()
    first, second = _inserts(globe, 300, "first"), _inserts(globe, 300, "second")
    globe.report(50, 200, used=[Used(first.pk), Used(second.pk)])
    assert genealogy.ancestors(globe.lot().pk) == {first.pk, second.pk}
    globe.report(50, 250, used=[Used(first.pk), Used(second.pk)])
    assert (factory.balance(first, globe.bench), factory.balance(second, globe.bench)) == (0, 150)
    assert everything_agrees()


def test_a_told_quantity_is_taken_as_told() -> None:
    globe = _at_fitting()
    first, second = _inserts(globe, 300, "first"), _inserts(globe, 300, "second")
    globe.report(50, 200, used=[Used(first.pk, 210), Used(second.pk)])
    assert (factory.balance(first, globe.bench), factory.balance(second, globe.bench)) == (90, 300)
    assert everything_agrees()


def test_use_beyond_what_was_counted_in_stands_as_unexplained() -> None:
    globe = _at_fitting()
    inserts = _inserts(globe, 150, "short")
    globe.report(50, 200)
    assert factory.balance(inserts, globe.bench) == 0
    assert factory.balance(inserts, globe.bench, Condition.UNEXPLAINED) == -50
    assert factory.balance(inserts, globe.bench, Condition.MADE_INTO) == 200
    globe.report(50, 100)
    assert factory.balance(inserts, globe.bench, Condition.UNEXPLAINED) == -150
    assert everything_agrees()


def test_a_lot_that_is_not_on_the_bill_was_not_used_here() -> None:
    globe = _at_fitting()
    wrong = factory.make_stock(factory.make_part("RED-BAND", "bought"), globe.bench, 100)
    step = globe.step(50).pk
    refusal = refused(report(event_context=globe.event_context(), step_id=step, good=10, used=[Used(wrong.pk)]))
    assert (refusal.code, refusal.figures["lot"]) == ("not_on_the_bill", wrong.code)
    assert refused(report(event_context=globe.event_context(), step_id=step, used=[Used(10**6)])).code == "unknown_lot"
    right = _inserts(globe, 10, "right")
    negative = report(event_context=globe.event_context(), step_id=step, good=1, used=[Used(right.pk, -5)])
    assert refused(negative).code == "not_a_quantity"


def test_what_is_made_of_a_held_lot_is_held_until_that_lot_is_released() -> None:
    globe = _at_fitting()
    inserts = _inserts(globe, 300, "bad")
    hold = holds.open_hold(factory.make_event("hold"), inserts, cause="held", code="held")
    globe.report(50, 10, used=[Used(inserts.pk)])
    assert [row.root for row in globe.open_holds()] == [hold]
    holds.close_hold(factory.make_event("free"), hold, disposition="release", reason="a false alarm")
    assert globe.open_holds() == []


def test_a_correction_gives_back_what_was_inferred() -> None:
    globe = _at_fitting()
    first, second = _inserts(globe, 150, "first"), _inserts(globe, 100, "second")
    answer = globe.report(50, 200)
    correct_count(event_context=globe.event_context(), event_id=answer.event.pk, reason="miscounted", good=160)
    assert (factory.balance(first, globe.bench), factory.balance(second, globe.bench)) == (0, 90)
    assert globe.at(globe.bench, Condition.STOCK) == 160
    assert everything_agrees()


def test_a_correction_gives_back_to_the_scanned_lot() -> None:
    globe = _at_fitting()
    first, second = _inserts(globe, 250, "first"), _inserts(globe, 100, "second")
    answer = globe.report(50, 200, used=[Used(second.pk), Used(first.pk)])
    assert (factory.balance(first, globe.bench), factory.balance(second, globe.bench)) == (150, 0)
    correct_count(event_context=globe.event_context(), event_id=answer.event.pk, reason="did not occur")
    assert factory.balance(first, globe.bench) + factory.balance(second, globe.bench) == 350
    assert globe.at(globe.bench, Condition.IN_PROCESS, 50) == 500
    assert everything_agrees()


def test_a_part_that_two_products_share_is_taken_once_for_each() -> None:
    globe = _at_fitting()
    shared = _inserts(globe, 300, "shared")
    other: Part = factory.make_part("LAMP")
    factory.make_routing(other, [factory.Op(10, globe.bench, "build", "make")])
    factory.make_bill(other, globe.insert, each=2, step=10)
    batch = factory.make_batch(other, wanted=60)
    globe.report(50, 100)
    globe.report(10, 60, batch=batch)
    assert factory.balance(shared, globe.bench) == 300 - 100 - 2 * 60
    assert genealogy.descendants(shared.pk) == {globe.lot().pk, globe.lot(batch).pk}
    assert everything_agrees()
