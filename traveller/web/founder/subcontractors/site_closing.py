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
from traveller.web.founder.desk.frame import Desk, founder_page, link_to, stamp_of
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
    stamp = stamp_of(request, desk)
    if isinstance(stamp, Refusal):
        return _again(request, desk, site, form, stamp)
    told = form.cleaned_data
    answer = (
        attempt(open_site_again, stamp=stamp, site_id=site.pk, reason=told["reason"])
        if site.closed_on
        else attempt(close_site, stamp=stamp, site_id=site.pk, on=told["on"], reason=told["reason"])
    )
    if isinstance(answer, Refusal):
        return _again(request, desk, site, form, answer)
    return back_to("site", site.code, told=answer.uid)


@founder_page
@require_POST
def off(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Write off what lies at a site and is not to be had any more."""
    site = _site(code)
    goods = goods_at(site)
    form = WriteOffForm(goods, request.POST)
    if not form.is_valid():
        return _again(request, desk, site, form)
    stamp = stamp_of(request, desk)
    if isinstance(stamp, Refusal):
        return _again(request, desk, site, form, stamp)
    told = form.cleaned_data
    account = next(one for one in goods if str(one.pk) == told["place"])
    place = Place(account.lot_id, site.pk, account.condition, account.step)
    answer = attempt(write_off, stamp=stamp, place=place, quantity=told["quantity"], reason=told["reason"])
    if isinstance(answer, Refusal):
        return _again(request, desk, site, form, answer)
    return back_to("site", site.code, told=answer.event.uid)


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
