"""The one writer of accounts: sums, limits, what may be below nothing."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from tests import factory
from tests.globe import make_globe
from traveller.journal.refusal import Refused
from traveller.ledger.models import PHYSICAL, Account, Condition, Posting
from traveller.ledger.post import Balances, Move, Place, post

pytestmark = pytest.mark.django_db


def _puck() -> tuple[Place, Place]:
    bench = factory.make_bench()
    lot = factory.make_stock(factory.make_part("PUCK", "bought"), bench, 100)
    shelf = Place(lot.pk, bench.pk, Condition.STOCK)
    return shelf, shelf.become(Condition.SCRAP)


def test_a_move_takes_here_and_gives_there() -> None:
    shelf, scrap = _puck()
    post(factory.make_event("a"), [Move(shelf, scrap, 7)])
    balances = Balances([shelf.lot_id])
    assert (balances.at(shelf), balances.at(scrap)) == (93, 7)
    assert factory.sums_to_zero()


def test_moves_that_cancel_out_post_nothing() -> None:
    shelf, scrap = _puck()
    before = Posting.objects.count()
    post(factory.make_event("a"), [Move(shelf, scrap, 7), Move(scrap, shelf, 7)])
    assert Posting.objects.count() == before


def test_a_negative_move_goes_back() -> None:
    shelf, scrap = _puck()
    post(factory.make_event("a"), [Move(shelf, scrap, 7)])
    post(factory.make_event("b"), [Move(shelf, scrap, -3)])
    assert Balances([shelf.lot_id]).at(scrap) == 4


@pytest.mark.parametrize("condition", PHYSICAL)
def test_what_lies_somewhere_never_falls_below_nothing(condition: str) -> None:
    shelf, _ = _puck()
    place = shelf.become(condition)
    if condition != Condition.STOCK:
        post(factory.make_event("fill"), [Move(shelf, place, 100)])
    with pytest.raises(Refused) as refused, transaction.atomic():
        post(factory.make_event("take"), [Move(place, place.become(Condition.UNEXPLAINED), 101)])
    assert refused.value.refusal.code == "short"
    assert (refused.value.refusal.figures["there"], refused.value.refusal.figures["wanted"]) == (100, 101)
    assert Balances([shelf.lot_id]).at(place) == 100


def test_the_database_itself_refuses_a_negative_pile() -> None:
    shelf, _ = _puck()
    with pytest.raises(IntegrityError), transaction.atomic():
        Account.objects.filter(lot=shelf.lot_id, condition=Condition.STOCK).update(balance=-1)


def test_a_move_between_two_lots_is_a_fault() -> None:
    shelf, _ = _puck()
    with pytest.raises(ValueError, match="within its lot"):
        post(factory.make_event("a"), [Move(shelf, Place(shelf.lot_id + 1, shelf.site_id, "stock"), 1)])


def test_since_says_when_a_balance_last_left_nothing() -> None:
    shelf, scrap = _puck()
    at = factory.MONDAY + timedelta(hours=5)
    account = Account.objects.get(lot=shelf.lot_id, condition=Condition.STOCK)
    assert account.since == factory.MONDAY
    post(factory.make_event("a", at=at), [Move(shelf, scrap, 40)])
    account.refresh_from_db()
    assert account.since == factory.MONDAY
    post(factory.make_event("b", at=at), [Move(shelf, scrap, 60)])
    emptied = Account.objects.get(pk=account.pk)
    assert (emptied.balance, emptied.since) == (0, None)
    post(factory.make_event("c", at=at), [Move(scrap, shelf, 1)])
    account.refresh_from_db()
    assert (account.balance, account.since) == (1, at)


def test_a_step_told_before_its_earlier_one_owes_and_is_paid_back() -> None:
    """30 is told with 40 pieces while 20 has told only 25: 15 are owed until 20 tells them."""
    globe = make_globe()
    globe.report(20, 25)
    globe.report(30, 40)
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30) == 0
    assert globe.at(globe.moulder, Condition.UNREPORTED, 30) == -15
    account = globe.lot().accounts.get(condition=Condition.UNREPORTED)
    assert account.since is not None
    globe.report(20, 10)
    assert globe.at(globe.moulder, Condition.UNREPORTED, 30) == -5
    globe.report(20, 12)
    assert globe.at(globe.moulder, Condition.UNREPORTED, 30) == 0
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30) == 7
    assert globe.lot().accounts.get(condition=Condition.UNREPORTED).since is None
    assert factory.sums_to_zero()


def test_more_than_arrived_shows_as_owed_and_a_making_step_has_no_such_limit() -> None:
    globe = make_globe()
    globe.report(20, 1132)
    assert globe.at(globe.moulder, Condition.UNREPORTED, 20) == 0
    globe.report(30, 1400)
    assert globe.at(globe.moulder, Condition.UNREPORTED, 30) == 1132 - 1400
    assert globe.at(globe.moulder, Condition.STOCK, 30) == 1400
