"""The only writer of accounts and postings. Every move takes from one place and gives to another,
so that per event and lot the postings sum to zero by construction."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db import connection

from traveller.journal.models import Event
from traveller.journal.refusal import Refused
from traveller.journal.rows import run_sql
from traveller.ledger.models import PHYSICAL, Condition, Lot


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where pieces of a lot are, or what they became: the key of an account."""

    lot_id: int
    site_id: int
    condition: str
    step: int = 0

    def become(self, condition: str, step: int | None = None) -> Place:
        return replace(self, condition=condition, step=self.step if step is None else step)


@dataclass(frozen=True, slots=True)
class Move:
    """`quantity` of one lot from a place to a place, in the part's base unit; a negative one moves back."""

    source: Place
    target: Place
    quantity: int


# What waits for a step -> where a later report drew what was not there yet.
_DEBT: dict[str, str] = {
    Condition.IN_PROCESS: Condition.UNREPORTED,
    Condition.REWORK: Condition.UNREPORTED_REWORK,
}


class Balances:
    """What a few lots have in their accounts, read once under lock, and kept up to date as moves are planned."""

    def __init__(self, lot_ids: Iterable[int]) -> None:
        self._held: dict[Place, int] = defaultdict(int)
        ids = sorted(set(lot_ids))
        if not ids:
            return
        lock_lots(ids)
        marks = ", ".join(["%s"] * len(ids))
        there = run_sql(
            "SELECT lot_id, site_id, condition, step, balance FROM ledger_account "
            f"WHERE lot_id IN ({marks}) AND balance <> 0",
            ids,
        )
        for lot_id, site_id, condition, step, balance in there:
            self._held[Place(lot_id, site_id, condition, step)] = balance

    def at(self, place: Place) -> int:
        return self._held[place]

    def places(self) -> dict[Place, int]:
        return {place: balance for place, balance in self._held.items() if balance}

    def note(self, moves: Iterable[Move]) -> None:
        for move in moves:
            self._held[move.source] -= move.quantity
            self._held[move.target] += move.quantity

    def transfer(self, source: Place, target: Place, quantity: int, *, beyond: str | None = None) -> list[Move]:
        """Move `quantity` from a place to a place and note it.

        Takes what the source holds, and the rest out of the account `beyond` at the same place (news is never
        refused); without `beyond` posting refuses what is not there. Where the target waits for a step, it first
        pays back what a later report drew from `unreported` there.
        """
        if quantity < 0:
            return self.transfer(target, source, -quantity, beyond=beyond)
        there = quantity if beyond is None else max(0, min(quantity, self.at(source)))
        owed = 0
        debt = target.become(_DEBT.get(target.condition, target.condition))
        if target.condition in _DEBT:
            owed = max(0, min(quantity, -self.at(debt)))
        sources = [(source, there), (source.become(beyond or source.condition), quantity - there)]
        targets = [(debt, owed), (target, quantity - owed)]
        moves = list(_pair(sources, targets))
        for move in moves:
            self._held[move.source] -= move.quantity
            self._held[move.target] += move.quantity
        return moves


def _pair(sources: list[tuple[Place, int]], targets: list[tuple[Place, int]]) -> Iterator[Move]:
    """Moves that empty the sources into the targets, in order."""
    room = [quantity for _, quantity in targets]
    for source, quantity in sources:
        for number, (target, _) in enumerate(targets):
            part = min(quantity, room[number])
            if part:
                yield Move(source, target, part)
                quantity -= part
                room[number] -= part


def lock_lots(lot_ids: Sequence[int]) -> None:
    """Lock lots in id order, so that two writers never wait for each other. SQLite writes one at a time."""
    if lot_ids and connection.vendor == "postgresql":
        marks = ", ".join(["%s"] * len(lot_ids))
        run_sql(f"SELECT id FROM ledger_lot WHERE id IN ({marks}) ORDER BY id FOR UPDATE", lot_ids)


def post(event: Event, moves: Iterable[Move]) -> None:
    """Post an event's moves. Refuses with `short` when a physical account would fall below zero."""
    net: dict[Place, int] = defaultdict(int)
    for move in moves:
        if move.source.lot_id != move.target.lot_id:
            raise ValueError("a move stays within its lot; lots change by made_from and made_into")
        net[move.source] -= move.quantity
        net[move.target] += move.quantity
    lines = [(place, quantity) for place, quantity in sorted(net.items()) if quantity]
    if not lines:
        return
    rows: list[Any] = []
    for place, quantity in lines:
        account = _change(place, quantity, event.happened_at)
        rows += [event.pk, account, quantity]
    values = ", ".join(["(%s, %s, %s)"] * len(lines))
    run_sql(f"INSERT INTO ledger_posting (event_id, account_id, quantity) VALUES {values}", rows)


# Arithmetic in SQL: two writers on PostgreSQL can't overwrite each other's sum. An upsert with a negative
# quantity would break the check on the inserted row, so debits of physical accounts are plain updates.
_SINCE = (
    "since = CASE WHEN ledger_account.balance + %s = 0 THEN NULL WHEN ledger_account.balance = 0 THEN %s ELSE since END"
)
_UPDATE = (
    f"UPDATE ledger_account SET balance = balance + %s, {_SINCE} "
    "WHERE lot_id = %s AND site_id = %s AND condition = %s AND step = %s AND balance + %s >= 0 RETURNING id"
)
_SINCE_UPSERT = _SINCE.replace("ELSE since", "ELSE ledger_account.since")
_UPSERT = (
    "INSERT INTO ledger_account (lot_id, site_id, condition, step, balance, since) VALUES (%s, %s, %s, %s, %s, %s) "
    "ON CONFLICT (lot_id, site_id, condition, step) DO UPDATE "
    f"SET balance = ledger_account.balance + %s, {_SINCE_UPSERT} RETURNING id"
)


def _change(place: Place, quantity: int, at: datetime) -> int:
    key = [place.lot_id, place.site_id, place.condition, place.step]
    when = connection.ops.adapt_datetimefield_value(at)
    if quantity < 0 and place.condition in PHYSICAL:
        found = run_sql(_UPDATE, [quantity, quantity, when, *key, quantity])
    else:
        found = run_sql(_UPSERT, [*key, quantity, when, quantity, quantity, when])
    if not found:
        raise _short(place, -quantity)
    return int(found[0][0])


def _short(place: Place, wanted: int) -> Refused:
    lot = Lot.objects.select_related("part").get(pk=place.lot_id)
    held = lot.accounts.filter(site_id=place.site_id, condition=place.condition, step=place.step).first()
    return Refused(
        "short",
        lot=lot.code,
        part=lot.part.title,
        unit=lot.part.unit,
        condition=place.condition,
        there=held.balance if held else 0,
        wanted=wanted,
    )
