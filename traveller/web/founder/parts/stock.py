"""Stock: what lies where, by part, site and lot, and how much of it may be used."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from sites.models import Site
from traveller.batches.status import LotStatus, statuses_of
from traveller.dispatches.queries import destinations_of
from traveller.ledger import queries
from traveller.ledger.models import Account, Condition
from traveller.orders import stock as stocks
from traveller.orders.stock import Shelf
from traveller.products.queries import verbs_of
from traveller.web.founder.desk.frame import Desk, founder_page, link_to, show
from traveller.web.founder.desk.listing import AmountColumn, MarkColumn, amount, amount_or_none, on_page, page_rows
from traveller.web.status_words import said_in_words
from traveller.web.tables import CodeColumn, DayColumn, PaperTable, TableColumn

STATE_WORDS = {
    "stock": gettext_lazy("in stock"),
    "held": gettext_lazy("held"),
    "expired": gettext_lazy("expired"),
    "process": gettext_lazy("between two steps"),
    "road": gettext_lazy("on the road"),
}


class Filter(forms.Form):
    """All fields may be empty; what does not fit is passed over, since it only narrows."""

    find = forms.CharField(label=gettext_lazy("Part or lot"), required=False, max_length=60)
    site = forms.ModelChoiceField(
        Site.objects.none(), label=gettext_lazy("Site"), required=False, empty_label=gettext_lazy("all sites")
    )
    state = forms.ChoiceField(
        label=gettext_lazy("State"), required=False, choices=[("", gettext_lazy("all")), *STATE_WORDS.items()]
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = Site.objects.all()  # type: ignore[attr-defined]

    def narrowed(self) -> dict[str, Any]:
        """What the address asks for."""
        self.is_valid()
        site = self.cleaned_data.get("site")
        return {
            "find": self.cleaned_data.get("find") or "",
            "site_id": site.pk if site else None,
            "state": self.cleaned_data.get("state") or "",
        }


class PartTable(PaperTable):
    """One row a part: what of it may be used, and why the rest may not."""

    title = TableColumn(verbose_name=gettext_lazy("Part"), order_by=("name", "variant", "number"))
    free = AmountColumn(verbose_name=gettext_lazy("Free"), accessor="reported__free", orderable=False)
    reserved = AmountColumn(verbose_name=gettext_lazy("Reserved"), accessor="reported__reserved", orderable=False)
    held = AmountColumn(verbose_name=gettext_lazy("Held"), accessor="reported__held", orderable=False)
    expired = AmountColumn(verbose_name=gettext_lazy("Expired"), accessor="reported__expired", orderable=False)
    unproved = AmountColumn(verbose_name=gettext_lazy("Not proved"), accessor="reported__unproved", orderable=False)
    process = AmountColumn(verbose_name=gettext_lazy("In process"), accessor="reported__process", orderable=False)
    road = AmountColumn(verbose_name=gettext_lazy("On the road"), accessor="reported__road", orderable=False)
    packed = AmountColumn(verbose_name=gettext_lazy("Packed"), accessor="reported__packed", orderable=False)


class LotTable(PaperTable):
    """One row for each place in which some of a lot lies."""

    part = TableColumn(
        verbose_name=gettext_lazy("Part"),
        accessor="lot__part__title",
        order_by=("lot__part__name", "lot__part__variant", "site__name", "lot_id", "step"),
    )
    lot = CodeColumn(
        verbose_name=gettext_lazy("Lot"), accessor="lot__code", linkify=lambda record: link_to("lot", record.lot.code)
    )
    site = TableColumn(verbose_name=gettext_lazy("Site"), accessor="site__name", order_by=("site__name", "lot_id"))
    where = TableColumn(verbose_name=gettext_lazy("Where"), accessor="reported__where", orderable=False)
    quantity = AmountColumn(verbose_name=gettext_lazy("Quantity"), accessor="reported__quantity", order_by="balance")
    free = AmountColumn(verbose_name=gettext_lazy("Free"), accessor="reported__free", orderable=False)
    reserved = AmountColumn(verbose_name=gettext_lazy("Reserved"), accessor="reported__reserved", orderable=False)
    state = MarkColumn(verbose_name=gettext_lazy("State"), accessor="reported__state", orderable=False)
    expires = DayColumn(verbose_name=gettext_lazy("Use by"), accessor="lot__expires_on")


@dataclass(frozen=True, slots=True)
class PartTold:
    free: str | None
    reserved: str | None
    held: str | None
    expired: str | None
    unproved: str | None
    process: str | None
    road: str | None
    packed: str | None


@dataclass(frozen=True, slots=True)
class LotTold:
    where: str
    quantity: str
    free: str | None
    reserved: str | None
    state: tuple[str, str, str] | None


@founder_page
@require_safe
def stock(request: HttpRequest, desk: Desk) -> HttpResponse:
    form = Filter(request.GET)
    accounts = queries.lying(**form.narrowed(), on=desk.today)
    parts = on_page(request, PartTable(queries.parts_lying(accounts), prefix="p-", default=""))
    lots = on_page(request, LotTable(accounts, order_by="part", default=""))
    on_parts, on_lots = page_rows(parts), page_rows(lots)
    wanted = {part.pk for part in on_parts} | {account.lot.part_id for account in on_lots}
    shelves = stocks.look(desk.today, part_ids=wanted).shelves
    _tell_parts(on_parts, shelves)
    _tell_lots(on_lots, shelves, desk.today)
    reported = queries.lying_in_all(desk.today)
    narrowed = any(request.GET.get(name) for name in ("find", "site", "state"))
    context = {"section": "stock", "form": form, "parts": parts, "lots": lots, "told": reported, "narrowed": narrowed}
    return show(request, desk, "parts/stock.html", {**context, "sentence": sentence(reported)})


def sentence(reported: queries.Lying) -> str:
    """What lies about, and how much of it may not be used."""
    if not reported.lots:
        return _("Nothing lies anywhere yet.")
    lots = ngettext("%(n)s lot", "%(n)s lots", reported.lots) % {"n": f"{reported.lots:,}"}
    sites = ngettext("%(n)s site", "%(n)s sites", reported.sites) % {"n": reported.sites}
    parts = ngettext("%(n)s part", "%(n)s parts", reported.parts) % {"n": reported.parts}
    first = _("%(lots)s of %(parts)s at %(sites)s.") % {"lots": lots, "parts": parts, "sites": sites}
    if not reported.held and not reported.expired:
        return f"{first} {_('Nothing is held and nothing has expired.')}"
    held = ngettext("%(n)s lot is held", "%(n)s lots are held", reported.held) % {"n": reported.held}
    expired = ngettext("%(n)s has expired", "%(n)s have expired", reported.expired) % {"n": reported.expired}
    why = [words for n, words in ((reported.held, held), (reported.expired, expired)) if n]
    return f"{first} {_(', ').join(why)}."


def _tell_parts(parts: list[Any], shelves: tuple[Shelf, ...]) -> None:
    under_way = queries.under_way([part.pk for part in parts])
    for part in parts:
        own = [shelf for shelf in shelves if shelf.part_id == part.pk and not shelf.coming]
        off = under_way.get(part.pk, queries.OffTheShelf())
        part.reported = PartTold(
            *(
                amount_or_none(quantity, part.unit)
                for quantity in (
                    sum(shelf.free for shelf in own),
                    sum(shelf.reserved + shelf.promised for shelf in own),
                    sum(shelf.held for shelf in own),
                    sum(shelf.expired for shelf in own),
                    sum(shelf.unproved for shelf in own),
                    off.process,
                    off.road,
                    off.packed,
                )
            )
        )


def _tell_lots(accounts: list[Account], shelves: tuple[Shelf, ...], on: date) -> None:
    by_place = {(shelf.lot_id, shelf.site_id): shelf for shelf in shelves if not shelf.coming}
    lot_ids = {account.lot_id for account in accounts}
    statuses = statuses_of(accounts, on)
    to = destinations_of(lot_ids)
    verbs = verbs_of({batch.routing_id for account in accounts if (batch := _batch(account))})
    for account in accounts:
        finished = account.condition == Condition.STOCK and account.step == 0
        shelf = by_place.get((account.lot_id, account.site_id)) if finished else None
        unit = account.lot.part.unit
        batch = _batch(account)
        verb = verbs.get((batch.routing_id, account.step), "") if batch else ""
        there = to.get((account.lot_id, account.site_id, account.step), "")
        reported = LotTold(
            where=where_words(account, verb, there),
            quantity=amount(account.balance, unit),
            free=amount_or_none(shelf.free, unit) if shelf else None,
            reserved=amount_or_none(shelf.reserved + shelf.promised, unit) if shelf else None,
            state=_state(statuses.get(account.pk)),
        )
        account.reported = reported  # type: ignore[attr-defined]


def _batch(account: Account) -> Any:
    return getattr(account.lot, "batch", None)


def where_words(account: Account, verb: str, destination: str) -> str:
    """What these pieces are doing there."""
    if account.condition == Condition.ON_THE_ROAD:
        return _("on the road to %(site)s") % {"site": destination} if destination else _("on the road")
    if account.condition == Condition.IN_PROCESS:
        return _("waits for: %(verb)s") % {"verb": verb}
    if account.condition == Condition.REWORK:
        return _("rework: %(verb)s") % {"verb": verb}
    if account.condition == Condition.PACKED:
        return _("packed")
    return _("done: %(verb)s; to be sent on") % {"verb": verb} if account.step else _("in stock")


def _state(status: LotStatus | None) -> tuple[str, str, str] | None:
    """The mark, the word, and why."""
    if status is None:
        return None
    said = said_in_words(status)
    return said["mark"], said["word"], said["why"]
