"""Sites: every shop, supplier and bench: what lies there, when it was last heard, and who is too quiet."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from sites.models import Site, SiteKind
from sites.queries import every_site_with_passes
from traveller.ledger import queries
from traveller.web.founder.desk.frame import Desk, founder_page, link_to, show
from traveller.web.founder.desk.listing import MarkColumn, on_page
from traveller.web.founder.work.usual import Usual, bound_words, days_words, every_site, lying_since
from traveller.web.tables import MomentColumn, NumberColumn, PaperTable, TableColumn
from traveller.web.templatetags.look import moment

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
    stays: str
    heard: datetime | None
    passes: int
    state: tuple[str, str, str] | None


class _HeardColumn(MomentColumn):
    """When a site was last heard from; suppliers report nothing."""

    def render(self, value: datetime | None, record: SiteListed) -> SafeString | str:  # type: ignore[override]
        """Return the moment, or that there was none yet."""
        if value is not None:
            return moment(value)
        return "–" if record.site.kind == SiteKind.SUPPLIER else _("not heard from yet")


class SiteTable(PaperTable):
    """One row a site."""

    name = TableColumn(verbose_name=gettext_lazy("Site"), linkify=lambda record: link_to("site", record.code))
    kind = TableColumn(verbose_name=gettext_lazy("What it is"))
    local = TableColumn(verbose_name=gettext_lazy("Its time"), orderable=False)
    lots = NumberColumn(verbose_name=gettext_lazy("Lots there"))
    stays = TableColumn(verbose_name=gettext_lazy("A batch stays"), orderable=False)
    heard = _HeardColumn(verbose_name=gettext_lazy("Last heard"), empty_values=())
    passes = NumberColumn(verbose_name=gettext_lazy("Passes"))
    state = MarkColumn(verbose_name=gettext_lazy("State"), orderable=False)


@founder_page
@require_safe
def sites(request: HttpRequest, desk: Desk) -> HttpResponse:
    usual = every_site(desk.now)
    lots, lying = queries.lots_by_site(), lying_since()
    rows = [_row(site, usual[site.pk], lots.get(site.pk, 0), lying, desk) for site in every_site_with_passes()]
    silent = [(row, silent_words(usual[row.site.pk], lying, desk.now)) for row in rows if row.state]
    context = {
        "section": "sites",
        "title": _("Sites"),
        "sentence": sentence(rows, [words for _row, words in silent]),
        "silent": [(link_to("site", row.code), words) for row, words in silent[:TAGS_MOST]],
        "table": on_page(request, SiteTable(rows, order_by="name", default="")),
    }
    return show(request, desk, "subcontractors/sites.html", context)


def _row(site: Site, usual: Usual, lots: int, lying: dict[int, datetime], desk: Desk) -> SiteListed:
    quiet = usual.is_silent(lying.get(site.pk), desk.now)
    return SiteListed(
        site=site,
        code=site.code,
        name=site.name,
        kind=str(SITE_KINDS.get(site.kind, site.kind)),
        local=desk.now.astimezone(site.zone).strftime("%H:%M"),
        lots=lots,
        stays="–" if site.kind == SiteKind.SUPPLIER else bound_words(usual.stay),
        heard=usual.heard,
        passes=site.live_passes,  # type: ignore[attr-defined]
        state=("late", _("Silent"), "") if quiet else None,
    )


def sentence(rows: list[SiteListed], silent: list[str]) -> str:
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
    return f"{first} {' '.join(silent[:2])}"


def silent_words(usual: Usual, lying: dict[int, datetime], now: datetime) -> str:
    """For how many of its working days, and how many would be usual."""
    since = usual.heard or lying[usual.site.pk]
    figures = {
        "site": usual.site.name, "days": days_words(usual.worked(since, now)), "bound": bound_words(usual.stay),
    }  # fmt: skip
    if usual.heard is None:
        return _("%(site)s has not been heard from yet, and goods have lain there for %(days)s; %(bound)s.") % figures
    return _("%(site)s has not been heard for %(days)s; a stay there: %(bound)s.") % figures
