"""A shop phones: the founder tells its news for it, marked as told by phone."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from sites.models import Site
from traveller.batches.reads.queries import find_batch
from traveller.web.founder.desk.frame import Desk, founder_page
from traveller.web.who import BEHALF_KEY


@founder_page
@require_POST
def behalf(request: HttpRequest, desk: Desk) -> HttpResponse:
    """From now on, until the call ends, the shop's own pages work for the founder."""
    text = request.POST.get("site", "")
    site = Site.objects.filter(pk=int(text)).first() if text.isascii() and text.isdigit() and len(text) < 18 else None
    if site is None:
        raise Http404
    request.session[BEHALF_KEY] = site.pk
    code = request.POST.get("code", "")
    batch = find_batch(code) if code else None
    return redirect(f"/here/t/{batch.code}" if batch else "/here/")
