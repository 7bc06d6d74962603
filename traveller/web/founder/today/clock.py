"""The server's clock was set while it ran: when, by how much, what to do; seen, and gone from the first page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from traveller.journal.clock import behind, jumps, jumps_seen
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to, show
from traveller.web.founder.desk.listing import answer_again, back_to, reported_in
from traveller.web.founder.today.decisions import Decision
from traveller.web.founder.today.opening import number_words
from traveller.web.templatetags.look import lapse_words, moment_words

_SHOWN = 50


class SeenForm(forms.Form):
    """Up to which jump the page showed them: one that came meanwhile is not seen yet."""

    up_to = forms.IntegerField(min_value=1, widget=forms.HiddenInput)


@dataclass(frozen=True, slots=True)
class Jump:
    """One setting of the clock."""

    before: datetime
    after: datetime
    by: str
    machine: str


def tags(desk: Desk) -> list[Decision]:
    """The line on the first page."""
    rows = jumps(desk.now)
    if not rows:
        return []
    last = jump_of(rows[0])
    text = _("The server's clock was set %(by)s, %(when)s.") % {"by": last.by, "when": moment_words(last.after)}
    if len(rows) > 1:
        more = ngettext("%(n)s more time before that.", "%(n)s more times before that.", len(rows) - 1)
        text = f"{text} {more % {'n': number_words(len(rows) - 1).capitalize()}}"
    return [Decision("doubt", _("The clock"), text, link_to("clock"), _("See what to do"))]


def jump_of(event: Event) -> Jump:
    reported = event.data["told"]
    lapse = timedelta(seconds=abs(reported["seconds"]))
    by = _("ahead by %(lapse)s") if reported["seconds"] > 0 else _("back by %(lapse)s")
    before = event.recorded_at - timedelta(seconds=reported["seconds"])
    return Jump(before, event.recorded_at, by % {"lapse": lapse_words(lapse)}, reported["machine"])


@founder_page
@require_http_methods(["GET", "HEAD", "POST"])
def clock(request: HttpRequest, desk: Desk) -> HttpResponse:
    if request.method != "POST":
        return show(request, desk, "today/clock.html", {**_context(desk), "confirmed": reported_in(request)})
    form = SeenForm(request.POST)
    event_context = event_context_of(request, desk)
    if not form.is_valid():
        return answer_again(request, desk, "today/clock.html", _context(desk), Refusal("form_without_id"))
    answer = (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(jumps_seen, event_context=event_context, up_to=form.cleaned_data["up_to"])
    )
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "today/clock.html", _context(desk), answer)
    messages.success(request, _("Seen. The journal keeps it."))
    return back_to("home", reported=answer.uid)


def _context(desk: Desk) -> dict[str, Any]:
    rows = jumps(desk.now)[:_SHOWN]
    return {
        "section": "home",
        "title": _("The server's clock"),
        "sentence": _("The server's clock was set while it ran.")
        if rows
        else _("Nothing is known against the server's clock."),
        "rows": [jump_of(event) for event in rows],
        "behind": behind(desk.now) is not None,
        "up_to": rows[0].pk if rows else 0,
    }
