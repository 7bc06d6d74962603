"""What can be assembled or packed now at the own bench: tags, and the kit rule of one product."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Exists, F, OuterRef
from django.utils.translation import gettext as _

from traveller.batches.models import Batch, Step, StepState
from traveller.orders.kits import KitRow, free_here
from traveller.orders.models import OrderLine
from traveller.products.models import OperationKind
from traveller.web.founder.desk.frame import Desk, link_to
from traveller.web.founder.today.decisions import Decision
from traveller.web.founder.work.places import code_words
from traveller.web.picture_words import kit_words
from traveller.web.pictures.kit_rule import ORDER, Bar, KitRule
from traveller.web.templatetags.look import whole

EACH_MOST = 4


def can_be_assembled(rows: Sequence[KitRow]) -> list[Decision]:
    """Tags for products of which something can be put together now."""
    now = [row for row in rows if row.kits > 0][:EACH_MOST]
    batches = _next_batches([row.part.pk for row in now])
    tags = []
    for row in now:
        text = _("%(n)s of %(left)s %(part)s: every part is here and free.") % {
            "n": whole(row.kits), "left": whole(row.wanted), "part": row.part.title,
        }  # fmt: skip
        if row.kits < row.wanted and row.limiting:
            text += " " + _("%(part)s limits.") % {"part": row.limiting.title}
        link = ""
        if row.part.pk in batches:
            batch, orders = batches[row.part.pk]
            link = link_to("batch", batch)
            text += " " + _("Batch %(code)s, for order %(orders)s.") % {"code": code_words(batch), "orders": orders}
        tags.append(Decision("free", _("Can be assembled"), text, link, _("Open the batch") if link else ""))
    return tags


def _next_batches(part_ids: Sequence[int]) -> dict[int, tuple[str, str]]:
    """By product: the batch to assemble next, due first, and the orders that have a share in it."""
    open_ones = Batch.objects.filter(part__in=part_ids, closed_at=None, shares__line__order__closed_at=None)
    making = Step.objects.filter(batch=OuterRef("pk"), operation__kind=OperationKind.MAKE).exclude(state=StepState.DONE)
    rows = open_ones.filter(Exists(making)).order_by("due_on", "id", "shares__line__order__number")
    found: dict[int, tuple[str, list[str]]] = {}
    for part_id, code, order in rows.values_list("part_id", "code", "shares__line__order__number"):
        first, orders = found.setdefault(part_id, (code, []))
        if first == code and order not in orders:
            orders.append(order)
    return {part_id: (code, ", ".join(orders)) for part_id, (code, orders) in found.items()}


def can_be_packed(desk: Desk) -> list[Decision]:
    """Tags for order lines whose finished pieces lie here, free; due first, each piece told once."""
    if desk.bench is None:
        return []
    lines = list(
        OrderLine.objects.filter(order__closed_at=None, quantity__gt=F("packed"), released__gt=0)
        .select_related("order", "part")
        .defer("part__picture")
        .order_by("due_on", "id")
    )
    free = free_here({line.part_id for line in lines}, desk.bench.pk, on=desk.today, purpose="pack")
    tags = []
    for line in lines:
        pieces = min(free.get(line.part_id, 0), line.quantity - line.packed)
        if pieces <= 0:
            continue
        free[line.part_id] -= pieces
        text = _("%(n)s of %(left)s %(part)s for order %(order)s lie finished and free.") % {
            "n": whole(pieces), "left": whole(line.quantity - line.packed), "part": line.part.title,
            "order": line.order.number,
        }  # fmt: skip
        link = link_to("order", line.order.number)
        tags.append(Decision("free", _("Can be packed"), text, link, _("Open the order")))
    return tags[:EACH_MOST]


def kit_picture(row: KitRow) -> KitRule:
    """The kit rule of one product."""
    bars = tuple(
        Bar(
            component.part.title,
            tuple((kind, component.pieces.get(kind, 0)) for kind in ORDER),
            per_kit=max(1, round(component.per_thousand / 1000)),
            note=_("limits") if component.part == row.limiting else "",
        )
        for component in row.components
    )
    sentence = _("%(n)s of %(left)s %(part)s can be assembled now.") % {
        "n": whole(row.kits), "left": whole(row.wanted), "part": row.part.title,
    }  # fmt: skip
    if row.limiting and row.kits < row.wanted:
        sentence += " " + _("%(part)s limits.") % {"part": row.limiting.title}
    return KitRule(bars, row.kits, sentence, row.wanted, kit_words())
