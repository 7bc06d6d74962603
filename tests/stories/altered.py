"""Postings altered at random, one at a time and taken back: what of the reckoning notices each."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from random import Random
from unittest.mock import patch

from django.db import connection, transaction
from django.db.models import F

from tests.cast import founder_client
from tests.reckoning import laws
from tests.reckoning.claims import Book
from tests.reckoning.goods import LYING, Known
from tests.reckoning.pages import each
from tests.reckoning.rows import Rows
from tests.stories.reckoned import Reckoned
from tests.unguarded import lift
from traveller.ledger.models import Account, Posting


def postings(pages: Reckoned, now: datetime, draw: Random, *, ten: int) -> dict[str, str]:
    """Of goods that lie somewhere now: the first difference that a page shows, by what was altered."""
    shown = Posting.objects.filter(account__condition__in=LYING, account__balance__gt=0)
    found = {}
    for posting in draw.sample(list(shown.order_by("id")), ten):
        with _altered(posting, draw.choice([1, 2, 10])) as words, connection.cursor() as cursor:
            found[words] = _first(pages, Known(Rows(cursor), now))
    return found


def _first(pages: Reckoned, known: Known) -> str:
    book = Book()
    with patch("django.utils.timezone.now", lambda: known.now):
        pages.client = founder_client(pages.user)
        for _address in each(known, pages.fetch, book):
            if book.differences:
                return book.differences[0]
    return ""


def with_balances(draw: Random, *, ten: int) -> dict[str, str]:
    """Of any goods: pages and postings agree, but what one place has more, no other has less."""
    found = {}
    for posting in draw.sample(list(Posting.objects.order_by("id")), ten):
        by = draw.choice([1, 2, 10])
        with _altered(posting, by) as words, connection.cursor() as cursor:
            Account.objects.filter(pk=posting.account_id).update(balance=F("balance") + by)
            broken = laws.broken(Rows(cursor))
            found[f"{words} and its balance"] = broken[0] if broken else ""
    return found


@contextmanager
def _altered(posting: Posting, by: int) -> Iterator[str]:
    """A posting says more than was posted, past the triggers that guard it, until it is taken back."""
    with transaction.atomic():
        lift(connection)
        # One that would say nothing is refused by the database itself.
        more = by if posting.quantity + by else by + 1
        Posting.objects.filter(pk=posting.pk).update(quantity=F("quantity") + more)
        yield f"posting {posting.pk}, {posting.quantity:+d} altered by {more:+d}"
        transaction.set_rollback(True)
