"""The demo's papers: travellers, labels and notes, written as files to look at."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from traveller.batches.models import Batch
from traveller.batches.reads.labels import Totes, tote_labels
from traveller.batches.reads.papers import Heading, print_traveller
from traveller.batches.reads.queries import Whereabouts
from traveller.batches.splitting.places import SEPARABLE
from traveller.dispatches.models import Consignment
from traveller.dispatches.papers import print_note
from traveller.ledger.models import Account
from traveller.management.demo.teller import Teller
from traveller.orders.models import BatchShare

MAKER = "Tamarack Lantern Bench"
CALL = "+1 330 555 0110"


def write_papers(t: Teller, where: list[Whereabouts], folder: Path, address: str, at_day: date) -> list[Path]:
    """A traveller for each open batch, labels for what lies somewhere, the notes of what is on the road."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.pdf"):
        old.unlink()
    written = []
    now = t.at((at_day - t.day_0).days, "05:00")
    for row in where:
        heading = Heading(MAKER, CALL, address, _orders_of(row.batch))
        printed = t.done(
            print_traveller, event_context=t.event_context(now), batch_id=row.batch.pk, heading=heading, size="Letter"
        )
        written.append(_write(folder / f"traveller-{row.batch.code}.pdf", printed.pdf))
        lying = Account.objects.filter(lot=row.batch.lot_id, condition__in=SEPARABLE, balance__gt=0)
        totes = [Totes(account, (account.balance,)) for account in lying.select_related("lot", "site").order_by("id")]
        labels = tote_labels(row.batch, totes, heading=heading, on=at_day, size="Letter")
        if isinstance(labels, bytes):
            written.append(_write(folder / f"labels-{row.batch.code}.pdf", labels))
    for consignment in Consignment.objects.order_by("-id")[:3]:
        note = t.done(
            print_note,
            event_context=t.event_context(now),
            consignment_id=consignment.pk,
            public_address=address,
            size="Letter",
        )
        written.append(_write(folder / f"note-{consignment.code}.pdf", note))
    return written


def _orders_of(batch: Batch) -> tuple[str, ...]:
    shares = BatchShare.objects.filter(batch=batch).values_list("line__order__number", flat=True)
    return tuple(sorted(set(shares)))


def _write(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path
