"""The founder sends goods: free-issue material, stock, what waits for another shop's step, or a return."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from sites.models import Site
from traveller.batches.actions.send import send
from traveller.batches.usable import after_step, usable_goods
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment, SentFor
from traveller.journal.refusal import Refusal
from traveller.ledger import queries
from traveller.ledger.models import Account, Condition
from traveller.products.models import Operation, OperationKind
from traveller.products.queries import verbs_of
from traveller.web.door import attempt
from traveller.web.founder.desk.amounts import AmountField, how_typed
from traveller.web.founder.desk.frame import Desk, founder_page, show
from traveller.web.founder.desk.listing import ROWS_A_PAGE, amount, answer_again, back_to
from traveller.web.founder.parts.stock import where_words
from traveller.web.founder.subcontractors.count_words import METHOD_WORDS
from traveller.web.founder.subcontractors.speaking import event_context_at
from traveller.web.pictures.marks import MarkDrawn
from traveller.web.status_words import stop_in_a_word
from traveller.web.words import say

PURPOSE_WORDS = {
    SentFor.FREE_ISSUE.value: gettext_lazy("free issue"),
    SentFor.PROCESSING.value: gettext_lazy("for processing"),
    SentFor.STOCK.value: gettext_lazy("to stock"),
    SentFor.RETURN.value: gettext_lazy("return"),
}


class RouteForm(forms.Form):
    """From where, to where, what for: asked first, since the goods on offer follow from it."""

    origin = forms.ModelChoiceField(Site.objects.none(), label=gettext_lazy("From"), empty_label=None)
    to = forms.ModelChoiceField(Site.objects.none(), label=gettext_lazy("To"), empty_label=None)
    purpose = forms.ChoiceField(label=gettext_lazy("What for"), choices=list(PURPOSE_WORDS.items()))
    find = forms.CharField(label=gettext_lazy("Part or lot"), required=False, max_length=60)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("origin", "to"):
            self.fields[name].queryset = Site.objects.all()  # type: ignore[attr-defined]
            self.fields[name].to_field_name = "code"  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Refuse a way that leads nowhere."""
        reported = self.cleaned_data
        if reported.get("origin") and reported.get("origin") == reported.get("to"):
            self.add_error("to", say("same_site"))
        return reported


@dataclass(frozen=True, slots=True)
class Offer:
    """What lies there and could go, with its field."""

    account: Account
    there: str
    where: str
    stop: tuple[MarkDrawn, str] | None
    step_choices: list[tuple[int, str]]

    @property
    def key(self) -> str:
        return f"a{self.account.pk}"


class GoodsForm(forms.Form):
    """A quantity for each lot on offer; for a return also the step that is to be done again."""

    carrier = forms.CharField(label=gettext_lazy("Carrier"), required=False, max_length=80)
    method = forms.ChoiceField(label=gettext_lazy("How they were counted"), choices=list(METHOD_WORDS.items()))
    sample = AmountField(
        most=1_000_000,
        counts=True,
        label=gettext_lazy("Pieces weighed for the piece weight"),
        required=False,
        help_text=gettext_lazy("Only for a count by weight."),
    )
    owner = forms.CharField(label=gettext_lazy("Whose property"), required=False, max_length=80)
    returnables = forms.CharField(label=gettext_lazy("What comes back empty"), required=False, max_length=120)
    note = forms.CharField(
        label=gettext_lazy("Remark"),
        required=False,
        max_length=200,
        help_text=gettext_lazy("For a return: why it goes back."),
    )
    shown = forms.BooleanField(label=gettext_lazy("The quantity stands on the totes"), required=False)
    at = forms.CharField(
        label=gettext_lazy("When, if not now"),
        required=False,
        max_length=40,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}),
    )

    def __init__(self, *args: Any, offers: list[Offer], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offers = offers
        for offer in offers:
            label = _("Quantity of lot %(lot)s") % {"lot": offer.account.lot.code}
            self.fields[offer.key] = AmountField(offer.account.lot.part.unit, label=label, required=False)
            if offer.step_choices:
                self.fields[f"{offer.key}-step"] = forms.TypedChoiceField(
                    label=_("Step to do again"), choices=offer.step_choices, coerce=int, required=False
                )

    def rows(self) -> list[tuple[Offer, Any, Any]]:
        """Each offer with its bound fields."""
        return [
            (offer, self[offer.key], self[f"{offer.key}-step"] if offer.step_choices else None) for offer in self.offers
        ]

    def lines(self) -> list[SendLine]:
        """What was typed, as lines to send."""
        reported = self.cleaned_data
        return [
            SendLine(
                offer.account.lot_id,
                reported[offer.key],
                from_step=offer.account.step,
                to_step=reported.get(f"{offer.key}-step") or 0,
                method=reported["method"],
                sample=reported.get("sample") or 0,
                condition=offer.account.condition,
                how=how_typed(self, offer.key),
            )
            for offer in self.offers
            if reported.get(offer.key)
        ]


@founder_page
@require_http_methods(["GET", "POST"])
def send_goods(request: HttpRequest, desk: Desk) -> HttpResponse:
    route = RouteForm(request.GET if "origin" in request.GET else None, initial=_usual_way(desk))
    context: dict[str, Any] = {"section": "consignments", "route": route, "title": _("Send goods")}
    if not route.is_valid():
        context["sentence"] = _("Where do the goods go, and what for?")
        if request.method == "POST":
            return answer_again(request, desk, "subcontractors/send_goods.html", context)
        return show(request, desk, "subcontractors/send_goods.html", context)
    origin, to = route.cleaned_data["origin"], route.cleaned_data["to"]
    offers, more = _offers(route.cleaned_data, desk)
    usual = {"owner": desk.bench.name if desk.bench else ""}
    form = GoodsForm(request.POST if request.method == "POST" else None, offers=offers, initial=usual)
    context |= {"form": form, "origin": origin, "to": to, "more": more}
    context["sentence"] = _("What goes from %(origin)s to %(to)s?") % {"origin": origin.name, "to": to.name}
    if request.method == "GET":
        return show(request, desk, "subcontractors/send_goods.html", context)
    if not form.is_valid():
        return answer_again(request, desk, "subcontractors/send_goods.html", context)
    answer = _send(request, desk, route, form)
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "subcontractors/send_goods.html", context, answer)
    messages.success(request, _("The goods are on the road. Print the dispatch note and send it with them."))
    return back_to("consignment", answer.code, reported=request.POST.get("news_id"))


def _usual_way(desk: Desk) -> dict[str, Any]:
    return {"origin": desk.bench.code if desk.bench else "", "purpose": SentFor.FREE_ISSUE.value}


def _send(request: HttpRequest, desk: Desk, route: RouteForm, form: GoodsForm) -> Consignment | Refusal:
    way = route.cleaned_data
    event_context = event_context_at(request, desk, way["origin"])
    if isinstance(event_context, Refusal):
        return event_context
    return attempt(
        send,
        event_context=event_context,
        origin_id=way["origin"].pk,
        destination_id=way["to"].pk,
        lines=form.lines(),
        purpose=way["purpose"],
        carrier=form.cleaned_data["carrier"],
        owner=form.cleaned_data["owner"] or (desk.bench.name if desk.bench else ""),
        returnables=form.cleaned_data["returnables"],
        note=form.cleaned_data["note"],
        shown=form.cleaned_data["shown"],
    )


def _offers(way: dict[str, Any], desk: Desk) -> tuple[list[Offer], int]:
    """What of the origin's goods this purpose may move, the first page of it, and how many more there are."""
    returned = way["purpose"] == SentFor.RETURN
    shelf = [Condition.STOCK, Condition.IN_PROCESS, Condition.REWORK] if returned else [Condition.STOCK]
    rows = queries.lying(find=way["find"], site_id=way["origin"].pk, on=desk.today).filter(condition__in=shelf)
    if way["purpose"] == SentFor.PROCESSING:
        rows = rows.filter(lot__batch__isnull=False)
    elif way["purpose"] == SentFor.FREE_ISSUE:
        rows = rows.filter(step=0)
    rows = rows.order_by("lot__part__name", "lot__part__variant", "lot__expires_on", "lot_id", "step")
    found = list(rows[:ROWS_A_PAGE])
    goods = {account.pk: after_step(account.lot_id, account.step) for account in found}
    # A return needs no proof: it goes back because something is wrong with it.
    stops = {} if returned else usable_goods(set(goods.values()), "send", desk.today)
    routings = {account.lot.batch.routing_id for account in found if hasattr(account.lot, "batch")}
    verbs = verbs_of(routings)
    steps = _steps_there(routings, way["to"].pk) if returned else {}
    offers = []
    for account in found:
        routing = account.lot.batch.routing_id if hasattr(account.lot, "batch") else 0
        words = where_words(account, verbs.get((routing, account.step), ""), "")
        there = amount(account.balance, account.lot.part.unit)
        choices = [(0, _("none: all is done")), *steps.get(routing, [])] if returned and routing else []
        stop = stops.get(goods[account.pk])
        offers.append(Offer(account, there, words, stop_in_a_word(stop.code) if stop else None, choices))
    return offers, max(0, rows.count() - len(found))


def _steps_there(routings: set[int], site_id: int) -> dict[int, list[tuple[int, str]]]:
    """By routing: the steps at a site that can be done again; one query."""
    found: dict[int, list[tuple[int, str]]] = {}
    rows = Operation.objects.filter(routing__in=routings, site=site_id).exclude(kind=OperationKind.PREPARE)
    for row in rows.order_by("number"):
        found.setdefault(row.routing_id, []).append((row.number, f"{row.number} {row.verb}"))
    return found
