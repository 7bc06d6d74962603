"""Lots by what the shops call them, and back."""

from __future__ import annotations

from traveller.batches.models import Batch, OwnNumber


def numbers_of(lot_id: int | None, site_id: int | None = None) -> list[str]:
    """What shops (or one of them) call a lot, in the order told."""
    if lot_id is None:
        return []
    rows = OwnNumber.objects.filter(lot=lot_id)
    rows = rows if site_id is None else rows.filter(site=site_id)
    return list(dict.fromkeys(rows.order_by("id").values_list("number", flat=True)))


def by_number(text: str, site_id: int | None = None) -> Batch | None:
    """The latest batch that a shop (or this one) calls so."""
    # PostgreSQL keeps no NUL, and refuses to look for one.
    rows = OwnNumber.objects.filter(number__iexact=" ".join(text.replace("\0", "").split())[:60])
    rows = rows if site_id is None else rows.filter(site=site_id)
    lot = rows.order_by("-id").values_list("lot", flat=True).first()
    return Batch.objects.filter(lot=lot).first() if lot else None
