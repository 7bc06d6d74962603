"""The kit's page as it stands: what goes in, n of m; what is short here; what was just said yes to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _

from traveller.journal.refusal import Refusal
from traveller.ledger.models import Lot
from traveller.orders.models import OrderLine
from traveller.products.models import Part
from traveller.shipping.kit import judge, kit_of, packable
from traveller.shipping.queries import PackShelf, lines_to_pack, shelves
from traveller.web.packer import progress as kits
from traveller.web.packer.bench import page, site_of, today_at
from traveller.web.packer.progress import Progress
from traveller.web.parts.figures import named, read_count
from traveller.web.status_words import stop_in_a_word
from traveller.web.words import say

PROPOSALS_MAX = 3


@dataclass(frozen=True, slots=True)
class Scanned:
    """A lot in this kit: how many of it go in, and why it must come out again, if so."""

    shelf: PackShelf
    take: int
    exact: str
    stop: str

    @property
    def field(self) -> str:
        return f"take:{self.shelf.lot_id}"


@dataclass(frozen=True, slots=True)
class _Row:
    """A part of the kit: got of needed; where the rest may come from."""

    part: Part
    needed: int
    got: int
    scanned: tuple[Scanned, ...]
    take_from: tuple[PackShelf, ...]
    here: int
    stopped: tuple[PackShelf, ...]

    @property
    def done(self) -> bool:
        return self.got == self.needed

    @property
    def short(self) -> int:
        """What this bench lacks for the carton, known before starting."""
        return max(0, self.needed - self.here)


def wrong_figures(progress: Progress) -> dict[str, str]:
    """What was typed and cannot be a quantity, by the field's name, in words."""
    wrong: dict[str, str] = {}
    quantity = read_count(progress.quantity)
    if quantity == 0:
        wrong["quantity"] = _("A carton holds at least one.")
    elif isinstance(quantity, str):
        wrong["quantity"] = quantity
    for lot_id, text in progress.exact.items():
        exact = read_count(text)
        if isinstance(exact, str):
            wrong[f"take:{lot_id}"] = exact
    named(wrong)
    return wrong


def shelves_here(request: HttpRequest, row: OrderLine, quantity: int) -> list[PackShelf]:
    site = site_of(request)
    return shelves([part.part.pk for part in kit_of(row, quantity)], site, on=today_at(site))


def takes_of(row: OrderLine, progress: Progress, quantity: int, here: list[PackShelf]) -> dict[int, int]:
    by_lot = {shelf.lot_id: shelf for shelf in here}
    scanned = [by_lot[pk] for pk in progress.lots if pk in by_lot]
    exact = {pk: found for pk, text in progress.exact.items() if isinstance(found := read_count(text), int)}
    return kits.share_scanned(kit_of(row, quantity), scanned, exact)


def show(
    request: HttpRequest, row: OrderLine, progress: Progress, *, refusal: Refusal | None = None, status: int = 200
) -> HttpResponse:
    """The kit as it stands: what goes in, n of m; what is short here; what comes next."""
    left = max(0, row.quantity - row.packed)
    if not progress.quantity and request.method != "POST":
        progress.quantity = str(_proposed(request, row, left))
    wrong = wrong_figures(progress)
    typed = read_count(progress.quantity)
    quantity = typed if isinstance(typed, int) else 0
    here = shelves_here(request, row, quantity)
    takes = takes_of(row, progress, quantity, here)
    rows = [_row(row, part.part, part.quantity, progress, takes, here) for part in kit_of(row, quantity)]
    stops = [scanned for found in rows for scanned in found.scanned if scanned.stop]
    context: dict[str, Any] = {
        "line": row,
        "left": left,
        "quantity": quantity,
        "progress": progress,
        "rows": rows,
        "stops": stops,
        "complete": quantity > 0 and not stops and not wrong and all(found.done for found in rows),
        "wrong": wrong,
        "yes": _yes(request, row, rows),
        "closed": row.order.closed_at is not None,
    }
    return page(request, "kit.html", context, refusal=refusal, status=status)


def _proposed(request: HttpRequest, row: OrderLine, left: int) -> int:
    """As many as can be packed now; where nothing can, all that is left, so that the page shows what is short."""
    site = site_of(request)
    found = lines_to_pack(site, on=today_at(site))
    return next((ready.now for ready in found if ready.line.pk == row.pk), 0) or left


def _row(
    line: OrderLine, part: Part, needed: int, progress: Progress, takes: dict[int, int], here: list[PackShelf]
) -> _Row:
    own = {shelf.lot_id: shelf for shelf in here if shelf.part_id == part.pk}
    scanned = tuple(
        Scanned(own[pk], takes.get(pk, 0), progress.exact.get(pk, ""), _in_a_word(own[pk].why))
        for pk in progress.lots
        if pk in own
    )
    sound = [shelf for shelf in own.values() if not shelf.why]
    got = sum(item.take for item in scanned)
    rest = [shelf for shelf in sound if shelf.lot_id not in progress.lots]
    return _Row(
        part=part,
        needed=needed,
        got=got,
        scanned=scanned,
        take_from=tuple(rest[:PROPOSALS_MAX]) if got < needed else (),
        here=sum(shelf.balance for shelf in sound),
        stopped=tuple(shelf for shelf in own.values() if shelf.why),
    )


def _in_a_word(why: str) -> str:
    """For the checklist; the stop itself says why in figures."""
    return stop_in_a_word(why)[1] if why else ""


def _yes(request: HttpRequest, line: OrderLine, rows: list[_Row]) -> dict[str, Any] | None:
    """The big yes for the lot that was just scanned, with what the packer should know of it."""
    code = request.GET.get("yes", "")
    shelf = next((item.shelf for row in rows for item in row.scanned if item.shelf.code == code), None)
    if shelf is None:
        return None
    site = site_of(request)
    lot = Lot.objects.select_related("part").get(pk=shelf.lot_id)
    look = judge(line, lot, site, stop=packable([lot.pk], site, on=today_at(site))[lot.pk])
    warnings = [say(warning.code, warning.figures) for warning in look.warnings]
    return {"shelf": shelf, "words": say(look.code, look.figures), "warnings": warnings} if look.ok else None
