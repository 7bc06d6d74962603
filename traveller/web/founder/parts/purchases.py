"""Purchases: what is on order, what is still to be ordered, and deliveries as they come."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_safe

from sites.models import Site, SiteKind
from traveller.journal.refusal import Refusal
from traveller.orders import queries
from traveller.orders.actions.purchase import purchase as buy
from traveller.orders.models import Purchase
from traveller.products.models import Part, PartKind
from traveller.web.door import attempt
from traveller.web.founder.desk.amounts import read_typed_amount, to_type
from traveller.web.founder.desk.days import DayField
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to, show
from traveller.web.founder.desk.listing import AmountColumn, MarkColumn, amount, answer_again, back_to, on_page
from traveller.web.picture_words import day_words
from traveller.web.tables import CodeColumn, DayColumn, PaperTable, TableColumn

TAGS_MOST = 6


class PurchaseTable(PaperTable):
    """One row a purchase, the one due first at the top."""

    code = CodeColumn(verbose_name=gettext_lazy("Purchase"), linkify=lambda record: link_to("purchase", record.code))
    part = TableColumn(verbose_name=gettext_lazy("Part"), accessor="part__title", order_by="part__name")
    supplier = TableColumn(verbose_name=gettext_lazy("From"), accessor="supplier__name")
    deliver_to = TableColumn(verbose_name=gettext_lazy("To"), accessor="deliver_to__name")
    quantity = AmountColumn(verbose_name=gettext_lazy("Ordered"))
    received = AmountColumn(verbose_name=gettext_lazy("Received"))
    due_on = DayColumn(verbose_name=gettext_lazy("Due"))
    state = MarkColumn(verbose_name=gettext_lazy("State"), orderable=False, empty_values=())

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def render_quantity(self, record: Purchase) -> str:
        return amount(record.quantity, record.part.unit)

    def render_received(self, record: Purchase) -> str:
        return amount(record.received, record.part.unit) if record.received else "–"

    def render_state(self, record: Purchase) -> Any:
        return self.columns["state"].column.render(purchase_state(record, self.today))


def purchase_state(record: Purchase, today: date) -> tuple[str, str, str]:
    """Shape and word of a purchase."""
    if record.closed_at:
        return ("free", _("Received"), "")
    if record.due_on and record.due_on < today:
        return ("late", _("Overdue"), "")
    return ("road", _("On order"), "")


class NewForm(forms.Form):
    """What to buy, of whom, for where."""

    part = forms.ModelChoiceField(Part.objects.none(), label=gettext_lazy("Part or material"), to_field_name="number")
    quantity = forms.CharField(label=gettext_lazy("Quantity"), max_length=30, help_text=gettext_lazy("Such as 25 kg."))
    supplier = forms.ModelChoiceField(Site.objects.none(), label=gettext_lazy("Supplier"), to_field_name="code")
    deliver_to = forms.ModelChoiceField(Site.objects.none(), label=gettext_lazy("Deliver to"), to_field_name="code")
    due_on = DayField(label=gettext_lazy("Due"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sites = Site.objects.all()
        bought: Any = Part.objects.exclude(kind=PartKind.MADE).defer("picture").order_by("name", "variant")
        self.fields["part"].queryset = bought  # type: ignore[attr-defined]
        self.fields["supplier"].queryset = sites.filter(kind=SiteKind.SUPPLIER)  # type: ignore[attr-defined]
        self.fields["deliver_to"].queryset = sites.exclude(kind=SiteKind.SUPPLIER)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Read the quantity in the part's own unit."""
        reported = self.cleaned_data
        if reported.get("part") and reported.get("quantity"):
            found = read_typed_amount(reported["quantity"], reported["part"].unit)
            if isinstance(found, str):
                self.add_error("quantity", found)
            else:
                reported["quantity"], reported["typed"] = found.quantity, found.kept
        return reported


@founder_page
@require_safe
def purchases(request: HttpRequest, desk: Desk) -> HttpResponse:
    every = request.GET.get("state") == "all"
    rows = queries.open_purchases()
    overdue = rows.filter(due_on__lt=desk.today).count()
    shown = Purchase.objects.select_related("part", "supplier", "deliver_to") if every else rows
    table = PurchaseTable(shown.defer("part__picture"), today=desk.today)
    to_buy = [need for need in queries.still_to_buy() if need.to_buy]
    context = {
        "section": "purchases",
        "title": _("Purchases"),
        "table": on_page(request, table),
        "every": every,
        "to_buy": [(_buy_link(need), _buy_words(need)) for need in to_buy[:TAGS_MOST]],
        "more_to_buy": max(0, len(to_buy) - TAGS_MOST),
        "sentence": sentence(rows.count(), overdue, len(to_buy)),
    }
    return show(request, desk, "parts/purchases.html", context)


def sentence(open_ones: int, overdue: int, to_buy: int) -> str:
    """What is on order, what of it is late, and what nobody has ordered yet."""
    reported = ngettext("%(n)s purchase is open", "%(n)s purchases are open", open_ones) % {"n": open_ones}
    if not open_ones:
        reported = _("Nothing is on order")
    if overdue:
        reported += _("; %(n)s overdue") % {"n": overdue}
    if not to_buy:
        return f"{reported}. {_('Released orders wait for nothing else.')}"
    missing = ngettext("%(n)s part is still to be bought", "%(n)s parts are still to be bought", to_buy) % {"n": to_buy}
    return f"{reported}. {missing}."


def _buy_link(need: queries.ToBuy) -> str:
    return f"{link_to('new_purchase')}?part={need.part.number}&quantity={need.to_buy}"


def _buy_words(need: queries.ToBuy) -> str:
    figures = {
        "n": amount(need.to_buy, need.part.unit),
        "part": need.part.title,
        "day": day_words(need.needed_on) if need.needed_on else "–",
    }
    return _("%(n)s %(part)s: released orders need them by %(day)s and nobody has ordered them.") % figures


@founder_page
@require_http_methods(["GET", "POST"])
def new_purchase(request: HttpRequest, desk: Desk) -> HttpResponse:
    form = NewForm(request.POST) if request.method == "POST" else NewForm(initial=_asked(request, desk))
    context = {
        "section": "purchases",
        "title": _("New purchase"),
        "form": form,
        "sentence": _("What is to be bought, and where is it to go?"),
    }
    if request.method == "GET":
        return show(request, desk, "parts/purchase_new.html", context)
    if not form.is_valid():
        return answer_again(request, desk, "parts/purchase_new.html", context)
    reported = form.cleaned_data
    event_context = event_context_of(request, desk)
    answer = (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(
            buy,
            event_context=event_context,
            supplier_id=reported["supplier"].pk,
            deliver_to_id=reported["deliver_to"].pk,
            part_id=reported["part"].pk,
            quantity=reported["quantity"],
            due_on=reported["due_on"],
            typed=reported["typed"],
        )
    )
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "parts/purchase_new.html", context, answer)
    messages.success(request, _("The purchase is noted. Send the supplier your own order."))
    return back_to("purchase", answer.code, reported=request.POST.get("news_id"))


def _asked(request: HttpRequest, desk: Desk) -> dict[str, Any]:
    """What the link that led here already knows."""
    part = Part.objects.filter(number=request.GET.get("part", "")).select_related("supplier").defer("picture").first()
    quantity = request.GET.get("quantity", "")
    return {
        "part": part.number if part else None,
        "supplier": part.supplier.code if part and part.supplier else None,
        "deliver_to": request.GET.get("deliver_to") or (desk.bench.code if desk.bench else None),
        "quantity": to_type(int(quantity), part.unit) if part and re.fullmatch(r"[0-9]{1,15}", quantity) else "",
        "due_on": request.GET.get("due_on", "")[:10],
    }
