"""Kits: how many of each product can be assembled now, what limits them, and where its next pieces are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from traveller.orders import kits as kit_reads
from traveller.orders.kits import KitRow
from traveller.products.models import Part
from traveller.rules.kits import kits_possible
from traveller.web.founder.desk.frame import Desk, founder_page, link_to, show
from traveller.web.founder.desk.listing import AmountColumn, amount_or_none, on_page
from traveller.web.founder.parts.next_pieces import NextPieces, next_pieces
from traveller.web.founder.parts.next_pieces import told as next_told
from traveller.web.picture_words import kit_words
from traveller.web.pictures.kit_rule import ORDER, Bar, KitRule, Words, kit_rule
from traveller.web.tables import NumberColumn, PaperTable, TableColumn
from traveller.web.templatetags.look import whole

# Drawings of many products at once are a wall; the table names all, and any one of them can be asked for.
DRAWN_MOST = 6


@dataclass(frozen=True, slots=True)
class Product:
    """A product with what would stop it first and second."""

    row: KitRow
    limiting: tuple[Part, ...]
    following: Part | None
    after_next: int | None
    coming: Mapping[int, list[NextPieces]]

    @property
    def next(self) -> SafeString | str:
        """Where the next pieces of what limits are; of several that limit, each under its name."""
        if len(self.limiting) < 2:
            return next_told(self.coming.get(self.limiting[0].pk, [])) if self.limiting else ""
        rows = ((part.title, next_told(self.coming.get(part.pk, []))) for part in self.limiting)
        return format_html_join(SafeString("<br>"), "{}: {}", rows)

    @property
    def limits(self) -> str:
        return ", ".join(part.title for part in self.limiting)

    @property
    def number(self) -> str:
        return self.row.part.number

    @property
    def title(self) -> str:
        return self.row.part.title

    @property
    def then(self) -> str | None:
        if self.following is None or self.after_next is None:
            return None
        return _("%(part)s, at %(n)s") % {"part": self.following.title, "n": whole(self.after_next)}


class ProductTable(PaperTable):
    """One row a product on open orders, the one due first at the top."""

    title = TableColumn(
        verbose_name=gettext_lazy("Product"),
        linkify=lambda record: f"{link_to('kits')}?part={record.number}#rule",
        orderable=False,
    )
    wanted = NumberColumn(verbose_name=gettext_lazy("Still to assemble"), accessor="row__wanted", orderable=False)
    kits = NumberColumn(verbose_name=gettext_lazy("Kits now"), accessor="row__kits", orderable=False)
    limiting = TableColumn(verbose_name=gettext_lazy("What limits"), accessor="limits", orderable=False)
    next = TableColumn(verbose_name=gettext_lazy("Its next pieces"), orderable=False)
    then = TableColumn(verbose_name=gettext_lazy("What limits next"), orderable=False)


class ComponentTable(PaperTable):
    """The drawing's own figures: one row a component, its pieces by how far they are from ready."""

    part = TableColumn(verbose_name=gettext_lazy("Component"), orderable=False)
    per_kit = TableColumn(verbose_name=gettext_lazy("Per kit"), orderable=False)
    here = AmountColumn(verbose_name=gettext_lazy("Here"), orderable=False)
    one = AmountColumn(verbose_name=gettext_lazy("One step off"), orderable=False)
    two = AmountColumn(verbose_name=gettext_lazy("Two or more off"), orderable=False)
    road = AmountColumn(verbose_name=gettext_lazy("On the road"), orderable=False)
    held = AmountColumn(verbose_name=gettext_lazy("Held, expired or not proved"), orderable=False)
    next = TableColumn(verbose_name=gettext_lazy("Next pieces"), orderable=False)
    note = TableColumn(verbose_name=gettext_lazy("Then"), orderable=False)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A product's drawing, wide and narrow, with its table."""

    product: Product
    wide: SafeString
    narrow: SafeString
    table: ComponentTable
    sentence: str


@founder_page
@require_safe
def kits(request: HttpRequest, desk: Desk) -> HttpResponse:
    rows = kit_reads.kits_now(on=desk.today)
    coming = next_pieces(
        {component.part.pk for row in rows for component in row.components},
        desk.bench.pk if desk.bench else None,
        desk.today,
    )
    products = [_product(row, coming) for row in rows]
    asked = [product for product in products if product.number == request.GET.get("part")]
    shown = asked or products[:DRAWN_MOST]
    context = {
        "section": "kits",
        "sentence": sentence(products),
        "ready": [product for product in products if product.row.kits][:DRAWN_MOST],
        "products": on_page(request, ProductTable(products)),
        "drawn": [_draw(product, number) for number, product in enumerate(shown)],
        "asked": asked[0] if asked else None,
        "hidden": len(products) - len(shown),
    }
    return show(request, desk, "parts/kits.html", context)


def sentence(products: list[Product]) -> str:
    """How many kits of what, and what stops the one that is due first."""
    wanted = [product for product in products if product.row.wanted]
    if not wanted:
        return _("No open order waits to be assembled.")
    reported = [
        _("%(n)s of %(wanted)s %(part)s") % {"n": whole(p.row.kits), "wanted": whole(p.row.wanted), "part": p.title}
        for p in wanted[:3]
    ]
    more = len(wanted) - len(reported)
    if more:
        reported.append(ngettext("%(n)s more product", "%(n)s more products", more) % {"n": more})
    first = _("Can be assembled now: %(what)s.") % {"what": ", ".join(reported)}
    short = next((product for product in wanted if product.limiting), None)
    if short is None:
        return first
    figures = {"components": short.limits, "part": short.title}
    limits = (
        ngettext("%(components)s limits %(part)s.", "%(components)s limit %(part)s.", len(short.limiting)) % figures
    )
    return f"{first} {limits}"


def _product(row: KitRow, coming: Mapping[int, list[NextPieces]]) -> Product:
    """What limits is read off all that lies here; a shared part that went to another product limits too."""
    reach = {
        component.part.pk: kits_possible({"": component.pieces.get("here", 0)}, {"": component.per_thousand}).kits
        for component in row.components
    }
    by_reach = sorted(row.components, key=lambda component: reach[component.part.pk])
    limiting: tuple[Part, ...] = ()
    if row.limiting is not None and row.kits < row.wanted:
        named = row.limiting.pk
        limiting = tuple(c.part for c in by_reach if reach[c.part.pk] <= row.kits or c.part.pk == named)
    following = next((c.part for c in by_reach if c.part not in limiting), None)
    return Product(row, limiting, following, reach[following.pk] if following else None, coming)


def _draw(product: Product, number: int) -> Drawn:
    rule = KitRule(
        bars=tuple(
            Bar(
                component.part.title,
                tuple((kind, component.pieces.get(kind, 0)) for kind in ORDER),
                per_kit=max(1, round(component.per_thousand / 1000)),
                note=_note(product, component.part),
            )
            for component in product.row.components
        ),
        kits_now=product.row.kits,
        sentence=_sentence_of(product),
        wanted=product.row.wanted or None,
        words=words(),
    )
    return Drawn(
        product,
        SafeString(kit_rule(rule, 1120, f"kit{number}")),
        SafeString(kit_rule(rule, 340, f"kitn{number}")),
        ComponentTable(
            [_row(product, component) for component in product.row.components], prefix=f"c{number}-", default=""
        ),
        rule.sentence,
    )


def words() -> Words:
    return replace(kit_words(), two=_("two steps off or more"), held=_("held, expired or not proved"))


def _note(product: Product, part: Part) -> str:
    if part in product.limiting:
        return _("limits")
    return _("next") if product.following is not None and part.pk == product.following.pk else ""


def _sentence_of(product: Product) -> str:
    reported = _("%(n)s of %(wanted)s %(part)s can be assembled now.") % {
        "n": whole(product.row.kits),
        "wanted": whole(product.row.wanted),
        "part": product.title,
    }
    if not product.limiting:
        return reported
    limits = ngettext("%(components)s limits.", "%(components)s limit.", len(product.limiting))
    words = f"{reported} {limits % {'components': product.limits}}"
    first = [(part, rows[0]) for part in product.limiting if (rows := product.coming.get(part.pk))]
    if not first:
        return words
    part, pieces = first[0]
    return f"{words} " + _("Next %(part)s: %(where)s.") % {"part": part.title, "where": pieces.words}


def _row(product: Product, component: Any) -> dict[str, Any]:
    unit = component.part.unit
    pieces: dict[str, Any] = {kind: amount_or_none(component.pieces.get(kind, 0), unit) for kind in ORDER}
    per_kit = f"{component.per_thousand / 1000:,.3f}".rstrip("0").rstrip(".")
    coming = next_told(product.coming.get(component.part.pk, []))
    note = _note(product, component.part)
    return {"part": component.part.title, "per_kit": per_kit, **pieces, "next": coming, "note": note}
