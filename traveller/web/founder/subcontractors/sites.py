"""Sites: every shop, supplier and bench: what lies there, when it was last heard, and who is too quiet."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from sites.models import Site, SiteKind
from sites.queries import every_site_with_passes
from traveller.ledger import queries
from traveller.web.founder.desk.frame import Desk, founder_page, link_to, show
from traveller.web.founder.desk.listing import MarkColumn, on_page
from traveller.web.founder.work.usual import Usual, every_site
from traveller.web.tables import MomentColumn, NumberColumn, PaperTable, TableColumn
from traveller.web.templatetags.look import lapse_words

TAGS_MOST = 6
SITE_KINDS = {
    "own": gettext_lazy("own bench"),
    "subcontractor": gettext_lazy("shop"),
    "supplier": gettext_lazy("supplier"),
}


@dataclass(frozen=True, slots=True)
class SiteListed:
    """A site as the list shows it."""

    site: Site
    code: str
    name: str
    kind: str
    local: str
    lots: int
    turnaround_days: int
    heard: datetime | None
    passes: int
    state: tuple[str, str, str] | None


class SiteTable(PaperTable):
    """One row a site."""

    name = TableColumn(verbose_name=gettext_lazy("Site"), linkify=lambda record: link_to("site", record.code))
    kind = TableColumn(verbose_name=gettext_lazy("What it is"))
    local = TableColumn(verbose_name=gettext_lazy("Its time"), orderable=False)
    lots = NumberColumn(verbose_name=gettext_lazy("Lots there"))
    turnaround_days = NumberColumn(verbose_name=gettext_lazy("Usual days"))
    heard = MomentColumn(verbose_name=gettext_lazy("Last heard"))
    passes = NumberColumn(verbose_name=gettext_lazy("Passes"))
    state = MarkColumn(verbose_name=gettext_lazy("State"), orderable=False)


@founder_page
@require_safe
def sites(request: HttpRequest, desk: Desk) -> HttpResponse:
    usual = every_site()
    lots = queries.lots_by_site()
    rows = [_row(site, usual[site.pk], lots.get(site.pk, 0), desk) for site in every_site_with_passes()]
    silent = [row for row in rows if row.state]
    context = {
        "section": "sites",
        "title": _("Sites"),
        "sentence": sentence(rows, silent, desk.now),
        "silent": [(link_to("site", row.code), silent_words(row, desk.now)) for row in silent[:TAGS_MOST]],
        "table": on_page(request, SiteTable(rows, order_by="name", default="")),
    }
    return show(request, desk, "subcontractors/sites.html", context)


def _row(site: Site, usual: Usual, lots: int, desk: Desk) -> SiteListed:
    quiet = is_silent(site, usual, lots, desk.now)
    return SiteListed(
        site=site,
        code=site.code,
        name=site.name,
        kind=str(SITE_KINDS.get(site.kind, site.kind)),
        local=desk.now.astimezone(site.zone).strftime("%H:%M"),
        lots=lots,
        turnaround_days=site.turnaround_days,
        heard=usual.heard,
        passes=site.live_passes,  # type: ignore[attr-defined]
        state=("late", _("Silent"), "") if quiet else None,
    )


def is_silent(site: Site, usual: Usual, lots: int, now: datetime) -> bool:
    """No news for longer than a batch usually stays, while goods lie there; suppliers tell nothing."""
    if site.kind == SiteKind.SUPPLIER or not lots:
        return False
    return usual.heard is None or usual.is_over(usual.heard, now)


def sentence(rows: list[SiteListed], silent: list[SiteListed], now: datetime) -> str:
    """How many sites of which kind, and who has been quiet for longer than usual."""
    if not rows:
        return _("No site is known yet. Import a workbook that names them.")
    kinds = Counter(row.site.kind for row in rows)
    shops = ngettext("%(n)s shop", "%(n)s shops", kinds["subcontractor"]) % {"n": kinds["subcontractor"]}
    suppliers = ngettext("%(n)s supplier", "%(n)s suppliers", kinds["supplier"]) % {"n": kinds["supplier"]}
    own = ngettext("%(n)s own bench", "%(n)s own benches", kinds["own"]) % {"n": kinds["own"]}
    first = _("%(own)s, %(shops)s, %(suppliers)s.") % {"own": own, "shops": shops, "suppliers": suppliers}
    if not silent:
        return f"{first} {_('None of them has been silent for longer than usual.')}"
    return f"{first} {' '.join(silent_words(row, now) for row in silent[:2])}"


def silent_words(row: SiteListed, now: datetime) -> str:
    """For how long, and how long would be usual."""
    if row.heard is None:
        return _("%(site)s has goods and was never heard.") % {"site": row.name}
    figures = {"site": row.name, "lapse": lapse_words(now - row.heard), "days": row.turnaround_days}
    return _("%(site)s has not been heard for %(lapse)s; a batch usually stays %(days)s working days.") % figures
