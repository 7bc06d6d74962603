"""Holds: rows on lots. A lot is free when none is open; what is made from a held lot is held too."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal, NamedTuple

from django.db.models import QuerySet

from traveller.journal.models import Event
from traveller.journal.refusal import Refused
from traveller.ledger import genealogy
from traveller.ledger.models import Hold, Lot
from traveller.ledger.post import lock_lots
from traveller.rules.purposes import Purpose

# What goods are wanted for, and what may be done with them besides.
Doing = Purpose | Literal["receive", "count", "return", "scrap", "rework"]

# The one table: what may be done with pieces of a held lot. Work at it goes on: whether the next step may begin is
# what its checks say themselves (they may block sending, but not the step).
ALLOWED: dict[Doing, bool] = {
    "receive": True,
    "count": True,
    "return": True,
    "scrap": True,
    "rework": True,
    "start": True,
    "send": False,
    "consume": False,
    "pack": False,
    "ship": False,
}


def open_hold(event: Event, lot: Lot, *, cause: str, code: str, figures: dict[str, Any] | None = None) -> Hold:
    """Hold a lot and all that was made from it; the same cause twice is one hold."""
    below = _family(lot.pk)
    there = Hold.objects.filter(lot=lot, cause=cause, root=None, closed_at=None).first()
    if there:
        return there
    hold = Hold.objects.create(
        lot=lot,
        cause=cause,
        code=code,
        figures=figures or {},
        opened_event=event,
        opened_at=event.happened_at,
    )
    _pass_on(event, hold, below)
    return hold


def inherit(event: Event, child: Lot, parents: Iterable[int]) -> None:
    """Let a lot, and what was made from it meanwhile, be held by what holds its parents."""
    roots = {
        (hold.root or hold)
        for hold in Hold.objects.filter(lot_id__in=list(parents), closed_at=None).select_related("root")
    }
    if not roots:
        return
    below = {child.pk, *_family(child.pk)}
    for root in sorted(roots, key=lambda hold: hold.pk):
        _pass_on(event, root, below - {root.lot_id})


# These say that the lot was bad: what had been made of it meanwhile is not freed by it.
CONDEMNING = ("rework", "scrap", "regrade")


# What opened it did not occur.
UNDONE = "undone"


def close_hold(event: Event, hold: Hold, *, disposition: str, reason: str) -> None:
    """Close a hold and every hold inherited from it; lots with another open hold stay held.

    Where the lot was scrapped, regraded or sent to rework, inherited holds stay open, each to be decided by itself.
    """
    Hold.objects.filter(pk=hold.pk).update(disposition=disposition, reason=reason)
    chain = Hold.objects.filter(pk=hold.pk)
    if disposition not in CONDEMNING:
        chain = chain | Hold.objects.filter(root=hold)
    chain.filter(closed_at=None).update(closed_event=event, closed_at=event.happened_at)


def mark_hold(hold: Hold, *, disposition: str, reason: str) -> None:
    """Say what is to happen to a lot that stays held until it has: it is to go back to where it came from."""
    Hold.objects.filter(pk=hold.pk, closed_at=None).update(disposition=disposition, reason=reason)


def let_go(event: Event, lot_ids: Iterable[int]) -> None:
    """Close what these lots, and all made from them, inherited from lots that never went into them after all."""
    for lot_id in sorted(set(lot_ids)):
        below = {lot_id, *_family(lot_id)}
        for hold in Hold.objects.filter(lot_id__in=below, closed_at=None).exclude(root=None).select_related("root"):
            if hold.root and hold.lot_id not in genealogy.descendants(hold.root.lot_id):
                Hold.objects.filter(pk=hold.pk).update(
                    disposition=UNDONE, closed_event=event, closed_at=event.happened_at
                )


def open_on(lot_ids: Iterable[int]) -> list[Hold]:
    return list(
        Hold.objects.filter(lot_id__in=list(lot_ids), closed_at=None).select_related("root", "lot", "lot__part")
    )


class OpenHold(NamedTuple):
    """What holds a lot: the code and figures of the hold that it goes back to."""

    lot_id: int
    code: str
    figures: dict[str, Any]


def open_among(lots: QuerySet[Lot]) -> list[OpenHold]:
    """What holds any of these lots, the oldest first; one query."""
    rows = Hold.objects.filter(lot__in=lots.order_by().values("pk"), closed_at=None).order_by("id")
    own = ("lot_id", "code", "figures", "root__code", "root__figures")
    return [
        OpenHold(lot_id, root or code, root_figures if root is not None else figures)
        for lot_id, code, figures, root, root_figures in rows.values_list(*own)
    ]


def refuse_if_held(lot: Lot, purpose: Doing) -> None:
    """A request (not news) about a held lot: refused unless the table allows it."""
    if ALLOWED[purpose]:
        return
    holds = open_on([lot.pk])
    if holds:
        first = holds[0].root or holds[0]
        raise Refused(
            "held",
            lot=lot.code,
            part=lot.part.title,
            purpose=purpose,
            why_code=first.code,
            why={key: str(value) for key, value in first.figures.items()},
        )


def _family(lot_id: int) -> set[int]:
    """A lot's descendants, all locked: nothing is made of them until a hold on them is through."""
    known = {lot_id}
    while True:
        lock_lots(sorted(known))
        found = {lot_id, *genealogy.descendants(lot_id)}
        if found <= known:
            return known - {lot_id}
        known |= found


def _pass_on(event: Event, root: Hold, lot_ids: Iterable[int]) -> None:
    already = set(Hold.objects.filter(root=root, closed_at=None).values_list("lot_id", flat=True))
    Hold.objects.bulk_create(
        [
            Hold(
                lot_id=lot_id,
                cause=root.cause,
                code=root.code,
                figures=root.figures,
                root=root,
                opened_event=event,
                opened_at=event.happened_at,
            )
            for lot_id in sorted(set(lot_ids) - already)
        ]
    )
