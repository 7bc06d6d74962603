"""Site passes: made, shown once as link, square and card, and revoked."""

from __future__ import annotations

import segno
from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from sites import passes
from sites.actions.make_pass import make_pass
from sites.actions.revoke_pass import revoke_pass
from sites.models import SiteKind, SitePass
from traveller.journal.refusal import Refusal
from traveller.paper.pass_card import PassCard, draw_pass_card
from traveller.web.door_views import new_token, plain_token
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, show
from traveller.web.founder.desk.listing import answer_again
from traveller.web.founder.subcontractors.site import PassForm, found_site, site_context
from traveller.web.language.cards import card_words

# Ids of forms by which this browser has made passes: a page that is sent again must not make a second key.
MADE_KEY = "passes_made"
MADE_MOST = 50


@founder_page
@require_POST
def make(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Make a pass and show its key, this once: only a hash of it is kept."""
    found = found_site(code, desk)
    if found.kind == SiteKind.SUPPLIER or found.closed_on is not None:
        raise Http404
    form = PassForm(request.POST, site=found)
    if not form.is_valid():
        return answer_again(request, desk, "subcontractors/site.html", site_context(found, desk, form))
    event_context = event_context_of(request, desk)
    refusal = event_context if isinstance(event_context, Refusal) else _refusal(request)
    if refusal:
        return answer_again(request, desk, "subcontractors/site.html", site_context(found, desk, form), refusal)
    token = new_token()
    made = make_pass(
        site=found, kind=form.cleaned_data["kind"], token=token, at=desk.now, label=form.cleaned_data["label"].strip()
    )
    request.session[MADE_KEY] = [*request.session.get(MADE_KEY, []), request.POST["news_id"]][-MADE_MOST:]
    link = link_of(token)
    context = {
        "section": "sites",
        "title": _("New pass"),
        "site": found,
        "site_pass": made.site_pass,
        "token": token,
        "groups": "-".join(token[i : i + 4] for i in range(0, len(token), 4)),
        "link": link,
        "square": square(link),
        "card": card_words(found.language),
        "sentence": _("This pass for %(site)s is shown only now. Send it, print it, then leave this page.")
        % {"site": found.name},
        "confirmed": request.POST["news_id"],
    }
    answer = show(request, desk, "subcontractors/pass_made.html", context)
    answer["Cache-Control"] = "no-store"
    return answer


def _refusal(request: HttpRequest) -> Refusal | None:
    if not settings.PUBLIC_ADDRESS:
        return Refusal("no_public_address")
    if request.POST.get("news_id") in request.session.get(MADE_KEY, []):
        return Refusal("pass_shown_before")
    return None


def link_of(token: str) -> str:
    """The address that opens a pass on a phone."""
    return f"{settings.PUBLIC_ADDRESS}{reverse('open_pass', args=[token])}"


def square(link: str) -> SafeString:
    """The link as a square for a phone's camera; presentation attributes only, as the security policy asks."""
    code = segno.make(link, error="m", micro=False)
    return SafeString(code.svg_inline(scale=6, border=4, dark="#000", light="#fff", svgclass=None, lineclass=None))


@founder_page
@require_POST
def card(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """The card to hang up, printed from the page that shows the key: nobody else can have it printed."""
    found = found_site(code, desk)
    token = plain_token(request.POST.get("token", ""))
    row = passes.find_pass(token, desk.now)
    if row is None or row.site_id != found.pk or not settings.PUBLIC_ADDRESS:
        raise Http404
    content = PassCard(
        words=card_words(found.language).words,
        site=found.name,
        maker=desk.bench.name if desk.bench else "",
        link=link_of(token),
        call=settings.CALL_WHOM or (desk.bench.phone if desk.bench else "") or "–",
    )
    answer = HttpResponse(
        draw_pass_card(content, size="Letter" if found.paper == "Letter" else "A4"), content_type="application/pdf"
    )
    answer["Content-Disposition"] = f'inline; filename="pass-{found.code}.pdf"'
    answer["Cache-Control"] = "no-store"
    return answer


@founder_page
@require_POST
def revoke(request: HttpRequest, desk: Desk, code: str, pass_id: int) -> HttpResponse:
    """The phone that holds it is a stranger from now on; to revoke twice is to revoke once."""
    row = SitePass.objects.filter(pk=pass_id, site__code=code).first()
    if row is None:
        raise Http404
    revoke_pass(site_pass=row, at=desk.now)
    messages.success(request, _("The pass is revoked. The phone that holds it opens nothing any more."))
    return redirect("site", code)
