"""Goods that nobody announced, that went astray, or whose lot nobody can tell; and pieces that nobody can explain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_safe

from traveller.batches.actions.settle_unexplained import of_consignments, settle_unexplained
from traveller.batches.actions.unknown import match_unknown
from traveller.dispatches.actions.unannounced import BOOKED, MISDIRECTED
from traveller.dispatches.actions.unknown import CODE as UNKNOWN
from traveller.dispatches.models import ConsignmentLine
from traveller.dispatches.queries import rests_by_place
from traveller.journal.models import Parked
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account, Condition, Lot
from traveller.ledger.post import Place
from traveller.products.models import Part
from traveller.rules.codes import Damaged, read
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to, show
from traveller.web.founder.desk.listing import amount, answer_again, back_to
from traveller.web.founder.today.decisions import EACH_MOST, Decision
from traveller.web.founder.work.places import code_words
from traveller.web.words import say

ARRIVAL_KINDS = ("arrived unannounced", "arrived unknown")
_ROWS_MAX = 100
FINDINGS = {
    "lost": gettext_lazy("Lost: they become scrap."),
    "found": gettext_lazy("Found: they lie there after all, and wait for their step."),
    "never_counted": gettext_lazy("Never counted when they were made: they are added to what was made."),
}


@dataclass(frozen=True, slots=True)
class Rest:
    """What nobody can explain of a lot at one place."""

    account: Account
    quantity: int

    @property
    def words(self) -> str:
        """So many missing or too many, of what, where."""
        lot, n = self.account.lot, amount(abs(self.quantity), self.account.lot.part.unit)
        figures = {
            "n": n, "part": lot.part.title, "code": code_words(lot.code), "site": self.account.site.name,
            "step": self.account.step,
        }  # fmt: skip
        if self.quantity > 0:
            return _("%(site)s, step %(step)s: %(n)s %(part)s, %(code)s, cannot be found.") % figures
        return (
            _("%(site)s, step %(step)s: %(n)s more %(part)s, %(code)s, were used or sent than were counted.") % figures
        )


def rests() -> list[Rest]:
    """What stands unexplained, but for what a consignment or a tote of an unknown lot explains; oldest first."""
    rows = Account.objects.filter(condition=Condition.UNEXPLAINED).exclude(balance=0)
    rows = rows.exclude(lot__origin="provisional").select_related("lot__part", "site").defer("lot__part__picture")
    known = rests_by_place()
    found = [
        Rest(row, row.balance - known.get((row.lot_id, row.site_id, row.step), 0))
        for row in rows.order_by("since", "id")[:_ROWS_MAX]
    ]
    return [rest for rest in found if rest.quantity]


def unexplained() -> list[Decision]:
    """A tag for each rest that nobody can explain; many of them as one."""
    found = rests()
    page = link_to("arrivals")
    if len(found) > EACH_MOST:
        words = ngettext("%(n)s rest without an explanation.", "%(n)s rests without an explanation.", len(found))
        tag = Decision("doubt", _("Unexplained"), words % {"n": len(found)}, page, _("Settle them"), len(found))
        return [tag]
    return [
        Decision("doubt", _("Unexplained"), rest.words, link_to("settle_rest", rest.account.pk), _("Settle it"))
        for rest in found
    ]


@founder_page
@require_safe
def arrivals(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Everything that came in without its papers, and every rest, each with its one deed."""
    parked = list(
        Parked.objects.filter(settled_by=None, event__kind__in=ARRIVAL_KINDS)
        .select_related("event__site")
        .order_by("id")
    )[:_ROWS_MAX]
    rows = [{"parked": row, "words": say(row.reason, row.figures), **_deed(row)} for row in parked]
    unexplained = rests()
    sentence = ngettext("%(n)s arrival waits for its papers.", "%(n)s arrivals wait for their papers.", len(rows)) % {
        "n": len(rows)
    }
    context = {
        "section": "consignments",
        "title": _("Arrivals without papers"),
        "sentence": sentence if rows else _("Everything that arrived is booked."),
        "rows": rows,
        "rests": unexplained,
    }
    return show(request, desk, "work/arrivals.html", context)


def _deed(row: Parked) -> dict[str, str]:
    """What the founder can do about it, and where."""
    if row.reason == UNKNOWN:
        return {"link": link_to("match", row.pk), "deed": _("Say what it is")}
    site = row.event.site.code if row.event.site else ""
    lot = row.figures.get("lot", "")
    if row.reason == MISDIRECTED and BOOKED in row.figures:
        way = f"?origin={site}&purpose=processing&find={lot}"
        return {"link": link_to("send_goods") + way, "deed": _("Send it on")}
    return {"link": link_to("send_goods") + f"?find={lot}", "deed": _("Send it for the sender")}


class MatchForm(forms.Form):
    """Which lot is it: one that is on the road there, another, or one of its own?"""

    road = forms.TypedChoiceField(
        label=gettext_lazy("On the road to there"),
        coerce=int,
        required=False,
        widget=forms.RadioSelect,
        empty_value=None,
    )
    lot = forms.CharField(
        label=gettext_lazy("Or the code of another lot"), required=False, max_length=60,
        help_text=gettext_lazy("It counts as arrived there then, by the count of the tote."),
    )  # fmt: skip
    part = forms.ModelChoiceField(
        Part.objects.none(),
        label=gettext_lazy("Or a lot of its own, of the part"),
        required=False,
        empty_label=gettext_lazy("no"),
    )
    reason = forms.CharField(label=gettext_lazy("How do you know?"), max_length=200)

    def __init__(self, *args: Any, candidates: list[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["road"].choices = candidates  # type: ignore[attr-defined]
        if not candidates:
            del self.fields["road"]
            self.fields["lot"].label = _("The code of the lot")
        self.fields["part"].queryset = Part.objects.defer("picture").order_by("name", "variant")  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """One answer of three."""
        reported = self.cleaned_data
        code = (reported.get("lot") or "").strip()
        reported["lot_id"] = reported.get("road")
        if code:
            scan = read(code)
            lot = None if isinstance(scan, Damaged) else Lot.objects.filter(code=scan.code).first()
            if lot is None:
                self.add_error("lot", say("unknown_lot"))
            else:
                reported["lot_id"] = lot.pk
        if not self.errors and reported["lot_id"] is None and reported.get("part") is None:
            self.add_error("lot", _("Choose a lot, type its code, or choose the part of a lot of its own."))
        return reported


@founder_page
@require_http_methods(["GET", "POST"])
def match(request: HttpRequest, desk: Desk, parked_id: int) -> HttpResponse:
    """Say what a tote is that came without a label."""
    parked = get_object_or_404(Parked.objects.select_related("event__site", "settled_by"), pk=parked_id, reason=UNKNOWN)
    if parked.settled_by and str(parked.settled_by.uid) == request.POST.get("news_id"):
        return back_to("arrivals", reported=request.POST["news_id"])
    form = MatchForm(request.POST or None, candidates=_candidates(parked))
    context = {
        "section": "consignments",
        "title": _("A tote of an unknown lot"),
        "sentence": say(parked.reason, parked.figures),
        "parked": parked,
        "site": parked.event.site,
        "form": form,
    }
    if request.method == "GET":
        return show(request, desk, "work/match.html", context)
    if not form.is_valid():
        return answer_again(request, desk, "work/match.html", context)
    event_context = event_context_of(request, desk)
    reported = form.cleaned_data
    part = reported["part"].pk if reported["part"] and reported["lot_id"] is None else None
    answer = (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(
            match_unknown,
            event_context=event_context,
            parked_id=parked.pk,
            lot_id=reported["lot_id"],
            part_id=part,
            reason=reported["reason"],
        )
    )
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "work/match.html", context, answer)
    messages.success(request, _("It is known now what it is."))
    return back_to("arrivals", reported=request.POST.get("news_id"))


def _candidates(parked: Parked) -> list[tuple[int, str]]:
    """Lots of which something is on the road to that site, those of its part first."""
    part = parked.event.data["told"]["part"]
    rows = ConsignmentLine.objects.filter(closed=False, consignment__destination=parked.event.site_id)
    lines = rows.select_related("lot__part", "consignment__origin").defer("lot__part__picture").order_by("id")
    found: dict[int, str] = {}
    for line in sorted(lines, key=lambda line: line.lot.part_id != part):
        words = _("%(n)s %(part)s, %(code)s, from %(site)s") % {
            "n": amount(max(0, line.remaining), line.lot.part.unit), "part": line.lot.part.title,
            "code": code_words(line.lot.code), "site": line.consignment.origin.name,
        }  # fmt: skip
        found.setdefault(line.lot_id, words)
    return list(found.items())[:20]


class RestForm(forms.Form):
    """Where did they go? Only the findings that can explain the sign are offered."""

    finding = forms.ChoiceField(label=gettext_lazy("What was found"), widget=forms.RadioSelect)
    reason = forms.CharField(
        label=gettext_lazy("Why"), max_length=200, help_text=gettext_lazy("It stays in the record.")
    )

    def __init__(self, *args: Any, quantity: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fitting = ("lost", "found") if quantity > 0 else ("never_counted",)
        self.fields["finding"].choices = [(key, FINDINGS[key]) for key in fitting]  # type: ignore[attr-defined]


@founder_page
@require_http_methods(["GET", "POST"])
def settle_rest(request: HttpRequest, desk: Desk, account_id: int) -> HttpResponse:
    """Settle what nobody can explain at one place."""
    rows = Account.objects.filter(condition=Condition.UNEXPLAINED).exclude(Q(lot__origin="provisional"))
    account = get_object_or_404(rows.select_related("lot__part", "site").defer("lot__part__picture"), pk=account_id)
    quantity = account.balance - of_consignments(
        Place(account.lot_id, account.site_id, Condition.UNEXPLAINED, account.step)
    )
    if not quantity and request.method == "GET":
        raise Http404
    form = RestForm(request.POST or None, quantity=quantity)
    context = {
        "section": "consignments",
        "title": _("Pieces without an explanation"),
        "sentence": Rest(account, quantity).words,
        "account": account,
        "form": form,
    }
    if request.method == "GET":
        return show(request, desk, "work/rest.html", context)
    # Sent twice, the first answer stands: its finding fits no more, and the action says so.
    reported = form.cleaned_data if form.is_valid() else {"finding": "", "reason": ""}
    if not form.is_valid() and quantity:
        return answer_again(request, desk, "work/rest.html", context)
    event_context = event_context_of(request, desk)
    answer = (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(
            settle_unexplained, event_context=event_context, lot_id=account.lot_id, site_id=account.site_id,
            step=account.step, finding=request.POST.get("finding", reported["finding"]),
            reason=request.POST.get("reason", reported["reason"]),
        )
    )  # fmt: skip
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "work/rest.html", context, answer)
    messages.success(request, _("It is settled."))
    return back_to("arrivals", reported=request.POST.get("news_id"))
