"""One purchase: its deliveries so far, and the next one as its papers and the scale say it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from traveller.journal.refusal import Refusal
from traveller.ledger.models import Lot
from traveller.orders.actions.receive_purchase import receive_purchase
from traveller.orders.models import Purchase
from traveller.products.models import Part
from traveller.rules.codes import TravellerCode
from traveller.rules.codes import show_code as show_code
from traveller.web.door import attempt
from traveller.web.founder.desk.amounts import read_typed_amount
from traveller.web.founder.desk.days import DayField
from traveller.web.founder.desk.frame import Desk, founder_page, show
from traveller.web.founder.desk.listing import amount, answer_again, back_to, typed_amount
from traveller.web.founder.parts.purchases import purchase_state
from traveller.web.founder.subcontractors.speaking import event_context_at

_UNITS = {
    "C62": (("pcs", gettext_lazy("pieces")),),
    "GRM": (("kg", "kg"), ("g", "g"), ("lb", "lb"), ("oz", "oz")),
    "MGM": (("g", "g"), ("mg", "mg"), ("kg", "kg"), ("oz", "oz")),
    "MMT": (("m", "m"), ("mm", "mm"), ("ft", "ft"), ("in", "in")),
    "MLT": (("l", "l"), ("ml", "ml"), ("US fl oz", "US fl oz")),
}


class DeliveryForm(forms.Form):
    """A delivery as its papers and the scale say it."""

    outside_number = forms.CharField(
        label=gettext_lazy("Supplier's lot number"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("As printed on the bag or carton: a recall will name it."),
    )
    quantity = forms.CharField(label=gettext_lazy("Quantity"), max_length=30)
    unit = forms.ChoiceField(label=gettext_lazy("Unit"))
    expires_on = DayField(label=gettext_lazy("Use by"), required=False)
    final = forms.BooleanField(label=gettext_lazy("No more of this purchase will come"), required=False)
    at = forms.CharField(
        label=gettext_lazy("When, if not now"),
        required=False,
        max_length=40,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}),
    )

    def __init__(self, *args: Any, part: Part, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.part = part
        self.fields["unit"].choices = list(_UNITS[part.unit])  # type: ignore[attr-defined]
        self.fields["quantity"].widget.attrs.update({"class": "number", "inputmode": "decimal"})
        if part.shelf_life_days:
            self.fields["expires_on"].help_text = _("Left empty: %(n)s days from the delivery, as the part says.") % {
                "n": part.shelf_life_days
            }

    def clean(self) -> dict[str, Any]:
        """Read the quantity in the unit chosen."""
        reported = self.cleaned_data
        if reported.get("quantity") and reported.get("unit"):
            found = read_typed_amount(reported["quantity"], self.part.unit, unit=reported["unit"])
            if isinstance(found, str):
                self.add_error("quantity", found)
            else:
                reported["quantity"], reported["typed"] = found.quantity, found.kept
        return reported


@founder_page
@require_http_methods(["GET", "POST"])
def purchase(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """One purchase with its deliveries; a POST takes the next one."""
    rows = Purchase.objects.select_related("part", "supplier", "deliver_to", "subject", "event").defer("part__picture")
    found = rows.filter(code=code.replace("-", "").upper()).first()
    if found is None:
        raise Http404
    form = DeliveryForm(request.POST if request.method == "POST" else None, part=found.part)
    context = _context(found, form, desk)
    if request.method == "GET":
        return show(request, desk, "parts/purchase.html", context)
    if not form.is_valid():
        return answer_again(request, desk, "parts/purchase.html", context)
    reported = form.cleaned_data
    event_context = event_context_at(request, desk, found.deliver_to)
    answer = (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(
            receive_purchase,
            event_context=event_context,
            site_id=found.deliver_to_id,
            quantity=reported["quantity"],
            purchase_id=found.pk,
            outside_number=reported["outside_number"],
            expires_on=reported["expires_on"],
            final=reported["final"],
            typed=reported["typed"],
        )
    )
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "parts/purchase.html", context, answer)
    lot = show_code(TravellerCode(answer.lot.code))
    messages.success(request, _("The delivery is lot %(lot)s. Write the code on it.") % {"lot": lot})
    return back_to("purchase", found.code, reported=request.POST.get("news_id"))


def _context(found: Purchase, form: DeliveryForm, desk: Desk) -> dict[str, Any]:
    unit = found.part.unit
    figures = {
        "n": typed_amount(found.event.data["told"], unit),
        "part": found.part.title,
        "supplier": found.supplier.name,
        "site": found.deliver_to.name,
        "received": amount(found.received, unit),
    }
    first = _("%(n)s %(part)s from %(supplier)s for %(site)s.") % figures
    then = _("%(received)s have come so far.") % figures if found.received else _("Nothing has come yet.")
    deliveries = Lot.objects.filter(born_event__about__subject=found.subject).select_related("born_event")
    return {
        "section": "purchases",
        "title": _("Purchase"),
        "purchase": found,
        "form": form,
        "state": purchase_state(found, desk.today),
        "sentence": f"{first} {then if not found.closed_at else _('It is complete.')}",
        "ordered": typed_amount(found.event.data["told"], unit),
        "received": amount(found.received, unit),
        "deliveries": [(lot, typed_amount(lot.born_event.data["told"], unit)) for lot in deliveries],
    }
