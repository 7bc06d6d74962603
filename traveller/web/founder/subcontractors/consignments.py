"""Consignments: what is on the road, for too long perhaps, and where two counts differ."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.utils.formats import date_format as date_words
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from sites.models import Lane, Site
from traveller.dispatches import queries
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.journal.models import Parked
from traveller.web.founder.desk.frame import Desk, founder_page, link_to, show
from traveller.web.founder.desk.listing import MarkColumn, amount, on_page, page_rows
from traveller.web.founder.work.arrivals import ARRIVAL_KINDS
from traveller.web.founder.work.usual import Usual, every_site
from traveller.web.tables import CodeColumn, MomentColumn, PaperTable, TableColumn

TAGS_MOST = 6
_DEFAULT_TRANSIT_DAYS = 1
STATE_WORDS = {
    "road": gettext_lazy("on the road"),
    "differs": gettext_lazy("counts differ"),
    "counted": gettext_lazy("counted"),
}


class Filter(forms.Form):
    """All fields may be empty; what does not fit is passed over, since it only narrows."""

    find = forms.CharField(label=gettext_lazy("Part or code"), required=False, max_length=60)
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
            "find": (self.cleaned_data.get("find") or "").strip(),
            "site_id": site.pk if site else None,
            "state": self.cleaned_data.get("state") or "",
        }


class ConsignmentTable(PaperTable):
    """One row a consignment, the latest at the top."""

    code = CodeColumn(
        verbose_name=gettext_lazy("Consignment"), linkify=lambda record: link_to("consignment", record.code)
    )
    origin = TableColumn(verbose_name=gettext_lazy("From"), accessor="origin__name")
    destination = TableColumn(verbose_name=gettext_lazy("To"), accessor="destination__name")
    what = TableColumn(verbose_name=gettext_lazy("What"), orderable=False)
    sent_at = MomentColumn(verbose_name=gettext_lazy("Left"))
    received_at = MomentColumn(verbose_name=gettext_lazy("Counted"))
    state = MarkColumn(verbose_name=gettext_lazy("State"), orderable=False)


@founder_page
@require_safe
def consignments(request: HttpRequest, desk: Desk) -> HttpResponse:
    form = Filter(request.GET)
    table = on_page(request, ConsignmentTable(queries.consignment_list(**form.narrowed()), order_by="-sent_at"))
    for row in page_rows(table):
        row.what = what_words(row)
        row.state = _state_of(row)
        if is_struck(row):
            row.received_at = None
    differing = list(
        queries.unsettled()
        .select_related("consignment__origin", "consignment__destination", "lot__part")
        .defer("lot__part__picture")
        .order_by("id")[:TAGS_MOST]
    )
    context = {
        "section": "consignments",
        "form": form,
        "table": table,
        "sentence": sentence(queries.standing()),
        "differing": [(link_to("consignment", line.consignment.code), difference_words(line)) for line in differing],
        "late": late_words(desk, every_site(desk.now)),
        "parked": Parked.objects.filter(settled_by=None, event__kind__in=ARRIVAL_KINDS).count(),
        "narrowed": any(request.GET.get(name) for name in ("find", "site", "state")),
    }
    return show(request, desk, "subcontractors/consignments.html", context)


def sentence(reported: queries.Standing) -> str:
    """What is on the road, and how many counts differ."""
    if not reported.all:
        return _("Nothing has been sent from one site to another yet.")
    road = ngettext(
        "%(n)s consignment is on the road.", "%(n)s consignments are on the road.", reported.on_the_road
    ) % {"n": reported.on_the_road}
    if not reported.on_the_road:
        road = _("Nothing is on the road.")
    differs = ngettext(
        "%(n)s count differs and waits to be settled.",
        "%(n)s counts differ and wait to be settled.",
        reported.differing,
    ) % {"n": reported.differing}
    return f"{road} {differs if reported.differing else _('No count waits to be settled.')}"


def what_words(consignment: Consignment) -> str:
    """The goods in few words: 1,060 Foot, 25 kg Gum and 2 more."""
    lines = list(consignment.lines.all())
    words = ", ".join(f"{amount(line.sent, line.lot.part.unit)} {line.lot.part.title}" for line in lines[:3])
    return words + (_(" and %(n)s more") % {"n": len(lines) - 3} if len(lines) > 3 else "")


def _state_of(consignment: Consignment) -> tuple[str, str, str]:
    """Shape, word and words for one consignment; its lines have been read."""
    open_rest = [line for line in consignment.lines.all() if is_open(line)]
    if open_rest:
        return ("doubt", _("Counts differ"), ", ".join(rest_words(line) for line in open_rest[:2]))
    if is_struck(consignment):
        return ("here", _("Taken back"), "")
    if consignment.received_at is None:
        return ("road", _("On the road"), part_words(consignment))
    return ("free", _("Counted"), "")


def is_struck(consignment: Consignment) -> bool:
    """All of it was taken back by its sender; its lines have been read."""
    return all(line.taken_back_event_id for line in consignment.lines.all())


def part_words(consignment: Consignment) -> str:
    """How much of it has come already, and when the rest is to come; nothing while all of it is on the road."""
    lines = [line for line in consignment.lines.all() if not line.closed and (line.received or line.misdirected)]
    return ", ".join(
        _("%(n)s still to come") % {"n": amount(max(0, line.remaining), line.lot.part.unit)}
        + (f" ({date_words(line.rest_due, 'j M')})" if line.rest_due else "")
        for line in lines[:2]
    )


def is_open(line: ConsignmentLine) -> bool:
    """Does this difference still wait to be settled?"""
    return line.closed and bool(line.difference) and line.settled_event_id is None


def rest_words(line: ConsignmentLine) -> str:
    """How much is missing or too many."""
    rest = amount(abs(line.difference), line.lot.part.unit)
    return (_("%(n)s missing") if line.difference > 0 else _("%(n)s too many")) % {"n": rest}


def difference_words(line: ConsignmentLine) -> str:
    """Who sent, who counted, and the rest."""
    unit = line.lot.part.unit
    return _("%(origin)s sent %(sent)s %(part)s, %(destination)s counted %(received)s: %(rest)s.") % {
        "origin": line.consignment.origin.name,
        "sent": amount(line.sent, unit),
        "part": line.lot.part.title,
        "destination": line.consignment.destination.name,
        "received": amount(line.received + line.misdirected, unit),
        "rest": rest_words(line),
    }


def rest_is_due_later(row: Consignment, today: date) -> bool:
    """It came in part, and somebody has said when the rest comes."""
    dues = [line.rest_due for line in row.lines.all() if not line.closed]
    return all(due is not None and due >= today for due in dues)


def late_words(desk: Desk, usual: dict[int, Usual]) -> list[tuple[str, str]]:
    """Consignments that are longer on the road than their lane takes, in working days of the receiver."""
    lanes = {(lane.origin_id, lane.destination_id): lane.transit_days for lane in Lane.objects.all()}
    found = []
    for row in queries.on_the_road()[:200]:
        days = lanes.get((row.origin_id, row.destination_id), _DEFAULT_TRANSIT_DAYS)
        worked = usual[row.destination_id].worked(row.sent_at, desk.now)
        if worked > days and not rest_is_due_later(row, desk.today):
            words = _(
                "%(what)s left %(origin)s for %(destination)s %(worked)s working days ago; the way takes %(days)s."
            ) % {
                "what": what_words(row),
                "origin": row.origin.name,
                "destination": row.destination.name,
                "worked": worked,
                "days": days,
            }
            found.append((link_to("consignment", row.code), words))
    return found[:TAGS_MOST]
