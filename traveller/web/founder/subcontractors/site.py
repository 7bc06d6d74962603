"""One site: whom to call, when it is open, what lies there, and its passes."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from sites.models import PassKind, Site, SiteKind
from sites.queries import idle, one_site
from traveller.batches.reads.begun import starts_at
from traveller.ledger import queries
from traveller.orders import stock as stocks
from traveller.web.founder.desk.frame import Desk, founder_page, link_to, show
from traveller.web.founder.desk.listing import amount, amount_or_none
from traveller.web.founder.subcontractors.closing_forms import closing_context
from traveller.web.founder.subcontractors.sites import SITE_KINDS, silent_words
from traveller.web.founder.work.usual import Usual, bound_words, every_site, lying_since, measured_words
from traveller.web.language.cards import supported
from traveller.web.shift_words import shifts_words

PARTS_MOST = 50
PASS_KINDS = {
    PassKind.OPERATOR.value: gettext_lazy("operator"),
    PassKind.PACKING.value: gettext_lazy("packing"),
}


class PassForm(forms.Form):
    """For whom the pass is; packing passes belong to the own bench."""

    kind = forms.ChoiceField(label=gettext_lazy("What for"))
    label = forms.CharField(
        label=gettext_lazy("Whose phone"),
        max_length=80,
        required=False,
        help_text=gettext_lazy("So that you know which to revoke: “press hall tablet”."),
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kinds = [(PassKind.OPERATOR.value, gettext_lazy("operators: steps, counts, sending and receiving"))]
        if site.kind == SiteKind.OWN:
            kinds.append((PassKind.PACKING.value, gettext_lazy("packing: kits, cartons, despatch")))
        self.fields["kind"].choices = kinds  # type: ignore[attr-defined]


@founder_page
@require_safe
def site(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    return show(request, desk, "subcontractors/site.html", site_context(found_site(code, desk), desk))


def found_site(code: str, desk: Desk) -> Site:
    """The site with what its page shows; not found for any other word."""
    found = one_site(code, desk.today)
    if found is None:
        raise Http404
    return found


def site_context(
    found: Site, desk: Desk, form: PassForm | None = None, *, closing: forms.Form | None = None
) -> dict[str, Any]:
    """Everything on the page; `form` keeps what was typed for a new pass, `closing` what was typed to close it."""
    usual = every_site(desk.now)[found.pk]
    parts, more = _what_is_there(found, desk)
    lots = queries.lots_by_site().get(found.pk, 0)
    starts = starts_at(found.pk).select_related("part").defer("part__picture").order_by("due_on", "id")
    return {
        "section": "sites",
        "title": found.name,
        "site": found,
        "kind": SITE_KINDS.get(found.kind, found.kind),
        "local": desk.now.astimezone(found.zone),
        "last_heard": usual.heard,
        "stays": "" if found.kind == SiteKind.SUPPLIER else bound_words(usual.stay),
        "measured": measured_words(usual.stay),
        "sentence": _sentence(usual, lots, desk),
        "starts": starts[:PARTS_MOST],
        "more_start": max(0, starts.count() - PARTS_MOST),
        "starts_link": f"{link_to('home')}?site={found.pk}&only=waiting#batches",
        "open_words": shifts_words(found.shifts),
        "parts": parts,
        "more": more,
        "stock_link": f"{link_to('stock')}?site={found.pk}",
        "passes": [(row, PASS_KINDS.get(row.kind, row.kind), idle(row, desk.now)) for row in found.passes.all()],
        "form": form or PassForm(site=found),
        "takes_passes": found.kind != SiteKind.SUPPLIER and found.closed_on is None,
        "behalf_link": link_to("behalf") if found.kind != SiteKind.SUPPLIER else "",
        "public_address": settings.PUBLIC_ADDRESS,
        **closing_context(found, desk, closing),
        "language_name": dict(settings.LANGUAGES).get(supported(found.language), found.language),
    }


def _sentence(usual: Usual, lots: int, desk: Desk) -> str:
    lying = lying_since()
    if usual.is_silent(lying.get(usual.site.pk), desk.now):
        return silent_words(usual, lying, desk.now)
    name = usual.site.name
    if not lots:
        return _("Nothing lies at %(site)s.") % {"site": name}
    return ngettext("%(site)s has %(n)s lot.", "%(site)s has %(n)s lots.", lots) % {"site": name, "n": lots}


def _what_is_there(found: Site, desk: Desk) -> tuple[list[dict[str, Any]], int]:
    """By part: free, kept, what may not be used, and what is between two steps."""
    accounts = queries.lying(site_id=found.pk, on=desk.today)
    every = queries.parts_lying(accounts)
    parts = list(every[:PARTS_MOST])
    shelves = stocks.look(desk.today, part_ids=[part.pk for part in parts]).shelves
    sums = queries.sums_at(found.pk, [part.pk for part in parts])
    rows = []
    for part in parts:
        own = [s for s in shelves if s.part_id == part.pk and s.site_id == found.pk and not s.coming]
        off = sums.get(part.pk, queries.OffTheShelf())
        rows.append(
            {
                "title": part.title,
                "free": amount(sum(s.free for s in own), part.unit),
                "kept": amount_or_none(sum(s.reserved + s.promised for s in own), part.unit),
                "stopped": amount_or_none(sum(s.held + s.expired + s.unproved for s in own), part.unit),
                "process": amount_or_none(off.process, part.unit),
                "road": amount_or_none(off.road, part.unit),
            }
        )
    return rows, max(0, every.count() - len(parts))
