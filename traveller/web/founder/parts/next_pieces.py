"""Where the next pieces of a component are: the batches that bring them, what they wait for, and at which shop."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from traveller.batches.models import StepState
from traveller.batches.reads.queries import Lie, Whereabouts, open_batches, whereabouts
from traveller.batches.usable import purposes_at_rest, stops
from traveller.ledger.models import Account, Condition
from traveller.orders.families import families_of, pieces_alive, still_to_make, went_on
from traveller.products.models import OperationKind
from traveller.web.founder.desk.frame import link_to
from traveller.web.founder.work.places import code_words, place_words
from traveller.web.templatetags.look import code as code_mark
from traveller.web.templatetags.look import whole

# Of one component more places than these are read on its batches' own pages.
TOLD_MOST = 3


@dataclass(frozen=True, slots=True)
class NextPieces:
    """So many pieces of a lot that are not at the bench yet; `ahead`: steps still to be done with them."""

    code: str
    quantity: int
    where: str
    held: bool
    ahead: int

    @property
    def words(self) -> str:
        """As in a sentence: "63, Printer · waits for 40, final bake (0KV-D90-E)"."""
        figures = {"n": whole(self.quantity), "where": self.where, "code": code_words(self.code)}
        if self.held:
            return _("%(n)s held, %(where)s (%(code)s)") % figures
        return _("%(n)s, %(where)s (%(code)s)") % figures

    @property
    def linked(self) -> SafeString:
        """As in a table: the lot is a link."""
        lot = format_html('<a href="{}">{}</a>', link_to("lot", self.code), code_mark(self.code))
        held = _("%(n)s held") if self.held else "%(n)s"
        return format_html("<span>{} · {} · {}</span>", held % {"n": whole(self.quantity)}, self.where, lot)


def next_pieces(part_ids: Iterable[int], bench_id: int | None, on: date) -> dict[int, list[NextPieces]]:
    """By part, the nearest first; as many queries for many parts as for one."""
    part_ids = list(part_ids)
    rows = open_batches().filter(part__in=part_ids).defer("part__picture")
    found: dict[int, list[NextPieces]] = defaultdict(list)
    to_make = _to_make(set(part_ids))
    for row in whereabouts(rows):
        for lie in row.lies:
            if not _is_there(lie, bench_id):
                ahead = sum(step.number >= lie.step for step in row.steps) if lie.step else 0
                found[row.batch.part_id].append(
                    NextPieces(row.batch.code, lie.quantity, place_words(row, lie), bool(row.holds), ahead)
                )
        if to_make.get(row.batch.pk):
            found[row.batch.part_id].append(_unborn(row, to_make[row.batch.pk]))
    for part_id, pieces in _of_no_batch(part_ids, bench_id, on):
        found[part_id].append(pieces)
    return {part_id: sorted(some, key=lambda row: (row.held, row.ahead)) for part_id, some in found.items()}


def told(rows: list[NextPieces]) -> SafeString | str:
    """The first few as a table's cell; a dash where nothing is coming."""
    if not rows:
        return "–"
    return format_html_join(SafeString("<br>"), "{}", ((row.linked,) for row in rows[:TOLD_MOST]))


def _is_there(lie: Lie, bench_id: int | None) -> bool:
    """Finished pieces at the own bench, or in a carton, are no next pieces."""
    return lie.condition == Condition.PACKED or (
        lie.condition == Condition.STOCK and lie.step == 0 and lie.site_id == bench_id
    )


def _of_no_batch(part_ids: list[int], bench_id: int | None, on: date) -> Iterator[tuple[int, NextPieces]]:
    """Bought or taken over stock that lies elsewhere, or is on the road."""
    rows = Account.objects.filter(
        lot__part__in=part_ids, lot__batch=None, balance__gt=0, condition__in=(Condition.STOCK, Condition.ON_THE_ROAD)
    ).exclude(condition=Condition.STOCK, site=bench_id)
    stopped = stops(rows, purposes_at_rest(part_ids), on)
    held = {lot_id for lot_id, stop in stopped.items() if stop.code == "held"}
    for row in rows.select_related("lot", "site").order_by("id"):
        road = row.condition == Condition.ON_THE_ROAD
        where = (_("on the road from %(site)s") if road else _("%(site)s · in stock")) % {"site": row.site.name}
        yield row.lot.part_id, NextPieces(row.lot.code, row.balance, where, row.lot_id in held, 0)


def _to_make(part_ids: set[int]) -> Mapping[int, int]:
    """By first batch, what it was released for and has not brought yet, while it is still being made."""
    families = families_of((), part_ids)
    lots = [lot_id for family in families for lot_id in family.lots]
    gone, alive = went_on(lots), pieces_alive(lots)
    return {
        family.root.pk: still_to_make(
            family, sum(alive.get(lot, 0) for lot in family.lots), sum(gone.get(lot, 0) for lot in family.lots)
        )
        for family in families
    }


def _unborn(row: Whereabouts, rest: int) -> NextPieces:
    making = (step for step in row.steps if step.operation.kind == OperationKind.MAKE and step.state != StepState.DONE)
    step = next(making, row.steps[0])
    figures = {"step": step.number, "verb": step.operation.verb, "site": step.site.name}
    where = _("still to be made in step %(step)s, %(verb)s, at %(site)s") % figures
    return NextPieces(row.batch.code, rest, where, False, len(row.steps))
