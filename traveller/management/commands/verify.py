"""Recompute every balance and state from journal and postings, and name each difference."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from importlib import import_module
from typing import Any

from django.core.management.base import BaseCommand
from django.db import InterfaceError, OperationalError

from traveller.journal.models import Event
from traveller.journal.verify import Difference
from traveller.ledger.models import Account, Posting
from traveller.management.ready import refuse_other

# Each room that keeps what could differ, and where it looks; one that is not there stops the command.
ROOMS = {
    "journal": "traveller.journal.verify",
    "ledger": "traveller.ledger.verify",
    "dispatches": "traveller.dispatches.verify",
    "batches": "traveller.batches.history.verify",
    "orders": "traveller.orders.verify",
    "shipping": "traveller.shipping.verify",
}


class Command(BaseCommand):
    help = "Recompute balances and states from journal and postings; exit 1 when something differs."

    def handle(self, *args: Any, **options: Any) -> None:
        refuse_other()
        events, postings, accounts = (model.objects.count() for model in (Event, Posting, Account))
        self.tell(f"{events} events, {postings} postings, {accounts} accounts")
        kinds: Counter[str] = Counter()
        for room in ROOMS:
            kinds += self.check_room(room)
        if not kinds:
            self.tell("Everything agrees.")
            return
        self.tell(f"{kinds.total()} differences ({', '.join(sorted(kinds))}).")
        sys.exit(1)

    def check_room(self, room: str) -> Counter[str]:
        """Each difference as it is found, then the room's line; how many of which field there were."""
        kinds: Counter[str] = Counter()
        for one in _differences(room):
            self.tell(f"{one.room}: {one.thing}: {one.field} is {one.stored}, should be {one.rebuilt}")
            kinds[one.field] += 1
        self.tell(f"  {room:<14}{f'{kinds.total()} differ' if kinds else 'agrees'}")
        return kinds

    def tell(self, line: str) -> None:
        """A line at once: a large journal takes minutes."""
        self.stdout.write(line)
        self.stdout.flush()


def _differences(room: str) -> Iterator[Difference]:
    """Whatever stops a room's check, the next one runs."""
    check = import_module(ROOMS[room])
    try:
        yield from check.differences()
    except (OperationalError, InterfaceError):
        raise  # the database is away: nothing more can be checked
    except Exception as error:
        words = f"stopped by {type(error).__name__}: {' '.join(str(error).split())}"
        yield Difference(room, "the rest of its check", "end", words, "reached")
