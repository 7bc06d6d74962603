"""A tote of an unknown lot is taken in by a site, and matched by the founder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from traveller.batches.actions.receive import take_unannounced
from traveller.dispatches.actions.unknown import Match, match, take_in_unknown
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Parked


@action
def arrived_unknown(
    *,
    event_context: EventContext,
    site_id: int,
    words: str,
    quantity: int,
    part_id: int | None = None,
    method: str = "hand",
    sample: int = 0,
    how: Mapping[str, Any] | None = None,
    note: str = "",
) -> Parked:
    """Goods are here, and no label says which lot they are. Held where the part is known; nothing else waits for it."""
    return take_in_unknown(
        event_context=event_context,
        site_id=site_id,
        words=words,
        quantity=quantity,
        part_id=part_id,
        method=method,
        sample=sample,
        how=how,
        note=note,
    )


@action
def match_unknown(
    *, event_context: EventContext, parked_id: int, lot_id: int | None = None, part_id: int | None = None, reason: str
) -> Match:
    """Say what it is. A lot that was known counts as arrived then, by that count; else it is a lot of its own."""
    found = match(event_context=event_context, parked_id=parked_id, lot_id=lot_id, part_id=part_id, reason=reason)
    if lot_id is not None and not found.repeated:
        arrival = found.parked.event
        reported = arrival.data["told"]
        take_unannounced(
            event_context=replace(event_context.derived("arrived"), at=arrival.happened_at),
            site_id=arrival.site_id or 0,
            lot_id=lot_id,
            quantity=int(reported["quantity"]),
            method=str(reported["method"]),
            sample=int(reported["sample"]),
        )
    return found
