"""Tote labels for what lies somewhere: each says what these pieces are, what comes next, and where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from traveller.batches.models import Batch
from traveller.batches.reads.own_numbers import numbers_of
from traveller.batches.reads.papers import Heading
from traveller.batches.status import statuses_of
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account
from traveller.paper.canvas import PaperSize
from traveller.paper.marks import status_on_paper
from traveller.paper.tote_label import ToteLabel, draw_tote_labels
from traveller.paper.words import UNITS
from traveller.rules.codes import TravellerCode


@dataclass(frozen=True, slots=True)
class Totes:
    """Pieces that lie at one place, shared out over totes: so many in each."""

    account: Account
    quantities: tuple[int, ...]


def tote_labels(
    batch: Batch,
    totes: Sequence[Totes],
    *,
    heading: Heading,
    on: date,
    size: PaperSize = "A4",
    how_counted: str = "",
    blind: bool = False,
) -> bytes | Refusal:
    """One label a tote as PDF, n of m; a copy of facts, so that printing one tells nothing.

    `blind`: the receiver is to count. Refused where more is asked for than lies at a place, or nothing at all.
    """
    if refusal := _beyond(batch, totes):
        return refusal
    statuses = statuses_of([each.account for each in totes], on)
    lot = batch.lot
    labelled = [(statuses[each.account.pk], quantity) for each in totes for quantity in each.quantities]
    contents = [
        ToteLabel(
            code=TravellerCode(batch.code),
            public_address=heading.public_address,
            maker=heading.maker,
            part=batch.part.name,
            variant=batch.part.variant,
            swatch_hex=batch.part.swatch,
            picture=bytes(batch.part.picture) if batch.part.picture else None,
            lot=lot_words(batch),
            quantity=None if blind else quantity,
            unit=UNITS[batch.part.unit],
            how_counted=how_counted,
            tote=number,
            totes=len(labelled),
            status=status_on_paper(status.kind, status.purpose),
            next_operation=status.verb,
            next_site=status.site,
            labelled_on=on,
            expires_on=lot.expires_on if lot else None,
            print_number=max(1, batch.print_serial),
        )
        for number, (status, quantity) in enumerate(labelled, 1)
    ]
    return draw_tote_labels(contents, size=size)


def _beyond(batch: Batch, totes: Sequence[Totes]) -> Refusal | None:
    """A label for pieces that are not there would be believed."""
    if not any(each.quantities for each in totes):
        return Refusal("nothing_to_label", {"batch": batch.code})
    for each in totes:
        wanted, there = sum(each.quantities), each.account.balance
        if wanted > there:
            site, unit = each.account.site.name, batch.part.unit
            return Refusal("more_labelled", {"wanted": wanted, "there": there, "site": site, "unit": unit})
    return None


def lot_words(batch: Batch) -> str:
    """The lot as its label says it, with what shops call it in their own books."""
    called = numbers_of(batch.lot_id)
    return f"{batch.code} ({', '.join(called)})" if called else batch.code
