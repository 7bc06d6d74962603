"""The forms by which a site closes, and what its page shows of what is left inside."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from sites.models import Site, SiteKind
from traveller.batches.models import Batch, Step, StepState
from traveller.batches.splitting.places import SEPARABLE
from traveller.dispatches.models import ConsignmentLine
from traveller.ledger.models import Account
from traveller.products.queries import present_routings
from traveller.web.founder.desk.amounts import AmountField, of_unit
from traveller.web.founder.desk.days import DayField
from traveller.web.founder.desk.frame import Desk
from traveller.web.founder.desk.listing import amount
from traveller.web.words import CONDITIONS


class CloseForm(forms.Form):
    """The last day, and why."""

    on = DayField(label=lazy("Closes on"))
    reason = forms.CharField(max_length=200, label=lazy("Why"), help_text=lazy("It stays in the record."))


class OpenForm(forms.Form):
    """Open again after all."""

    reason = forms.CharField(max_length=200, label=lazy("Why is it open again"))


class WriteOffForm(forms.Form):
    """What nobody gets back."""

    place = forms.ChoiceField(label=lazy("Which goods"))
    quantity = AmountField(least=1, label=lazy("How many"))
    reason = forms.CharField(max_length=300, label=lazy("Why"), help_text=lazy("It stays in the record."))

    def __init__(self, goods: list[Account], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].choices = [  # type: ignore[attr-defined]
            (str(account.pk), goods_words(account)) for account in goods
        ]
        chosen = self.data.get(self.add_prefix("place"))
        of_unit(self, next((one.lot.part.unit for one in goods if str(one.pk) == chosen), "C62"))


def goods_words(account: Account) -> str:
    figures = {
        "part": account.lot.part.title,
        "lot": account.lot.code,
        "n": amount(account.balance, account.lot.part.unit),
        "condition": CONDITIONS[account.condition],
    }
    return _("%(part)s, lot %(lot)s: %(n)s %(condition)s") % figures


def goods_at(site: Site) -> list[Account]:
    """All that lies there, of batches and of material."""
    rows = Account.objects.filter(site=site, condition__in=SEPARABLE, balance__gt=0)
    return list(rows.select_related("lot__part", "lot__batch").defer("lot__part__picture").order_by("lot_id", "id"))


def closing_context(site: Site, desk: Desk, sent: forms.Form | None = None) -> dict[str, Any]:
    """What the part of the site's page about its closing shows; a constant number of queries."""
    # What lies inside is listed only where the site has closed: an open one may hold thousands of lots.
    goods = goods_at(site) if site.closed_on else []
    forms_of: dict[str, forms.Form] = {
        "close_form": CloseForm(initial={"on": desk.today}),
        "open_form": OpenForm(),
        "write_off_form": WriteOffForm(goods),
    }
    for name, kind in (("close_form", CloseForm), ("open_form", OpenForm), ("write_off_form", WriteOffForm)):
        if isinstance(sent, kind):
            forms_of[name] = sent
    shown: dict[str, Any] = {**forms_of, "may_close": site.kind != SiteKind.OWN}
    return {**shown, **_left_inside(site, goods)} if site.closed_on else shown


def _left_inside(site: Site, goods: list[Account]) -> dict[str, Any]:
    """What a closed site leaves to be done."""
    steps = Step.objects.filter(site=site, batch__closed_at=None).exclude(state=StepState.DONE)
    return {
        "goods": [(account, goods_words(account)) for account in goods],
        "steps_here": list(steps.select_related("batch__part", "operation").order_by("batch_id", "number")),
        "coming_here": ConsignmentLine.objects.filter(consignment__destination=site, closed=False).count(),
        "wanted_here": list(Batch.objects.filter(destination=site, closed_at=None).order_by("id")),
        "routed_here": present_routings().filter(operations__site=site).order_by().values("pk").distinct().count(),
    }
