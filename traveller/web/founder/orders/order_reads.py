"""Orders in words: what was ordered, when it is due, whether that day is past; and which orders a batch serves."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from traveller.batches.models import Batch
from traveller.ledger.models import Hold
from traveller.orders import queries
from traveller.orders.models import BatchShare
from traveller.orders.queries import LineRow, OrderOverview
from traveller.web.picture_words import day_words
from traveller.web.templatetags.look import whole

TOLD_MOST = 60


def open_orders() -> list[OrderOverview]:
    """Open orders, the one whose next line is due first at the head."""
    return sorted(queries.orders(), key=lambda row: (row.due_on or date.max, row.order.number))


def owed(row: OrderOverview) -> list[LineRow]:
    return [line for line in row.lines if line.to_follow]


def is_late(row: OrderOverview, today: date) -> bool:
    return row.due_on is not None and row.due_on < today


def title_of(row: OrderOverview) -> str:
    """What was ordered, in words: "1,000 Lantern, amber and 200 Lantern, red"."""
    lines = owed(row) or list(row.lines)
    names = [f"{whole(line.wanted)} {line.line.part.title}" for line in lines[:2]]
    if len(lines) > 2:
        more = len(lines) - 2
        names.append(ngettext("%(n)s more line", "%(n)s more lines", more) % {"n": more})
    return _(" and ").join(names)


def telling_batches(order_id: int) -> list[Batch]:
    """The batches of an order that its drawing and its sentence speak of: held ones first, then the largest.

    More lines than a few can't be told apart, so that an order of hundreds of batches costs no more than this.
    """
    held = Exists(Hold.objects.filter(lot=OuterRef("lot"), closed_at=None))
    rows = queries.batches_of(order_id).defer("part__picture").annotate(is_held=held)
    return sorted(rows.order_by("-is_held", "-start", "id")[:TOLD_MOST], key=lambda batch: batch.pk)


def orders_of(batches: Sequence[Batch]) -> dict[int, list[BatchShare]]:
    """For each batch the shares that orders have in it, or in the batch that it was split off; one query."""
    roots = {batch.pk for batch in batches} | {batch.parent_id for batch in batches if batch.parent_id}
    shares: dict[int, list[BatchShare]] = defaultdict(list)
    for share in BatchShare.objects.filter(batch__in=roots).select_related("line__order").order_by("line"):
        shares[share.batch_id].append(share)
    return {batch.pk: shares[batch.pk] or shares[batch.parent_id or 0] for batch in batches}


def day(value: date | None, today: date) -> str:
    """A day in words, the month as a word: Fri 27 Nov, with its year when that is not today's; a dash for none."""
    if value is None:
        return "–"
    return day_words(value) if value.year == today.year else f"{day_words(value)} {value.year}"
