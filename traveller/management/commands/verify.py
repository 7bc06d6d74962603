"""Recompute every balance and state from journal and postings, and name each difference."""

from __future__ import annotations

import sys
from collections import Counter
from importlib import import_module
from importlib.util import find_spec
from typing import Any

from django.core.management.base import BaseCommand

from traveller.journal.models import Event
from traveller.journal.verify import Difference
from traveller.ledger.models import Account, Posting
from traveller.management.ready import refuse_other

ROOMS = ("journal", "ledger", "consignments", "batches", "orders", "shipping")


class Command(BaseCommand):
    help = "Recompute balances and states from journal and postings; exit 1 when something differs."

    def handle(self, *args: Any, **options: Any) -> None:
        refuse_other()
        found = {room: _differences(room) for room in ROOMS}
        self.stdout.write(
            f"{Event.objects.count()} events, {Posting.objects.count()} postings, {Account.objects.count()} accounts"
        )
        for room, differences in found.items():
            word = "agrees" if not differences else f"{len(differences)} differ"
            self.stdout.write(f"  {room:<14}{word}")
        everything = [difference for differences in found.values() for difference in differences]
        if not everything:
            self.stdout.write("Everything agrees.")
            return
        for one in everything:
            self.stdout.write(f"{one.room}: {one.thing}: {one.field} is {one.stored}, should be {one.rebuilt}")
        kinds = Counter(one.field for one in everything)
        self.stdout.write(f"{len(everything)} differences ({', '.join(sorted(kinds))}).")
        sys.exit(1)


def _differences(room: str) -> list[Difference]:
    """A room without a verify module keeps nothing that could differ."""
    name = f"traveller.{room}.verify"
    if find_spec(name) is None:
        return []
    return list(import_module(name).differences())
