"""Where every piece of a lot is or went: places, cartons with customer, other lots; each quantity once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from traveller.dispatches.queries import destinations_of
from traveller.ledger.models import Account, Condition, Link, Lot
from traveller.shipping.models import CartonLot
from traveller.shipping.queries import cartons_with
from traveller.web.founder.desk.listing import amount
from traveller.web.founder.work.places import code_words
from traveller.web.templatetags.look import moment_words
from traveller.web.words import CONDITIONS

# From where a lot has its pieces: what these owe is what all other accounts hold.
_SOURCES = (Condition.BOUGHT_FROM, Condition.MADE_FROM)
# Named one by one below, so that nothing is told twice.
_NAMED = (Condition.PACKED, Condition.SOLD_TO, Condition.MADE_INTO)


@dataclass(frozen=True, slots=True)
class WentRow:
    """So much of the lot, in its base unit: where it is, or what became of it; `links` name what can be looked up."""

    quantity: int
    words: str
    amount: str
    links: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Went:
    """All rows, and what they sum to: what the lot ever had."""

    rows: tuple[WentRow, ...]
    total: int
    total_words: str


def where_it_went(lot: Lot, accounts: Sequence[Account]) -> Went:
    """Every piece once; `accounts`: those of the lot that are not empty, with their sites. Four queries."""
    unit = lot.part.unit
    total = -sum(row.balance for row in accounts if row.condition in _SOURCES)
    rows = [
        WentRow(quantity, words, amount(quantity, unit), links)
        for quantity, words, links in _rows(lot, accounts)
        if quantity
    ]
    return Went(tuple(rows), total, amount(total, unit))


_Row = tuple[int, str, tuple[tuple[str, str], ...]]


def _rows(lot: Lot, accounts: Sequence[Account]) -> Iterator[_Row]:
    held: dict[str, int] = defaultdict(int)
    for row in accounts:
        held[row.condition] += row.balance
    to = destinations_of([lot.pk]) if held[Condition.ON_THE_ROAD] else {}
    for row in accounts:
        if row.condition not in (*_SOURCES, *_NAMED):
            yield row.balance, _place(row, to.get((lot.pk, row.site_id, row.step), "")), ()
    packed, sold = 0, 0
    for inside in cartons_with([lot.pk]) if held[Condition.PACKED] or held[Condition.SOLD_TO] else []:
        shipped = inside.carton.shipment is not None
        packed, sold = packed + (0 if shipped else inside.quantity), sold + (inside.quantity if shipped else 0)
        yield _carton(inside)
    yield held[Condition.PACKED] - packed, _("packed, in no carton on record"), ()
    yield held[Condition.SOLD_TO] - sold, _("shipped, in no carton on record"), ()
    yield from _made_into(lot, held[Condition.MADE_INTO])


def _place(row: Account, to: str) -> str:
    figures = {"how": CONDITIONS[row.condition], "site": row.site.name, "step": row.step, "to": to}
    if row.condition == Condition.ON_THE_ROAD:
        return (_("on the road from %(site)s to %(to)s") if to else _("on the road from %(site)s")) % figures
    if row.condition == Condition.STOCK and not row.step:
        return _("%(how)s, %(site)s") % figures
    return (_("%(how)s, %(site)s, step %(step)s") if row.step else _("%(how)s, %(site)s")) % figures


def _carton(inside: CartonLot) -> _Row:
    carton, order = inside.carton, inside.carton.line.order
    figures = {"carton": code_words(carton.code), "customer": order.customer, "order": order.number}
    links = ((_("order %(order)s") % figures, reverse("order", args=[order.number])),)
    if carton.shipment is None:
        figures["at"] = moment_words(carton.packed_at)
        words = _("in carton %(carton)s for %(customer)s, packed %(at)s, not shipped yet") % figures
    else:
        figures |= {"at": moment_words(carton.shipment.shipped_at), "shipment": code_words(carton.shipment.code)}
        words = _("shipped to %(customer)s in carton %(carton)s, shipment %(shipment)s, %(at)s") % figures
    return inside.quantity, words, links


def _made_into(lot: Lot, used: int) -> Iterator[_Row]:
    """Lot by lot as it was scanned; what was used without one being named stands by itself."""
    sums: dict[int, int] = defaultdict(int)
    for child_id, quantity in Link.objects.filter(parent=lot).values_list("child_id", "quantity"):
        sums[child_id] += quantity
    lots = Lot.objects.filter(pk__in=sums).select_related("part").defer("part__picture").in_bulk()
    for child_id, quantity in sorted(sums.items()):
        child = lots[child_id]
        code = code_words(child.code)
        words = _("made into %(part)s") if child.part_id != lot.part_id else _("now lot %(code)s, %(part)s")
        yield quantity, words % {"code": code, "part": child.part.title}, ((code, reverse("lot", args=[child.code])),)
    yield used - sum(sums.values()), _("made into other parts, lot not named"), ()
