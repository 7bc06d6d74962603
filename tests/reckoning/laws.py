"""Laws that hold between rows whatever a page says: what the reckoning itself stands on."""

from __future__ import annotations

from collections import defaultdict

from tests.reckoning.rows import Rows

PHYSICAL = ("in_process", "rework", "stock", "packed", "on_the_road", "samples", "scrap")
BALANCES = "SELECT id, lot_id, site_id, condition, step, balance FROM ledger_account"


def broken(rows: Rows) -> list[str]:
    """Each break in words; empty where all is well."""
    return [*_entries(rows), *_balances(rows), *_below_zero(rows), *_cartons(rows)]


def _entries(rows: Rows) -> list[str]:
    """What one event takes from places of a lot it gives to others."""
    sums: dict[tuple[int, int], int] = defaultdict(int)
    for one in rows.postings:
        sums[one.event_id, one.lot_id] += one.quantity
    return [f"event {event} makes or loses {n} of lot {lot}" for (event, lot), n in sums.items() if n]


def _balances(rows: Rows) -> list[str]:
    """The balance that pages read is the sum of the postings."""
    sums: dict[int, int] = defaultdict(int)
    for one in rows.postings:
        sums[one.account_id] += one.quantity
    return [
        f"account {row.id}: the balance is {row.balance}, its postings make {sums[row.id]}"
        for row in rows.ask(BALANCES)
        if row.balance != sums[row.id]
    ]


def _below_zero(rows: Rows) -> list[str]:
    """Nobody has fewer pieces than none."""
    return [f"{n} lie at {place}" for place, n in rows.balance.items() if n < 0 and place.condition in PHYSICAL]


def _cartons(rows: Rows) -> list[str]:
    """What is in closed cartons was packed, lot by lot: that which has left and that which has not."""
    inside: dict[int, int] = defaultdict(int)
    for one in rows.in_cartons.values():
        if rows.cartons[one.carton_id].opened_event_id is None:
            inside[one.lot_id] += one.quantity
    for place, n in rows.balance.items():
        if place.condition in ("packed", "sold_to"):
            inside[place.lot] -= n
    return [f"lot {lot}: {n} more in cartons than were packed" for lot, n in inside.items() if n]
