"""Holds act on a lot and all that was made from it."""

from __future__ import annotations

import pytest

from tests import factory
from traveller.journal.refusal import Refused
from traveller.ledger import genealogy, holds
from traveller.ledger.genealogy import Use
from traveller.ledger.models import Hold, Lot
from traveller.rules.purposes import PURPOSE_ORDER

pytestmark = pytest.mark.django_db


def _lots(*names: str) -> list[Lot]:
    bench, part = factory.make_bench(), factory.make_part("PUCK", "bought")
    return [factory.make_stock(part, bench, 100, name=name) for name in names]


def _made(n: str, child: Lot, *parents: Lot, inferred: bool = False) -> None:
    event = factory.make_event(n)
    genealogy.link(event, child, [Use(parent, 10, inferred) for parent in parents])
    holds.inherit(event, child, [parent.pk for parent in parents])


def _held(*lots: Lot) -> list[bool]:
    return [bool(holds.open_on([lot.pk])) for lot in lots]


def _hold(lot: Lot, cause: str = "test") -> Hold:
    return holds.open_hold(factory.make_event(f"hold {lot.pk} {cause}"), lot, cause=cause, code="held")


def _close(hold: Hold, disposition: str = "concession") -> None:
    holds.close_hold(factory.make_event(f"close {hold.pk}"), hold, disposition=disposition, reason="because")


def test_what_is_made_from_a_held_lot_is_born_held() -> None:
    a, b, c = _lots("a", "b", "c")
    _hold(a)
    _made("b of a", b, a)
    _made("c of b", c, b)
    assert _held(a, b, c) == [True, True, True]


def test_holding_a_lot_holds_what_was_made_from_it_before() -> None:
    a, b, c, other = _lots("a", "b", "c", "other")
    _made("b of a", b, a)
    _made("c of b", c, b)
    _hold(a)
    assert _held(a, b, c, other) == [True, True, True, False]


def test_a_link_into_a_lot_that_was_already_used_holds_what_it_went_into() -> None:
    a, b, c = _lots("a", "b", "c")
    _hold(a)
    _made("c of b", c, b)
    assert _held(b, c) == [False, False]
    _made("b of a", b, a)
    assert _held(b, c) == [True, True]


def test_releasing_the_root_releases_what_it_alone_held() -> None:
    a, b, c = _lots("a", "b", "c")
    _made("b of a", b, a)
    _made("c of b", c, b)
    hold = _hold(a)
    _close(hold)
    assert _held(a, b, c) == [False, False, False]
    hold.refresh_from_db()
    assert (hold.disposition, hold.reason) == ("concession", "because")


def test_a_lot_with_two_roots_stays_held_when_one_is_released() -> None:
    a, b, both, only = _lots("a", "b", "both", "only")
    _made("both of a and b", both, a, b)
    _made("only of a", only, a)
    first, second = _hold(a), _hold(b)
    assert len(holds.open_on([both.pk])) == 2
    _close(first)
    assert _held(a, b, both, only) == [False, True, True, False]
    _close(second)
    assert _held(both) == [False]


def test_a_lot_held_for_itself_stays_held_when_its_root_is_released() -> None:
    a, b = _lots("a", "b")
    _made("b of a", b, a)
    root = _hold(a)
    _hold(b, "its own")
    _close(root)
    assert _held(a, b) == [False, True]


@pytest.mark.parametrize("disposition", ["scrap", "rework"])
def test_condemning_a_lot_does_not_free_what_was_made_of_it(disposition: str) -> None:
    a, b = _lots("a", "b")
    _made("b of a", b, a)
    _close(_hold(a), disposition)
    assert _held(a, b) == [False, True]
    _close(holds.open_on([b.pk])[0])
    assert _held(b) == [False]


def test_the_same_cause_twice_is_one_hold_and_two_causes_are_two() -> None:
    (a,) = _lots("a")
    first = _hold(a)
    again = holds.open_hold(factory.make_event("told again"), a, cause="test", code="held")
    assert again == first
    assert _hold(a, "another") != first
    assert len(holds.open_on([a.pk])) == 2


def test_a_closed_hold_does_not_hinder_a_new_one_of_the_same_cause() -> None:
    (a,) = _lots("a")
    _close(_hold(a))
    second = holds.open_hold(factory.make_event("again"), a, cause="test", code="held")
    assert _held(a) == [True]
    assert Hold.objects.filter(lot=a).count() == 2
    assert second.closed_at is None


@pytest.mark.parametrize("purpose", ["receive", "count", "return", "scrap", "rework"])
def test_a_held_lot_may_still_be_received_counted_returned_scrapped_and_reworked(purpose: holds.Doing) -> None:
    (a,) = _lots("a")
    _hold(a)
    holds.refuse_if_held(a, purpose)
    assert _held(a) == [True]


@pytest.mark.parametrize("purpose", ["send", "consume", "pack", "ship"])
def test_a_held_lot_may_not_be_sent_used_packed_or_shipped(purpose: holds.Doing) -> None:
    a, b = _lots("a", "b")
    holds.refuse_if_held(a, purpose)
    holds.open_hold(factory.make_event("h"), a, cause="x", code="too_short", figures={"lasted": 9})
    _made("b of a", b, a)
    for lot in (a, b):
        with pytest.raises(Refused) as refused:
            holds.refuse_if_held(lot, purpose)
        assert refused.value.refusal.code == "held"
        assert refused.value.refusal.figures["why_code"] == "too_short"
        assert refused.value.refusal.figures["why"] == {"lasted": "9"}


def test_the_table_says_something_of_every_purpose() -> None:
    assert set(holds.ALLOWED) == {*PURPOSE_ORDER, "receive", "count", "return", "scrap", "rework"}
