"""A site closes: when and why; what is still inside is written off here where nobody gets it back."""

from __future__ import annotations

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from sites.models import Site
from traveller.batches.actions.close_site import close_site, open_site_again
from traveller.batches.actions.write_off import write_off
from traveller.journal.refusal import Refusal
from traveller.ledger.post import Place
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to
from traveller.web.founder.desk.listing import answer_again, back_to
from traveller.web.founder.subcontractors.closing_forms import CloseForm, OpenForm, WriteOffForm, goods_at
from traveller.web.founder.subcontractors.site import found_site, site_context


@founder_page
@require_POST
def close(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    site = _site(code)
    form = OpenForm(request.POST) if site.closed_on else CloseForm(request.POST)
    if not form.is_valid():
        return _again(request, desk, site, form)
    event_context = event_context_of(request, desk)
    if isinstance(event_context, Refusal):
        return _again(request, desk, site, form, event_context)
    reported = form.cleaned_data
    answer = (
        attempt(open_site_again, event_context=event_context, site_id=site.pk, reason=reported["reason"])
        if site.closed_on
        else attempt(
            close_site, event_context=event_context, site_id=site.pk, on=reported["on"], reason=reported["reason"]
        )
    )
    if isinstance(answer, Refusal):
        return _again(request, desk, site, form, answer)
    return back_to("site", site.code, reported=answer.uid)


@founder_page
@require_POST
def off(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Write off what lies at a site and is not to be had any more."""
    site = _site(code)
    goods = goods_at(site)
    form = WriteOffForm(goods, request.POST)
    if not form.is_valid():
        return _again(request, desk, site, form)
    event_context = event_context_of(request, desk)
    if isinstance(event_context, Refusal):
        return _again(request, desk, site, form, event_context)
    reported = form.cleaned_data
    account = next(one for one in goods if str(one.pk) == reported["place"])
    place = Place(account.lot_id, site.pk, account.condition, account.step)
    answer = attempt(
        write_off, event_context=event_context, place=place, quantity=reported["quantity"], reason=reported["reason"]
    )
    if isinstance(answer, Refusal):
        return _again(request, desk, site, form, answer)
    return back_to("site", site.code, reported=answer.event.uid)


def _site(code: str) -> Site:
    site = Site.objects.filter(code=code).first()
    if site is None:
        raise Http404
    return site


def _again(
    request: HttpRequest, desk: Desk, site: Site, form: forms.Form, refusal: Refusal | None = None
) -> HttpResponse:
    context = {**site_context(found_site(site.code, desk), desk, closing=form), "here": link_to("site", site.code)}
    return answer_again(request, desk, "subcontractors/site.html", context, refusal)
