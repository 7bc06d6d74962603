"""Every hold by age: what is held, where it lies, since when and why; each leads to its decision."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from traveller.batches.reads.queries import LYING
from traveller.ledger.models import Account, Hold
from traveller.web.founder.desk.frame import Desk, founder_page, link_to, show
from traveller.web.founder.desk.listing import AmountColumn, amount, on_page, page_rows
from traveller.web.founder.work.dispositions import disposition_word
from traveller.web.tables import CodeColumn, PaperTable, TableColumn
from traveller.web.templatetags.look import lapse_words, whole
from traveller.web.words import say


@dataclass
class HoldRow:
    """A root hold as the table shows it; words are filled in for the rows in sight."""

    hold: Hold
    code: str = ""
    what: str = ""
    where: str = ""
    pieces: str = ""
    age: str = ""
    why: str = ""
    more: str = ""
    next: SafeString | str = ""


class HoldTable(PaperTable):
    """The oldest first."""

    code = CodeColumn(verbose_name=lazy("Lot"), linkify=lambda record: link_to("lot", record.code))
    what = TableColumn(verbose_name=lazy("What"))
    where = TableColumn(verbose_name=lazy("Where"))
    pieces = AmountColumn(verbose_name=lazy("Quantity"))
    age = AmountColumn(verbose_name=lazy("Held for"))
    why = TableColumn(verbose_name=lazy("Why"))
    more = TableColumn(verbose_name=lazy("Held with it"))
    next = TableColumn(verbose_name=lazy("Then"))

    def __init__(self, rows: Sequence[HoldRow], **kwargs: Any) -> None:
        super().__init__(rows, orderable=False, empty_text=_("Nothing is held."), **kwargs)


@require_safe
@founder_page
def holds(request: HttpRequest, desk: Desk) -> HttpResponse:
    """All that nobody has decided, then all that waits to be returned; with ?state=decided what was."""
    decided = request.GET.get("state") == "decided"
    rows = Hold.objects.filter(root=None).select_related("lot__part").defer("lot__part__picture")
    rows = rows.filter(closed_at__isnull=not decided).annotate(
        below=Count("inherited", filter=Q(inherited__closed_at=None) | Q(closed_at__isnull=False), distinct=True)
    )
    rows = rows.order_by("-closed_at", "-id") if decided else rows.order_by("disposition", "opened_at", "id")
    table = on_page(request, HoldTable([HoldRow(row, row.lot.code) for row in rows]))
    _fill(page_rows(table), desk)
    context = {
        "section": "home",
        "title": _("Holds"),
        "sentence": _sentence(desk, decided=decided),
        "table": table,
        "decided": decided,
    }
    return show(request, desk, "work/holds.html", context)


def _sentence(desk: Desk, *, decided: bool) -> str:
    waiting = Hold.objects.filter(root=None, closed_at=None, disposition="")
    n, oldest = waiting.count(), waiting.order_by("opened_at").first()
    if decided:
        return _("Holds that were decided, the latest first.")
    if oldest is None:
        return _("No hold waits for a decision.")
    words = ngettext("%(n)s hold waits for a decision", "%(n)s holds wait for a decision", n) % {"n": whole(n)}
    return _("%(words)s; the oldest has waited %(age)s.") % {
        "words": words,
        "age": lapse_words(desk.now - oldest.opened_at),
    }


def _fill(rows: Sequence[HoldRow], desk: Desk) -> None:
    """Words for the rows in sight; one query for where all of them lie."""
    sums: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    lots = [row.hold.lot_id for row in rows]
    for lot, site, balance in Account.objects.filter(lot__in=lots, condition__in=LYING, balance__gt=0).values_list(
        "lot_id", "site__name", "balance"
    ):
        sums[lot][site] += balance
    for row in rows:
        hold, places = row.hold, sums[row.hold.lot_id]
        unit = hold.lot.part.unit
        row.what = hold.lot.part.title
        row.where = ", ".join(
            _("%(n)s at %(site)s") % {"n": amount(n, unit), "site": site} if len(places) > 1 else site
            for site, n in sorted(places.items())
        )
        row.pieces = amount(sum(places.values()), unit)
        row.age = lapse_words((hold.closed_at or desk.now) - hold.opened_at)
        row.why = say(hold.code, hold.figures)
        below = getattr(hold, "below", 0)
        if below:
            row.more = ngettext("%(n)s lot made of it", "%(n)s lots made of it", below) % {"n": whole(below)}
        row.next = _next(hold)


def _next(hold: Hold) -> SafeString | str:
    link = link_to("hold", hold.pk)
    if hold.disposition:
        words = disposition_word(hold.disposition)
        said = f"{words}: {hold.reason}" if hold.reason else words
        return format_html('<a href="{}">{}</a>', link, said)
    return format_html('<a href="{}">{}</a>', link, _("Decide"))
