"""Which lot went into which, both ways."""

from __future__ import annotations

import pytest

from tests import factory
from traveller.ledger import genealogy
from traveller.ledger.genealogy import Use
from traveller.ledger.models import Lot

pytestmark = pytest.mark.django_db


def _lots(count: int) -> list[Lot]:
    bench, part = factory.make_bench(), factory.make_part("PUCK", "bought")
    return [factory.make_stock(part, bench, 100, name=str(n)) for n in range(count)]


def _link(n: str, child: Lot, *uses: Use) -> None:
    genealogy.link(factory.make_event(n), child, uses)


def test_a_trace_goes_through_every_generation_both_ways() -> None:
    a, b, c, d, apart = _lots(5)
    _link("1", b, Use(a, 5))
    _link("2", c, Use(b, 5))
    _link("3", d, Use(b, 5))
    assert genealogy.descendants(a.pk) == {b.pk, c.pk, d.pk}
    assert genealogy.ancestors(d.pk) == {a.pk, b.pk}
    assert genealogy.descendants(apart.pk) == set()


def test_a_use_that_was_taken_back_is_no_longer_traced() -> None:
    a, b = _lots(2)
    _link("1", b, Use(a, 5))
    _link("2", b, Use(a, -2))
    assert genealogy.descendants(a.pk) == {b.pk}
    _link("3", b, Use(a, -3))
    assert genealogy.descendants(a.pk) == set()
    assert genealogy.ancestors(b.pk) == set()


def test_an_inferred_use_traces_to_every_candidate() -> None:
    a, b, c = _lots(3)
    _link("1", c, Use(a, 5, inferred=True), Use(b, 0, inferred=True))
    assert genealogy.ancestors(c.pk) == {a.pk, b.pk}


def test_a_lot_scanned_beside_another_that_covered_the_bill_is_traced_too() -> None:
    a, b, c = _lots(3)
    _link("1", c, Use(a, 5), Use(b, 0))
    assert genealogy.ancestors(c.pk) == {a.pk, b.pk}


def test_a_trace_ends_even_on_a_circle() -> None:
    a, b = _lots(2)
    _link("1", b, Use(a, 1))
    _link("2", a, Use(b, 1))
    assert genealogy.descendants(a.pk) == {a.pk, b.pk}
