"""What stock is still kept for which order line, and the only writer of reservations."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from traveller.journal.models import Event
from traveller.ledger.models import Link
from traveller.orders.models import Need, Reservation


@dataclass(frozen=True, slots=True)
class KeptFor:
    """One reservation as it stands now; `used` is what of it was consumed or packed."""

    row_id: int
    line_id: int
    lot_id: int
    site_id: int
    quantity: int
    left: int

    @property
    def used(self) -> int:
        return self.quantity - self.left


def kept(*, lot_ids: Iterable[int] | None = None, line_ids: Iterable[int] | None = None) -> list[KeptFor]:
    """Open reservations with what is left of them; two queries however many there are."""
    asked = None if line_ids is None else set(line_ids)
    rows = Reservation.objects.filter(left__gt=0).order_by("id")
    if lot_ids is not None:
        rows = rows.filter(lot_id__in=list(lot_ids))
    elif asked is not None:
        # Whatever else is kept of the same lots: who has used them is shared out in order.
        rows = rows.filter(lot_id__in=Reservation.objects.filter(line_id__in=asked).values("lot_id"))
    found = list(rows)
    consumed = _consumed(found)
    return [
        KeptFor(row.pk, row.line_id, row.lot_id, row.site_id, row.quantity, left)
        for row in found
        if (left := max(0, min(row.left, row.quantity - row.packed - consumed[row.pk]))) > 0
        and (asked is None or row.line_id in asked)
    ]


def _consumed(rows: list[Reservation]) -> dict[int, int]:
    """What batches that serve a reservation's line have consumed of its lot since it was made."""
    used: dict[int, int] = defaultdict(int)
    if not rows:
        return used
    serves: dict[int, set[int]] = defaultdict(set)
    links: dict[int, tuple[int, int, int]] = {}
    # A split batch serves the lines of the batch that it was split off.
    for pk, lot, event, quantity, line, parents_line in Link.objects.filter(
        parent_id__in={row.lot_id for row in rows}
    ).values_list(
        "pk", "parent_id", "event_id", "quantity",
        "child__batch__shares__line_id", "child__batch__parent__shares__line_id",
    ).order_by("pk"):  # fmt: skip
        links[pk] = (lot, event, quantity)
        serves[pk] |= {line, parents_line} - {None}
    for pk, (lot, event, quantity) in links.items():
        for row in rows:
            if row.lot_id != lot or row.line_id not in serves[pk] or event <= row.event_id:
                continue
            part = min(quantity, row.quantity - row.packed - used[row.pk])
            part = max(part, -used[row.pk])
            used[row.pk] += part
            quantity -= part
    return used


def reserve(event: Event, *, line_id: int, lot_id: int, site_id: int, quantity: int) -> None:
    """Keep so much of a lot for a line, beside what is already kept of it there."""
    row, made = Reservation.objects.get_or_create(
        line_id=line_id,
        lot_id=lot_id,
        site_id=site_id,
        defaults={"quantity": quantity, "left": quantity, "event": event},
    )
    if not made:
        row.quantity += quantity
        row.left += quantity
        row.save(update_fields=["quantity", "left"])


def pack_reserved(line_id: int, lot_id: int, quantity: int) -> None:
    """The line packs some of a lot: its own reservations of that lot shrink by as much."""
    for row in Reservation.objects.filter(line_id=line_id, lot_id=lot_id, left__gt=0).order_by("id"):
        part = min(quantity, row.left)
        row.packed += part
        row.left -= part
        row.save(update_fields=["packed", "left"])
        quantity -= part


def unpack_reserved(line_id: int, lot_id: int, quantity: int) -> None:
    """A carton was opened again: what it had taken out of reservations is kept once more."""
    for row in Reservation.objects.filter(line_id=line_id, lot_id=lot_id, packed__gt=0).order_by("-id"):
        part = min(quantity, row.packed)
        row.packed -= part
        row.left += part
        row.save(update_fields=["packed", "left"])
        quantity -= part


def write_down() -> None:
    """Store what is left now, so that reservations long used up are not asked about again."""
    left = {row.row_id: row.left for row in kept()}
    for row in Reservation.objects.filter(left__gt=0):
        if row.left != left.get(row.pk, 0):
            row.left = left.get(row.pk, 0)
            row.save(update_fields=["left"])


def let_reserved_go(line_ids: Iterable[int]) -> None:
    """Nothing more is needed for these lines: what is still kept for them becomes free."""
    ids = list(line_ids)
    left = {row.row_id: row.left for row in kept(line_ids=ids)}
    for row in Reservation.objects.filter(line_id__in=ids, left__gt=0):
        # The quantity keeps what was used, so that used = quantity - left stays true.
        row.quantity -= left.get(row.pk, 0)
        row.left = 0
        row.save(update_fields=["quantity", "left"])
    Need.objects.filter(line_id__in=ids, left__gt=0).update(left=0)
